"""What a net check says: each step with its figure, its limit and its rule, and the whole."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from pourwright.core.contents.figures import Spread
from pourwright.core.errors import BadInput
from pourwright.core.rules import Rule

Answer = Literal["pass", "fail", "more"]


class BadSample(BadInput):
    """Weights that do not make the sample that a rule asks for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """
    One step of a check. ``figure`` and ``limit`` are in ``unit``; ``passed`` is None for a step
    that only sets a figure. ``rule`` is the published rule it follows.
    """

    name: str
    words: str
    figure: Fraction | float | None = None
    limit: Fraction | float | None = None
    unit: str = "g"
    passed: bool | None = None
    rule: Rule


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """
    The outcome of a net check under one market's rule.

    ``verdict`` is "more" where a double plan asks for its second sample. Masses are in grams,
    exact but for those that come from a root. What a rule does not have is None. ``defectives``
    are the packages below T1; ``beyond_mav`` those short by more than the MAV.
    """

    market: str
    plan: str
    verdict: Answer
    reasons: tuple[str, ...]
    steps: tuple[Step, ...]
    lot_size: int
    sample: Spread
    verified_g: Fraction
    average_error_g: Fraction
    sample_error_limit_g: float | None = None
    mav_g: Fraction | None = None
    beyond_mav: int | None = None
    tne_g: Fraction | None = None
    t1_g: Fraction | None = None
    t2_g: Fraction | None = None
    defectives: int | None = None
    beyond_t2: int | None = None
    mean_g: Fraction | None = None
    limit_g: Fraction | float | None = None
    notes: tuple[str, ...] = field(default=())

    @property
    def passed(self) -> bool:
        return self.verdict == "pass"

    @property
    def rules(self) -> tuple[Rule, ...]:
        """The published rules that were used, each once."""
        return tuple({step.rule.name: step.rule for step in self.steps}.values())


def whole(answer: Iterable[bool | None]) -> Answer:
    return "pass" if all(passed is not False for passed in answer) else "fail"


def checked_nets(nets_g: Iterable[Fraction], *, lot_size: int) -> list[Fraction]:
    """Return the net weights, refused where there are none, more than the lot, or one below 0."""
    nets = [Fraction(net) for net in nets_g]
    if lot_size < 1:
        raise BadSample(f"A lot of {lot_size}; give how many there are in it, 1 or more.")
    if not nets:
        raise BadSample("No weights are given; weigh the sample and give one weight for each.")
    if len(nets) > lot_size:
        raise BadSample(
            f"{len(nets)} weights for a lot of {lot_size}; give each package once, or put the lot "
            "size right."
        )
    for place, net in enumerate(nets, start=1):
        if net < 0:
            raise BadSample(
                f"Weight {place} is below zero: the tare is more than the filled package weighs."
            )
    return nets
