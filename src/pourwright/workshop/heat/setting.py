"""How a design's candles set: what is asked, the answers side by side, and their pictures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

import numpy as np

from pourwright.core.amounts import show_length, show_temperature
from pourwright.core.heat.losses import Room
from pourwright.core.heat.setting import Pour, Setting, simulate_setting
from pourwright.papers.heat_pictures import (
    Bands,
    Film,
    bands_between,
    key_svg,
    moment,
    section_film_svg,
)
from pourwright.papers.line_charts import Level, Line, lines_svg
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas.services import facts_of
from pourwright.workshop.heat.candles import Standing
from pourwright.workshop.heat.materials import fraction_of
from pourwright.workshop.heat.memory import Memory

CELL_MM = 2.0  # the same on every machine; see the decision on heat
MOST_SETTINGS = 4
LETTERS = "ABCD"
STRIP = 6  # frames that stand in a row where nothing can move
FILM_PX, FILM_PX_OF_MANY, STRIP_PX = 380.0, 246.0, 104.0  # widths at most
MOST_PX_PER_MM = 4.5
USUAL_ROOM_C = Decimal(21)

_settings = Memory(24)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One way to pour: °C and mm. ``vessel_c`` None: as the room; ``gap_mm`` None: alone."""

    pour_c: Decimal
    room_c: Decimal
    vessel_c: Decimal | None = None
    gap_mm: Decimal | None = None


def usual_ask(version: DesignVersion) -> Ask | None:
    """Return the pour that the formula or its wax asks for; None where neither says."""
    formula = version.formula_version
    pour_c = formula.pour_at_c
    if pour_c is None:
        said = [
            facts.pour_at_c
            for part in formula.waxes.select_related("item__wax")
            if (facts := facts_of(part.item, "wax")) and facts.pour_at_c is not None
        ]
        pour_c = max(said, default=None)
    return None if pour_c is None else Ask(pour_c=pour_c, room_c=USUAL_ROOM_C)


def pour_of(standing: Standing, ask: Ask, *, name: str = "") -> Pour:
    """Return the core's pour; raises its BadInput for one that cannot be."""
    return Pour(
        name=name, wax=standing.wax, wall=standing.wall, inside_diameter_mm=standing.inside_mm,
        wax_depth_mm=standing.depth_mm, rim_mm=standing.rim_mm, base_mm=standing.base_mm,
        pour_c=float(ask.pour_c),
        vessel_c=None if ask.vessel_c is None else float(ask.vessel_c),
        room=Room(
            air_c=float(ask.room_c), gap_mm=None if ask.gap_mm is None else float(ask.gap_mm)
        ),
    )  # fmt: skip


def setting_of(pour: Pour) -> Setting:
    """Return how a pour sets, worked out once while the program runs."""
    return _settings.get(pour, lambda: simulate_setting(pour, cell_mm=CELL_MM))


def is_known(pour: Pour) -> bool:
    return _settings.has(pour)


# --- as the page shows them ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One setting on the page: its letter and words, its figures, its film and its strip."""

    letter: str
    words: str
    ask: Ask
    setting: Setting
    film: Film
    player: str
    strip: tuple[tuple[float, str], ...]

    @property
    def text(self) -> str:
        return self.film.as_text()


def words_of(ask: Ask, *, units: str, first: Ask | None = None) -> str:
    """Return an ask in words; beside a first one only what differs."""

    def warm(value: Decimal) -> str:
        return show_temperature(fraction_of(float(value), 10), units)

    said = [f"poured at {warm(ask.pour_c)}"]
    if first is None or ask.room_c != first.room_c:
        said.append(f"room {warm(ask.room_c)}")
    if ask.vessel_c is not None and (first is None or ask.vessel_c != first.vessel_c):
        said.append(f"vessel at {warm(ask.vessel_c)}")
    if ask.gap_mm is not None and (first is None or ask.gap_mm != first.gap_mm):
        said.append(f"{show_length(fraction_of(float(ask.gap_mm), 10), units)} apart")
    return ", ".join(said)


def shown(
    settings: Sequence[Setting], asks: Sequence[Ask], *, units: str, prefix: str = "set"
) -> list[Shown]:
    """Return settings as the page shows them, all on the same scale and in the same bands."""
    bands = bands_of(settings, units=units)
    across = settings[0].pour.inside_diameter_mm + 2 * settings[0].pour.wall.thickness_mm
    scale = min((FILM_PX if len(settings) < 3 else FILM_PX_OF_MANY) / across, MOST_PX_PER_MM)
    found = []
    for place, (setting, ask) in enumerate(zip(settings, asks, strict=True)):
        letter = LETTERS[place]
        words = words_of(ask, units=units, first=asks[0] if place else None)
        film = film_of(setting, bands)
        found.append(
            Shown(
                letter=letter, words=words, ask=ask, setting=setting, film=film,
                player=section_film_svg(
                    film, at_h=0, title=f"{letter}: section while it sets, to scale",
                    prefix=f"{prefix}-{letter}", px_per_mm=scale,
                ),
                strip=tuple(
                    (
                        at,
                        section_film_svg(
                            film, at_h=at, title=f"{letter} after {at:.1f} h",
                            prefix=f"{prefix}-{letter}-{number}", px_per_mm=STRIP_PX / across,
                            words=False,
                        ),
                    )
                    for number, at in enumerate(_strip_hours(film))
                ),
            )
        )  # fmt: skip
    return found


