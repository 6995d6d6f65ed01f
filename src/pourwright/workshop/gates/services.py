"""
The two gates: what a design or a lot still lacks, what was passed by hand, and what is released.

Decisions are added and never edited; the newest on a check counts. A release keeps what its checks
said. When a fact that it rests on changes so that a check closes again, the release is withdrawn by
the program itself, with the check as its reason (see ``recheck``), so that what may be sold can be
told from the decisions alone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from copy import copy
from dataclasses import asdict
from datetime import date, datetime

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from pourwright.core import release as core
from pourwright.core.burns.standing import Standing
from pourwright.core.errors import BadInput
from pourwright.core.release import Check, GateClosed, Waiver
from pourwright.core.vessel.shapes import Overfull
from pourwright.workshop.burns.evidence import standing_of
from pourwright.workshop.burns.records import WidthNotKnown
from pourwright.workshop.contents.queries import net_results
from pourwright.workshop.designs import services as designs
from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.formulas.models import FormulaVersion
from pourwright.workshop.formulas.services import core_formula, facts_of, with_parts
from pourwright.workshop.gates.models import Decision, Finishing
from pourwright.workshop.hazard.of_designs import hazard_check
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours.models import Filling
from pourwright.workshop.stores.models import Balance, Lot, LotSource, Origin, Place

What = Decision.What
Subject = DesignVersion | Lot
RELEASE = (What.RELEASED, What.WITHDRAWN)
WAIVER = (What.WAIVED, What.UNWAIVED)
# Who decides when the program withdraws a release.
PROGRAM = "the program"


# --- checks --------------------------------------------------------------------------------------


def design_checks(
    version: DesignVersion, *, on: date, workshop: Workshop | None = None
) -> list[Check]:
    """Return a design version's checks as they stand on a day, those passed by hand among them."""
    return core.with_waivers(_bare_design_checks(version, workshop, on), standing_waivers(version))


def _bare_design_checks(version: DesignVersion, workshop: Workshop | None, on: date) -> list[Check]:
    workshop = workshop or Workshop.load()
    version = _with_parts_read(version)
    formula = core_formula(version.formula_version)
    vessel = facts_of(version.vessel, "vessel")
    wick = facts_of(version.wick, "wick")
    return [
        core.wax_limit(formula, override_reason=version.formula_version.override_reason),
        core.oil_limits(formula),
        hazard_check(version, markets=designs.markets_of(version, workshop), on=on),
        _fill_check(version, formula),
        core.vessel(
            fit_for_candles=vessel.fit_for_candles if vessel else "",
            leak_tested_on=vessel.leak_tested_on if vessel else None,
            material=vessel.material if vessel else "",
            shock_statement=vessel.shock_statement if vessel else "",
        ),
        core.wick(lead_free=wick.lead_free if wick else ""),
        _burns_check(version, on),
    ]


def _with_parts_read(version: DesignVersion) -> DesignVersion:
    """
    Return the version beside its formula's parts, read now: each check asks for them.

    A copy, so that whoever handed it in is not left with parts that grow old.
    """
    read = copy(version)
    formulas = FormulaVersion.objects.select_related("formula").prefetch_related(*with_parts())
    read.formula_version = formulas.get(pk=version.formula_version_id)
    return read


def _burns_check(version: DesignVersion, on: date) -> Check:
    try:
        return core.burns(standing_of(version, on=on))
    except WidthNotKnown as problem:
        return core.burns(Standing(state="no series", says=str(problem), gaps=("burn series",)))


def _fill_check(version: DesignVersion, formula) -> Check:
    vessel = designs.core_vessel(version.vessel)
    gaps = []
    if vessel is None:
        gaps.append("size of the vessel")
    if designs.cold_density_g_ml(formula) is None:
        gaps.append("density of the wax")
    if gaps or vessel is None:
        return core.fill(None, gaps=gaps)
    try:
        return core.fill(designs.fill_in(vessel, formula, version.fill_mg))
    except Overfull as problem:
        return core.fill(None, refusal=str(problem))
    except BadInput as problem:
        return core.fill(None, gaps=[str(problem)])


def lot_checks(lot: Lot, *, on: date) -> list[Check]:
    """Return a candle lot's checks as they stand on a day, those passed by hand among them."""
    version_id = design_version_ids([lot.pk])[lot.pk]
    version = (
        DesignVersion.objects.select_related("design").get(pk=version_id) if version_id else None
    )
    finishing = Finishing.objects.filter(lot=lot).first()
    bare = [
        core.design_released(
            design=str(version) if version else None,
            released=bool(version) and is_released(version),
        ),
        core.cured(ready_on=lot.ready_on, on=on),
        _net_check(lot, version),
        core.finishing(_unticked(finishing)),
    ]
    return core.with_waivers(bare, standing_waivers(lot))


def _net_check(lot: Lot, version: DesignVersion | None) -> Check:
    results, markets = net_results(lot, version=version, workshop=Workshop.load())
    return core.net(results, markets=markets)


