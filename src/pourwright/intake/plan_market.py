"""
A market's past days and what may be brought to the next, read from TOML or JSON.

The document is described in docs/plan-file.md.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from pourwright.core.amounts.money import minor_digits, show_money
from pourwright.core.amounts.reading import shorten
from pourwright.core.planning.bring import Ware
from pourwright.core.planning.demand_fit import Seen
from pourwright.intake.plan_tables import Table, read_top

MOST_DAYS = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class MarketFile:
    """
    A market's designs, what was seen of each there, and the day to come.

    ``notes`` are what the records say against each other (takings against the count, pieces that
    neither sold nor came back).
    """

    market: str
    currency: str
    wares: tuple[Ware, ...]
    seen: dict[str, list[Seen]]
    on: dt.date | None
    room: Fraction | None
    exposure: Fraction
    guess: Fraction | None
    days: int
    notes: tuple[str, ...]


def read_market(path: Path) -> MarketFile:
    """Return a market; every fault of the document at once."""
    top = read_top(path)
    currency = (top.text("currency") or "EUR").upper()
    if len(currency) != 3 or not currency.isalpha():
        top.fault("currency", f'"{shorten(currency)}" is no currency; write three letters, as EUR.')
    cent = 10 ** (minor_digits(currency) + 2)
    wares = tuple(_ware(table, cent) for table in top.tables("design"))
    if not wares:
        top.fault("design", "nothing is to be brought; write [[design]] above each.")
    prices = {ware.key: ware.price_minor100 for ware in wares}
    seen: dict[str, list[Seen]] = {ware.key: [] for ware in wares}
    notes: list[str] = []
    days = top.tables("day")
    for place, table in enumerate(days, start=1):
        _day(table, f"day {place}", prices, seen, notes, cent, currency)
    made = MarketFile(
        market=top.text("market", needed=True), currency=currency, wares=wares, seen=seen,
        on=top.day("on"), room=top.number("places", most=100_000),
        exposure=top.number("exposure", above=True, most=100) or Fraction(1),
        guess=top.number("expect", above=True, most=100_000), days=len(days), notes=tuple(notes),
    )  # fmt: skip
    top.close()
    return made


def _ware(table: Table, cent: int) -> Ware:
    name = table.text("name", needed=True)
    price = table.times("price", cent, needed=True)
    if "too_few" in table.raw:
        too_few = table.times("too_few", cent)
        table.get("unit_cost")
    else:
        too_few = max(0, price - table.times("unit_cost", cent, needed=True))
    return Ware(
        key=name, name=name, price_minor100=price, too_few_minor100=too_few,
        too_many_minor100=table.times("too_many", cent, needed=True, above=True),
        room=table.number("room", above=True, most=1000) or Fraction(1),
        most=table.maybe("on_shelf", most=1_000_000),
    )  # fmt: skip


def _day(
    table: Table, word: str, prices: dict[str, int], seen: dict[str, list[Seen]],
    notes: list[str], cent: int, currency: str,
) -> None:  # fmt: skip
    on = table.day("on", needed=True)
    exposure = table.number("exposure", above=True, most=100) or Fraction(1)
    opens, closes = (table.clock(k) if k in table.raw else None for k in ("opens", "closes"))
    if opens is not None and closes is not None and opens >= closes:
        table.fault("closes", "it is not after the time at which the market opens.")
        opens = closes = None
    told = table.times("takings", cent) if "takings" in table.raw else None
    counted = 0
    named: set[str] = set()
    for row in table.tables("sale"):
        design = row.text("design", needed=True)
        if design and design not in prices:
            row.fault("design", f'no [[design]] is named "{shorten(design)}".')
        elif design in named:
            row.fault("design", f'"{shorten(design)}" stands twice on that day.')
        named.add(design)
        found = _sale(row, on, exposure, opens, closes, str(on or word), notes, design)
        if design in seen and found is not None:
            seen[design].append(found)
            counted += found.sold * prices[design]
    if told is not None and told != counted:
        less = "more" if told > counted else "less"
        apart = show_money(abs(told - counted), currency=currency)
        notes.append(f"{on}: the takings are {apart} {less} than what was counted as sold.")


def _sale(
    row: Table, on: dt.date | None, exposure: Fraction, opens: int | None, closes: int | None,
    word: str, notes: list[str], design: str,
) -> Seen | None:  # fmt: skip
    taken, back = row.maybe("taken"), row.maybe("back")
    sold = row.maybe("sold")
    if sold is None:
        if taken is None or back is None:
            row.fault("sold", "it is not there; add it, or both taken and back.")
            return None
        sold = taken - back
    if sold < 0 or (taken is not None and sold > taken):
        row.fault("sold", f"{sold} sold of {taken} taken does not fit.")
        return None
    if taken is not None and back is not None and taken - sold - back:
        notes.append(f"{on}: {design}: {taken - sold - back} neither sold nor brought back.")
    out = row.yes("sold_out") or (taken is not None and sold == taken and sold > 0)
    if "sold_out" in row.raw and not row.raw["sold_out"]:
        out = False
    share = exposure
    if "sold_out_at" in row.raw:
        at = row.clock("sold_out_at")
        if opens is None or closes is None:
            row.fault("sold_out_at", "the day needs opens and closes for it to count.")
        elif not opens < at <= closes:
            row.fault("sold_out_at", "it is not between the times of opening and closing.")
        else:
            # All who came until then were served: so much in that share of the day, no cut.
            share, out = exposure * Fraction(at - opens, closes - opens), False
    return Seen(sold=sold, exposure=float(share), sold_out=out, day=word)
