"""
Net contents in the EU and GB: the average system.

The mean of a batch is at least the nominal quantity, few packages are short by more than the
tolerable negative error (T1), none by more than twice that (T2). The reference test judges a batch
by a sample: a single plan (GB), a double one, or a destructive one. A mean equal to its limit is
accepted. All comparisons are exact.

Sources: Directive 76/211/EEC, Annexes I and II; SI 2006/659, Schedule 2 (both read).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Literal

from pourwright.core.contents.declared import Declared
from pourwright.core.contents.figures import plain, raised, spread
from pourwright.core.contents.verdict import (
    Answer,
    BadSample,
    Step,
    Verdict,
    checked_nets,
    whole,
)
from pourwright.core.errors import BadInput
from pourwright.core.rules import Rule, rule

Market = Literal["eu", "gb"]
PlanKind = Literal["single", "double", "destructive"]


class OutOfScope(BadInput):
    """A nominal quantity that the rules for packages do not cover."""


class NoSuchPlan(BadInput):
    """A plan that a market's rules do not offer for a batch of this size."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """The tolerable negative error of a nominal quantity, with T1 and T2, in grams."""

    nominal_g: Fraction
    tne_g: Fraction
    rule: Rule

    @property
    def t1_g(self) -> Fraction:
        return self.nominal_g - self.tne_g

    @property
    def t2_g(self) -> Fraction:
        return self.nominal_g - 2 * self.tne_g


@dataclass(frozen=True, slots=True, kw_only=True)
class Test:
    """
    The reference test of a batch.

    ``stages`` are (weighed so far, accept up to, reject from) of the individual check, one or two;
    the mean is of the first ``mean_sample`` weights, its allowance ``mean_factor`` times their
    standard deviation, nothing where that is 0. ``kind`` is "whole" where every package is weighed.
    """

    kind: str
    stages: tuple[tuple[int, int, int], ...]
    mean_sample: int
    mean_factor: Fraction
    rule: Rule


def tolerance(*, nominal_g: Fraction, market: Market, on: date) -> Tolerance:
    """
    Return the TNE of a nominal quantity: 5 g to 10 kg in the EU, to 25 kg in GB.

    Percentages are rounded up to 0.1 g. Source: Directive 76/211/EEC, Annex I, 2.4 (read).
    Raises ``OutOfScope``.
    """
    table = rule(f"{market}/net_tne", on=on)
    low, high = table["scope_from_g"], table["scope_to_g"]
    if not low <= nominal_g <= high:
        raise OutOfScope(
            f"{plain(nominal_g, 3)} g is outside these rules, which are for {low} g to "
            f"{high // 1000} kg."
        )
    row = next(row for row in table["rows"] if nominal_g <= row["to_g"])
    if "g" in row:
        tne = Fraction(row["g"])
    else:
        tne = raised(nominal_g * Fraction(row["pct"]) / 100, table["round_up_to_g"])
    return Tolerance(nominal_g=nominal_g, tne_g=tne, rule=table)