def _unticked(finishing: Finishing | None) -> list[str]:
    return [
        str(Finishing._meta.get_field(check).verbose_name)
        for check in Finishing.CHECKS
        if finishing is None or not getattr(finishing, check)
    ]


def checks_of(subject: Subject, *, on: date) -> list[Check]:
    if isinstance(subject, DesignVersion):
        return design_checks(subject, on=on)
    return lot_checks(subject, on=on)


# --- decisions -----------------------------------------------------------------------------------


def _about(subject: Subject) -> dict[str, Subject]:
    return {"design_version" if isinstance(subject, DesignVersion) else "lot": subject}


def decisions_on(subject: Subject):
    return Decision.objects.filter(**_about(subject))


def standing_waivers(subject: Subject) -> dict[str, Waiver]:
    """Return the reasons that stand, by check: the newest decision on each."""
    standing: dict[str, Waiver] = {}
    for decision in decisions_on(subject).filter(what__in=WAIVER).order_by("id"):
        standing.pop(decision.check_name, None)
        if decision.what == What.WAIVED:
            gaps = tuple(gap for found in decision.findings for gap in found.get("gaps", ()))
            standing[decision.check_name] = Waiver(reason=decision.reason, gaps=gaps)
    return standing


LONGEST_REASON = 400


def _fitting(reason: str) -> str:
    reason = reason.strip()
    if len(reason) > LONGEST_REASON:
        raise GateClosed(
            f"The reason has {len(reason)} letters; up to {LONGEST_REASON} are kept. Write it "
            "shorter, and keep the rest with the test papers."
        )
    return reason


def _locked(subject: Subject) -> None:
    """Lock the subject's row, so that two people decide one after the other."""
    type(subject).objects.select_for_update().get(pk=subject.pk)


def _check(subject: Subject, name: str, *, on: date) -> Check:
    checks = {check.name: check for check in checks_of(subject, on=on)}
    if name not in checks:
        raise GateClosed(f"There is no check “{name}” here; there are {', '.join(checks)}.")
    return checks[name]


def waive(*, subject: Subject, check_name: str, reason: str, by: str, at: datetime) -> Decision:
    """Pass an open check by hand, with a written reason that stays on the record."""
    with transaction.atomic():
        _locked(subject)
        check = _check(subject, check_name, on=timezone.localdate(at))
        core.refuse_unless_waivable(check, reason=reason)
        return Decision.objects.create(
            **_about(subject), what=What.WAIVED, check_name=check_name, reason=_fitting(reason),
            by=by.strip(), at=at, findings=[_kept(check)],
        )  # fmt: skip


def unwaive(
    *, subject: Subject, check_name: str, by: str, at: datetime, reason: str = ""
) -> Decision:
    """Take back what was passed by hand; a release that rested on it no longer stands."""
    with transaction.atomic():
        _locked(subject)
        if check_name not in standing_waivers(subject):
            raise GateClosed("This check is not passed by hand; there is nothing to take back.")
        decision = Decision.objects.create(
            **_about(subject), what=What.UNWAIVED, check_name=check_name, reason=_fitting(reason),
            by=by.strip(), at=at,
        )  # fmt: skip
        recheck(subject, on=timezone.localdate(at), at=at)
    return decision


def release(subject: Subject, *, by: str, on: date, at: datetime) -> Decision:
    """Release a design version or a lot whose checks are all passed, and keep what they said."""
    with transaction.atomic():
        _locked(subject)
        checks = checks_of(subject, on=on)
        core.refuse_unless_passed(checks, what=str(subject))
        return Decision.objects.create(
            **_about(subject), what=What.RELEASED, by=by.strip(), at=at,
            findings=[_kept(check) for check in checks],
        )  # fmt: skip


def withdraw(subject: Subject, *, reason: str, by: str, at: datetime) -> Decision:
    """Take a release back, with a reason."""
    if not reason.strip():
        raise GateClosed("Withdrawing a release needs a reason: say what was found.")
    with transaction.atomic():
        _locked(subject)
        if not decided(subject):
            raise GateClosed(f"{subject} is not released; there is nothing to withdraw.")
        return Decision.objects.create(
            **_about(subject), what=What.WITHDRAWN, reason=_fitting(reason), by=by.strip(),
            at=at,
        )  # fmt: skip


def recheck(subject: Subject, *, on: date, at: datetime) -> Decision | None:
    """Withdraw a release whose checks have closed since; return that decision, or None."""
    if not decided(subject):
        return None
    shut = core.closed(checks_of(subject, on=on))
    if not shut:
        return None
    reason = "No longer holds: " + " ".join(f"{check.title}: {check.detail}" for check in shut)
    return withdraw(subject, reason=reason[:LONGEST_REASON], by=PROGRAM, at=at)


def _kept(check: Check) -> dict:
    return {key: list(value) if isinstance(value, tuple) else value
            for key, value in asdict(check).items()}  # fmt: skip


