"""Orders come in, are sent from released lots, and some come back. Gifts leave without a price."""

from __future__ import annotations

import unicodedata
from datetime import timedelta

from django.db.models import Sum

from pourwright.workshop.demo import bench
from pourwright.workshop.demo.life import Life
from pourwright.workshop.demo.tables import table
from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.gates import services as gates
from pourwright.workshop.house.today import ready_to_sell
from pourwright.workshop.orders import services as orders
from pourwright.workshop.orders.models import (
    Channel,
    Customer,
    DespatchLine,
    Order,
    OrderLine,
    OrderState,
)
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Origin, Place

FIRST_SALE = 24
DIRECT_A_DAY, SHOPS_A_DAY = 0.24, 0.05
OF_SECONDS = 60  # per cent of the price


def _slug(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    kept = "".join(letter if letter.isalnum() else " " for letter in plain)
    return ".".join(kept.lower().split())


def customer(life: Life, name: str) -> Customer:
    """Return a customer; whoever orders for the first time is entered then."""
    if name not in life.customers:
        people, dice = table("people"), life.chance("addresses")
        life.customers[name] = Customer.objects.create(
            name=name,
            email=f"{_slug(name)}@post.example",
            address=f"{dice.randint(2, 90)} {dice.choice(people['streets'])}\n"
            f"{dice.choice(people['towns'])}",
        )
    return life.customers[name]


def _known(life: Life, names: list[str], dice) -> str:
    """Return a name: the longer the workshop runs, the more of them have heard of it."""
    known = max(3, len(names) * min(life.day + 60, 640) // 640)
    return dice.choice(names[:known])


def free(life: Life, design: Design, *, seconds: bool = False) -> int:
    """Return how many may be sold now."""
    return ready_to_sell([design])[design.candle_id, seconds]


def on_offer(life: Life) -> list[DesignVersion]:
    """Return the newest versions of the designs that are released."""
    return [version for version in life.designs.values() if version.pk in life.released]


def _busy(life: Life) -> float:
    growth = 0.6 + 0.6 * life.day / 730
    return growth * {11: 1.9, 12: 2.2, 1: 0.6, 2: 0.9, 7: 0.7, 8: 0.7}.get(life.on.month, 1.0)


def take_orders(life: Life) -> None:
    if life.day < FIRST_SALE:
        return
    dice = life.chance("orders")
    offer = on_offer(life)
    if not offer:
        return
    if dice.random() < DIRECT_A_DAY * _busy(life):
        _direct(life, offer, dice)
    if dice.random() < SHOPS_A_DAY * _busy(life):
        _wholesale(life, offer, dice)
    if life.on.weekday() == 5 and life.day % 3 == 0:
        _market(life, offer, dice)


def _direct(life: Life, offer: list, dice) -> None:
    name = _known(life, table("people")["people"], dice)
    chosen = dice.sample(offer, min(dice.choice((1, 1, 2)), len(offer)))
    lines = [(v.design, dice.choice((1, 1, 2, 3)), v.price_minor100, False) for v in chosen]
    orders.new_order(
        customer=customer(life, name), channel=Channel.DIRECT, on=life.on,
        due=life.on + timedelta(days=5), lines=lines,
    )  # fmt: skip


def _wholesale(life: Life, offer: list, dice) -> None:
    name = _known(life, table("people")["shops"], dice)
    chosen = dice.sample(offer, min(dice.choice((1, 2, 2, 3)), len(offer)))
    lines = [(v.design, dice.choice((4, 6, 6, 8)), v.wholesale_minor100, False) for v in chosen]
    orders.new_order(
        customer=customer(life, name), channel=Channel.WHOLESALE, on=life.on,
        due=life.on + timedelta(days=dice.choice((14, 18, 21))), lines=lines,
        reference=f"PO {dice.randint(100, 999)}",
    )  # fmt: skip


def _market(life: Life, offer: list, dice) -> None:
    """Sell at a stall what is there, seconds at less; entered the same evening."""
    lines = []
    there = ready_to_sell([version.design for version in offer])
    for version in offer:
        candle, price = version.design.candle_id, version.price_minor100
        sold = min(dice.randint(1, 4), max(there[candle, False] - 4, 0))
        worse = min(there[candle, True], 3)
        if sold:
            lines.append((version.design, sold, price, False))
        if worse:
            lines.append((version.design, worse, price * OF_SECONDS // 100, True))
    if not lines:
        return
    order = orders.new_order(
        channel=Channel.MARKET, on=life.on, lines=lines,
        reference=dice.choice(table("people")["markets"]),
    )  # fmt: skip
    orders.despatch(order, on=life.on, at=life.at(18))


def send_what_can_go(life: Life) -> None:
    """Send open orders a day or two after they came, the earliest due first, once all is there."""
    if life.on.weekday() not in (1, 4) or life.days_left < 2:
        return
    dice = life.chance("post")
    waiting = Order.objects.filter(state=OrderState.OPEN, on__lt=life.on).order_by("due", "id")
    there = ready_to_sell([version.design for version in life.designs.values()])
    for order in waiting.prefetch_related("lines__design"):
        carrier = dice.choice(table("people")["carriers"])
        if all(_covered(line, there) for line in order.lines.all()):
            orders.despatch(order, on=life.on, at=life.at(14), carrier=carrier)
        elif order.channel == Channel.WHOLESALE and order.due <= life.on:
            _send_a_part(life, order, carrier)
        else:
            continue
        there = ready_to_sell([version.design for version in life.designs.values()])


def _covered(line: OrderLine, there: dict[tuple[int, bool], int]) -> bool:
    sent = line.sent.aggregate(sent=Sum("qty"))["sent"] or 0
    return there[line.design.candle_id, line.seconds] >= line.qty - sent


def _send_a_part(life: Life, order: Order, carrier: str) -> None:
    """A shop would rather have some of it on the day than all of it late."""
    if picks := orders.suggest(order, on=life.on).picks:
        orders.despatch(order, on=life.on, at=life.at(14), carrier=carrier, picks=picks)


def take_back(life: Life) -> None:
    """Now and then something comes back; what was never lit goes on the shelf again."""
    dice = life.chance("returns")
    if dice.random() > 1 / 70:
        return
    sent = DespatchLine.objects.filter(
        despatch__on__gte=life.on - timedelta(days=20), despatch__order__customer__isnull=False
    ).order_by("id")
    line = dice.choice(list(sent)) if sent else None
    if line is None or not orders.still_out(line):
        return
    reason = dice.choice(table("people")["return_reasons"])
    back = orders.take_back(line, qty=1, reason=reason, on=life.on, at=life.at(12))
    if "unopened" in reason:
        orders.return_to_shelf(
            back.lot, found="seal whole, glass sound", on=life.on, at=life.at(12, 20)
        )
        if back.lot.item.lots.filter(origin=Origin.SECONDS, made_from__parent=back.lot).exists():
            return  # sold as seconds: it came back as a lot of seconds, which waits
        bench.release_again(life, back.lot)
    elif life.days_left > 20:
        stores.scrap(
            lot=back.lot, place=Place.RETURNED, qty=1, reason=reason, on=life.on, at=life.at(12, 20)
        )


def give(life: Life) -> None:
    """Every two months a candle or two are given away."""
    if life.day < 40 or life.day % 61:
        return
    dice = life.chance("gifts")
    for version in dice.sample(on_offer(life), min(1, len(on_offer(life)))):
        held = [b for b in gates.sellable(version.design, on=life.on) if b.qty >= 6]
        if held:
            stores.set_aside(
                lot=held[0].lot, place=Place.SHELF, qty=dice.randint(1, 2), origin=Origin.GIFT,
                on=life.on, at=life.at(17), note=dice.choice(("school raffle", "for a neighbour")),
            )  # fmt: skip
