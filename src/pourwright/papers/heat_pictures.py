"""
Heat in pictures: a candle's section filled by temperature and by state, moment after moment.

The left half shows temperature in bands, the right half what is set, partly set and liquid; the
vessel and the wax are drawn to scale, straight-sided, as they were simulated. A moment's fillings
are paths in tenths of a millimetre (r to the right, z up from the inside base), so that one moment
can be drawn at any size and a page's script can play them in one drawing.

Classes: ``sp`` (the picture), ``ht-0`` to ``ht-9`` (bands, cool to hot), ``hs-0`` to ``hs-2`` (set,
partly set, liquid), ``sp-last`` (the last place to set), and the candle drawing's own.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor
from typing import Any

import numpy as np

from pourwright.core.amounts import System, show_temperature
from pourwright.papers.svg import Markup, el, number, picture, text_width

MOST_BANDS = 9
NOWHERE = -1e9  # colder than any band: what lies outside the wax
TENTHS = 10.0
WICK_MM = 7.0  # drawn so far above the wax; nothing is computed from it
WICK_ABOVE_RIM_MM = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bands:
    """Temperatures that part the bands, °C, rising; one band more than there are of them."""

    at_c: tuple[float, ...]
    units: System = "metric"

    def words(self, place: int) -> str:
        def show(value: float) -> str:
            return show_temperature(Fraction(round(value * 10), 10), self.units)

        if place == 0:
            return f"below {show(self.at_c[0])}"
        if place == len(self.at_c):
            return f"above {show(self.at_c[-1])}"
        return f"from {show(self.at_c[place - 1])}"


def bands_between(low_c: float, high_c: float, *, units: System = "metric") -> Bands:
    """Return bands at round temperatures of the workshop's units that span a range."""
    degree = 1.0 if units == "metric" else 5 / 9
    zero = 0.0 if units == "metric" else -160 / 9
    span = max(high_c - low_c, 1.0) / degree
    step = next((s for s in (2, 5, 10, 20, 25, 50) if span / s <= MOST_BANDS - 1), 100) * degree
    first, last = ceil((low_c - zero) / step + 1e-9), floor((high_c - zero) / step - 1e-9)
    return Bands(
        at_c=tuple(zero + step * place for place in range(first, max(last, first) + 1)),
        units=units,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """One moment's fillings: the wax, a path for each band above the first, partly set, liquid."""

    at_h: float
    wax: str
    bands: tuple[str, ...]
    states: tuple[str, str]

    def as_line(self) -> str:
        """Return the moment for a page's script: hours | wax | bands … | partly set | liquid."""
        return "|".join([f"{self.at_h:.4f}", self.wax, *self.bands, *self.states])


def moments_from(text: str) -> tuple[Moment, ...]:
    """Return the moments that were written line by line."""
    found = []
    for line in text.split("\n"):
        at, wax, *rest = line.split("|")
        found.append(
            Moment(at_h=float(at), wax=wax, bands=tuple(rest[:-2]), states=(rest[-2], rest[-1]))
        )
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """A candle's section over time, as it is drawn: lengths in mm."""

    inside_mm: float
    rim_mm: float
    wall_mm: float
    base_mm: float
    bands: Bands
    moments: tuple[Moment, ...]
    last_mm: tuple[float, float] | None = None  # radius and height of the last place to set
    wicks_mm: tuple[float, ...] = field(default=())

    @property
    def hours(self) -> float:
        return self.moments[-1].at_h

    def as_text(self) -> str:
        """Return every moment for a page's script, line by line."""
        return "\n".join(one.as_line() for one in self.moments)

    def nearest(self, hours: float) -> Moment:
        return min(self.moments, key=lambda m: abs(m.at_h - hours))


def moment(
    *,
    at_h: float,
    temps_c: Any,
    radii_mm: Any,
    layers_mm: Any,
    bands: Bands,
    start_c: float,
    end_c: float,
    tops_mm: Any = None,
) -> Moment:
    """
    Return one moment's fillings from temperatures in rings by layers.

    ``radii_mm`` and ``layers_mm`` are the faces of rings and layers; ``tops_mm`` each ring's own
    height, for a surface that has burnt down (temperatures above it are nan).
    """
    r, z, t = _nodes(
        np.asarray(temps_c, dtype=float),
        np.asarray(radii_mm, dtype=float),
        np.asarray(layers_mm, dtype=float),
        None if tops_mm is None else np.asarray(tops_mm, dtype=float),
    )
    return Moment(
        at_h=at_h,
        wax=_filled(r, z, t, NOWHERE / 2),
        bands=tuple(_filled(r, z, t, level) for level in bands.at_c),
        states=(_filled(r, z, t, start_c + 1e-6), _filled(r, z, t, end_c)),
    )


def _nodes(temps: Any, radii: Any, layers: Any, tops: Any) -> tuple[Any, Any, Any]:
    """
    Return node places and temperatures: cell middles, the wax's edges, and a cold rim round them.

    Every ring's layers are read at the same shares of its height, so that the nodes make a net
    also where the surface is not level.
    """
    nr = temps.shape[0]
    low, high = layers[:-1], layers[1:]
    heights = np.full(nr, layers[-1]) if tops is None else tops
    shares = np.concatenate([[0], (low + high) / 2 / layers[-1], [1]])
    z = heights[:, None] * shares[None, :]
    t = np.empty_like(z)
    for j in range(nr):
        there = ~np.isnan(temps[j])
        middles = (low[there] + np.minimum(high[there], heights[j])) / 2
        t[j] = _along(z[j], middles, temps[j][there])
    across = np.concatenate([[0], (radii[:-1] + radii[1:]) / 2, [radii[-1]]])
    rim = t[-1] + (t[-1] - t[-2]) / 2 if nr > 1 else t[-1]
    z = np.vstack([z[:1], z, z[-1:]])
    t = np.vstack([t[:1], t, rim])
    r = np.repeat(across[:, None], z.shape[1], axis=1)
    r, z, t = (np.pad(grid, 1, mode="edge") for grid in (r, z, t))
    t[0], t[-1], t[:, 0], t[:, -1] = NOWHERE, NOWHERE, NOWHERE, NOWHERE
    return r, z, t


def _along(z: Any, middles: Any, temps: Any) -> Any:
    """Return temperatures at heights: between the cells' middles, and straight on to the edges."""
    found = np.interp(z, middles, temps)
    if len(middles) > 1:
        for end, near in ((0, 1), (-1, -2)):
            slope = (temps[near] - temps[end]) / (middles[near] - middles[end])
            beyond = z < middles[0] if end == 0 else z > middles[-1]
            found = np.where(beyond, temps[end] + slope * (z - middles[end]), found)
    return found


def _filled(r: Any, z: Any, t: Any, level: float) -> str:
    """
    Return the path round where ``t`` is at or above a level (marching squares), closed.

    Each cell's corners are walked one way round; the line goes from where they come in to where
    they go out, so that the pieces of neighbours join head to tail.
    """
    inside = t >= level
    if not inside.any():
        return ""
    corners = inside[:-1, :-1].astype(int) + inside[1:, :-1] + inside[1:, 1:] + inside[:-1, 1:]
    ahead: dict[tuple[int, int, int], tuple[int, int, int]] = {}
    for i, j in np.argwhere((corners > 0) & (corners < 4)).tolist():
        square = ((i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1))
        within = [bool(inside[corner]) for corner in square]
        edges = ((0, i, j), (1, i + 1, j), (0, i, j + 1), (1, i, j))
        entry = None
        first_exit = None
        for place in range(4):
            now, after = within[place], within[(place + 1) % 4]
            if not now and after:
                entry = edges[place]
            elif now and not after:
                if entry is None:
                    first_exit = edges[place]
                else:
                    ahead[entry] = edges[place]
                    entry = None
        if first_exit is not None and entry is not None:
            ahead[entry] = first_exit

    def point(edge: tuple[int, int, int]) -> tuple[int, int]:
        along, i, j = edge
        k, m = (i + 1, j) if along == 0 else (i, j + 1)
        a, b = t[i, j], t[k, m]
        share = (level - a) / (b - a)
        return (
            round(TENTHS * float(r[i, j] + share * (r[k, m] - r[i, j]))),
            round(TENTHS * float(z[i, j] + share * (z[k, m] - z[i, j]))),
        )

    parts = []
    while ahead:
        start, edge = ahead.popitem()
        line = [point(start)]
        while edge != start:
            line.append(point(edge))
            edge = ahead.pop(edge)
        parts.append(_closed(line))
    return "".join(parts)


def _closed(line: list[tuple[int, int]]) -> str:
    """Return a closed path in steps, without points that lie on a straight line."""
    apart = [here for place, here in enumerate(line) if here != line[place - 1]]
    kept = []
    for place, here in enumerate(apart):
        before, after = apart[place - 1], apart[(place + 1) % len(apart)]
        turn = (here[0] - before[0]) * (after[1] - here[1]) - (here[1] - before[1]) * (
            after[0] - here[0]
        )
        if turn:
            kept.append(here)
    if len(kept) < 3:
        return ""
    steps = [
        f"{b[0] - a[0]}{b[1] - a[1]:+d}" if b[1] < a[1] else f"{b[0] - a[0]} {b[1] - a[1]}"
        for a, b in pairwise(kept)
    ]
    return f"M{kept[0][0]} {kept[0][1]}l{' '.join(steps)}z"


# --- the drawing ---------------------------------------------------------------------------------


def section_film_svg(
    film: Film,
    *,
    at_h: float,
    title: str,
    prefix: str,
    px_per_mm: float,
    words: bool = True,
    decorative: bool = False,
) -> Markup:
    """Return the section at a moment; ``words`` writes what each half shows beneath it."""
    outer = film.inside_mm / 2 + film.wall_mm
    edge, foot = 3.0, 20.0 if words else 3.0
    above = edge + (WICK_ABOVE_RIM_MM * px_per_mm if film.wicks_mm else 0)
    width = 2 * (outer * px_per_mm + edge)
    height = (film.rim_mm + film.base_mm) * px_per_mm + above + foot
    x0, y0 = width / 2, above + film.rim_mm * px_per_mm
    shown = film.nearest(at_h)
    s = px_per_mm / TENTHS

    def half(sign: int, name: str, paths: list[Markup]) -> Markup:
        place = f"translate({number(x0)} {number(y0)}) scale({_fine(sign * s)} {_fine(-s)})"
        return el("g", *paths, class_=name, transform=place)

    body = [_hollow(film, x0, y0, px_per_mm)]
    body.append(
        half(-1, "sp-t", [
            el("path", d=shown.wax, class_="ht-0"),
            *(el("path", d=d or "M0 0", class_=f"ht-{place}")
              for place, d in enumerate(shown.bands, 1)),
        ])
    )  # fmt: skip
    body.append(
        half(1, "sp-s", [
            el("path", d=shown.wax, class_="hs-0"),
            *(el("path", d=d or "M0 0", class_=f"hs-{place}")
              for place, d in enumerate(shown.states, 1)),
        ])
    )  # fmt: skip
    body.append(_glass(film, x0, y0, px_per_mm))
    body.append(el("path", d=f"M{number(x0)} {number(above)}V{number(y0)}", class_="cd-axis"))
    for radius in film.wicks_mm:
        body += _wicks(film, radius, x0, y0, px_per_mm, shown)
    if film.last_mm is not None:
        r, z = film.last_mm
        for sign in (-1, 1) if r > 0 else (1,):
            body.append(_cross(x0 + sign * r * px_per_mm, y0 - z * px_per_mm))
    if words:
        low = height - 6
        body.append(
            el("text", "temperature", x=x0 - 6, y=low, text_anchor="end", font_size=11,
               class_="cd-text")
        )  # fmt: skip
        body.append(el("text", "state", x=x0 + 6, y=low, font_size=11, class_="cd-text"))
    return picture(
        *body, width=width, height=height, prefix=prefix, title=title,
        desc="Left half: temperature in bands. Right half: set, partly set and liquid wax.",
        decorative=decorative, class_="cd sp",
    )  # fmt: skip


def _fine(value: float) -> str:
    return f"{value:.5f}".rstrip("0").rstrip(".")


def _hollow(film: Film, x0: float, y0: float, px: float) -> Markup:
    r = film.inside_mm / 2 * px
    return el("rect", x=x0 - r, y=y0 - film.rim_mm * px, width=2 * r, height=film.rim_mm * px,
              class_="cd-air")  # fmt: skip


def _glass(film: Film, x0: float, y0: float, px: float) -> Markup:
    inner, outer = film.inside_mm / 2 * px, (film.inside_mm / 2 + film.wall_mm) * px
    top, low = y0 - film.rim_mm * px, y0 + film.base_mm * px
    d = (
        f"M{number(x0 - outer)} {number(top)}V{number(low)}H{number(x0 + outer)}V{number(top)}"
        f"H{number(x0 + inner)}V{number(y0)}H{number(x0 - inner)}V{number(top)}Z"
    )
    return el("path", d=d, class_="cd-glass")


def _wicks(
    film: Film, radius: float, x0: float, y0: float, px: float, shown: Moment
) -> list[Markup]:
    numbers = shown.wax[1:].split("l")[0].split()
    top = max(float(numbers[1]) / TENTHS, 0.0) if len(numbers) == 2 else film.rim_mm
    tip = min(top + WICK_MM, film.rim_mm + WICK_ABOVE_RIM_MM)
    found = []
    for sign in (-1, 1) if radius > 0 else (1,):
        x = x0 + sign * radius * px
        found.append(
            el("line", x1=x, x2=x, y1=y0 - 2 * px, y2=y0 - tip * px, class_="cd-wick",
               stroke_width=1.6)
        )  # fmt: skip
    return found


def _cross(x: float, y: float) -> Markup:
    d = f"M{number(x - 4)} {number(y - 4)}l8 8m0 -8l-8 8"
    return el("g", el("path", d=d, class_="sp-last-under"), el("path", d=d, class_="sp-last"))


def key_svg(bands: Bands, *, width: float, prefix: str) -> Markup:
    """Return the key of the bands: the tones side by side, the temperatures that part them."""
    count = len(bands.at_c) + 1
    wide = width / count
    body = [
        el("rect", x=place * wide, y=0, width=wide, height=14, class_=f"ht-{place}")
        for place in range(count)
    ]
    room = text_width("000 °C", 11)
    every = max(1, ceil(room / wide))
    for place, value in enumerate(bands.at_c, 1):
        if (place - 1) % every:
            continue
        words = show_temperature(Fraction(round(value * 10), 10), bands.units)
        x = min(max(place * wide, text_width(words, 11) / 2), width - text_width(words, 11) / 2)
        body.append(el("path", d=f"M{number(place * wide)} 14v4", class_="ch-lead"))
        body.append(el("text", words, x=x, y=29, text_anchor="middle", font_size=11,
                       class_="ch-text"))  # fmt: skip
    return picture(
        *body, width=width, height=33, prefix=prefix, title="Key of the temperatures",
        desc="; ".join(bands.words(place) for place in range(count)) + ".", class_="ch sp",
    )  # fmt: skip


# --- from above ----------------------------------------------------------------------------------


def plane_path(x_mm: Any, y_mm: Any, surface_c: Any, level_c: float) -> str:
    """
    Return the path round where a surface is at or above a temperature, in the half with y >= 0.

    What lies outside the wax (nan) takes its nearest neighbour's temperature along a row, so that
    the path reaches the wall; it is drawn within the wax's own circle.
    """
    t = np.array(surface_c, dtype=float)
    for column in t.T:
        there = np.flatnonzero(~np.isnan(column))
        if there.size:
            column[: there[0]], column[there[-1] + 1 :] = column[there[0]], column[there[-1]]
    x, y = np.asarray(x_mm, dtype=float), np.asarray(y_mm, dtype=float)
    dx, dy = x[1] - x[0], y[1] - y[0]
    x = np.concatenate([[x[0] - dx / 2], x, [x[-1] + dx / 2]])
    y = np.concatenate([[0.0], y, [y[-1] + dy / 2]])
    t = np.pad(t, 1, mode="edge")
    grid_x, grid_y = np.repeat(x[:, None], len(y), axis=1), np.repeat(y[None, :], len(x), axis=0)
    grid_x, grid_y, t = (np.pad(grid, 1, mode="edge") for grid in (grid_x, grid_y, t))
    t[0], t[-1], t[:, 0], t[:, -1] = NOWHERE, NOWHERE, NOWHERE, NOWHERE
    return _filled(grid_x, grid_y, np.where(np.isnan(t), NOWHERE, t), level_c)


def pool_above_svg(
    *,
    inside_mm: float,
    wall_mm: float,
    pool: str,
    positions_mm: list[tuple[float, float]],
    hot_spot_deg: float | None,
    size: float,
    prefix: str,
    title: str,
) -> Markup:
    """Return the pool from above, mirrored along the x axis; the wall's hot spot is marked."""
    px = (size - 40) / (inside_mm + 2 * wall_mm)
    middle, radius = size / 2, inside_mm / 2 * px
    clip = f"{prefix}-wax"
    s = px / TENTHS
    halves = [
        el("path", d=pool or "M0 0", class_="cd-pool",
           transform=f"translate({number(middle)} {number(middle)}) scale({_fine(s)} "
           f"{_fine(sign * s)})")
        for sign in (1, -1)
    ]  # fmt: skip

    def circle(r: float, name: str) -> Markup:
        return el("circle", cx=middle, cy=middle, r=r, class_=name)

    body = [
        el("clipPath", el("circle", cx=middle, cy=middle, r=radius), id=clip),
        circle(radius + wall_mm * px, "cd-glass"),
        circle(radius, "cd-wax"),
        el("g", *halves, clip_path=f"url(#{clip})"),
        circle(radius, "cd-surface"),
        *(
            el("circle", cx=middle + x * px, cy=middle - y * px, r=max(1.2 * px, 2),
               class_="cd-wick")
            for x, y in positions_mm
        ),
    ]  # fmt: skip
    if hot_spot_deg is not None:
        turn = hot_spot_deg / 180 * np.pi
        for sign in (1, -1) if 0 < hot_spot_deg < 180 else (1,):
            out = radius + wall_mm * px + 9
            x, y = middle + out * float(np.cos(turn)), middle - sign * out * float(np.sin(turn))
            body.append(el("circle", cx=x, cy=y, r=5, class_="ch-held"))
    return picture(
        *body, width=size, height=size, prefix=prefix, title=title,
        desc=f"{len(positions_mm)} wicks and the pool around them; a mark outside the wall shows "
        "where it is hottest.",
        class_="cd",
    )  # fmt: skip
