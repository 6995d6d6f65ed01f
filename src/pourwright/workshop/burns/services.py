"""
What changes the burn book: pieces taken, burns lit, read, photographed and put out.

Each change is one transaction. Entries from the bench carry their own ``client_id``: sent twice,
they are recorded once. Nothing is edited: an entry is left out with a reason and entered anew.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import wraps
from io import BytesIO
from uuid import UUID, uuid5

from django.db import IntegrityError, transaction
from django.db.models import Max

from pourwright.core.amounts import number as plain_number
from pourwright.core.amounts import show_length, show_temperature
from pourwright.core.burns.cautions import cautions
from pourwright.core.burns.house import house_limits
from pourwright.core.errors import BadInput
from pourwright.workshop.burns import evidence, records
from pourwright.workshop.burns.models import (
    BurnPhoto,
    BurnReading,
    BurnSession,
    HouseLimit,
    PieceState,
    Purpose,
    SearchSettings,
    TestBurn,
    TestPiece,
)
from pourwright.workshop.designs import services as designs
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas.services import core_formula
from pourwright.workshop.gates.services import design_version_ids
from pourwright.workshop.house.models import Workshop, next_number
from pourwright.workshop.shelf import services as shelf
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Item, Kind, Lot, Origin, Place

MOST_AT_ONCE = 20
MOST_PLANNED_MINUTES = 6000
# A phone's clock and the server's may differ by so much before a time is refused as in the future.
CLOCKS_APART = timedelta(minutes=3)
# A photo as it is kept: enough to see soot and a pool by, small enough for a year of burns.
PHOTO_PX = 1600
MOST_PHOTO_BYTES = 20 * 1024 * 1024
FIGURES = (
    "flame_mm", "pool_mm", "depth_mm", "wall_pool_c", "wall_dry_c", "base_c", "soot", "mushroom_mm",
)  # fmt: skip
WORDS = {
    "flame_mm": "the flame", "pool_mm": "the pool’s width", "depth_mm": "the pool’s depth",
    "wall_pool_c": "the wall at the pool", "wall_dry_c": "the wall above the pool",
    "base_c": "the base", "soot": "soot", "mushroom_mm": "the wick’s head",
}  # fmt: skip


class CannotTest(BadInput):
    """A piece, a burn or a reading that cannot be as it was entered."""


def _once(model, field: str = "client_id") -> Callable:
    """
    Let a service record an entry once, however often it is sent.

    Two that are sent at the same moment may both find none; the later one is refused by the
    database, or for what the first has written, and then answered with the first one's record.
    """

    def wrap(write: Callable) -> Callable:
        @wraps(write)
        def once(*told, client_id: UUID | None = None, **more):
            if client_id is None:
                return write(*told, client_id=None, **more)
            before = model.objects.filter(**{field: client_id}).first()
            if before is not None:
                return before
            try:
                with transaction.atomic():
                    return write(*told, client_id=client_id, **more)
            except (IntegrityError, BadInput):
                # Refused for what the first one has written by now, perhaps.
                before = model.objects.filter(**{field: client_id}).first()
                if before is None:
                    raise
                return before

        return once

    return wrap


# --- pieces --------------------------------------------------------------------------------------


def take_pieces(
    version: DesignVersion,
    *,
    on: date,
    at: datetime,
    workshop: Workshop,
    count: int = 1,
    purpose: str = Purpose.SERIES,
    lot: Lot | None = None,
    wick: Item | None = None,
    wick_count: int | None = None,
    positions: Sequence[Sequence[Decimal]] | None = None,
    trim_mm: Decimal | None = None,
    fill_mg: int | None = None,
    poured_on: date | None = None,
    ready_on: date | None = None,
    note: str = "",
    client_id: UUID | None = None,
) -> list[TestPiece]:
    """
    Take candles to be tested, from a lot of the design or poured by hand for it.

    From a lot, candles on the shelf are set aside as testers; testers of the lot that no piece
    stands for yet are taken first. By hand, wick, number, trim and fill may differ from the
    version: a try in a search. The version is then fixed, for the pieces are of it.

    Raises ``CannotTest``, and the ledger's own where the lot lacks candles.
    """
    ids = [client_id and uuid5(client_id, str(place)) for place in range(count)]
    if client_id and (before := list(TestPiece.objects.filter(client_id__in=ids).order_by("id"))):
        return before
    if not 1 <= count <= MOST_AT_ONCE:
        raise CannotTest(f"{count} pieces; take 1 to {MOST_AT_ONCE} at once.")
    wick = wick or version.wick
    made = {
        "wick": wick,
        "wick_count": wick_count or version.wick_count,
        "trim_mm": version.trim_mm if trim_mm is None else trim_mm,
        "fill_mg": fill_mg or version.fill_mg,
    }
    _check_candle(version, **made)
    with transaction.atomic():
        entry = None
        if lot is not None:
            _refuse_another_candle(version, lot, made)
            lot, entry = _testers(lot, count=count, on=on, at=at, client_id=client_id)
            poured_on, ready_on = lot.began_on, lot.ready_on
        if poured_on is None:
            raise CannotTest("Say on which day the pieces were poured.")
        if poured_on > on:
            raise CannotTest(
                f"Poured on {poured_on:%Y-%m-%d}, which is not yet; enter pieces when they stand "
                "there."
            )
        if ready_on is None:
            ready_on = poured_on + timedelta(days=designs.cure_days(version, workshop))
        if ready_on < poured_on:
            raise CannotTest("It cannot have cured before it was poured; check both days.")
        fingerprint = evidence.as_json(
            evidence.fingerprint_of(
                version, wick=wick, count=made["wick_count"], positions=positions or None,
                trim_mm=made["trim_mm"], fill_mg=made["fill_mg"],
            )
        )  # fmt: skip
        DesignVersion.objects.filter(pk=version.pk).update(used=True)
        version.used = True
        return [
            TestPiece.objects.create(
                number=next_number("T"), version=version, lot=lot, purpose=purpose,
                positions=[[str(x), str(y)] for x, y in positions or ()],
                poured_on=poured_on, ready_on=ready_on, fingerprint=fingerprint, entry=entry,
                note=note.strip(), made_on=on, at=at, client_id=client, **made,
            )
            for client in ids
        ]  # fmt: skip


def _check_candle(
    version: DesignVersion, *, wick: Item, wick_count: int, trim_mm: Decimal, fill_mg: int
) -> None:
    if wick.kind != Kind.WICK:
        raise CannotTest(f"“{wick.name}” is not kept as a wick; choose one that is.")
    if not 1 <= wick_count <= designs.MOST_WICKS:
        raise CannotTest(f"{wick_count} wicks; a candle here has 1 to {designs.MOST_WICKS}.")
    if not 1 <= trim_mm <= 60:
        raise CannotTest(f"A wick trimmed to {_mm(trim_mm)}; give {_mm(1)} to {_mm(60)}.")
    vessel = designs.core_vessel(version.vessel)
    if vessel is not None:
        designs.fill_in(vessel, core_formula(version.formula_version), fill_mg)


def _refuse_another_candle(version: DesignVersion, lot: Lot, made: dict) -> None:
    """A candle of a lot is what its version says."""
    if design_version_ids([lot.pk])[lot.pk] != version.pk:
        raise CannotTest(
            f"Lot {lot.code} was not poured as {version}; take a lot of that version, or enter "
            "pieces poured by hand."
        )
    for fact in ("wick", "wick_count", "fill_mg"):
        if made[fact] != getattr(version, fact):
            raise CannotTest(
                f"The candles of lot {lot.code} have the wick and fill of {version}; a try with "
                "another is poured by hand."
            )


def free_testers(lot: Lot) -> int:
    """Return how many of a lot's candles on the test table no open piece stands for."""
    held, _ = ledger.held(lot, Place.TEST)
    return held - TestPiece.objects.filter(lot=lot, burnt_entry=None).count()


