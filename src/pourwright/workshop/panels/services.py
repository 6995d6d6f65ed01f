"""
What changes a scent panel: planned, answered one assessor at a time, closed or discarded.

Each change is one transaction. An answer carries its own ``client_id``: sent twice, it counts once.
Which candle stood under which code is nobody's to see in a result before the panel is closed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.db import IntegrityError, transaction

from pourwright.core import panel_plans
from pourwright.core.errors import BadInput
from pourwright.core.panels import (
    check_ranks,
    rank_panel,
    triangle,
    triangle_needed,
)
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.gates.services import design_version_ids
from pourwright.workshop.house.models import next_number
from pourwright.workshop.panels.models import (
    Asks,
    Panel,
    PanelAnswer,
    PanelCandle,
    PanelJar,
    PanelKind,
    PanelServing,
    PanelState,
)
from pourwright.workshop.stores.models import Kind, Lot

NUMBERS = "N"
MOST_CANDLES = 8
MOST_ASSESSORS = 200


class CannotPanel(BadInput):
    """A panel or an answer that cannot be as it was entered."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A candle to be compared: of a lot, of a version poured on a day, or in words alone."""

    lot: Lot | None = None
    version: DesignVersion | None = None
    words: str = ""
    poured_on: date | None = None


@transaction.atomic
def plan(
    candidates: Sequence[Candidate],
    *,
    kind: str,
    question: str,
    scent: str,
    on: date,
    assessors: int,
    alpha: Decimal,
    seed: int,
    at: datetime,
    asks: str = Asks.STRENGTH,
    room: str = "",
    minutes: int | None = None,
    tell_pct: Decimal | None = None,
    power_pct: Decimal | None = None,
    note: str = "",
    client_id: UUID | None = None,
) -> Panel:
    """
    Plan a panel: its jars get their codes, and each assessor an order.

    Raises ``CannotPanel`` where the candles do not make a panel of this kind, and the core's own
    where so many assessors cannot be planned for.
    """
    if client_id and (before := Panel.objects.filter(client_id=client_id).first()):
        return before
    _check_plan(candidates, kind=kind, question=question, on=on, assessors=assessors, alpha=alpha)
    ranking = kind == PanelKind.RANKING
    panel = Panel.objects.create(
        number=next_number(NUMBERS), kind=kind, asks=asks if ranking else Asks.OTHER,
        question=question.strip(), scent=scent, room=room.strip(), minutes=minutes, on=on,
        alpha=alpha, tell_pct=None if ranking else tell_pct,
        power_pct=None if ranking else power_pct, planned=assessors, seed=seed, note=note.strip(),
        client_id=client_id, at=at,
    )  # fmt: skip
    candles = [
        _candle(panel, position, one, on) for position, one in enumerate(candidates, start=1)
    ]
    each = 1 if ranking else 2
    codes = panel_plans.codes(each * len(candles), seed=seed)
    PanelJar.objects.bulk_create(
        PanelJar(candle=candles[place // each], place=place, code=code)
        for place, code in enumerate(codes)
    )
    _serve(panel, codes, assessors)
    return panel


def _check_plan(candidates, *, kind, question, on, assessors, alpha) -> None:
    if not question.strip():
        raise CannotPanel("Say in words what the panel is asked, such as which throws most.")
    least, most = (2, MOST_CANDLES) if kind == PanelKind.RANKING else (2, 2)
    if not least <= len(candidates) <= most:
        wanted = f"{least} to {most}" if most > least else "exactly 2"
        raise CannotPanel(
            f"{len(candidates)} candles are given; a "
            f"{PanelKind(kind).label} compares {wanted} of them."
        )
    if not 2 <= assessors <= MOST_ASSESSORS:
        raise CannotPanel(f"{assessors} assessors; plan for 2 to {MOST_ASSESSORS}.")
    if not 0 < alpha < Decimal("0.5"):
        raise CannotPanel(f"A risk of {alpha}; give more than 0 and less than 0.5, such as 0.05.")
    for one in candidates:
        if one.lot is None and one.version is None and not one.words.strip():
            raise CannotPanel("Choose a candle for each row, or name it in words.")
        if one.lot is not None and one.lot.item.kind != Kind.CANDLE:
            raise CannotPanel(f"Lot {one.lot.code} is of {one.lot.item.name}, which is no candle.")
        poured_on = one.lot.began_on if one.lot else one.poured_on
        if poured_on and poured_on > on:
            raise CannotPanel(
                f"{one.lot.code if one.lot else one.words or one.version} was poured on "
                f"{poured_on}, after the panel on {on}."
            )
    keys = [
        (one.lot and one.lot.pk, one.version and one.version.pk, one.words.strip(), one.poured_on)
        for one in candidates
    ]
    if len(set(keys)) < len(keys):
        raise CannotPanel("A candle stands in two rows; compare different ones, or say in words.")


def _candle(panel: Panel, position: int, one: Candidate, on: date) -> PanelCandle:
    version = one.version
    if one.lot is not None:
        pk = design_version_ids([one.lot.pk])[one.lot.pk]
        version = DesignVersion.objects.filter(pk=pk).first() if pk else None
    if version is not None:
        # What was smelled is of this version: it is fixed, so that the result stays true.
        DesignVersion.objects.filter(pk=version.pk).update(used=True)
    return PanelCandle.objects.create(
        panel=panel, position=position, lot=one.lot, version=version, words=one.words.strip(),
        poured_on=one.lot.began_on if one.lot else one.poured_on,
    )  # fmt: skip


def _serve(panel: Panel, codes: Sequence[str], assessors: int, *, after: int = 0) -> None:
    if panel.is_ranking:
        orders = panel_plans.ranking_orders(
            candles=len(codes), assessors=assessors, seed=panel.seed
        )
    else:
        orders = panel_plans.triangle_orders(assessors=assessors, seed=panel.seed)
    PanelServing.objects.bulk_create(
        PanelServing(panel=panel, number=number, codes=[codes[jar] for jar in order])
        for number, order in enumerate(orders, start=1)
        if number > after
    )


def _codes(panel: Panel) -> list[str]:
    jars = PanelJar.objects.filter(candle__panel=panel).order_by("place")
    return list(jars.values_list("code", flat=True))


@transaction.atomic
def more_assessors(panel: Panel, *, count: int) -> Panel:
    """Plan for so many more; those planned before keep their orders."""
    panel = _locked(panel)
    there = panel.servings.count()
    if count < 1 or there + count > MOST_ASSESSORS:
        raise CannotPanel(f"{count} more assessors; a panel has up to {MOST_ASSESSORS} in all.")
    _serve(panel, _codes(panel), there + count, after=there)
    Panel.objects.filter(pk=panel.pk).update(planned=there + count)
    panel.planned = there + count
    return panel


# --- answers -------------------------------------------------------------------------------------


def answer(
    panel: Panel,
    *,
    assessor: int,
    at: datetime,
    ranks: dict[str, int] | None = None,
    odd: str = "",
    by: str = "",
    note: str = "",
    client_id: UUID | None = None,
) -> PanelAnswer:
    """
    Record what one assessor said: a place for each code, or the code of the odd one.

    Tied candles share a place. Sent twice under one ``client_id``, also at the same moment, it is
    recorded once. Raises ``CannotPanel`` where the panel is not open, the assessor has answered or
    is not planned for, and the core's ``BadPanel`` where the places are no ranking.
    """
    if client_id and (before := PanelAnswer.objects.filter(client_id=client_id).first()):
        return before
    try:
        with transaction.atomic():
            return _answer(
                panel, assessor=assessor, at=at, ranks=ranks, odd=odd, by=by, note=note,
                client_id=client_id,
            )  # fmt: skip
    except IntegrityError:
        before = PanelAnswer.objects.filter(client_id=client_id).first() if client_id else None
        if before is None:
            raise CannotPanel(f"Assessor {assessor} has answered already.") from None
        return before


def _answer(panel, *, assessor, at, ranks, odd, by, note, client_id) -> PanelAnswer:
    panel = _locked(panel)
    serving = panel.servings.filter(number=assessor).first()
    if serving is None:
        raise CannotPanel(f"Assessor {assessor} is not planned for; there are {panel.planned}.")
    if serving.answers.filter(left_out="").exists():
        raise CannotPanel(
            f"Assessor {assessor} has answered already; leave that answer out first, with a reason."
        )
    given: list[int] = []
    if panel.is_ranking:
        lacking = [code for code in serving.codes if code not in (ranks or {})]
        if lacking or ranks is None:
            raise CannotPanel(f"Give a place to {', '.join(lacking)} too; tied ones share a place.")
        given = [ranks[code] for code in serving.codes]
        check_ranks(given, candles=len(given), assessor=assessor)
    elif odd not in serving.codes:
        raise CannotPanel(f"Choose the odd one of {', '.join(serving.codes)}; a guess will do.")
    return PanelAnswer.objects.create(
        serving=serving, ranks=given, odd="" if given else odd, by=by.strip(), note=note.strip(),
        at=at, client_id=client_id,
    )  # fmt: skip


@transaction.atomic
def leave_out(given: PanelAnswer, *, reason: str) -> PanelAnswer:
    """Let an answer not count; the assessor may then be entered anew."""
    if not reason.strip():
        raise CannotPanel("Say why the answer does not count; it stays on record with the reason.")
    _locked(given.serving.panel)
    given.left_out = reason.strip()
    given.save(update_fields=["left_out"])
    return given


def _locked(panel: Panel) -> Panel:
    found = Panel.objects.select_for_update().get(pk=panel.pk)
    if not found.is_open:
        raise CannotPanel(
            f"Panel {found.number} is {found.get_state_display()}; it stays as it is."
        )
    return found


# --- the end -------------------------------------------------------------------------------------


@transaction.atomic
def close(panel: Panel, *, on: date) -> Panel:
    """
    Close a panel: from now on its codes are opened and its result stands, and nothing is added.

    Raises ``CannotPanel`` where too few have answered for any result.
    """
    panel = _locked(panel)
    answers = PanelAnswer.objects.filter(serving__panel=panel, left_out="").count()
    if answers < 2:
        raise CannotPanel(f"{answers} answered; a panel takes 2 or more to be closed.")
    if not panel.is_ranking:
        needed = triangle_needed(assessors=answers, alpha=float(panel.alpha))
        if needed is None:
            raise CannotPanel(
                f"{answers} answered, too few for any result: even all right could be guessing. "
                "Let more smell, or discard the panel with a reason."
            )
    panel.state, panel.ended_on = PanelState.CLOSED, on
    found = result_of(panel)
    panel.told_apart = found.differ
    panel.save(update_fields=["state", "ended_on", "told_apart"])
    return panel


@transaction.atomic
def discard(panel: Panel, *, on: date, reason: str) -> Panel:
    """Discard an open panel that went wrong; it stays on record and never gives a result."""
    if not reason.strip():
        raise CannotPanel("Say why the panel is discarded; it stays on record with the reason.")
    panel = _locked(panel)
    panel.state, panel.ended_on = PanelState.DISCARDED, on
    panel.ended_because = reason.strip()
    panel.save(update_fields=["state", "ended_on", "ended_because"])
    return panel


def names_of(candles: Sequence[PanelCandle], *, on: date) -> list[str]:
    """Return what candles are called beside each other: by age alone where all else is alike."""
    ages = [one.cure_days(on) for one in candles]
    alike = len({one.what for one in candles}) == 1 and len(set(ages)) == len(ages)
    if alike and None not in ages:
        return [f"{days} day{'' if days == 1 else 's'}" for days in ages]
    return [one.named(on) for one in candles]


def result_of(panel: Panel):
    """
    Return the core's ``Ranking`` or ``Triangle`` of a closed panel's answers.

    Candles come in the order in which they were planned. Raises ``CannotPanel`` while it is open.
    """
    if not panel.is_closed:
        raise CannotPanel(f"Panel {panel.number} is still blind; close it first.")
    jars = list(
        PanelJar.objects.filter(candle__panel=panel).select_related(
            "candle__lot__item", "candle__version__design"
        )
    )
    answers = list(
        PanelAnswer.objects.filter(serving__panel=panel, left_out="")
        .select_related("serving")
        .order_by("serving__number")
    )
    if panel.is_ranking:
        rows = []
        for one in answers:
            place = dict(zip(one.serving.codes, one.ranks, strict=True))
            rows.append([place[jar.code] for jar in jars])
        names = names_of([jar.candle for jar in jars], on=panel.on)
        return rank_panel(rows, candles=names, alpha=float(panel.alpha))
    places = {jar.code: jar.place for jar in jars}
    right = sum(
        panel_plans.odd_jar(tuple(places[code] for code in one.serving.codes)) == places[one.odd]
        for one in answers
    )
    return triangle(assessors=len(answers), correct=right, alpha=float(panel.alpha))
