"""
What changes fills, net checks and the log of scales and thermometers.

A fill that was weighed is never edited: it is left out with a reason. A net check is never edited:
a new one is added. A lot that was found short is worked on and weighed anew (``rework``), or gets a
label that is true (``relabel``); both leave their reason on record.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from django.db import transaction

from pourwright.core.amounts import from_mg, show_mass
from pourwright.core.contents import RULE_NAMES, Declared, Verdict, check_net, parse_declared
from pourwright.core.contents.declared import as_checked
from pourwright.core.contents.instruments import (
    THERMOMETER_TOLERANCE_C,
    boiling_point_c,
    pressure_kpa,
    scale_outcome,
    thermometer_outcome,
)
from pourwright.core.contents.scales import tolerance_g
from pourwright.core.errors import BadInput
from pourwright.intake.fills import Weighed
from pourwright.workshop.contents import queries
from pourwright.workshop.contents.models import (
    Fill,
    Instrument,
    InstrumentCheck,
    NetCheck,
    Rework,
)
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours.models import Filling
from pourwright.workshop.stores.models import Lot

MOST_FILLS = 3000


class CannotWeigh(BadInput):
    """A fill that cannot be entered."""


class CannotCheck(BadInput):
    """A net check that cannot be made, or a relabelling that would not be true."""


class CannotKeep(BadInput):
    """An instrument or a check of one that cannot be kept."""


# --- the fill log --------------------------------------------------------------------------------


def log_fills(
    subject: Lot | Filling,
    weighed: Sequence[Weighed],
    *,
    by: str,
    at: datetime,
    scale: Instrument | None = None,
    client_id: UUID | None = None,
) -> list[Fill]:
    """Enter vessels in their order; the same ``client_id`` enters them once."""
    with transaction.atomic():
        _lock(subject)
        if client_id and (before := Fill.objects.filter(client_id=client_id).first()):
            return [before]
        if not weighed:
            raise CannotWeigh("Nothing was weighed; give one weight for each vessel.")
        number = queries.fills_of(subject).count()
        if number + len(weighed) > MOST_FILLS:
            raise CannotWeigh(f"More than {MOST_FILLS} vessels of one lot; enter fewer.")
        about = {"filling" if isinstance(subject, Filling) else "lot": subject}
        made = [
            Fill(
                **about, number=number + place, empty_mg=one.empty_mg, full_mg=one.full_mg,
                net_mg=_net(one, number + place), scale=scale, by=by.strip(), at=at,
                client_id=client_id if place == 1 else None,
            )
            for place, one in enumerate(weighed, start=1)
        ]  # fmt: skip
        Fill.objects.bulk_create(made)
        return made


def fill_later(
    fill: Fill, *, full_mg: int, by: str, at: datetime, scale: Instrument | None = None
) -> Fill:
    """Enter the filled weight of a vessel that was weighed empty."""
    with transaction.atomic():
        fill = Fill.objects.select_for_update().get(pk=fill.pk)
        if fill.full_mg == full_mg:
            return fill  # sent twice
        if fill.net_mg is not None:
            raise CannotWeigh(
                f"Vessel {fill.number} was weighed filled before; leave that fill out with a "
                "reason and enter it anew."
            )
        fill.net_mg = _net(Weighed(empty_mg=fill.empty_mg, full_mg=full_mg), fill.number)
        fill.full_mg = full_mg
        fill.by, fill.at = by.strip() or fill.by, at
        fill.scale = scale or fill.scale
        fill.save()
    return fill


def leave_out(fill: Fill, *, reason: str) -> Fill:
    """Leave a fill out of every check to come; it stays on record with the reason."""
    if not reason.strip():
        raise CannotWeigh("Leaving a fill out needs a reason, such as: read with a lid on.")
    with transaction.atomic():
        fill = Fill.objects.select_for_update().get(pk=fill.pk)
        fill.left_out = reason.strip()[:200]
        fill.save()
    return fill


def _net(one: Weighed, number: int) -> int | None:
    if one.net_mg is not None:
        if one.empty_mg is not None or one.full_mg is not None:
            raise CannotWeigh(f"Vessel {number}: give its net weight, or empty and filled.")
        return one.net_mg
    if one.full_mg is None:
        if one.empty_mg is None:
            raise CannotWeigh(f"Vessel {number} has no weight.")
        return None
    if one.empty_mg is None:
        raise CannotWeigh(f"Vessel {number} was not weighed empty; give its empty weight too.")
    if one.full_mg < one.empty_mg:
        raise CannotWeigh(
            f"Vessel {number} weighs {show_mass(from_mg(one.full_mg), 'metric')} filled and "
            f"{show_mass(from_mg(one.empty_mg), 'metric')} empty; filled must be more."
        )
    return one.full_mg - one.empty_mg


def _lock(subject: Lot | Filling) -> None:
    type(subject).objects.select_for_update().get(pk=subject.pk)


# --- net checks ----------------------------------------------------------------------------------


def label_to_check(lot: Lot, version: DesignVersion | None) -> Declared:
    """Return what a lot's label declares; refuse where that is not known."""
    label = queries.label_of(lot, version)
    if label is None:
        raise CannotCheck(
            "What the label says is not known: this lot was there before the books. Weigh it and "
            "relabel it, or pass the check by hand with a reason."
        )
    return label.declared


