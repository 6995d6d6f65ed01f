"""
The demo's burn book: one design's whole series before it is sold, and a search for a wick today.

What is read is worked from a few invented figures, so that the story is the same each time: the
series keeps every limit, the first wick tried is too small, the next one does.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

from pourwright.workshop.burns import services
from pourwright.workshop.burns.models import BurnSession, Purpose, TestBurn, TestPiece
from pourwright.workshop.demo import sheets
from pourwright.workshop.demo.life import Life
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.gates import services as gates
from pourwright.workshop.stores.models import Origin

SERIES, SEARCH = "fig_tumbler", "clary_tumbler"
# The pool's share of the vessel's width at each minute, of a wick that fits.
POOL = ((30, "0.46"), (60, "0.66"), (120, "0.86"), (180, "0.96"), (232, "1"))
FULL_AT = 203
RATE_MG_H = 5_400
BURNS_A_DAY = ((7, 30), (14, 10))
SAID = "Pieces of the first lot, burnt to the end side by side."


def series_of_the_day(life: Life) -> None:
    """Burn the testers of one design twice a day until they are burnt down, then release it."""
    version = life.designs.get(SERIES)
    if version is None or version.pk in life.released:
        return
    lot = version.design.candle.lots.filter(origin=Origin.TESTER).first()
    if lot is None or lot.ready_on > life.on:
        return
    pieces = list(TestPiece.objects.filter(lot=lot).order_by("id"))
    if not pieces:
        pieces = services.take_pieces(
            version, lot=lot, count=3, on=life.on, at=life.at(7), workshop=life.workshop, note=SAID
        )
    for hour, minute in BURNS_A_DAY:
        if _burn_all(life, pieces, life.at(hour, minute)):
            _done(life, version, pieces)
            return


def _burn_all(life: Life, pieces: list[TestPiece], at: datetime) -> bool:
    """Burn every piece once, side by side; return whether that was the last of their wax."""
    before = pieces[0].burns.count()
    spent = before * 4 * RATE_MG_H
    left = pieces[0].fill_mg - spent
    last = left < 4 * RATE_MG_H + 12_000
    # The last burn ends with the wax that can be reached, some 12 g short of all.
    minutes = min(240, (left - 12_000) * 60 // RATE_MG_H) if last else 240
    session = _set(life, at, len(pieces))
    burns = [
        _lit(life, piece, at=at, session=session, last=last, left_mg=left + place * 900)
        for place, piece in enumerate(pieces)
    ]
    for place, burn in enumerate(burns):
        _read(life, burn, until=minutes, warm=min(before, 11))
        if minutes > FULL_AT:
            full = FULL_AT + 2 * place
            services.full_pool(burn, at=at + timedelta(minutes=full), minute=Decimal(full))
        _out(life, burn, minutes=minutes)
    return last


def _set(life: Life, at: datetime, pieces: int) -> BurnSession:
    return services.begin_session(
        room_holds=4, person_watches=pieces, on=life.on, at=at, by=life.workshop.maker
    )


def _lit(
    life: Life, piece: TestPiece, *, at: datetime, session: BurnSession | None, left_mg: int,
    last: bool = False,
) -> TestBurn:  # fmt: skip
    return services.light(
        piece, at=at, on=life.on, ticked=services.caution_keys(life.on), by=life.workshop.maker,
        session=session, last=last, room_c=Decimal("20.5"), humidity_pct=Decimal(52),
        mass_before_mg=285_000 + left_mg,
    )  # fmt: skip


def _read(life: Life, burn: TestBurn, *, until: int, fit: Decimal = Decimal(1), warm: int = 0):
    """Read a burn at its times; ``fit`` scales the pool, ``warm`` tells how far down it is."""
    dice = life.chance("burns")
    wicks = burn.piece.wick_count
    wide = Decimal(str(burn.piece.version.vessel.vessel.inside_mm))
    times = [(minute, share) for minute, share in POOL if minute <= until]
    if until - times[-1][0] > 10:  # a burn is read at its end, whenever that comes
        times.append((until - 2, times[-1][1]))
    for place, (minute, share) in enumerate(times):
        pool = min(wide * Decimal(share) * fit, wide).quantize(Decimal("0.1"))
        late = place == len(times) - 1 and minute >= 60
        services.read(
            burn, at=burn.lit_at + timedelta(minutes=minute), minute=Decimal(minute),
            flame_mm=[Decimal(22 + dice.randint(0, 4)) for _ in range(wicks)],
            pool_mm=[pool, pool],
            depth_mm=Decimal(4 + minute // 48) if minute >= 60 else None,
            wall_pool_c=Decimal(30 + minute // 14 + warm // 2),
            wall_dry_c=Decimal(33 + minute // 13 + warm // 2) if minute >= 60 else None,
            base_c=Decimal(22 + warm) if late else None,
            soot=0 if minute >= 60 else None,
        )  # fmt: skip


def _out(life: Life, burn: TestBurn, *, minutes: int) -> None:
    out = burn.lit_at + timedelta(minutes=minutes)
    dice = life.chance("burns")
    glows = [Decimal(5 + dice.randint(0, 4)) for _ in range(burn.piece.wick_count)]
    own = {"went_out_by_itself": True} if burn.last else {}
    burn = services.put_out(
        burn, at=out, minutes=Decimal(minutes), afterglow_s=glows, relit=False,
        secondary_flame_s=Decimal(0), **own,
    )  # fmt: skip
    burnt = minutes * RATE_MG_H // 60
    rest = {"residue_mm": Decimal("3.5"), "residue_mg": 11_800} if burn.last else {}
    services.weigh_after(
        burn, at=out + timedelta(hours=2), mass_after_mg=burn.mass_before_mg - burnt, **rest
    )


def _done(life: Life, version: DesignVersion, pieces: list[TestPiece]) -> None:
    """Its gate is met by the series alone: nothing is passed by hand."""
    for piece in pieces:
        services.finish(piece, on=life.on, at=life.at(18, 30))
    gates.release(version, by=life.workshop.maker, on=life.on, at=life.at(18, 40))
    sheets.number(life, version)
    life.released.add(version.pk)


# --- how today looks -----------------------------------------------------------------------------


def today(life: Life) -> None:
    """A wick was too small, the next one did once; two of it burn now, and one more cures."""
    version = life.designs.get(SEARCH) or list(life.designs.values())[-1]
    poured = max(life.on - timedelta(days=24), life.start)
    small = _try(life, version, "wick3", poured_days=24)
    first = _lit(
        life, small, at=life.at(8) - timedelta(days=3), session=None, left_mg=small.fill_mg
    )
    _read(life, first, until=240, fit=Decimal("0.84"))
    _out(life, first, minutes=240)
    services.finish(small, on=life.on, at=life.at(8))
    larger = _try(life, version, "wick4", poured_days=24)
    again = _lit(life, larger, at=life.at(8) - timedelta(days=1), session=None, left_mg=190_000)
    _read(life, again, until=240, fit=Decimal("0.98"))
    _out(life, again, minutes=240)
    session = _set(life, life.at(9, 20), 2)
    other = _try(life, version, "wick4", poured_days=(life.on - poured).days)
    for piece in (larger, other):
        burn = _lit(life, piece, at=life.at(9, 20), session=session, left_mg=171_000)
        _read(life, burn, until=60, fit=Decimal("0.98"))
    _try(life, version, "wick5", poured_days=4)


def _try(life: Life, version: DesignVersion, wick: str, *, poured_days: int) -> TestPiece:
    return services.take_pieces(
        version, purpose=Purpose.SEARCH, wick=life.items[wick], on=life.on, at=life.at(7, 45),
        workshop=life.workshop, poured_on=life.on - timedelta(days=poured_days),
    )[0]  # fmt: skip