def _testers(lot: Lot, *, count: int, on: date, at: datetime, client_id: UUID | None):
    """Return the lot of testers that so many pieces are of, and the entry that set them aside."""
    lot = Lot.objects.select_for_update().select_related("item").get(pk=lot.pk)
    if free_testers(lot) >= count:
        return lot, None
    made = stores.set_aside(
        lot=lot, place=Place.SHELF, qty=count, origin=Origin.TESTER, on=on, at=at,
        note="test burns", client_id=client_id and uuid5(client_id, "testers"),
    )  # fmt: skip
    return made, made.made_from.get().entry


def finish(piece: TestPiece, *, on: date, at: datetime) -> TestPiece:
    """End a piece that was burnt: it leaves the test table as burnt."""
    with transaction.atomic():
        piece = _locked_piece(piece)
        if piece.state == PieceState.FINISHED:
            return piece
        _refuse_unless_open(piece)
        if not piece.burns.filter(left_out="").exists():
            raise CannotTest(f"{piece.number} was not burnt yet; discard it, with the reason.")
        return _end(piece, PieceState.FINISHED, "", on=on, at=at)


def discard(piece: TestPiece, *, reason: str, on: date, at: datetime) -> TestPiece:
    """Give a piece up, with a reason. What its burns showed still counts."""
    with transaction.atomic():
        piece = _locked_piece(piece)
        _refuse_unless_open(piece)
        return _end(piece, PieceState.DISCARDED, _reason(reason), on=on, at=at)