def verdicts_of(
    fills: Sequence[Fill],
    *,
    declared: Declared,
    version: DesignVersion | None,
    workshop: Workshop,
    lot_size: int,
    on: date,
) -> dict[str, Verdict]:
    """Return what fills say under the rule of each market; nothing is kept."""
    nets = queries.grams(fills)
    markets = queries.markets_with_rules(version, workshop)
    if not markets:
        raise CannotCheck(
            "This candle is sold in no market whose net-contents rule is kept here (us, eu, gb)."
        )
    return {
        market: check_net(
            market=market, declared=as_checked(declared, market), nets_g=nets,
            lot_size=lot_size, on=on,
        )
        for market in markets
    }  # fmt: skip


def check_lot(
    lot: Lot,
    *,
    version: DesignVersion | None,
    workshop: Workshop,
    lot_size: int,
    by: str,
    on: date,
    at: datetime,
) -> list[NetCheck]:
    """
    Check a lot's standing fills under the rule of each market, and keep what was found.

    Refused where it was found short before and nothing was done since: drawing samples until one
    passes is no check.
    """
    with transaction.atomic():
        _lock(lot)
        _refuse_unresolved(lot)
        declared = label_to_check(lot, version)
        fills = queries.standing_fills(lot)
        verdicts = verdicts_of(
            fills, declared=declared, version=version, workshop=workshop, lot_size=lot_size, on=on
        )
        return [
            _keep(lot, verdict, fills, declared=declared, by=by, on=on, at=at)
            for verdict in verdicts.values()
        ]


def _refuse_unresolved(lot: Lot) -> None:
    rework = queries.newest_rework(lot)
    for check in queries.newest_checks(lot).values():
        worked_on = rework is not None and rework.at > check.at
        if check.verdict == NetCheck.Answer.FAIL and not worked_on:
            raise CannotCheck(
                f"Lot {lot.code} was found short on {check.on.day} {check.on:%b %Y}. Rework it and "
                "weigh it anew, or relabel it: another sample of the same fills is no check."
            )


def rework(lot: Lot, *, reason: str, by: str, at: datetime) -> Rework:
    """Enter that a lot was worked on: its fills so far no longer count, and it is weighed anew."""
    if not reason.strip():
        raise CannotCheck("Say what was done with the lot, such as: all topped up to the line.")
    with transaction.atomic():
        _lock(lot)
        return Rework.objects.create(lot=lot, reason=reason.strip()[:300], by=by.strip(), at=at)


def relabel(
    lot: Lot,
    *,
    declared: str,
    version: DesignVersion | None,
    workshop: Workshop,
    lot_size: int,
    reason: str,
    by: str,
    on: date,
    at: datetime,
) -> list[NetCheck]:
    """
    Give a lot a label of its own with a weight that its fills bear out under every market's rule.

    Raises ``CannotCheck`` where they do not: nothing is kept then.
    """
    if not reason.strip():
        raise CannotCheck("Relabelling needs a reason: say what was found and what was done.")
    stated = parse_declared(declared, field="New net weight")
    with transaction.atomic():
        _lock(lot)
        fills = queries.standing_fills(lot)
        verdicts = verdicts_of(
            fills, declared=stated, version=version, workshop=workshop, lot_size=lot_size, on=on
        )
        short = [verdict for verdict in verdicts.values() if not verdict.passed]
        if short:
            raise CannotCheck(
                f"{stated.text} is not true of this lot either: "
                + " ".join(reason for verdict in short for reason in verdict.reasons)
            )
        return [
            _keep(
                lot,
                verdict,
                fills,
                declared=stated,
                by=by,
                on=on,
                at=at,
                reason=reason.strip()[:300],
            )
            for verdict in verdicts.values()
        ]


def _keep(
    lot: Lot,
    verdict: Verdict,
    fills: Sequence[Fill],
    *,
    declared: Declared,
    by: str,
    on: date,
    at: datetime,
    reason: str = "",
) -> NetCheck:
    """Keep a verdict; with a reason it is that of a relabelling."""
    return NetCheck.objects.create(
        lot=lot, market=verdict.market, rule=RULE_NAMES[verdict.market], plan=verdict.plan,
        declared=declared.text, lot_size=verdict.lot_size, weighed=verdict.sample.count,
        verdict=verdict.verdict, result=as_kept(verdict, fills),
        relabelled=bool(reason), reason=reason, by=by.strip(), on=on, at=at,
    )  # fmt: skip


