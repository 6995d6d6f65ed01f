"""
Net contents in the US: NIST Handbook 133, Category A.

A sample by the lot's size; the larger of the two declared figures is verified; the average error
may fall short by less than the sample error limit; no more packages than allowed may be short by
more than the maximum allowable variation (MAV). All comparisons are exact.

Sources: Handbook 133-2026, sections 2.2 and 2.3 (read); Appendix A, Tables 2-1 and 2-5 (from
memory, high). Equality of the average error with its limit is not stated there: it counts as not
passed here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from pourwright.core.contents.declared import Declared
from pourwright.core.contents.figures import plain, signed, spread
from pourwright.core.contents.verdict import BadSample, Step, Verdict, checked_nets, whole
from pourwright.core.rules import Rule, rule


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How many are weighed, the factor of the sample error limit, and how many may be beyond."""

    lot_size: int
    sample: int
    factor: Fraction | None
    allowed_beyond_mav: int
    rule: Rule


@dataclass(frozen=True, slots=True, kw_only=True)
class Mav:
    """The maximum allowable variation of a declared quantity, and the column it was read in."""

    mav_g: Fraction
    mav_lb: Fraction
    column: str
    rule: Rule


def plan(*, lot_size: int, on: date) -> Plan:
    """
    Return the sampling plan for a lot of so many packages, 1 or more.

    Source: Handbook 133, Table 2-1 (from memory, high).
    """
    table = rule("us/net_sampling", on=on)
    if lot_size < 1:
        raise BadSample(f"A lot of {lot_size}; give how many there are in it, 1 or more.")
    if lot_size < table["whole_lot_below"]:
        factors = {row["packages"]: Fraction(row["factor"]) for row in table["whole_lot_factors"]}
        return Plan(
            lot_size=lot_size, sample=lot_size, factor=factors.get(lot_size),
            allowed_beyond_mav=0, rule=table,
        )  # fmt: skip
    row = next(row for row in table["rows"] if lot_size <= row.get("lot_to", lot_size))
    return Plan(
        lot_size=lot_size, sample=row["sample"], factor=Fraction(row["factor"]),
        allowed_beyond_mav=row["allowed_beyond_mav"], rule=table,
    )  # fmt: skip