def _end(piece: TestPiece, state: str, because: str, *, on: date, at: datetime) -> TestPiece:
    if alight := piece.burns.filter(left_out="", minutes=None).first():
        raise CannotTest(f"Burn {alight.number} of {piece.number} still burns; put it out first.")
    if piece.lot is not None:
        burnt = piece.burns.filter(left_out="").exists()
        if burnt:
            piece.burnt_entry = shelf.burn(
                piece.lot, qty=1, on=on, at=at, reason=f"test piece {piece.number}"
            )
        else:
            piece.burnt_entry = stores.scrap(
                lot=piece.lot, place=Place.TEST, qty=1, on=on, at=at,
                reason=f"test piece {piece.number}: {because}"[:300],
            )  # fmt: skip
    piece.state, piece.ended_on, piece.ended_because = state, on, because
    piece.save()
    return piece


def _locked_piece(piece: TestPiece) -> TestPiece:
    TestPiece.objects.select_for_update().get(pk=piece.pk)
    return TestPiece.objects.select_related("version", "lot__item", "wick").get(pk=piece.pk)


def _refuse_unless_open(piece: TestPiece) -> None:
    if piece.state != PieceState.OPEN:
        raise CannotTest(f"{piece.number} is {piece.get_state_display()}; nothing more is burnt.")


# --- side by side --------------------------------------------------------------------------------


@_once(BurnSession)
def begin_session(
    *,
    room_holds: int,
    person_watches: int,
    on: date,
    at: datetime,
    by: str = "",
    client_id: UUID | None = None,
) -> BurnSession:
    """Begin a set of pieces burnt side by side, once room and person are asked."""
    for what, given in (("The room", room_holds), ("One person", person_watches)):
        if not 1 <= given <= MOST_AT_ONCE:
            raise CannotTest(f"{what}: {given} pieces; give 1 to {MOST_AT_ONCE}.")
    return BurnSession.objects.create(
        on=on, room_holds=room_holds, person_watches=person_watches, by=by.strip(), at=at,
        client_id=client_id,
    )  # fmt: skip


def _refuse_too_many(session: BurnSession | None) -> None:
    alight = TestBurn.objects.filter(left_out="", minutes=None)
    if session is None:
        if burning := alight.select_related("piece").first():
            raise CannotTest(
                f"{burning.piece.number} burns already. Put it out first, or burn side by side: a "
                "set asks how many the room has place for and you can watch."
            )
        return
    BurnSession.objects.select_for_update().get(pk=session.pk)
    if outside := alight.filter(session=None).select_related("piece").first():
        raise CannotTest(
            f"{outside.piece.number} burns by itself; put it out before you light a set."
        )
    burning = alight.filter(session=session).count()
    if burning >= session.most:
        what = "person can watch" if session.most == session.person_watches else "room holds"
        raise CannotTest(
            f"{burning} of this set burn already, and {session.most} is all that the {what}. Put "
            "one out before you light another."
        )