def as_kept(verdict: Verdict, fills: Sequence[Fill]) -> dict:
    """Return a verdict as its record keeps it: masses in grams as numbers, steps in words."""
    return {
        "reasons": list(verdict.reasons),
        "notes": list(verdict.notes),
        "steps": [
            {
                "name": step.name, "words": step.words, "figure": _number(step.figure),
                "limit": _number(step.limit), "unit": step.unit, "passed": step.passed,
                "rule": step.rule.title, "source": step.rule.source, "status": step.rule.status,
                "edition": step.rule["edition"],
            }
            for step in verdict.steps
        ],
        "nets_mg": [fill.net_mg for fill in fills],
        "scales": sorted({fill.scale.name for fill in fills if fill.scale_id}),
    }  # fmt: skip


def _number(value: Fraction | float | None) -> float | None:
    return None if value is None else round(float(value), 6)


# --- instruments ---------------------------------------------------------------------------------


def keep_instrument(instrument: Instrument) -> Instrument:
    """Keep a scale or a thermometer as it is described."""
    if not instrument.name.strip():
        raise CannotKeep("Give it a name, such as: bench scale.")
    if instrument.is_scale and not instrument.division_mg:
        raise CannotKeep("A scale’s division is the smallest step it shows, such as 0.1 g.")
    others = Instrument.objects.filter(name=instrument.name.strip()).exclude(pk=instrument.pk)
    if others.exists():
        raise CannotKeep(f"There is “{instrument.name}” already; give this one another name.")
    instrument.name = instrument.name.strip()
    instrument.save()
    return instrument


def check_scale(
    scale: Instrument,
    *,
    test_mg: int,
    reading_mg: int,
    by: str,
    on: date,
    at: datetime,
    allowed_mg: int | None = None,
    note: str = "",
    client_id: UUID | None = None,
) -> InstrumentCheck:
    """
    Enter how a scale read a test weight.

    What is allowed is its class's tolerance at that load, or one division where no class is known,
    unless given.
    """
    if not scale.is_scale or not scale.division_mg:
        raise CannotKeep(f"{scale.name} is no scale.")
    if allowed_mg is not None:
        allowed = from_mg(allowed_mg)
    elif scale.scale_class:
        allowed = tolerance_g(
            load_g=from_mg(test_mg), division_g=from_mg(scale.division_mg),
            scale_class=scale.scale_class, on=on,
        )  # fmt: skip
    else:
        allowed = from_mg(scale.division_mg)
    found = scale_outcome(test_g=from_mg(test_mg), reading_g=from_mg(reading_mg), allowed_g=allowed)
    return _keep_check(
        scale, how=InstrumentCheck.How.WEIGHT, true=from_mg(test_mg), reading=from_mg(reading_mg),
        allowed=allowed, passed=found.passed, by=by, on=on, at=at, note=note, client_id=client_id,
    )  # fmt: skip


def check_thermometer(
    thermometer: Instrument,
    *,
    how: str,
    reading_c: Decimal,
    by: str,
    on: date,
    at: datetime,
    altitude_m: int | None = None,
    pressure_hpa: Decimal | None = None,
    note: str = "",
    client_id: UUID | None = None,
) -> InstrumentCheck:
    """Enter how a thermometer read ice, or water boiling at a pressure or an altitude."""
    if thermometer.is_scale:
        raise CannotKeep(f"{thermometer.name} is no thermometer.")
    true = Fraction(0)
    if how == InstrumentCheck.How.BOILING:
        if pressure_hpa is None and altitude_m is None:
            raise CannotKeep(
                "Where water boils depends on the air: give the altitude, or the pressure where "
                "you are."
            )
        kpa = (
            float(pressure_hpa) / 10
            if pressure_hpa is not None
            else pressure_kpa(altitude_m=float(altitude_m or 0))
        )
        true = Fraction(round(boiling_point_c(kpa=kpa) * 10), 10)
    elif how != InstrumentCheck.How.ICE:
        raise CannotKeep("A thermometer is checked in ice and water, or in boiling water.")
    found = thermometer_outcome(true_c=true, reading_c=Fraction(reading_c))
    return _keep_check(
        thermometer, how=how, true=true, reading=Fraction(reading_c),
        allowed=THERMOMETER_TOLERANCE_C, passed=found.passed, by=by, on=on, at=at, note=note,
        client_id=client_id, altitude_m=altitude_m, pressure_hpa=pressure_hpa,
    )  # fmt: skip


def _keep_check(
    instrument, *, how, true, reading, allowed, passed, by, on, at, note, client_id, **more
) -> InstrumentCheck:
    with transaction.atomic():
        Instrument.objects.select_for_update().get(pk=instrument.pk)
        if client_id and (before := InstrumentCheck.objects.filter(client_id=client_id).first()):
            return before
        return InstrumentCheck.objects.create(
            instrument=instrument, how=how, true_value=_decimal(true), reading=_decimal(reading),
            allowed=_decimal(allowed), passed=passed, by=by.strip(), on=on, at=at,
            note=note.strip(), client_id=client_id, **more,
        )  # fmt: skip


def _decimal(value: Fraction) -> Decimal:
    return Decimal(round(value * 10_000)).scaleb(-4)
