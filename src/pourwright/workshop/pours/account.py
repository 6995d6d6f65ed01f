"""
What the bench says of a pour: what went into each pitcher, what came out, and whether it can be.

Mass is never made: more out than in is a slip of the pen. Nothing is kept of a mix in which an oil
is above its safety limit as weighed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from pourwright.core import amounts
from pourwright.core.errors import BadInput
from pourwright.core.shares import split_exactly
from pourwright.workshop.pours.models import Filling, Pitcher, Take, Use
from pourwright.workshop.pours.oils import oils_over_limit

# More than this above what went in is a slip of the pen, not of the scale.
# Common practice, no source.
MOST_OVER = Fraction(102, 100)


class CannotClose(BadInput):
    """What is said to have come of a pour does not fit what went in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of one filling: pieces, and their average fill weight in mg where it was taken."""

    good: int
    seconds: int = 0
    scrapped: int = 0
    fill_mg: int | None = None

    @property
    def poured(self) -> int:
        return self.good + self.seconds + self.scrapped


class Account:
    """What the bench says went in and came out, pitcher by pitcher."""

    def __init__(
        self,
        pitchers: Sequence[Pitcher],
        fillings: Sequence[Filling],
        takes: Sequence[Take],
        outcomes: Mapping[int, Outcome],
        left: Mapping[int, int],
        left_plain_mg: int,
    ) -> None:
        self.pitchers = pitchers
        self.fillings = {
            pitcher.pk: [filling for filling in fillings if filling.pitcher_id == pitcher.pk]
            for pitcher in pitchers
        }
        self.takes = [take for take in takes if take.use != Use.PIECE]
        self.outcomes = outcomes
        self.left = {pitcher.pk: left.get(pitcher.pk, 0) for pitcher in pitchers}
        self.left_plain_mg = left_plain_mg
        self.unknown = [pk for pk in left if pk not in self.left]

    def outcome(self, filling: Filling) -> Outcome:
        return self.outcomes[filling.pk]

    def fill_mg(self, filling: Filling) -> int:
        """Return the fill as weighed, else as designed."""
        return self.outcome(filling).fill_mg or filling.design_version.fill_mg

    def out_mg(self, pitcher: Pitcher) -> int:
        """Return the mix that came out of a pitcher in candles of any kind, and what is left."""
        poured = sum(
            self.outcome(filling).poured * self.fill_mg(filling)
            for filling in self.fillings[pitcher.pk]
        )
        return poured + self.left[pitcher.pk]

    def started(self, pitcher: Pitcher) -> bool:
        """Return whether anything was weighed into a pitcher, or came out of it."""
        return bool(
            self.out_mg(pitcher)
            or pitcher.wax_drawn_mg
            or any(take.actual for take in self.takes if take.pitcher_id == pitcher.pk)
        )

    def qty(self, take: Take) -> int:
        """
        Return what a take took: as weighed; unweighed, its target where something came of it.
        """
        if take.actual is not None:
            return take.actual
        if take.pitcher_id is None:
            something = self.left_plain_mg or any(self.out_mg(p) for p in self.pitchers)
        else:
            something = next(self.out_mg(p) for p in self.pitchers if p.pk == take.pitcher_id)
        return take.target if something else 0

    @property
    def wax_mg(self) -> int:
        return sum(self.qty(take) for take in self.takes if take.use == Use.WAX)

    def wax_shares(self) -> list[int]:
        """Return the wax of each pitcher and the plain wax left, as weights for sharing."""
        drawn = [pitcher.wax_drawn_mg for pitcher in self.pitchers]
        planned = [
            pitcher.wax_mg if self.started(pitcher) and pitcher.wax_drawn_mg is None else 0
            for pitcher in self.pitchers
        ]
        rest = max(self.wax_mg - self.left_plain_mg - sum(mg or 0 for mg in drawn), 0)
        scaled = split_exactly(rest, planned) if any(planned) else [0] * len(planned)
        return [scaled[place] if mg is None else mg for place, mg in enumerate(drawn)] + [
            self.left_plain_mg
        ]

    def check(self) -> None:
        """Refuse what cannot be: a filling without an outcome, more out than in, an unsafe mix."""
        if self.unknown:
            raise CannotClose("Mix is said to be left in a pitcher of another pour.")
        for fillings in self.fillings.values():
            for filling in fillings:
                self._check_outcome(filling)
        if self.left_plain_mg < 0 or any(mg < 0 for mg in self.left.values()):
            raise CannotClose("What is left over is nothing or more.")
        if not any(self.qty(take) for take in self.takes):
            raise CannotClose(
                "Nothing was weighed and nothing came of it; abandon the pour instead, and the "
                "stores stay as they are."
            )
        shares = self.wax_shares()
        if sum(shares) > self.wax_mg * MOST_OVER:
            raise CannotClose(
                f"{mass_words(sum(shares))} of plain wax are said to be drawn off or left, but "
                f"{mass_words(self.wax_mg)} were melted; check both."
            )
        for pitcher, wax_mg in zip(self.pitchers, shares, strict=False):
            self._check_mass(pitcher, wax_mg)
            self._check_safety(pitcher, wax_mg)

    def _check_outcome(self, filling: Filling) -> None:
        name = filling.design_version.design.name
        outcome = self.outcomes.get(filling.pk)
        if outcome is None:
            raise CannotClose(f"Say how many of {name} were poured, good, seconds and scrapped.")
        if min(outcome.good, outcome.seconds, outcome.scrapped) < 0:
            raise CannotClose(f"{name}: a number of candles is nothing or more.")
        if outcome.fill_mg is not None and outcome.fill_mg <= 0:
            raise CannotClose(f"{name}: the average fill is more than nothing.")

    def mix_in_mg(self, pitcher: Pitcher, wax_mg: int) -> int:
        return wax_mg + sum(self.qty(t) for t in self.takes if t.pitcher_id == pitcher.pk)

    def _check_mass(self, pitcher: Pitcher, wax_mg: int) -> None:
        went_in, came_out = self.mix_in_mg(pitcher, wax_mg), self.out_mg(pitcher)
        if came_out > went_in * MOST_OVER:
            raise CannotClose(
                f"{mass_words(came_out)} are said to have come out of {called(pitcher)}, but "
                f"{mass_words(went_in)} went in; check the numbers, the average fill and what is "
                "left."
            )

    def _check_safety(self, pitcher: Pitcher, wax_mg: int) -> None:
        """Never past an oil's safety limit: what is over it may only be thrown away."""
        keeps = self.left[pitcher.pk] or any(
            self.outcome(filling).good or self.outcome(filling).seconds
            for filling in self.fillings[pitcher.pk]
        )
        if not keeps:
            return
        weighed = [(t, self.qty(t)) for t in self.takes if t.pitcher_id == pitcher.pk]
        over = oils_over_limit(weighed, wax_mg=wax_mg)
        if over:
            raise CannotClose(
                f"{' '.join(over)} Nothing of {called(pitcher)} can be kept: enter its candles as "
                "scrapped and nothing as left over. If a weight was mistyped, correct it first."
            )


def called(pitcher: Pitcher) -> str:
    if pitcher.formula_version is None:
        return f"pitcher {pitcher.position}, plain wax,"
    return f"pitcher {pitcher.position}, {pitcher.formula_version.formula.name},"


def mass_words(mg: int) -> str:
    return amounts.in_both(amounts.show_mass, amounts.from_mg(mg))