# --- a burn --------------------------------------------------------------------------------------


@_once(TestBurn)
def light(
    piece: TestPiece,
    *,
    at: datetime,
    ticked: Sequence[str],
    on: date,
    planned_minutes: int = 240,
    by: str = "",
    mass_before_mg: int | None = None,
    room_c: Decimal | None = None,
    humidity_pct: Decimal | None = None,
    draught: str = "",
    trim_mm: Decimal | None = None,
    last: bool = False,
    uncured: bool = False,
    session: BurnSession | None = None,
    note: str = "",
    client_id: UUID | None = None,
) -> TestBurn:
    """
    Begin a burn, once every caution is ticked (the keys of core's ``cautions``).

    Raises ``CannotTest``: the piece burns already, others burn that the person did not count on,
    or it has not cured and that was not meant.
    """
    with transaction.atomic():
        piece = _locked_piece(piece)
        _refuse_unless_open(piece)
        _refuse_unticked(ticked, on)
        if burning := piece.burns.filter(left_out="", minutes=None).first():
            raise CannotTest(f"{piece.number} burns already: its burn {burning.number}.")
        if piece.ready_on and piece.ready_on > on and not uncured:
            raise CannotTest(
                f"{piece.number} cures until {piece.ready_on:%Y-%m-%d}. Wait, or tick that you "
                "burn it before it has cured."
            )
        if piece.burns.filter(left_out="", last=True).exists():
            raise CannotTest(f"{piece.number} was burnt to its natural end; it is not lit again.")
        if not 10 <= planned_minutes <= MOST_PLANNED_MINUTES:
            raise CannotTest(f"{planned_minutes} minutes; a burn is meant for 10 to 6000.")
        if humidity_pct is not None and not 0 <= humidity_pct <= 100:
            raise CannotTest(f"Humidity {_plain(humidity_pct)} %; it lies between 0 and 100 %.")
        _check_room(room_c)
        _refuse_too_many(session)
        counted = piece.burns.filter(never_lit=False).aggregate(last=Max("number"))["last"] or 0
        return TestBurn.objects.create(
            piece=piece, session=session, number=counted + 1, lit_at=at, by=by.strip(),
            planned_minutes=planned_minutes, mass_before_mg=mass_before_mg, room_c=room_c,
            humidity_pct=humidity_pct, draught=draught.strip(), last=last, note=note.strip(),
            trim_mm=piece.trim_mm if trim_mm is None else trim_mm, client_id=client_id,
        )  # fmt: skip


def _refuse_unticked(ticked: Sequence[str], on: date) -> None:
    missing = [key for key in caution_keys(on) if key not in ticked]
    if missing:
        raise CannotTest(
            f"Not everything is seen to: {len(missing)} of the cautions are not ticked. Tick each "
            "when it is so."
        )


def caution_keys(on: date) -> list[str]:
    """Return a key for each caution before lighting, by its place."""
    return [f"before-{place}" for place in range(len(cautions(on=on).before))]


def _check_room(room_c: Decimal | None) -> None:
    if room_c is not None and not -10 <= room_c <= 50:
        raise CannotTest(
            f"A room of {_c(room_c)}; give {_c(-10)} to {_c(50)}, with the unit where another may "
            "be meant."
        )


def _locked_burn(burn: TestBurn) -> TestBurn:
    burn = (
        TestBurn.objects.select_for_update(of=("self",))
        .select_related("piece__version__vessel__vessel")
        .get(pk=burn.pk)
    )
    if burn.left_out:
        newer = TestBurn.objects.filter(instead_of=burn).first()
        if newer is not None:
            return _locked_burn(newer)
        raise CannotTest(f"{burn} was left out: {burn.left_out}")
    return burn