def mav(declared: Declared, *, on: date) -> Mav:
    """
    Return the MAV of a label, its row looked up in the column of the unit that is verified.

    The gram figure of the row is used for errors in grams; it is the pound figure cut off.
    Source: Handbook 133, Table 2-5 (from memory, high).
    """
    table = rule("us/net_mav_weight", on=on)
    unit = declared.enforced_in
    quantity = declared.enforced_g if unit == "g" else declared.enforced_lb
    if quantity < Fraction(table[f"below_{unit}"]):
        share = Fraction(table["below_pct"], 100)
    elif quantity > Fraction(table["rows"][-1][f"to_{unit}"]):
        share = Fraction(table["above_pct"], 100)
    else:
        row = next(row for row in table["rows"] if quantity <= row[f"to_{unit}"])
        return Mav(
            mav_g=Fraction(row["mav_g"]), mav_lb=Fraction(row["mav_lb"]), column=unit, rule=table
        )
    return Mav(
        mav_g=declared.enforced_g * share, mav_lb=declared.enforced_lb * share, column=unit,
        rule=table,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Tare:
    """The average tare that stands for every package; ``more`` is how many are still to weigh."""

    mean_g: Fraction
    weighed: int
    more: int
    rule: Rule


def unused_dry_tare(empties_g: Sequence[Fraction], *, on: date) -> Tare:
    """
    Return the tare from random empty packages: of two that agree, else of five.

    Source: Handbook 133-2026, section 2.3.5 (read).
    """
    table = rule("us/net_tare", on=on)
    first, all_of_them = table["first"], table["first"] + table["more"]
    if len(empties_g) < first:
        raise BadSample(f"Weigh {first} empty packages; {len(empties_g)} given.")
    agree = len(set(empties_g[:first])) == 1
    if agree and len(empties_g) == first:
        used = list(empties_g)
    elif len(empties_g) < all_of_them:
        used = list(empties_g)
        mean = spread(used).mean
        more = all_of_them - len(empties_g)
        return Tare(mean_g=mean, weighed=len(used), more=more, rule=table)
    else:
        used = list(empties_g)
    return Tare(mean_g=spread(used).mean, weighed=len(used), more=0, rule=table)


def check(*, declared: Declared, nets_g: Sequence[Fraction], lot_size: int, on: date) -> Verdict:
    """
    Return whether a lot passes, from the net weights (g) of its sample.

    More weights than the plan asks for are all used: the factor is then that of the largest
    published sample among them, and no more may be beyond the MAV than the plan allows, so that
    weighing more is never judged more leniently. Raises ``BadSample`` for fewer.
    """
    nets = checked_nets(nets_g, lot_size=lot_size)
    plan_ = plan(lot_size=lot_size, on=on)
    if len(nets) < plan_.sample:
        raise BadSample(
            f"{len(nets)} weights; a lot of {lot_size} takes a random sample of {plan_.sample}. "
            f"Weigh {plan_.sample - len(nets)} more."
        )
    verified = declared.enforced_g
    mav_ = mav(declared, on=on)
    errors = [net - verified for net in nets]
    found = spread(errors)
    beyond = sum(error < -mav_.mav_g for error in errors)
    factor = _factor(plan_, len(nets))
    average_ok = factor is None or _average_passes(found.mean, found.variance, factor)
    mav_ok = beyond <= plan_.allowed_beyond_mav
    limit = None if factor is None else found.sd * float(factor)
    handbook = rule("us/net_scale", on=on)
    steps = [
        Step(
            name="sample", figure=Fraction(len(nets)), limit=Fraction(plan_.sample), unit="",
            words=f"A lot of {lot_size}: {plan_.sample} are weighed, {len(nets)} were.",
            passed=None, rule=plan_.rule,
        ),
        Step(
            name="verified", figure=verified, words=_verified_words(declared),
            rule=rule("us/net_declaration", on=on),
        ),
        Step(
            name="mav", figure=Fraction(beyond), limit=Fraction(plan_.allowed_beyond_mav), unit="",
            words=f"{beyond} short by more than the MAV of {plain(mav_.mav_g, 2)} g; "
            f"{plan_.allowed_beyond_mav} allowed.",
            passed=mav_ok, rule=mav_.rule,
        ),
    ]  # fmt: skip
    if factor is not None and limit is not None:
        steps.append(
            Step(
                name="average", figure=found.mean, limit=-limit, passed=average_ok,
                words=f"Average error {signed(found.mean, 4)} g; a shortage passes below the "
                f"sample error limit of {limit:.4f} g (s {found.sd:.4f} g × {plain(factor, 3)}).",
                rule=handbook,
            )
        )  # fmt: skip
    return Verdict(
        market="us", plan="category A", verdict=whole(step.passed for step in steps),
        reasons=_reasons(
            mav_ok=mav_ok, average_ok=average_ok, beyond=beyond, plan_=plan_, mav_=mav_,
            mean=found.mean, limit=limit,
        ),
        steps=tuple(steps), lot_size=lot_size, sample=spread(nets), verified_g=verified,
        average_error_g=found.mean, sample_error_limit_g=limit, mav_g=mav_.mav_g,
        beyond_mav=beyond, mean_g=found.mean + verified, notes=_notes(plan_, len(nets)),
    )  # fmt: skip


def _factor(plan_: Plan, weighed: int) -> Fraction | None:
    """Return the factor of the plan, or of the largest published sample that was weighed."""
    if weighed == plan_.sample:
        return plan_.factor
    larger = [row for row in plan_.rule["rows"] if row["sample"] <= weighed]
    return Fraction(larger[-1]["factor"])


def _average_passes(mean: Fraction, variance: Fraction, factor: Fraction) -> bool:
    """Compare by squares, exactly: zero or more passes, less only within the limit."""
    return mean >= 0 or mean**2 < variance * factor**2


def _verified_words(declared: Declared) -> str:
    if declared.oz is None or declared.metric_g is None:
        return f"Verified: {plain(declared.enforced_g, 3)} g, the declared quantity."
    return f"Verified: {plain(declared.enforced_g, 3)} g, the larger of the two declared figures."


def _reasons(
    *, mav_ok: bool, average_ok: bool, beyond: int, plan_: Plan, mav_: Mav, mean: Fraction,
    limit: float | None,
) -> tuple[str, ...]:  # fmt: skip
    if mav_ok and average_ok:
        return ("The average error and every package are within the limits.",)
    reasons = []
    if not average_ok:
        reasons.append(
            f"Average: short by {plain(-mean, 4)} g, which is not below the sample error limit of "
            f"{limit:.4f} g."
        )
    if not mav_ok:
        reasons.append(
            f"MAV: {beyond} short by more than {plain(mav_.mav_g, 2)} g, where "
            f"{plan_.allowed_beyond_mav} may be."
        )
    return tuple(reasons)


def _notes(plan_: Plan, weighed: int) -> tuple[str, ...]:
    if weighed == plan_.sample:
        return ()
    return (
        f"{weighed} were weighed where the plan takes {plan_.sample}: all are used, with the "
        "factor of the larger sample.",
    )