def reference_test(
    *, batch_size: int, market: Market, kind: PlanKind | None = None, on: date
) -> Test:
    """
    Return the reference test of a batch; without ``kind`` the single one in GB, else the double.

    Below 100 every package is weighed, with no allowance on the mean and at most 5 % defective
    (GB; taken for the EU too, where no number is given). Raises ``NoSuchPlan``.
    """
    table = rule(f"{market}/net_reference_test", on=on)
    if batch_size < 1:
        raise BadSample(f"A lot of {batch_size}; give how many there are in it, 1 or more.")
    if batch_size > table["largest_batch"]:
        raise NoSuchPlan(
            f"A batch of {batch_size}; a batch is at most {table['largest_batch']}. Split it."
        )
    if kind == "single" and "single" not in table.values:
        raise NoSuchPlan("The EU has no single plan without opening; take double or destructive.")
    if kind == "destructive":
        row = table["destructive"]
        if batch_size < row["batch_from"]:
            raise NoSuchPlan(
                f"A batch of {batch_size}: the destructive plan is for {row['batch_from']} or "
                "more. Weigh all of a smaller one, which candles of known empty weight allow."
            )
        return Test(
            kind=kind, stages=((row["sample"], row["accept"], row["accept"] + 1),),
            mean_sample=row["sample"], mean_factor=Fraction(row["mean_factor"]), rule=table,
        )  # fmt: skip
    if batch_size < table["whole_batch_below"]:
        accept = int(batch_size * Fraction(table["whole_batch_defective_pct"]) / 100)
        return _whole(batch_size, accept, table)
    kind = kind or ("single" if "single" in table.values else "double")
    row = next(row for row in table[kind] if batch_size <= row.get("batch_to", batch_size))
    stages = (
        ((row["sample"], row["accept"], row["accept"] + 1),)
        if kind == "single"
        else (
            (row["first"], row["first_accept"], row["first_reject"]),
            (row["total"], row["total_accept"], row["total_accept"] + 1),
        )
    )
    return Test(
        kind=kind, stages=stages, mean_sample=row["mean_sample"],
        mean_factor=Fraction(row["mean_factor"]), rule=table,
    )  # fmt: skip


def _whole(batch_size: int, accept: int, table: Rule) -> Test:
    return Test(
        kind="whole", stages=((batch_size, accept, accept + 1),), mean_sample=batch_size,
        mean_factor=Fraction(0), rule=table,
    )  # fmt: skip


def check(
    *,
    declared: Declared,
    nets_g: Sequence[Fraction],
    lot_size: int,
    market: Market,
    kind: PlanKind | None = None,
    on: date,
) -> Verdict:
    """
    Return whether a batch passes, from the net weights (g) of its sample in the order of weighing.

    With more weights than the plan takes, the first of them are its sample, and none of the rest
    may be below T2. Where every package of a batch was weighed, the rules themselves hold: the
    mean with no allowance, at most 2.5 % below T1, none below T2. Raises ``BadSample`` for fewer
    weights than asked for.
    """
    nets = checked_nets(nets_g, lot_size=lot_size)
    found = tolerance(nominal_g=declared.nominal_g, market=market, on=on)
    test = reference_test(batch_size=lot_size, market=market, kind=kind, on=on)
    if len(nets) == lot_size and test.kind != "whole" and len(nets) > test.stages[-1][0]:
        share = Fraction(test.rule["full_check_defective_pct"]) / 100
        test = _whole(lot_size, int(lot_size * share), test.rule)
    first = test.stages[0][0]
    if len(nets) < max(first, test.mean_sample):
        raise BadSample(_too_few(len(nets), lot_size, test))
    individual, defectives, counted = _individual(nets, found, test)
    mean_of = spread(nets[: test.mean_sample])
    allowance = mean_of.sd * float(test.mean_factor)
    short = found.nominal_g - mean_of.mean
    mean_ok = short <= 0 or short**2 <= mean_of.variance * test.mean_factor**2
    limit = found.nominal_g if not test.mean_factor else float(found.nominal_g) - allowance
    beyond_t2 = sum(net < found.t2_g for net in nets)
    steps = _steps(
        found, test, individual=individual, defectives=defectives, counted=counted,
        mean=mean_of.mean, limit=limit, mean_ok=mean_ok, beyond_t2=beyond_t2,
        lot_size=lot_size, weighed=len(nets),
    )  # fmt: skip
    answer = whole(step.passed for step in steps)
    if answer == "pass" and individual == "more":
        answer = "more"
    return Verdict(
        market=market, plan=test.kind, verdict=answer,
        reasons=_reasons(answer, steps, test, len(nets)), steps=steps, lot_size=lot_size,
        sample=spread(nets), verified_g=found.nominal_g,
        average_error_g=mean_of.mean - found.nominal_g, tne_g=found.tne_g, t1_g=found.t1_g,
        t2_g=found.t2_g, defectives=defectives, beyond_t2=beyond_t2, mean_g=mean_of.mean,
        limit_g=limit, notes=_notes(test, len(nets), counted),
    )  # fmt: skip


