"""The planner's advice in the maker's words: why this wick, why no more, and what to change."""

from __future__ import annotations

from collections.abc import Sequence

from pourwright.core.burns.chances import WHY, Chance
from pourwright.core.burns.learning import Setup

WHAT_IT_IS = (
    "A chance here is the share of burns expected to meet your own criteria. It is no chance of "
    "safety, and each design still needs its whole series."
)


def confirmed_words(best: Chance) -> tuple[str, ...]:
    return (f"Enough is confirmed. {best.says}", WHAT_IT_IS)


CHANGES = {
    WHY[0]: "The pool stays too narrow: larger sizes or more wicks, a lower load, or a narrower "
    "vessel.",
    WHY[1]: "The pool is full too soon: smaller sizes or fewer wicks, or a wider vessel.",
    WHY[2]: "The pool grows too deep: smaller sizes, or more and smaller wicks.",
    WHY[3]: "The wall grows too hot: smaller sizes, or a wider vessel.",
}


# Where sizes are too small by one criterion and too large by another.
TORN = {
    WHY[1]: "A size that fills the pool in time fills it too soon in other burns: try sizes in "
    "between or another series, or look at whether the window suits this vessel.",
    WHY[2]: "A size that fills the pool makes it too deep: try more and smaller wicks, or "
    "another wax.",
    WHY[3]: "A size that fills the pool heats the wall too much: try more and smaller wicks, a "
    "lower load or another wax.",
}


def hopeless_words(chances: Sequence[Chance], *, burns: int, hope: float) -> tuple[str, ...]:
    best = max(chances, key=lambda chance: (chance.good, chance.share))
    why = [name for name, _ in best.reasons[:2]]
    first = (
        f"No size of this series is likely to do: {100 * hope:.0f} % that any meets your criteria "
        f"in three burns of four, after {burns} burns. The nearest is {best.setup.name}: "
        f"{' and '.join(why) or 'the criteria are not met together'}."
    )
    change = ["Change the number of wicks, the series, the load or the vessel."]
    by_rate = sorted(chances, key=lambda chance: chance.setup.rate_g_per_h)
    smaller = by_rate[: by_rate.index(best)]
    small, large = WHY[0] in why, [name for name in why if name != WHY[0]]
    if large and (small or any(c.reasons and c.reasons[0][0] == WHY[0] for c in smaller)):
        change.append(TORN[large[0]])
    else:
        change += [CHANGES[name] for name in why]
        if (small and best is by_rate[-1]) or (large and best is by_rate[0]):
            end = "largest" if small else "smallest"
            change.insert(0, f"It is the {end} size: try a series that goes further.")
    return (first, " ".join(change), WHAT_IT_IS)


def spent_words(best: Chance, *, burns: int) -> tuple[str, ...]:
    return (
        f"{burns} burns are as many as a search takes, and no size is confirmed. {best.says}",
        "Burn on with it by your own choice, or change the number of wicks, the series, the load "
        "or the vessel.",
        WHAT_IT_IS,
    )


def _more_good(left: int) -> str:
    if left == 1:
        return "1 more good burn would do, and the chance that it is good"
    return f"{left} more good burns would do, and the chance that all of them are good"


def burn_words(
    best: Chance, propose: Sequence[Setup], chances: Sequence[Chance]
) -> tuple[str, ...]:
    names = [setup.name for setup in propose]
    listed = ", ".join(f"{names.count(name)} × {name}" for name in dict.fromkeys(names))
    said = [f"Burn next: {listed}. {best.says}"]
    said.append(
        f"It is the one expected to be confirmed soonest: {_more_good(best.left)} is "
        f"{100 * best.all_needed:.0f} %."
    )
    second = sorted((c for c in chances if c is not best), key=lambda c: c.to_come)
    if second:
        said.append(f"Next best: {second[0].says}")
    if len(propose) > 1:
        said.append("Side by side: only as many as the room has place for and you can watch.")
    said.append(WHAT_IT_IS)
    return tuple(said)
