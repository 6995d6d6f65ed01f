"""
A candle written down for the heat simulations: a small TOML document.

The tables ``wax``, ``vessel``, ``fill`` and ``room`` say what stands where; ``melt``, ``set`` and
``burn`` what is done with it, and ``[[compare]]`` what else to try beside a ``set``. The whole
document is in docs/heat-file.md. Lengths, masses and temperatures are text with a unit, or plain
numbers in mm, g and °C.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from pourwright.core.amounts import parse_length, parse_mass, parse_temperature
from pourwright.core.errors import BadInput
from pourwright.core.heat.burning import Candle
from pourwright.core.heat.calibrate import Recorded
from pourwright.core.heat.losses import Room
from pourwright.core.heat.materials import (
    WALL_VALUES,
    WAX_VALUES,
    FlameValues,
    Wall,
    Wax,
    blend,
    flame_values,
    wall,
    wax,
)
from pourwright.core.heat.setting import Pour

MOST_BYTES = 64 * 1024
TABLES = ("wax", "vessel", "fill", "room", "melt", "set", "compare", "burn", "name")
YARN_SOURCE = "fit over a wick maker's chart of paraffin pillars, r = 0.93"


class BadHeatFile(BadInput):
    """A document that cannot be read; the message names the table and the key."""


class _Table:
    """One table: its keys are taken one by one, and what is left over is a fault."""

    def __init__(self, name: str, given: Any) -> None:
        if not isinstance(given, Mapping):
            raise BadHeatFile(f"{name}: this is a table; write [{name}] above its keys.")
        self.name, self.left = name, dict(given)
        self.known: list[str] = []

    def take(self, key: str, read: Callable[[Any, str], Any], default: Any = None) -> Any:
        self.known.append(key)
        if key not in self.left:
            return default
        value, place = self.left.pop(key), f"{self.name}, {key}"
        try:
            return read(value, place)
        except BadHeatFile:
            raise
        except BadInput as problem:
            raise BadHeatFile(f"{place}: {problem}") from problem

    def need(self, key: str, read: Callable[[Any, str], Any], example: str) -> Any:
        found = self.take(key, read)
        if found is None:
            raise BadHeatFile(f"{self.name}: {key} is missing; write for example {example}.")
        return found

    def done(self) -> None:
        for key in self.left:
            near = difflib.get_close_matches(key, self.known, 1)
            hint = f"did you mean {near[0]}?" if near else f"it has {', '.join(self.known)}."
            raise BadHeatFile(f"{self.name}: there is no key {key}; {hint}")


def _number(value: Any, place: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadHeatFile(f"{place}: {value!r} is no number.")
    return float(value)


def _whole(value: Any, place: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise BadHeatFile(f"{place}: {value!r} is no whole number.")
    return value


def _text(value: Any, place: str) -> str:
    if not isinstance(value, str):
        raise BadHeatFile(f"{place}: {value!r} is no text; put it in quotation marks.")
    return value


def _amount(parse: Callable[..., Any]) -> Callable[[Any, str], float]:
    def read(value: Any, place: str) -> float:
        if isinstance(value, str):
            return float(parse(value, field=place.split(", ")[-1]))
        return _number(value, place)

    return read


_length = _amount(parse_length)
_mass = _amount(parse_mass)
_temperature = _amount(parse_temperature)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeltPlan:
    """What a melt is made of, as the core's ``melt`` takes it."""

    wax: Wax
    keywords: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnPlan:
    """A candle, how long it burns, whether its whole life is asked for, and recorded burns."""

    candle: Candle
    hours: float
    life: bool
    left_mm: float
    cell_mm: float
    solid: bool
    positions_mm: tuple[tuple[float, float], ...]
    recorded: tuple[Recorded, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HeatFile:
    """A document that is well-formed; each reading asks for the tables that it needs."""

    given: Mapping[str, Any]

    @property
    def name(self) -> str:
        return _text(self.given.get("name", ""), "name")

    def melt(self) -> MeltPlan:
        """Return the melt that is asked for."""
        table = self._table("melt")
        keywords = {
            "mass_kg": table.need("mass", _mass, '"3 kg"') / 1000,
            "power_w": table.need("power_w", _number, "1200"),
            "start_c": table.take("start", _temperature, 21.0),
            "melt_to_c": table.need("to", _temperature, '"85 °C"'),
        }
        for key, name, read in (
            ("efficiency", "efficiency", _number),
            ("pour", "pour_c", _temperature),
            ("pot_area_m2", "pot_area_m2", _number),
            ("room", "air_c", _temperature),
        ):
            value = table.take(key, read)
            if value is not None:
                keywords[name] = value
        table.done()
        return MeltPlan(wax=self._wax(), keywords=keywords)

    def pours(self) -> tuple[list[Pour], float]:
        """Return the pour and all to compare with it, and the cell size in mm."""
        table = self._table("set")
        radius, height, base_mm, glass = self._vessel()
        fluid = self._wax()
        cell = table.take("cell", _length, 2.0)
        first = Pour(
            name=self.name,
            wax=fluid,
            wall=glass,
            inside_diameter_mm=2 * radius,
            wax_depth_mm=self._depth(radius, fluid),
            rim_mm=height,
            base_mm=base_mm,
            room=self._room(),
            pour_c=table.need("pour", _temperature, '"60 °C"'),
            vessel_c=table.take("vessel", _temperature),
            liquid_mixing=table.take("liquid_mixing", _number, 1.0),
        )
        table.done()
        others = self.given.get("compare", [])
        if not isinstance(others, list):
            raise BadHeatFile("compare: write [[compare]] with double brackets above each.")
        return [first, *(self._other(first, i, one) for i, one in enumerate(others, 1))], cell

    def _other(self, first: Pour, number: int, given: Any) -> Pour:
        table = _Table(f"compare {number}", given)
        changes: dict[str, Any] = {
            "name": table.take("name", _text, f"comparison {number}"),
        }
        for key, name, read in (
            ("pour", "pour_c", _temperature),
            ("vessel", "vessel_c", _temperature),
            ("liquid_mixing", "liquid_mixing", _number),
        ):
            value = table.take(key, read)
            if value is not None:
                changes[name] = value
        room = {"air_c": table.take("room", _temperature), "gap_mm": table.take("gap", _length)}
        table.done()
        given_room = {key: value for key, value in room.items() if value is not None}
        return replace(first, **changes, room=replace(first.room, **given_room))

    def burn(self) -> BurnPlan:
        """Return the candle to burn."""
        table = self._table("burn")
        radius, height, base_mm, glass = self._vessel()
        fluid = self._wax()
        rate, notes = self._rate(table, fluid)
        wicks = table.take("wicks", _whole, 1)
        positions = table.take("positions", _positions, ())
        if positions:
            wicks = len(positions)
        ring = table.take("ring_radius", _length, 0.0)
        if positions and not ring:
            ring = sum((x * x + y * y) ** 0.5 for x, y in positions) / len(positions)
        names = {f.name for f in fields(FlameValues)} - {"origins", "source_heights_mm"}
        flame_given = {
            key: value for key in sorted(names) if (value := table.take(key, _number)) is not None
        }
        candle = Candle(
            name=self.name,
            wax=fluid,
            wall=glass,
            inside_diameter_mm=2 * radius,
            wax_depth_mm=self._depth(radius, fluid),
            rim_mm=height,
            base_mm=base_mm,
            room=self._room(),
            burn_rate_g_h=rate,
            wicks=wicks,
            ring_radius_mm=ring,
            flame=flame_values(**flame_given),
        )
        plan = BurnPlan(
            candle=candle,
            hours=table.take("hours", _number, 4.0),
            life=table.take("life", _flag, False),
            left_mm=table.take("left", _length, 12.0),
            cell_mm=table.take("cell", _length, 2.0),
            solid=table.take("three_dimensions", _flag, False),
            positions_mm=positions,
            recorded=table.take("recorded", _recorded(candle), ()),
            notes=notes,
        )
        table.done()
        return plan

    def _rate(self, table: _Table, fluid: Wax) -> tuple[float, tuple[str, ...]]:
        rate = table.take("burn_rate_g_h", _number)
        yarn = table.take("yarn_g_m", _number)
        if rate is not None:
            return rate, ()
        if yarn is None:
            raise BadHeatFile(
                "burn: burn_rate_g_h is missing; weigh a burn and write for example 3.6, or give "
                "the wick's yarn_g_m for a rough start."
            )
        if not 0.5 <= yarn <= 10:
            raise BadHeatFile(f"burn, yarn_g_m: {yarn:g} g/m; the chart covers about 1 to 5 g/m.")
        found = 2.01 * yarn**0.76 * fluid.burn_rate_to_paraffin
        return found, (
            f"Burn rate {found:.1f} g/h by the yarn's mass ({YARN_SOURCE}): weigh a burn instead.",
        )

    def _table(self, name: str) -> _Table:
        if name not in self.given:
            raise BadHeatFile(f"There is no table [{name}]; docs/heat-file.md shows one.")
        return _Table(name, self.given[name])

    def _wax(self) -> Wax:
        table = self._table("wax")
        kind = table.take("kind", _text)
        parts = table.take("parts", _parts)
        given = {
            key: value for key in WAX_VALUES if (value := table.take(key, _number)) is not None
        }
        table.done()
        if (kind is None) == (parts is None):
            raise BadHeatFile('wax: give kind = "soy" (or another), or parts for a blend.')
        if parts is None:
            return wax(kind, **given)
        mixed = blend([(wax(name), share) for name, share in parts])
        return replace(mixed, **given) if given else mixed

    def _vessel(self) -> tuple[float, float, float | None, Wall]:
        """Return inside radius, inside height, base thickness (mm) and material."""
        table = self._table("vessel")
        material = table.take("material", _text, "glass")
        diameter = table.need("inside_diameter", _length, '"74 mm"')
        height = table.need("height", _length, '"88 mm"')
        thickness = table.take("wall", _length)
        base = table.take("base", _length)
        given = {
            key: value
            for key in WALL_VALUES
            if key != "thickness_mm" and (value := table.take(key, _number)) is not None
        }
        if thickness is not None:
            given["thickness_mm"] = thickness
        table.done()
        return diameter / 2, height, base, wall(material, **given)

    def _depth(self, radius: float, fluid: Wax) -> float:
        table = self._table("fill")
        depth = table.take("depth", _length)
        mass = table.take("mass", _mass)
        table.done()
        if (depth is None) == (mass is None):
            raise BadHeatFile('fill: give either depth = "60 mm" or mass = "210 g".')
        if depth is not None:
            return depth
        return mass / (fluid.density_kg_m3 * 1e-6) / (3.141592653589793 * radius * radius)

    def _room(self) -> Room:
        table = _Table("room", self.given.get("room", {}))
        given = {
            "air_c": table.take("temperature", _temperature),
            "gap_mm": table.take("gap", _length),
        }
        for key in (
            "table_w_m2_k", "surface_share", "surface_emissivity", "dry_wall_w_m2_k", "draught",
        ):  # fmt: skip
            given[key] = table.take(key, _number)
        table.done()
        return Room(**{key: value for key, value in given.items() if value is not None})


def _flag(value: Any, place: str) -> bool:
    if not isinstance(value, bool):
        raise BadHeatFile(f"{place}: {value!r}; write true or false.")
    return value


def _parts(value: Any, place: str) -> list[tuple[str, float]]:
    if not isinstance(value, list) or not value:
        raise BadHeatFile(f'{place}: write parts = [{{ kind = "soy", share = 3 }}, ...].')
    found = []
    for number, one in enumerate(value, 1):
        table = _Table(f"wax, part {number}", one)
        found.append((table.need("kind", _text, '"soy"'), table.need("share", _number, "3")))
        table.done()
    return found


def _positions(value: Any, place: str) -> tuple[tuple[float, float], ...]:
    if not isinstance(value, list):
        raise BadHeatFile(f"{place}: write positions = [[0, 18], [15.6, -9]] in mm.")
    found = []
    for one in value:
        if not isinstance(one, list) or len(one) != 2:
            raise BadHeatFile(f"{place}: {one!r} is no place; write [x, y] in mm.")
        found.append((_number(one[0], place), _number(one[1], place)))
    return tuple(found)


def _recorded(candle: Candle) -> Callable[[Any, str], tuple[Recorded, ...]]:
    def read(value: Any, place: str) -> tuple[Recorded, ...]:
        if not isinstance(value, list):
            raise BadHeatFile("burn, recorded: write [[burn.recorded]] above each burn.")
        return tuple(_one_recorded(candle, f"recorded burn {i}", v) for i, v in enumerate(value, 1))

    return read


def _one_recorded(candle: Candle, name: str, given: Any) -> Recorded:
    table = _Table(name, given)
    hours = table.take("hours", _number, 4.0)
    burned = table.take("burned", _mass)
    rate = candle.burn_rate_g_h if burned is None else burned / hours / candle.wicks
    room = table.take("room", _temperature)
    pool = table.take("pool", _readings(_length), ())
    depth = table.take("depth", _length)
    touches = table.take("touches_h", _number)
    hottest = table.take("wall", _temperature)
    table.done()
    here = replace(candle, burn_rate_g_h=rate)
    if room is not None:
        here = replace(here, room=replace(here.room, air_c=room))
    return Recorded(
        candle=here, hours=hours, pool_mm=pool, depth_mm=depth, touches_h=touches, wall_c=hottest
    )


def _readings(read: Callable[[Any, str], float]) -> Callable[[Any, str], Any]:
    def pairs(value: Any, place: str) -> tuple[tuple[float, float], ...]:
        if not isinstance(value, list):
            raise BadHeatFile(f'{place}: write [[1, "48 mm"], [2, "55 mm"]]: hours and a reading.')
        found = []
        for one in value:
            if not isinstance(one, list) or len(one) != 2:
                raise BadHeatFile(f'{place}: {one!r}; write [hours, reading], as [2, "55 mm"].')
            found.append((_number(one[0], place), read(one[1], place)))
        return tuple(found)

    return pairs


def read_heat(given: str | Path) -> HeatFile:
    """
    Return a document, given as its text or the path of its file.

    Raises ``BadHeatFile`` in one sentence: where, what was given, what would be right.
    """
    text = given
    if isinstance(given, Path):
        try:
            if given.stat().st_size > MOST_BYTES:
                raise BadHeatFile(
                    f'"{given}" is over {MOST_BYTES // 1024} kB; a document describes one candle.'
                )
            text = given.read_text(encoding="utf-8-sig")
        except OSError as problem:
            raise BadHeatFile(f'"{given}" cannot be read: {problem.strerror}.') from problem
        except UnicodeDecodeError as problem:
            raise BadHeatFile(f'"{given}" is not text in UTF-8; save it as UTF-8.') from problem
    try:
        parsed = tomllib.loads(str(text).replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError as problem:
        raise BadHeatFile(f"The document is not TOML: {problem}.") from problem
    for key in parsed:
        if key not in TABLES:
            near = difflib.get_close_matches(key, TABLES, 1)
            hint = f"did you mean {near[0]}?" if near else f"there are {', '.join(TABLES)}."
            raise BadHeatFile(f"There is no table {key}; {hint}")
    return HeatFile(parsed)
