"""``pourwright plan buy``: what to order from whom by when."""

from __future__ import annotations

import argparse
import time
from datetime import date
from fractions import Fraction
from pathlib import Path

from pourwright.cli.output import add_json_flag, print_json, print_pairs
from pourwright.core.amounts.money import minor_digits, show_money
from pourwright.core.planning.buying import PurchasePlan
from pourwright.intake.plan_purchases import PurchaseFile, read_purchases

EPILOG = """\
FILE is a small TOML or JSON document, described under “Purchases” in docs/plan-file.md: what is on
hand and when it is used, and the packs, prices, freight and days of each supplier. The plan is
never dearer than ordering every week, fortnight or four weeks, or everything now, and says how far
at most it is from the cheapest there is.

Example:
  pourwright plan buy purchases.toml
"""


def register(verbs) -> None:
    buy = verbs.add_parser("buy", help="what to order from whom by when, in packs", epilog=EPILOG)
    buy.add_argument("file", metavar="FILE", help="a TOML or JSON document")
    buy.add_argument(
        "--effort", type=int, default=100, metavar="N",
        help="nodes of the search for each group of suppliers (100); same number, same plan",
    )  # fmt: skip
    buy.add_argument(
        "--seconds", type=float, metavar="S", help="stop then at the latest, with the best so far"
    )
    add_json_flag(buy)
    buy.set_defaults(run=run_buy)


def run_buy(arguments: argparse.Namespace) -> int:
    # numpy and the solver are loaded only where they are needed: the other commands start sooner.
    from pourwright.core.planning.purchases import plan_purchases

    today = date.today()  # noqa: DTZ011  # the maker's own day, at the door
    given = read_purchases(Path(arguments.file), today=today)
    ends = None if arguments.seconds is None else time.monotonic() + arguments.seconds
    plan = plan_purchases(
        given.buying, effort=max(1, arguments.effort), system=given.system,
        should_stop=None if ends is None else lambda: time.monotonic() > ends,
    )  # fmt: skip
    if arguments.json:
        print_json(_json(given, plan))
    else:
        _print(given, plan)
    return 0


def _json(given: PurchaseFile, plan: PurchasePlan) -> dict:
    cent = 10 ** (minor_digits(given.currency) + 2)
    units = {row.key: row.unit for row in given.buying.materials}

    def money(minor100: int | Fraction | None) -> float | None:
        return None if minor100 is None else round(float(Fraction(minor100) / cent), 4)

    return {
        "currency": given.currency,
        "orders": [
            {
                "supplier": order.supplier, "on": order.on, "latest_on": order.latest_on,
                "lines": [
                    {
                        "material": line.material, "packs": line.packs, "amount": line.amount,
                        "unit": units[line.material], "price": money(line.price_minor100),
                        "value": money(line.value_minor100), "arrives_on": line.arrives_on,
                    }
                    for line in order.lines
                ],
                "goods": money(order.goods_minor100), "freight": money(order.freight_minor100),
                "now_costs": money(order.now_costs_minor100),
            }
            for order in plan.orders
        ],
        "goods": money(plan.cost.goods_minor100), "freight": money(plan.cost.freight_minor100),
        "holding": money(plan.cost.holding_minor100), "total": money(plan.cost.total_minor100),
        "bound": money(plan.bound_minor100), "gap": plan.gap, "finished": plan.finished,
        "order_days": plan.order_days,
        "rhythms": [
            {
                "name": row.name, "orders": row.orders, "words": row.words,
                "total": None if row.cost is None else money(row.cost.total_minor100),
            }
            for row in plan.rhythms
        ],
        "materials": plan.outlook, "late": plan.late,
        "cash_short": [
            {"month": row.month, "over": money(row.over_minor100), "words": row.words}
            for row in plan.cash_short
        ],
    }  # fmt: skip


def _print(given: PurchaseFile, plan: PurchasePlan) -> None:
    from pourwright.core.planning.purchases import shown

    def money(minor100: int | Fraction) -> str:
        return show_money(round(minor100), currency=given.currency)

    materials = {row.key: row for row in given.buying.materials}
    for late in plan.late:
        print(f"Too late: {late.words}")
    for short in plan.cash_short:
        print(f"{short.words} {money(short.over_minor100)} more are needed.")
    for order in plan.orders:
        freight = money(order.freight_minor100) if order.freight_minor100 else "no"
        print(f"{order.on}  {order.supplier}: {money(order.goods_minor100)}, {freight} freight")
        for line in order.lines:
            amount = shown(materials[line.material], line.amount, given.system)
            print(
                f"            {line.packs} × {line.material} at {money(line.price_minor100)} "
                f"({amount}), comes {line.arrives_on}"
            )
        if order.latest_on > order.on:
            print(f"            in time until {order.latest_on}")
    if not plan.orders:
        print("Nothing has to be ordered.")
    print()
    cost = plan.cost
    rows = [
        ("goods", money(cost.goods_minor100)), ("freight", money(cost.freight_minor100)),
        ("holding", money(cost.holding_minor100)), ("in all", money(cost.total_minor100)),
        ("proof", f"no plan is more than {_pct(plan.gap)} % cheaper"),
    ]  # fmt: skip
    for rhythm in plan.rhythms:
        said = rhythm.words if rhythm.cost is None else money(rhythm.cost.total_minor100)
        rows.append((rhythm.name, f"{said} in {rhythm.orders} orders" if rhythm.cost else said))
    print_pairs(rows)
    print()
    rows = []
    for row in plan.outlook:
        if row.out_on_without is None:
            rows.append((materials[row.material].name, "lasts"))
            continue
        said = f"runs out on {row.out_on_without}"
        if row.last_order_on is not None:
            said += f"; order by {row.last_order_on}"
        elif row.must_order_today:
            said += "; order today"
        rows.append((materials[row.material].name, said))
    print_pairs(rows)


def _pct(share: Fraction) -> str:
    """Return a gap in percent, rounded up so that it stays true."""
    return f"{-(-share * 10_000 // 1) / 100:.2f}"