def _strip_hours(film: Film) -> list[float]:
    """Return when the strip's frames stand: closer together at first, when most happens."""
    return [film.nearest(film.hours * (k / (STRIP - 1)) ** 1.5).at_h for k in range(STRIP)]


def bands_of(settings: Sequence[Setting], *, units: str) -> Bands:
    low = min(one.pour.room.air_c for one in settings)
    high = max(one.pour.pour_c for one in settings)
    return bands_between(low, high, units=units)


@lru_cache(maxsize=64)
def _film(pour: Pour, bands: Bands) -> Film:
    setting = setting_of(pour)
    wax = pour.wax
    # Every second picture: a frame for some minutes of the candle.
    pictures = setting.pictures[::2] + setting.pictures[-1:]
    return Film(
        inside_mm=pour.inside_diameter_mm, rim_mm=pour.rim_mm, wall_mm=pour.wall.thickness_mm,
        base_mm=pour.wall.thickness_mm if pour.base_mm is None else pour.base_mm,
        bands=bands, last_mm=(setting.last_radius_mm, pour.wax_depth_mm - setting.last_depth_mm),
        moments=tuple(
            moment(
                at_h=one.at_h, temps_c=one.temps_c, radii_mm=setting.radii_mm,
                layers_mm=setting.layers_mm, bands=bands, start_c=wax.melting_start_c,
                end_c=wax.melting_end_c,
            )
            for one in pictures
        ),
    )  # fmt: skip


def film_of(setting: Setting, bands: Bands) -> Film:
    """Return a setting's film in these bands."""
    return _film(setting.pour, bands)


def key(settings: Sequence[Setting], *, units: str) -> str:
    return key_svg(bands_of(settings, units=units), width=340, prefix="set-key")


def degrees(value_c: float, units: str) -> float:
    return value_c if units == "metric" else value_c * 9 / 5 + 32


def degrees_shown(units: str):
    return lambda value: f"{value:g} °{'C' if units == 'metric' else 'F'}"


CURVES = (
    ("core", "last place to set"), ("surface", "surface"), ("wall", "wax at the wall"),
    ("outside", "vessel outside"),
)  # fmt: skip


def curves(settings: Sequence[Setting], *, units: str, width: float, prefix: str) -> str:
    """Return temperatures over time: of one setting in four places, of several in the last."""
    named = _named(settings)
    title = "Temperature of the last place to set"
    if len(settings) == 1:
        title = "Temperatures while it sets"
    lines = [
        Line(
            label=words, look=place,
            points=tuple(
                (float(at), degrees(float(value), units))
                for at, value in zip(one.times_h, one.curves[name], strict=True)
            ),
        )
        for place, (one, name, words) in enumerate(named, 1)
    ]  # fmt: skip
    wax = settings[0].pour.wax
    return lines_svg(
        lines, title=title, width=width, prefix=prefix, show=degrees_shown(units),
        across="hours from the pour",
        levels=[
            Level(value=degrees(wax.melting_end_c, units), label="all liquid above"),
            Level(value=degrees(wax.melting_start_c, units), label="set below"),
        ],
        desc="; ".join(
            f"{line.label}: from {line.points[0][1]:.0f} to {line.points[-1][1]:.0f} degrees"
            for line in lines
        ) + ".",
    )  # fmt: skip


def _named(settings: Sequence[Setting]) -> list[tuple[Setting, str, str]]:
    """Return each curve that is shown: its setting, its name in it, its words."""
    if len(settings) == 1:
        return [(settings[0], name, words) for name, words in CURVES]
    return [(one, "core", LETTERS[place]) for place, one in enumerate(settings)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """The curves as a table."""

    names: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def figures(settings: Sequence[Setting], *, units: str, most: int = 14) -> Figures:
    """Return the curves at round times."""
    named = _named(settings)
    hours = max(one.hours for one in settings)
    step = next((s for s in (0.25, 0.5, 1, 2, 4) if hours / s <= most), 8.0)
    rows = []
    for place in range(int(hours / step) + 1):
        at = step * place
        cells = [
            f"{degrees(float(np.interp(at, one.times_h, one.curves[name])), units):.0f}"
            if at <= one.hours else "" for one, name, _ in named
        ]  # fmt: skip
        rows.append((f"{at:g}", *cells))
    unit = "°C" if units == "metric" else "°F"
    return Figures(names=tuple(f"{words}, {unit}" for *_, words in named), rows=tuple(rows))
