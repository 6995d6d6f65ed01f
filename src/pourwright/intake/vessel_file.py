"""
The inside of a vessel written down for placing wicks: a small TOML document.

    [vessel]
    form = "rectangle"        # round, oval, square or rectangle
    inside_width = "80 mm"
    inside_length = "160 mm"  # oval and rectangle
    corner = "8 mm"           # square and rectangle; left out where sharp
    wall = "3 mm"

A round one may taper: ``inside_diameter`` at the floor, ``top_diameter``, ``depth`` and
``fill_height``, for wicks are placed where the wax stands.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from pourwright.core.amounts import parse_length
from pourwright.core.errors import BadInput
from pourwright.core.vessel.vessel import vessel_from
from pourwright.core.wicks.insides import WALL_MM, Inside, inside_of, outline_from, straight

MOST_BYTES = 64 * 1024
KEYS = (
    "form", "inside_diameter", "top_diameter", "depth", "fill_height",
    "inside_width", "inside_length", "corner", "wall",
)  # fmt: skip


class BadVesselFile(BadInput):
    """The document does not describe a vessel."""


def read_vessel(path: str | Path) -> Inside:
    """Return the inside that a file describes; raises ``BadVesselFile`` or a core refusal."""
    try:
        with Path(path).open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as problem:
        raise BadVesselFile(f'"{path}" cannot be read: {problem.strerror}.') from problem
    if len(data) > MOST_BYTES:
        raise BadVesselFile(f'"{path}" is larger than {MOST_BYTES // 1024} kB; it is no vessel.')
    try:
        document = tomllib.loads(data.decode("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as problem:
        raise BadVesselFile(f'"{path}" is not a TOML document: {problem}.') from problem
    return inside_from(document)


def inside_from(document: dict[str, Any]) -> Inside:
    """Return the inside that a document describes."""
    given = document.get("vessel")
    if not isinstance(given, dict):
        raise BadVesselFile("The document has no [vessel] part; see docs/vessel-file.md for one.")
    if unknown := sorted(set(given) - set(KEYS)):
        raise BadVesselFile(f'"{unknown[0]}" is not known; a vessel has {", ".join(KEYS)}.')
    form = given.get("form", "round")
    lengths = {key: _length(given, key) for key in KEYS if key != "form"}
    wall = WALL_MM if lengths["wall"] is None else lengths["wall"]
    if form == "round":
        diameter = lengths["inside_diameter"] or lengths["inside_width"]
        return round_inside(
            diameter_mm=diameter, top_mm=lengths["top_diameter"], depth_mm=lengths["depth"],
            fill_height_mm=lengths["fill_height"], wall_mm=wall,
        )  # fmt: skip
    if lengths["inside_width"] is None:
        raise BadVesselFile('The vessel needs its inside_width, such as "80 mm".')
    outline = outline_from(
        form=form, width_mm=lengths["inside_width"], length_mm=lengths["inside_length"],
        corner_mm=lengths["corner"] or 0.0,
    )  # fmt: skip
    return straight(outline, wall_mm=wall)


def round_inside(
    *, diameter_mm: float | None, top_mm: float | None = None, depth_mm: float | None = None,
    fill_height_mm: float | None = None, wall_mm: float = WALL_MM,
) -> Inside:  # fmt: skip
    """Return a round vessel's inside, straight or tapered."""
    if diameter_mm is None:
        raise BadVesselFile('A round vessel needs its inside diameter, such as "80 mm".')
    if top_mm is None:
        return straight(outline_from(form="round", width_mm=diameter_mm), wall_mm=wall_mm)
    if depth_mm is None:
        raise BadVesselFile("A tapered vessel needs its inside depth too.")
    vessel = vessel_from(
        inside_diameter_mm=diameter_mm, top_diameter_mm=top_mm, depth_mm=depth_mm, wall_mm=wall_mm
    )
    return inside_of(vessel, fill_height_mm=fill_height_mm)


def _length(given: dict[str, Any], key: str) -> float | None:
    value = given.get(key)
    if value is None:
        return None
    field = key.replace("_", " ").capitalize()
    if not isinstance(value, str):
        raise BadVesselFile(f'{field} is {value}; write it with its unit, such as "80 mm".')
    return float(parse_length(value, field=field))
