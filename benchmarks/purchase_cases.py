"""Purchases of made-up workshops in three sizes, drawn from a seed. Every figure is invented."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from pourwright.core.planning.buying import Buying, Need, Offer, Price, Supplier, Supply

TODAY = dt.date(2026, 3, 2)
KG = 1_000_000
EURO = 10_000


@dataclass(frozen=True)
class Size:
    weeks: int
    oils: int
    vessels: int
    units_a_week: int


SIZES = {
    "month": Size(weeks=6, oils=10, vessels=2, units_a_week=65),
    "season": Size(weeks=16, oils=20, vessels=3, units_a_week=70),
    "shop": Size(weeks=16, oils=40, vessels=4, units_a_week=180),
}
FILLS_G = (120, 200, 300, 450)
OIL_PACKS = ((100 * 1000, 1.0), (500 * 1000, 0.80), (KG, 0.70))


def case(name: str, seed: int) -> Buying:
    """Return a purchase: two waxes, oils of three houses, vessels, wicks and lids of two more."""
    size = SIZES[name]
    rng = np.random.default_rng([seed, size.oils])
    suppliers = (
        Supplier(key="wax", name="Wax house", freight_minor100=14 * EURO,
                 free_from_minor100=250 * EURO),
        *(
            Supplier(key=f"oil {n}", name=f"Oil house {n}", freight_minor100=int(6.5 * EURO),
                     free_from_minor100=(60 + 30 * n) * EURO)
            for n in range(3)
        ),
        Supplier(key="glass", name="Glass house", freight_minor100=19 * EURO),
        Supplier(key="sundries", name="Sundries", freight_minor100=5 * EURO,
                 free_from_minor100=50 * EURO),
    )  # fmt: skip
    share = 1 / np.arange(1, size.oils + 1)
    share /= share.sum()
    uses: dict[str, dict[int, int]] = {}

    def use(key: str, day: int, amount: int) -> None:
        uses.setdefault(key, {})[day] = uses.get(key, {}).get(day, 0) + amount

    for week in range(size.weeks):
        rising = 0.7 + 0.6 * week / size.weeks
        day = 7 * week + 4
        for oil in range(size.oils):
            for vessel in range(size.vessels):
                count = int(rng.poisson(size.units_a_week * rising * share[oil] / size.vessels))
                if not count:
                    continue
                fill = FILLS_G[vessel] * 1000 * count
                use(f"oil {oil:02d}", day, fill * 8 // 108)
                use(f"wax {oil % 2}", day, fill * 100 // 108)
                use(f"glass {vessel}", day, count)
                use(f"wick {vessel}", day, count)
    materials, offers = [], []
    for key in sorted(uses):
        weighed = key.startswith(("wax", "oil"))
        whole = sum(uses[key].values())
        materials.append(
            Supply(
                key=key,
                name=key.capitalize(),
                unit="mg" if weighed else "pieces",
                on_hand=int(whole * rng.uniform(0, 0.15)),
                needs=tuple(
                    Need(on=TODAY + dt.timedelta(days=day), amount=amount)
                    for day, amount in sorted(uses[key].items())
                ),
            )
        )
        offers += _offers(key, rng)
    return Buying(
        today=TODAY, until=TODAY + dt.timedelta(days=7 * size.weeks), materials=tuple(materials),
        offers=tuple(offers), suppliers=suppliers, spare_days=1,
        holding_per_year=Fraction(15, 100),
    )  # fmt: skip


def _offers(key: str, rng: np.random.Generator) -> list[Offer]:
    kind = key.split()[0]

    def one(supplier: str, pack: int, lead: int, prices: list[tuple[int, float]], keeps=None):
        return Offer(
            key=f"{key} / {supplier} / {pack}", material=key, supplier=supplier, pack=pack,
            lead_days=lead, keeps_days=keeps,
            prices=tuple(Price(from_packs=n, minor100=round(p * 100) * 100) for n, p in prices),
        )  # fmt: skip

    if kind == "wax":
        each = rng.uniform(7, 9)
        return [
            one("wax", KG, 3, [(1, each * 1.3)]),
            one("wax", 5 * KG, 3, [(1, each * 5), (4, each * 4.6)]),
            one("wax", 20 * KG, 3, [(1, each * 16.5), (3, each * 15.5)]),
        ]
    if kind == "oil":
        house = int(rng.integers(3))
        each = rng.uniform(45, 80)
        made = [
            one(f"oil {house}", pack, 4, [(1, each * pack / KG * cheaper * 1.35)], 240)
            for pack, cheaper in OIL_PACKS
        ]
        if rng.random() < 0.3:  # a second house has it too
            other = (house + 1) % 3
            made.append(one(f"oil {other}", 250_000, 2, [(1, each * 0.25 * 1.3)], 240))
        return made
    if kind == "glass":
        each = rng.uniform(1.2, 2.6)
        return [one("glass", 12, 6, [(1, each * 12), (6, each * 10.8), (20, each * 9.6)])]
    each = rng.uniform(0.1, 0.2)
    return [one("sundries", 25, 3, [(1, each * 25)]), one("sundries", 100, 3, [(1, each * 80)])]