def minute_of(burn: TestBurn, at: datetime) -> Decimal:
    """Return the minutes from lighting to a time, to a tenth; never below 0."""
    seconds = max(0, int((at - burn.lit_at).total_seconds()))
    return Decimal(round(seconds / 6)) / 10


@_once(BurnReading)
def read(
    burn: TestBurn,
    *,
    at: datetime,
    minute: Decimal | None = None,
    flame_mm: Sequence[Decimal] = (),
    pool_mm: Sequence[Decimal] = (),
    note: str = "",
    client_id: UUID | None = None,
    **figures,
) -> BurnReading:
    """
    Record what was read at a minute of a burn; without one, at the time ``at``.

    A figure that was read at that very minute before is refused: leave that reading out first.
    """
    with transaction.atomic():
        burn = _locked_burn(burn)
        minute = _checked_minute(burn, minute, at)
        given = {"flame_mm": list(flame_mm), "pool_mm": list(pool_mm), **figures}
        unknown = [name for name in given if name not in FIGURES]
        if unknown:
            raise TypeError(f"no figures of a reading: {unknown}")
        given = {name: value for name, value in given.items() if value not in (None, [], "")}
        if not given:
            raise CannotTest("Nothing was read; enter at least one figure.")
        _check_figures(burn, given)
        for before in burn.readings.filter(left_out="", minute=minute):
            for name in given:
                if getattr(before, name) not in (None, []):
                    raise CannotTest(
                        f"At {_plain(minute)} min {WORDS[name]} was read already. Leave that "
                        "reading out first, or give another minute."
                    )
        row = BurnReading(burn=burn, minute=minute, at=at, note=note.strip(), client_id=client_id)
        for name, value in given.items():
            setattr(row, name, [f"{v}" for v in value] if isinstance(value, list) else value)
        row.save()
        records.core_burn(burn)  # raises where the whole cannot be
        return row


def _checked_minute(burn: TestBurn, minute: Decimal | None, at: datetime) -> Decimal:
    if minute is None:
        minute = minute_of(burn, at)
    if minute < 0:
        raise CannotTest(f"{_plain(minute)} min; a burn is read from its lighting on.")
    if burn.lit_at + timedelta(minutes=float(minute)) > at + CLOCKS_APART:
        raise CannotTest(
            f"{_plain(minute)} min after lighting is not yet: it has burned "
            f"{_plain(minute_of(burn, at))} min."
        )
    if burn.minutes is not None and minute > burn.minutes:
        raise CannotTest(
            f"{_plain(minute)} min is after its end at {_plain(burn.minutes)} min; a reading is "
            "taken while it burns."
        )
    return minute


# What can have been read at all: (least, most).
WITHIN = {
    "flame_mm": (0, 500), "pool_mm": (0, 600), "depth_mm": (0, 200), "wall_pool_c": (-20, 400),
    "wall_dry_c": (-20, 400), "base_c": (-20, 400), "soot": (0, 3), "mushroom_mm": (0, 50),
}  # fmt: skip


def _check_figures(burn: TestBurn, given: dict) -> None:
    for name, value in given.items():
        least, most = WITHIN[name]
        shown = _mm if name.endswith("_mm") else _c if name.endswith("_c") else _plain
        for one in value if isinstance(value, list) else [value]:
            if not least <= one <= most:
                raise CannotTest(
                    f"{WORDS[name].capitalize()}: {shown(one)}; give {shown(least)} to "
                    f"{shown(most)}."
                )
    flames = given.get("flame_mm", [])
    if len(flames) > burn.piece.wick_count:
        raise CannotTest(
            f"{len(flames)} flames, and {burn.piece.number} has {burn.piece.wick_count}."
        )
    pool = given.get("pool_mm", [])
    if pool and len(pool) != 2:
        raise CannotTest("The pool’s width is read in two directions across each other: give both.")
    wide = records.widest_mm(burn.piece.version.vessel) if pool else None
    if wide is not None and max(pool) > wide * Fraction(103, 100):
        raise CannotTest(
            f"A pool of {_mm(max(pool))} does not fit: the vessel is {_mm(wide)} wide inside. "
            "Check the figure, or the vessel in the stores."
        )


