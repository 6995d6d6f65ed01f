"""
How long it takes to classify a candle and to find its whole headroom, and how that grows.

    python benchmarks/hazard.py [--ingredients 50 100 200 400 800] [--write docs/benchmarks.md]

The candle has twelve oils of invented ingredients, made by a seeded generator: classes as often as
fragrance materials have them (some two in five are skin sensitisers, one in three irritates skin,
one in five is hazardous to water), amounts falling off steeply, as on safety sheets, and some
ingredients shared between oils. The whole headroom is every label element's spans along the load
and along each oil's dose.

The reference is the plain way to the same picture: classify at 1,000 loads and look where the label
changes. It takes the load alone, and finds a place only to within a step.
"""

from __future__ import annotations

import argparse
import os
import platform
import random
import statistics
import sys
import time
from collections.abc import Callable
from datetime import UTC, date, datetime
from fractions import Fraction
from pathlib import Path

from sections import put

from pourwright.core.hazard.classify import classify
from pourwright.core.hazard.headroom import GOALS, Headrooms, headrooms
from pourwright.core.hazard.label import elements_of
from pourwright.core.hazard.model import (
    Composition,
    Entry,
    HazardClass,
    Ingredient,
    Kind,
    Market,
    Range,
    Route,
    Substance,
)
from pourwright.core.hazard.nearest import NearestShares, nearest_shares
from pourwright.core.hazard.paths import Dose, Doses, load_path

OILS = 12
GOAL_CLASSIFY_MS, GOAL_HEADROOM_MS = 20, 200
STEPS = 1000
CALLS = 9
AT = {"market": Market.EU, "on": date(2026, 11, 25)}

# How often an ingredient has a class; among several categories one is drawn.
_CHANCES: tuple[tuple[float, Kind, str, Route | None], ...] = (
    (0.42, Kind.SKIN_SENS, "1 1B 1B 1B 1A", None),
    (0.33, Kind.SKIN_IRRIT, "2", None),
    (0.25, Kind.EYE_IRRIT, "2", None),
    (0.30, Kind.ACUTE, "4", Route.ORAL),
    (0.05, Kind.ACUTE, "4", Route.DERMAL),
    (0.20, Kind.AQ_CHRONIC, "1 2 3 3", None),
    (0.10, Kind.AQ_ACUTE, "1", None),
    (0.02, Kind.REPR, "2", None),
    (0.02, Kind.STOT_RE, "2", None),
    (0.03, Kind.STOT_SE, "3", None),
    (0.15, Kind.FLAM_LIQ, "3", None),
)


