"""A section's fillings enclose what they should; bands and lines are round and told in words."""

from __future__ import annotations

import re
from math import pi

import numpy as np
import pytest

from pourwright.papers.heat_pictures import (
    Film,
    bands_between,
    key_svg,
    moment,
    section_film_svg,
)
from pourwright.papers.line_charts import Level, Line, Reach, lines_svg


def loops(path: str) -> list[np.ndarray]:
    """Return a path's closed loops as points in millimetres."""
    found = []
    for start, steps in re.findall(r"M(-?\d+ -?\d+)l([^z]*)z", path):
        numbers = [int(n) for n in re.findall(r"-?\d+", steps)]
        moves = np.array(numbers).reshape(-1, 2)
        first = np.array([int(n) for n in start.split()])
        found.append(np.vstack([first, first + np.cumsum(moves, axis=0)]) / 10)
    return found


def area(path: str) -> float:
    total = 0.0
    for points in loops(path):
        x, y = points.T
        total += abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2
    return total


def field(nr=20, nz=30, *, radius=40.0, depth=60.0, of):
    radii, layers = np.linspace(0, radius, nr + 1), np.linspace(0, depth, nz + 1)
    r, z = (radii[1:] + radii[:-1]) / 2, (layers[1:] + layers[:-1]) / 2
    return radii, layers, of(r[:, None], z[None, :])


def test_a_band_encloses_the_area_that_the_field_says():
    radii, layers, temps = field(of=lambda r, z: 80 - (r**2 + (z - 30) ** 2) / 10)
    found = moment(
        at_h=1, temps_c=temps, radii_mm=radii, layers_mm=layers, start_c=40, end_c=52,
        bands=bands_between(20, 70),
    )  # fmt: skip
    assert area(found.wax) == pytest.approx(40 * 60, abs=1e-9)
    # T >= L is a half circle of radius sqrt(10 (80 - L)) about (0, 30).
    for level, path in zip(bands_between(20, 70).at_c, found.bands, strict=True):
        radius = (10 * (80 - level)) ** 0.5
        if radius < 30:  # inside the wax
            assert area(path) == pytest.approx(pi * radius**2 / 2, rel=0.02), level
    assert area(found.states[1]) == pytest.approx(pi * 280 / 2, rel=0.02)


def test_two_places_apart_are_two_loops():
    radii, layers, temps = field(
        of=lambda r, z: 60 - np.minimum((z - 12) ** 2, (z - 48) ** 2) - r * 0
    )
    found = moment(
        at_h=0, temps_c=temps, radii_mm=radii, layers_mm=layers, start_c=40, end_c=59,
        bands=bands_between(20, 70),
    )  # fmt: skip
    assert len(loops(found.states[0])) == 2
    assert area(found.states[0]) == pytest.approx(2 * 40 * 2 * 20**0.5, rel=0.03)


def test_the_wax_ends_where_its_surface_has_burnt_down():
    radii, layers, temps = field(of=lambda r, z: 50 - z / 10 + r * 0)
    middles = (radii[1:] + radii[:-1]) / 2
    tops = np.where(middles < 25, 41.0, 55.0)
    z = (layers[1:] + layers[:-1]) / 2
    temps = np.where(layers[:-1][None, :] < tops[:, None], temps, np.nan)
    found = moment(
        at_h=0, temps_c=temps, radii_mm=radii, layers_mm=layers, start_c=40, end_c=52,
        bands=bands_between(20, 70), tops_mm=tops,
    )  # fmt: skip
    # 25 mm at 41 and 15 at 55; the step between leans over one cell.
    assert area(found.wax) == pytest.approx(25 * 41 + 15 * 55, rel=0.01)
    assert max(points[:, 1].max() for points in loops(found.wax)) == 55
    assert z.max() > 55


@pytest.mark.parametrize(
    ("low", "high", "units", "first"),
    [(20, 57, "metric", "below 25 °C"), (21, 74, "metric", "below 30 °C"),
     (21, 60, "us", "below 70 °F")],
)  # fmt: skip
def test_bands_part_at_round_temperatures_of_the_workshops_units(low, high, units, first):
    bands = bands_between(low, high, units=units)
    assert bands.words(0).replace("\xa0", " ") == first
    assert 2 <= len(bands.at_c) <= 9
    assert low < bands.at_c[0] < bands.at_c[-1] < high
    key = key_svg(bands, width=340, prefix="k")
    assert key.count("<rect") == len(bands.at_c) + 1


def test_a_film_is_drawn_at_any_moment_and_played_from_its_text():
    bands = bands_between(20, 70)
    radii, layers, hot = field(of=lambda r, z: 60 + 0 * r * z)
    moments = tuple(
        moment(at_h=at, temps_c=hot - 12 * at, radii_mm=radii, layers_mm=layers, start_c=40,
               end_c=52, bands=bands)
        for at in (0, 1, 2)
    )  # fmt: skip
    film = Film(inside_mm=80, rim_mm=80, wall_mm=3, base_mm=5, bands=bands, moments=moments,
                last_mm=(10, 20), wicks_mm=(12,))  # fmt: skip
    lines = film.as_text().split("\n")
    assert [float(line.split("|")[0]) for line in lines] == [0, 1, 2]
    assert {line.count("|") for line in lines} == {len(bands.at_c) + 3}
    assert film.nearest(1.4) is moments[1]
    drawn = section_film_svg(film, at_h=0, title="t", prefix="f", px_per_mm=2)
    assert moments[0].wax in drawn
    assert drawn.count("sp-last-under") == 2  # left and right of the middle
    assert drawn.count("<line") == 2  # both wicks that the cut meets


def test_lines_carry_their_scale_their_names_and_the_band():
    drawn = lines_svg(
        [Line(label="core", points=((0, 60), (4, 30))),
         Line(label="wall", points=((0, 40), (4, 22)), look=2)],
        title="Temperatures", desc="d", show=lambda v: f"{v:g} °C", points=[(2, 47)],
        points_label="measured", levels=[Level(value=40, label="set below")],
        reach=Reach(low=((0, 50), (4, 25)), high=((0, 62), (4, 36)), label="nine in ten"),
    )  # fmt: skip
    for words in ("20 °C", "60 °C", "core", "wall", "measured", "nine in ten", "set below"):
        assert words in drawn.replace("\xa0", " ")
    assert drawn.count('class="ln-point"') == 2  # in the picture and its key
