"""Test pieces and burns in a workshop, as the tests of the burn book use them."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from conftest import AT, ON
from pourwright.workshop.burns import services
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.stores.models import WickFacts

# What was read of a burn that is nothing out of the way: minute and the pool's width, mm. The
# tests' tumbler is 74 mm wide: its pool is to be full by 3 h 55 min and not before half of that.
POOL = ((30, 40), (60, 50), (120, 62), (180, 70), (230, 74), (240, 74))


def take(bench, workshop, **more):
    WickFacts.objects.filter(series="").update(
        series="flat braid", size="4", burn_rate_g_h=Decimal("4.2")
    )
    given = {"on": ON, "at": AT, "workshop": workshop, "poured_on": ON - timedelta(20)}
    version = DesignVersion.objects.get(pk=bench.version.pk)  # without what was read before
    return services.take_pieces(version, **(given | more))


def lit(piece, *, at=AT, **more):
    given = {
        "on": at.date(), "ticked": services.caution_keys(ON), "mass_before_mg": 500_000,
        "room_c": Decimal(21), "by": "Ada",
    }  # fmt: skip
    return services.light(piece, at=at, **(given | more))


def readings(burn, *, until=240, **more):
    for minute, wide in POOL:
        if minute <= until:
            given = {
                "flame_mm": [Decimal(25)], "pool_mm": [Decimal(wide)] * 2, "depth_mm": Decimal(9),
                "wall_pool_c": Decimal(48), "wall_dry_c": Decimal(50), "base_c": Decimal(37),
                "soot": 0,
            }  # fmt: skip
            later = burn.lit_at + timedelta(minutes=minute)
            services.read(burn, at=later, minute=Decimal(minute), **(given | more))


def burnt(piece, *, at=AT, last=False, **more):
    """A burn of four hours from lighting to the scale, nothing against it."""
    burn = lit(piece, at=at, last=last)
    readings(burn, **more)
    facts = {"went_out_by_itself": True} if last else {}
    burn = services.put_out(
        burn, at=at + timedelta(hours=4), minutes=Decimal(240), afterglow_s=[Decimal(6)],
        relit=False, secondary_flame_s=Decimal(0), **facts,
    )  # fmt: skip
    residue = {"residue_mm": Decimal(5)} if last else {}
    return services.weigh_after(burn, at=at + timedelta(hours=9), mass_after_mg=483_000, **residue)