def full_pool(burn: TestBurn, *, at: datetime, minute: Decimal | None = None) -> TestBurn:
    """Record when the pool was seen to reach the wall all round; what is recorded stands."""
    with transaction.atomic():
        burn = _locked_burn(burn)
        if burn.full_pool_minute is not None:
            return burn
        burn.full_pool_minute = _checked_minute(burn, minute, at)
        burn.save(update_fields=["full_pool_minute"])
        return burn


@_once(BurnPhoto)
def photo(
    burn: TestBurn,
    *,
    data: bytes,
    at: datetime,
    minute: Decimal | None = None,
    note: str = "",
    client_id: UUID | None = None,
) -> BurnPhoto:
    """
    Keep a photo of a burn, made smaller and without what a camera writes beside it.

    Raises ``CannotTest`` where the bytes are no picture that is read here.
    """
    kept = _small_picture(data)
    with transaction.atomic():
        burn = _locked_burn(burn)
        return BurnPhoto.objects.create(
            burn=burn, minute=_checked_minute(burn, minute, at), image=kept,
            content_type="image/jpeg", size=len(kept), sha256=hashlib.sha256(kept).hexdigest(),
            note=note.strip(), at=at, client_id=client_id,
        )  # fmt: skip


def _small_picture(data: bytes) -> bytes:
    from PIL import Image, ImageOps, UnidentifiedImageError

    if len(data) > MOST_PHOTO_BYTES:
        raise CannotTest("That photo has over 20 MB; send a smaller one.")
    try:
        with Image.open(BytesIO(data), formats=("JPEG", "PNG", "WEBP", "GIF")) as opened:
            opened.draft("RGB", (PHOTO_PX, PHOTO_PX))
            picture = ImageOps.exif_transpose(opened).convert("RGB")
    except (UnidentifiedImageError, OSError, ValueError, Image.DecompressionBombError) as problem:
        raise CannotTest(
            "That is no photo that can be read here; send a JPEG, PNG or WebP picture."
        ) from problem
    picture.thumbnail((PHOTO_PX, PHOTO_PX))
    out = BytesIO()
    picture.save(out, "JPEG", quality=85, optimize=True)
    return out.getvalue()


OUT_FACTS = (
    "afterglow_s", "relit", "secondary_flame_s", "vessel_failed", "pool_flashed",
    "went_out_by_itself",
)  # fmt: skip
# What is weighed and measured when the wax has set, hours after.
AFTER_FACTS = ("mass_after_mg", "residue_mm", "residue_mg", "soot_index")


@_once(TestBurn, "out_client_id")
def put_out(
    burn: TestBurn,
    *,
    at: datetime,
    minutes: Decimal | None = None,
    note: str = "",
    client_id: UUID | None = None,
    **facts,
) -> TestBurn:
    """
    End a burn, after so many minutes or at ``at``, with what was seen then (``OUT_FACTS``).

    What is weighed when it is cold may come now or later: see ``weigh_after``.
    """
    with transaction.atomic():
        burn = _locked_burn(burn)
        if burn.minutes is not None:
            raise CannotTest(f"{burn} was put out at {_plain(burn.minutes)} min.")
        if minutes is None:
            minutes = max(minute_of(burn, at), Decimal("0.1"))
        if minutes <= 0:
            raise CannotTest(f"It burned {_plain(minutes)} min; give more than 0.")
        if burn.lit_at + timedelta(minutes=float(minutes)) > at + CLOCKS_APART:
            raise CannotTest(
                f"{_plain(minutes)} min after lighting is not yet: it has burned "
                f"{_plain(minute_of(burn, at))} min."
            )
        latest = burn.readings.filter(left_out="").order_by("-minute").first()
        if latest is not None and latest.minute > minutes:
            # The last reading and the end are often entered in one breath.
            if latest.minute - minutes > 1:
                raise CannotTest(
                    f"A reading stands at {_plain(latest.minute)} min, after its end at "
                    f"{_plain(minutes)} min; give a later end, or leave that reading out."
                )
            minutes = latest.minute
        burn.minutes = minutes
        burn.out_at = burn.lit_at + timedelta(minutes=float(minutes))
        burn.out_client_id = client_id
        _set_facts(burn, facts, (*OUT_FACTS, *AFTER_FACTS))
        if note.strip():
            burn.note = f"{burn.note} {note.strip()}".strip()[:300]
        if burn.full_pool_minute is not None and burn.full_pool_minute > minutes:
            burn.full_pool_minute = minutes
        burn.save()
        records.core_burn(burn)
        return burn


