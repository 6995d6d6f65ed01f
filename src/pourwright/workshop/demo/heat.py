"""How candles set: what the maker says of her waxes, and forecasts with what came of them."""

from __future__ import annotations

from pourwright.workshop.demo.life import Life
from pourwright.workshop.heat import candles, materials, services
from pourwright.workshop.heat import setting as settings
from pourwright.workshop.pours.models import Pour, PourState

DESIGN, KINDS = "fig_tumbler", {"soy": ("soy",), "soco": ("soy", "coconut"), "bees": ("beeswax",)}
MELTS_BY = 51.0
LATER_THAN_FORETOLD = 1.12


def today(life: Life) -> None:
    """Keep two forecasts of how the fig tumbler sets; of the older it is known how it went."""
    by, at = life.workshop.maker, life.at(8, 20)
    for key, kinds in KINDS.items():
        materials.keep_kind(life.items[key], kinds=kinds, by=by, at=at)
    materials.keep_value(
        item=life.items["soy"], name="melting_end_c", value=MELTS_BY, by=by, at=at,
        source="watched a spoonful melt in a water bath, thermometer in it",
    )  # fmt: skip
    version = life.designs[DESIGN]
    ask = settings.usual_ask(version)
    if ask is None:
        return
    found = settings.setting_of(settings.pour_of(candles.standing_of(version), ask))
    pour = Pour.objects.filter(
        state=PourState.CLOSED, pitchers__fillings__design_version=version
    ).first()
    seen = services.keep_setting(version, found, at=at, pour=pour)
    if found.movable_h is not None:
        services.record_outcome(
            seen, outcome={"movable_h": round(found.movable_h * LATER_THAN_FORETOLD, 2)},
            note="pressed with a finger through the paper, every five minutes", at=life.at(13),
        )  # fmt: skip
    services.keep_setting(version, found, at=life.at(14))