def candle(*, ingredients: int, load_pct_of_wax: int = 8, seed: int = 7) -> Doses:
    """Return an invented candle of twelve oils that hold so many unlike ingredients together."""
    chance = random.Random(seed)
    substances = [_substance(place, chance) for place in range(ingredients)]
    own: list[set[int]] = [set(range(oil, ingredients, OILS)) for oil in range(OILS)]
    for there in own:
        there.update(chance.sample(range(ingredients), min(8, ingredients // 6)))
    shares = [Fraction(chance.randint(1, 20)) for _ in range(OILS)]
    return Doses(
        waxes=(Dose(composition=Composition(name="wax"), pct_of_wax=Fraction(100)),),
        oils=tuple(
            Dose(
                composition=_oil(place, sorted(there), substances, chance),
                pct_of_wax=load_pct_of_wax * share / sum(shares),
            )
            for place, (there, share) in enumerate(zip(own, shares, strict=True))
        ),
        extras=(Dose(composition=Composition(name="dye"), pct_of_wax=Fraction(1, 10)),),
    )


def _substance(place: int, chance: random.Random) -> Substance:
    classes = [
        HazardClass(kind, chance.choice(categories.split()), route)
        for often, kind, categories, route in _CHANCES
        if chance.random() < often
    ]
    return Substance(
        name=f"ingredient {place + 1}",
        entries=tuple(Entry(hazard=hazard) for hazard in classes),
        m_acute=Fraction(chance.choice([1, 1, 1, 10])),
        m_chronic=Fraction(chance.choice([1, 1, 1, 10])),
    )


def _oil(
    place: int, there: list[int], substances: list[Substance], chance: random.Random
) -> Composition:
    weights = [chance.paretovariate(1.1) for _ in there]
    return Composition(
        name=f"oil {place + 1}",
        ingredients=tuple(
            Ingredient(
                substance=substances[number],
                pct=Range(high=Fraction(max(1, int(900 * weight / sum(weights))), 10)),
            )
            for number, weight in zip(there, weights, strict=True)
        ),
    )


def median_ms(call: Callable[[], object], *, calls: int = CALLS) -> float:
    """Return the median of some calls after one to warm up."""
    call()
    taken = []
    for _ in range(calls):
        start = time.process_time()
        call()
        taken.append(1000 * (time.process_time() - start))
    return statistics.median(taken)


def scan(doses: Doses, *, steps: int = STEPS) -> int:
    """Return at how many of the loads the label differs from the one before: the reference."""
    path = load_path(doses)
    changes, before = 0, None
    for step in range(steps + 1):
        label = elements_of(classify(path.mixture_at(path.high * step / steps), **AT))
        seen = (
            label.signal_word,
            tuple(label.pictograms),
            tuple(one.code for one in label.hazard_statements),
            tuple(one.code for one in label.supplemental),
            frozenset(label.named_substances),
        )
        changes += before is not None and seen != before
        before = seen
    return changes


def measure(ingredients: int) -> dict[str, float]:
    """Return the figures for one size."""
    doses = candle(ingredients=ingredients)
    mixture = doses.mixture
    found: Headrooms = headrooms(doses, **AT)
    return {
        "ingredients": len(mixture.present),
        "classify": median_ms(lambda: classify(mixture, **AT)),
        "label": median_ms(lambda: elements_of(classify(mixture, **AT))),
        "load": median_ms(lambda: headrooms(_one_oil(doses), **AT)),
        "headroom": median_ms(lambda: headrooms(doses, **AT)),
        "breakpoints": sum(len(one.breakpoints) for one in (found.load, *found.oils)),
    }


def _one_oil(doses: Doses) -> Doses:
    """Return the same candle with its blend as one oil, whose headroom is the load's alone."""
    parts: dict[str, tuple[Substance, Fraction]] = {}
    for dose in doses.oils:
        for part in dose.composition.ingredients:
            before = parts.get(part.substance.key, (part.substance, Fraction(0)))[1]
            more = part.pct.high * dose.pct_of_wax / doses.load_pct_of_wax
            parts[part.substance.key] = (part.substance, before + more)
    blend = Composition(
        name="blend",
        ingredients=tuple(
            Ingredient(substance=substance, pct=Range(high=pct))
            for substance, pct in parts.values()
        ),
    )
    oil = Dose(composition=blend, pct_of_wax=doses.load_pct_of_wax)
    return Doses(waxes=doses.waxes, oils=(oil,), extras=doses.extras)


def shares_ms(ingredients: int) -> list[tuple[str, float, bool, bool]]:
    """Return how long the nearest shares take for each goal that the candle misses."""
    doses = candle(ingredients=ingredients)
    now = headrooms(doses, **AT).load.now
    rows = []
    for goal in GOALS:
        if not any(goal.unwanted(element) for element in now):
            continue
        start = time.process_time()
        found = nearest_shares(doses, goal, **AT)
        taken = 1000 * (time.process_time() - start)
        rows.append((goal.key, taken, isinstance(found, NearestShares), found.proven))
    return rows


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[1])
    parser.add_argument("--ingredients", type=int, nargs="+", default=[50, 100, 200, 400, 800])
    parser.add_argument("--write", type=Path, help="the document to put the report in")
    parser.add_argument("--note", default="", help="a sentence on the circumstances, kept with it")
    arguments = parser.parse_args()
    sizes = [measure(count) for count in arguments.ingredients]
    doses = candle(ingredients=400)
    start = time.process_time()
    changes = scan(doses)
    scan_s = time.process_time() - start
    report = markdown(sizes, scan_s=scan_s, changes=changes, doses=doses, note=arguments.note)
    print(report)
    if arguments.write:
        put(arguments.write, report)
    return 0


def markdown(
    sizes: list[dict[str, float]], *, scan_s: float, changes: int, doses: Doses, note: str
) -> str:
    """Return the report as a section of the document."""
    exact = len(_seen_breakpoints(headrooms(doses, **AT)))
    load_ms = median_ms(lambda: headrooms(_one_oil(doses), **AT))
    rows = "\n".join(
        f"| {size['ingredients']:.0f} | {size['classify']:.1f} | {size['label']:.1f} "
        f"| {size['load']:.1f} | {size['headroom']:.1f} | {size['breakpoints']:.0f} |"
        for size in sizes
    )
    shares = "\n".join(
        f"| {goal} | {taken:.0f} | {'found' if found else 'none there'}, "
        f"{'proven' if proven else 'not proven'} |"
        for goal, taken, found, proven in shares_ms(400)
    )
    return f"""## Hazard class and headroom

Measured on {datetime.now(UTC):%d %B %Y}: {_machine()}. {note}
Goals for twelve oils with 400 ingredients: classify in {GOAL_CLASSIFY_MS} ms, the whole headroom
(along the load and along each oil's dose) in {GOAL_HEADROOM_MS} ms.

Milliseconds of processor time in one thread, which is the time by the clock where nothing else
runs; the median of {CALLS} calls. Twelve oils of invented ingredients, market EU. "Load alone" is
the same blend as one oil.

| Ingredients | classify | with the label | headroom, load alone | whole headroom | breakpoints |
|---:|---:|---:|---:|---:|---:|
{rows}

Against a scan, the plain way: to classify the 400-ingredient candle at {STEPS:,} loads took
{scan_s:.1f} s and saw the label change {changes} times, each place known to within a step of
{float(load_path(doses).high) / STEPS:g} % of the wax. The exact walk along the same load took
{load_ms:.0f} ms and knows {exact} such places as fractions (a scan sees two within one step as
one).

Nearest shares of the 400-ingredient blend that lose an element, one call each:

| Goal | ms | result |
|---|---:|---|
{shares}

Measure again with `python benchmarks/hazard.py --write docs/benchmarks.md`.
"""


def _seen_breakpoints(found: Headrooms) -> list[Fraction]:
    """Return the breakpoints of the load at which something changes that ``scan`` looks at."""
    kinds = {"signal word", "pictogram", "statement", "supplemental", "name"}
    return [
        one.at
        for one in found.load.breakpoints
        if any(change.element.kind in kinds for change in one.changes)
    ]


def _machine() -> str:
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    return (
        f"{platform.machine()}, {os.cpu_count()} cores, {memory:.0f} GiB of memory, "
        f"{platform.system()}, Python {platform.python_version()}"
    )


if __name__ == "__main__":
    sys.exit(main())