def weigh_after(burn: TestBurn, *, at: datetime, **facts) -> TestBurn:
    """Record what was weighed and measured when a burnt piece had set; each figure once."""
    with transaction.atomic():
        burn = _locked_burn(burn)
        if burn.minutes is None:
            raise CannotTest(f"{burn} still burns; weigh it when it is out and has set.")
        given = {name: value for name, value in facts.items() if value is not None}
        if not given:
            raise CannotTest("Nothing was entered; give the weight, or what was left.")
        for name, value in given.items():
            before = getattr(burn, name)
            if before is not None and before != value:
                raise CannotTest(
                    f"{burn}: {TestBurn._meta.get_field(name).verbose_name} is on record; to mend "
                    "it, enter the burn anew with the reason."
                )
        _set_facts(burn, given, AFTER_FACTS)
        burn.save()
        records.core_burn(burn)
        return burn


def _set_facts(burn: TestBurn, facts: dict, known: Sequence[str]) -> None:
    unknown = [name for name in facts if name not in known]
    if unknown:
        raise TypeError(f"no facts of a burn's end: {unknown}")
    for name, value in facts.items():
        if name == "afterglow_s":
            if len(value) > burn.piece.wick_count:
                raise CannotTest(
                    f"{len(value)} after-glows, and {burn.piece.number} has "
                    f"{burn.piece.wick_count} wicks."
                )
            value = [f"{seconds}" for seconds in value]
        if isinstance(value, str):
            value = value.strip()
        setattr(burn, name, value)


# --- what does not count -------------------------------------------------------------------------


def leave_out_reading(reading: BurnReading, *, reason: str, at: datetime) -> BurnReading:
    """Let a reading count no more, with the reason; it stays in the book."""
    with transaction.atomic():
        _locked_burn(reading.burn)
        reading.refresh_from_db()
        if not reading.left_out:
            reading.left_out, reading.left_out_at = _reason(reason), at
            reading.save()
        return reading


def leave_out_photo(photo: BurnPhoto, *, reason: str) -> BurnPhoto:
    photo.left_out = _reason(reason)
    photo.save(update_fields=["left_out"])
    return photo


def leave_out_burn(
    burn: TestBurn, *, reason: str, at: datetime, never_lit: bool = False
) -> TestBurn:
    """
    Let a burn count no more. Its number stays taken, so that a series shows the gap, unless it was
    entered by mistake and nothing was lit.
    """
    with transaction.atomic():
        burn = _locked_burn(burn)
        burn.left_out, burn.left_out_at, burn.never_lit = _reason(reason), at, never_lit
        burn.save()
        return burn


# What can be entered anew of a burn.
MENDED = (
    "lit_at", "minutes", "mass_before_mg", "room_c", "humidity_pct", "draught", "trim_mm", "last",
    "full_pool_minute", *OUT_FACTS, *AFTER_FACTS, "planned_minutes", "by", "note",
)  # fmt: skip


