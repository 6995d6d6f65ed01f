"""
What is weighed: the scale's and the thermometer's checks, the fills of the last months, net checks.

Until some months ago the maker weighed five of a lot on paper; since then every candle is logged.
Once the bench scale was away and a lot was poured by eye: it got labels of its own. Once a lot was
found short by a little: it was topped up and weighed anew. All figures are invented.
"""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from pourwright.core.amounts import parse_mass, to_mg
from pourwright.intake.fills import Weighed
from pourwright.workshop.contents import queries, services
from pourwright.workshop.contents.models import Instrument, InstrumentCheck
from pourwright.workshop.demo.life import G, Life
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.designs.services import declared_of
from pourwright.workshop.pours.models import Filling
from pourwright.workshop.stores.models import Lot, Origin

LOG_FROM_DAYS_LEFT = 120
BELOW_THE_FILL_G = 5  # what the label says less than is poured
BY_EYE, TOPPED_UP = 5, 10  # which of the logged lots
EVERY_DAYS = 90
SCALE_OFF_DAY = 452


def label_of(fill_g: int) -> str:
    """Return what the demo's labels declare of a fill."""
    return f"{fill_g - BELOW_THE_FILL_G} g"


def set_up(life: Life) -> None:
    """Enter the bench scale and the probe."""
    life.scale = services.keep_instrument(
        Instrument(
            what=Instrument.What.SCALE,
            name="Bench scale",
            division_mg=100,
            capacity_mg=3_000 * G,
            scale_class="II",
            note="Steel pan, left of the pots.",
        )
    )
    life.probe = services.keep_instrument(
        Instrument(what=Instrument.What.THERMOMETER, name="Probe with the red cable")
    )


def of_the_day(life: Life) -> None:
    """Each quarter the scale is tried with its test weight, and the probe in ice and steam."""
    if life.day == SCALE_OFF_DAY:
        _try_scale(life, off_mg=400, note="sent to be adjusted")
    if life.day == SCALE_OFF_DAY + 6:
        _try_scale(life, off_mg=0, note="back, adjusted")
    if life.day % EVERY_DAYS != 4:
        return
    _try_scale(life, off_mg=0)
    about = {"by": life.workshop.maker, "on": life.on, "at": life.at(8, 50)}
    dice = life.chance("probe")
    off = Decimal(dice.choice((-3, 0, 2, 4))) / 10
    services.check_thermometer(life.probe, how=InstrumentCheck.How.ICE, reading_c=off, **about)
    services.check_thermometer(
        life.probe, how=InstrumentCheck.How.BOILING, reading_c=Decimal("99.2") + off,
        altitude_m=180, **about,
    )  # fmt: skip


def _try_scale(life: Life, *, off_mg: int, note: str = "") -> None:
    services.check_scale(
        life.scale, test_mg=400 * G, reading_mg=400 * G + off_mg, by=life.workshop.maker,
        on=life.on, at=life.at(8, 40), note=note,
    )  # fmt: skip


def is_logged(life: Life) -> bool:
    return life.days_left <= LOG_FROM_DAYS_LEFT


def net_check(life: Life, lot: Lot, version: DesignVersion) -> None:
    """Weigh every candle of a lot and check it; once or twice it is short."""
    label_mg = to_mg(declared_of(version)[0].enforced_g)
    number = 0
    size = queries.lot_size(lot)
    # A lot of one or two candles tells no story of a short lot.
    if lot.origin == Origin.POUR and size >= 5:
        life.lots_logged += 1
        number = life.lots_logged
    checked = {
        "version": version, "workshop": life.workshop, "lot_size": size,
        "by": life.workshop.maker, "on": life.on,
    }  # fmt: skip
    if number == BY_EYE:
        _weigh(life, lot, size, middle_mg=label_mg - 2 * G, sd_mg=2_600)
        services.check_lot(lot, at=life.at(15, 40), **checked)
        services.relabel(
            lot, declared=label_of(label_mg // G - 3), at=life.at(15, 55),
            reason="Poured by eye while the scale was away; labels of its own printed.", **checked,
        )  # fmt: skip
        return
    if number == TOPPED_UP:
        _weigh(life, lot, size, middle_mg=label_mg - 900, sd_mg=700)
        services.check_lot(lot, at=life.at(14, 10), **checked)
        services.rework(
            lot, reason="Each topped up with about 3 g of the same mix.",
            by=life.workshop.maker, at=life.at(14, 50),
        )  # fmt: skip
        _weigh(life, lot, size, middle_mg=label_mg + 2_100, sd_mg=800, minute=20)
        services.check_lot(lot, at=life.at(15, 40), **checked)
        return
    _weigh(life, lot, size, middle_mg=label_mg + 2_600, sd_mg=900 if size >= 5 else 300)
    services.check_lot(lot, at=life.at(15, 40), **checked)


def _weigh(life: Life, lot: Lot, size: int, *, middle_mg: int, sd_mg: int, minute: int = 0) -> None:
    """Log as many vessels as the lot has, each weighed empty and filled to a tenth of a gram."""
    dice = life.chance("fills")
    vessel_mg = to_mg(parse_mass("172 g"))
    weighed = []
    for _ in range(size):
        empty = round(dice.gauss(vessel_mg, 1_500), -2)
        net = round(dice.gauss(middle_mg, sd_mg), -2)
        weighed.append(Weighed(empty_mg=empty, full_mg=empty + net))
    services.log_fills(
        lot, weighed, by=life.workshop.maker, at=life.at(15 if minute else 14, minute or 2),
        scale=life.scale,
    )  # fmt: skip


def today(life: Life) -> None:
    """A few vessels of the pour at the bench are weighed empty; a lot is weighed, not checked."""
    filling = Filling.objects.filter(pitcher__pour__state="open").first()
    if filling is not None:
        dice = life.chance("fills")
        empties = [Weighed(empty_mg=round(dice.gauss(172 * G, 1_500), -2)) for _ in range(4)]
        services.log_fills(
            filling, empties, by=life.workshop.maker, at=life.at(8, 55), scale=life.scale
        )
    waiting = queries.waiting_lots(on=life.on + timedelta(days=14)).first()
    if waiting is not None and (version := _version_of(waiting)) is not None:
        label_mg = to_mg(declared_of(version)[0].enforced_g)
        _weigh(life, waiting, queries.lot_size(waiting), middle_mg=label_mg + 2_600, sd_mg=900)


def _version_of(lot: Lot) -> DesignVersion | None:
    found = Filling.objects.filter(lot=lot).select_related("design_version__design").first()
    return found.design_version if found else None