# --- what is released, and what may be sold ------------------------------------------------------


def decided(subject: Subject) -> bool:
    """Return whether the newest decision is a release, whatever it rests on."""
    newest = decisions_on(subject).filter(what__in=RELEASE).order_by("-id").first()
    return newest is not None and newest.what == What.RELEASED


def released_at(subject: Subject) -> datetime | None:
    """Return when the newest release was decided; None where there never was one."""
    newest = decisions_on(subject).filter(what=What.RELEASED).order_by("-id").first()
    return newest and newest.at


def is_released(subject: Subject) -> bool:
    """Return whether it may be sold: released, and for a lot, what it was poured as too."""
    return subject.pk in released_ids(type(subject), [subject.pk])


def released_ids(model: type[Subject], ids: Iterable[int]) -> set[int]:
    """
    Return which of these design versions or lots are released, in a few queries in all.

    A lot counts only while the design version it was poured as is released too.
    """
    if model is DesignVersion:
        return _decided_ids("design_version_id", ids)
    lots = _decided_ids("lot_id", ids)
    versions = design_version_ids(lots)
    open_designs = _decided_ids("design_version_id", {pk for pk in versions.values() if pk})
    return {lot for lot in lots if versions[lot] is None or versions[lot] in open_designs}


def decided_released(subjects: QuerySet) -> list[Subject]:
    """Return those of a queryset of subjects whose newest decision is a release."""
    field = "design_version_id" if subjects.model is DesignVersion else "lot_id"
    ids = _decided_ids(
        field, subjects.filter(decisions__what=What.RELEASED).values_list("pk", flat=True)
    )
    return list(subjects.model.objects.filter(pk__in=ids)) if ids else []


def withdrawn_lots(ids: Iterable[int]) -> set[int]:
    """Return the lots whose release was withdrawn, by a recall or by hand, and not given again."""
    return _decided_ids("lot", ids, What.WITHDRAWN)


def _decided_ids(field: str, ids: Iterable[int], wanted: str = What.RELEASED) -> set[int]:
    """Return those whose newest decision on a release is the wanted one."""
    subjects = set(ids)
    if not subjects:
        return set()
    found = Decision.objects.filter(**{f"{field}__in": subjects}, what__in=RELEASE).order_by("id")
    newest = dict(found.values_list(field, "what"))
    return {pk for pk, what in newest.items() if what == wanted}


def design_version_ids(lots: Iterable[int]) -> dict[int, int | None]:
    """
    Return the design version that each candle lot was poured as, by the lots' keys; None for stock
    from before the books.

    A lot's own filling tells it, else its parent's: what was set aside or came back keeps the
    design of the lot it was taken from. Walked level by level, two queries each.
    """
    found: dict[int, int | None] = dict.fromkeys(lots)
    at = {lot: {lot} for lot in found}  # the lot now looked at -> the lots that ask
    for _ in range(20):  # longer chains of returns do not happen; a loop must end
        if not at:
            break
        made = _poured_as(at)
        for pk, version in made.items():
            for asking in at[pk]:
                found[asking] = version
        asked = [pk for pk in at if pk not in made]
        above: dict[int, set[int]] = {}
        parents = LotSource.objects.filter(
            child__in=asked,
            parent__item__kind="candle",
            entry__undone_by__isnull=True,
        ).values_list("child_id", "parent_id")
        for child, parent in parents if asked else ():
            above.setdefault(parent, set()).update(at[child])
        at = above
    return found


def _poured_as(lots: Iterable[int]) -> dict[int, int]:
    made = {}
    rows = Filling.objects.filter(Q(lot__in=set(lots)) | Q(seconds_lot__in=set(lots)))
    for lot, seconds, version in rows.values_list("lot_id", "seconds_lot_id", "design_version_id"):
        made[lot] = made[seconds] = version
    return {pk: made[pk] for pk in lots if pk in made}


def sellable(design: Design, *, on: date, seconds: bool = False) -> list[Balance]:
    """
    Return what may be sold of a design, the oldest lot first.

    On the shelf, the lot released, and released the design version that it was poured as. Seconds
    are sold as seconds only. Four queries for lots as they were poured.
    """
    return sellable_of([design.candle_id], on=on)[design.candle_id, seconds]


def sellable_of(candles: Iterable[int], *, on: date) -> dict[tuple[int, bool], list[Balance]]:
    """Return what ``sellable`` says of many candles at once, by item and whether it is seconds."""
    held = Balance.objects.filter(
        lot__item__in=candles, place=Place.SHELF, qty__gt=0, lot__began_on__lte=on
    )
    balances = list(held.select_related("lot__item").order_by("lot__began_on", "lot_id"))
    free = released_ids(Lot, [balance.lot_id for balance in balances])
    found: dict[tuple[int, bool], list[Balance]] = defaultdict(list)
    for balance in balances:
        if balance.lot_id in free:
            seconds = balance.lot.origin == Origin.SECONDS
            found[balance.lot.item_id, seconds].append(balance)
    return found