def _too_few(weighed: int, lot_size: int, test: Test) -> str:
    if test.kind == "whole":
        return (
            f"{weighed} weights; of a batch of {lot_size}, which is below 100, every package is "
            f"weighed. Weigh {lot_size - weighed} more."
        )
    wanted = max(test.stages[0][0], test.mean_sample)
    return (
        f"{weighed} weights; the {test.kind} plan for a batch of {lot_size} takes {wanted}. "
        f"Weigh {wanted - weighed} more."
    )


def _individual(nets: Sequence[Fraction], found: Tolerance, test: Test) -> tuple[Answer, int, int]:
    """Return the answer of the individual check, the defectives counted, and of how many."""
    defectives = counted = 0
    for counted, accept, reject in test.stages:
        if len(nets) < counted:
            return "more", defectives, test.stages[0][0]
        defectives = sum(net < found.t1_g for net in nets[:counted])
        if defectives <= accept:
            return "pass", defectives, counted
        if defectives >= reject:
            return "fail", defectives, counted
    return "fail", defectives, counted


def _steps(
    found: Tolerance,
    test: Test,
    *,
    individual: Answer,
    defectives: int,
    counted: int,
    mean: Fraction,
    limit: Fraction | float,
    mean_ok: bool,
    beyond_t2: int,
    lot_size: int,
    weighed: int,
) -> tuple[Step, ...]:
    stage = next(stage for stage in test.stages if stage[0] == counted)
    words = f"{defectives} of {counted} below T1 ({plain(found.t1_g, 2)} g); "
    words += f"up to {stage[1]} accepted."
    if individual == "more":
        words += f" Weigh {test.stages[1][0] - counted} more."
    kind = "every package" if test.kind == "whole" else f"{test.kind} plan"
    return (
        Step(
            name="sample", figure=Fraction(weighed), limit=Fraction(counted), unit="",
            words=f"A batch of {lot_size}, {kind}: {counted} are judged, {weighed} were weighed.",
            rule=test.rule,
        ),
        Step(
            name="tolerance", figure=found.tne_g, rule=found.rule,
            words=f"TNE of {plain(found.nominal_g, 3)} g is {plain(found.tne_g, 2)} g: T1 is "
            f"{plain(found.t1_g, 2)} g, T2 is {plain(found.t2_g, 2)} g.",
        ),
        Step(
            name="mean", figure=mean, limit=limit, passed=mean_ok, rule=test.rule,
            words=f"Mean of {test.mean_sample}: {plain(mean, 4)} g; at least "
            f"{plain(Fraction(limit).limit_denominator(10**7), 4)} g is accepted.",
        ),
        Step(
            name="defectives", figure=Fraction(defectives), limit=Fraction(stage[1]), unit="",
            words=words, passed={"pass": True, "fail": False, "more": None}[individual],
            rule=test.rule,
        ),
        Step(
            name="t2", figure=Fraction(beyond_t2), limit=Fraction(0), unit="",
            words=f"{beyond_t2} below T2 ({plain(found.t2_g, 2)} g); none may be.",
            passed=beyond_t2 == 0, rule=found.rule,
        ),
    )  # fmt: skip


def _reasons(answer: Answer, steps: Sequence[Step], test: Test, weighed: int) -> tuple[str, ...]:
    if answer == "fail":
        return tuple(step.words for step in steps if step.passed is False)
    if answer == "more":
        return (
            f"The first sample neither accepts nor rejects: weigh {test.stages[1][0] - weighed} "
            "more.",
        )
    return ("The mean and every package are within the limits.",)


def _notes(test: Test, weighed: int, counted: int) -> tuple[str, ...]:
    if test.kind == "whole" or weighed == counted:
        return ()
    return (
        f"{weighed} were weighed; the first {counted} are the plan’s sample, and none of the rest "
        "may be below T2.",
    )
