"""A candle and its burns as the tests use them: nothing against it until a test changes it."""

from dataclasses import replace
from datetime import date
from fractions import Fraction

from pourwright.core.burns.change import Fingerprint
from pourwright.core.burns.record import Burn, Candle, Piece, Reading, Series

ON = date(2026, 11, 25)
# 76.2 mm are three inches: the pool is due at four hours, and not before two.
CANDLE = Candle(inside_diameter_mm=Fraction("76.2"))


def reading(minute, pool=None, **more):
    given = {
        "flame_mm": (Fraction(26),),
        "pool_mm": () if pool is None else (Fraction(pool), Fraction(pool)),
        "depth_mm": Fraction(9), "wall_pool_c": Fraction(48), "wall_dry_c": Fraction(51),
        "base_c": Fraction(38), "soot": 0,
    }  # fmt: skip
    return Reading(minute=Fraction(minute), **(given | more))


READINGS = (reading(30), reading(60, 55), reading(120, 68), reading(180, 74), reading(240, 77))


def burn(number=1, **more):
    given = {
        "minutes": Fraction(240), "readings": READINGS, "mass_before_g": Fraction(412),
        "mass_after_g": Fraction(390), "room_c": Fraction(21), "trim_mm": Fraction(6),
        "afterglow_s": (Fraction(7),), "relit": False, "secondary_flame_s": Fraction(0),
    }  # fmt: skip
    return Burn(number=number, **(given | more))


def changed(at, **more):
    """The usual burn with the reading of one minute changed."""
    return burn(readings=tuple(replace(r, **more) if r.minute == at else r for r in READINGS))


def last_burn(number, **more):
    given = {
        "minutes": Fraction(150), "readings": READINGS[:3], "last": True,
        "went_out_by_itself": True, "residue_mm": Fraction(5),
    }  # fmt: skip
    readings = (*READINGS[:3], reading(149, 74))
    return burn(number, **(given | {"readings": readings} | more))


def piece(name, burns=3):
    return Piece(name=name, burns=(*(burn(n) for n in range(1, burns)), last_burn(burns)))


def series(*pieces):
    return Series(candle=CANDLE, pieces=pieces or tuple(piece(name) for name in "ABC"))


F = Fraction
TESTED = Fingerprint(
    waxes=(("Coast soy", F(80)), ("Palm-free coconut", F(20))),
    oils=(("Fig leaf", F(2)), ("Cedar", F(1))),
    load_pct_of_wax=F(7), extras=(("Ochre dye", F("0.05")),), wick_series="flat braid",
    wick_size="no. 5", wick_count=1, wick_positions=((F(0), F(0)),), trim_mm=F(6), fill_g=F(190),
    vessel="Tumbler 80", wax_revisions=(("Coast soy", "B"),), oil_revisions=(("Cedar", "2"),),
    wick_revision="1", vessel_revision="2025",
)  # fmt: skip
CHANGES = {
    "waxes": (("Coast soy", F(100)),), "oils": (("Fig leaf", F(3)), ("Cedar", F(1))),
    "load_pct_of_wax": F("7.1"), "extras": (), "wick_series": "round braid", "wick_size": "no. 6",
    "wick_count": 2, "wick_positions": ((F(1), F(0)),), "trim_mm": F(5), "fill_g": F(191),
    "vessel": "Tumbler 82", "wax_revisions": (("Coast soy", "C"),), "oil_revisions": (),
    "wick_revision": "2", "vessel_revision": "2026",
}  # fmt: skip