def enter_anew(burn: TestBurn, *, reason: str, at: datetime, **mended) -> TestBurn:
    """
    Leave a burn out, with a reason, and enter it anew with what was wrong mended.

    Its readings that count are entered again with it; its photos go with it.
    """
    unknown = [name for name in mended if name not in MENDED]
    if unknown:
        raise TypeError(f"not to be mended: {unknown}")
    with transaction.atomic():
        burn = _locked_burn(burn)
        if all(_same(getattr(burn, name), value) for name, value in mended.items()):
            raise CannotTest("Nothing differs from what is on record.")
        readings = list(burn.readings.filter(left_out="").order_by("minute", "id"))
        anew = TestBurn.objects.get(pk=burn.pk)
        burn.left_out, burn.left_out_at = _reason(reason), at
        burn.save()
        anew.pk, anew.instead_of = None, burn
        anew.client_id = anew.out_client_id = None
        facts = {n: v for n, v in mended.items() if n in (*OUT_FACTS, *AFTER_FACTS)}
        for name, value in mended.items():
            if name not in facts:
                setattr(anew, name, value)
        _set_facts(anew, facts, (*OUT_FACTS, *AFTER_FACTS))
        if anew.minutes is not None:
            anew.out_at = anew.lit_at + timedelta(minutes=float(anew.minutes))
        _check_room(anew.room_c)
        anew._state.adding = True
        anew.save()
        for reading in readings:
            reading.pk, reading.burn, reading.client_id = None, anew, None
            reading._state.adding = True
            reading.save()
        burn.photos.update(burn=anew)
        records.core_burn(anew)
        return anew


def _same(before, value) -> bool:
    if isinstance(before, list):
        return [Fraction(v) for v in before] == [Fraction(str(v)) for v in value]
    return before == value


# --- the maker's own limits ----------------------------------------------------------------------


def set_limits(
    *, values: dict[str, Decimal], reasons: dict[str, str], by: str, on: date, at: datetime
) -> None:
    """
    Set the maker's house limits, all of them: those equal to the default are the default.

    Raises core's ``BadHouseLimit`` where a laxer one lacks its reason.
    """
    start = house_limits(on=on)
    changed = {key: value for key, value in values.items() if Fraction(value) != start[key]}
    house_limits(
        on=on, changed={key: Fraction(value) for key, value in changed.items()},
        reasons=reasons, units=Workshop.load().units,
    )  # fmt: skip
    with transaction.atomic():
        had = {row.key: row for row in HouseLimit.objects.select_for_update()}
        for key, row in had.items():
            if key not in changed:
                row.delete()
        for key, value in changed.items():
            row = had.get(key) or HouseLimit(key=key)
            reason = reasons.get(key, "").strip()
            if row.pk and (row.value, row.reason) == (value, reason):
                continue
            row.value, row.reason, row.by, row.at = value, reason, by.strip(), at
            row.save()


def set_search(**values) -> SearchSettings:
    """Set what a burn must meet in a search."""
    with transaction.atomic():
        row = SearchSettings.load()
        for name, value in values.items():
            setattr(row, name, value)
        checks = (
            ("full_pct", 50, 100), ("soonest_h", 0, 8), ("latest_h", 0, 12), ("depth_mm", 3, 60),
            ("wall_c", 25, 120), ("needed", 1, 20), ("side_by_side", 1, MOST_AT_ONCE),
            ("week_in_burns", 0, 20),
        )  # fmt: skip
        for name, least, most in checks:
            value = getattr(row, name)
            if not least <= value <= most:
                label = SearchSettings._meta.get_field(name).verbose_name
                shown = {"depth_mm": _mm, "wall_c": _c}.get(name, _plain)
                label = label.capitalize().removesuffix(", mm").replace(", °C,", ",")
                raise CannotTest(f"{label}: {shown(value)}; give {shown(least)} to {shown(most)}.")
        if row.soonest_h >= row.latest_h:
            raise CannotTest(
                "A pool cannot be full before it may be at the wall; check both hours."
            )
        row.save()
        return row


def _reason(reason: str) -> str:
    if not reason.strip():
        raise CannotTest("That needs a reason: say what was wrong.")
    return reason.strip()[:200]


def _mm(value) -> str:
    return show_length(Fraction(value), Workshop.load().units)


def _c(value) -> str:
    return show_temperature(Fraction(value), Workshop.load().units)


def _plain(value) -> str:
    return plain_number(Fraction(value), places=2, strip=True)
