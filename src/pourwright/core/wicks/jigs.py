"""
Jigs for a placement: a bar that holds wicks upright over the vessel, and a guide to set their tabs.

A bar has arms that rest on the rim and, glued or printed below them, a second layer whose arms end
just inside the rim and so centre it. Every wick stands on an arm or in the hub. An open slot leads
from a wick's hole to the arm's side: turn the bar a little and it comes off all wicks at once. A
guide is a plate that fits the vessel's floor; tabs are pressed down through its openings, and it
lifts off over the standing wicks.

What is cut loses half the tool's kerf on each side, so ``cut`` differs from ``layers`` by that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from math import asin, atan2, cos, hypot, isfinite, pi, sin, sqrt, tan
from typing import Literal, Protocol

import numpy as np

from pourwright.core.errors import BadInput
from pourwright.core.wicks.flat import Corner, Edge, Loop, Plate, Point, Round, area_mm2
from pourwright.core.wicks.insides import WALL_MM, Inside
from pourwright.core.wicks.outlines import Outline, Oval, Rectangle

Form = Literal["bar", "guide"]
FORMS: tuple[Form, ...] = ("bar", "guide")

# Material that stays beside a hole so that it does not break out: from memory, no source.
LEAST_WEB_MM = 2.0
# The lower layer stands in from the arms' sides by so much, so that no edges have to meet.
SET_IN_MM = 1.0
MOST_GAP_BETWEEN_ARMS = 5 * pi / 6
LARGEST_MM = 600.0

CAUTIONS = (
    "Take the jig off before the candle is lit: it burns, and it must never be near a flame.",
    "Common printing plastics soften below pouring temperature (PLA at about 55 to 60 °C (130 to "
    "140 °F), PETG at about 75 to 80 °C (165 to 175 °F); from memory): let the wax cool first, or "
    "cut the jig from wood, plywood, card or metal.",
    "Never cut PVC (vinyl, “foamex”) with a laser: it gives off chlorine compounds, which poison. "
    "Polycarbonate, ABS, polystyrene foam and anything unknown stay out too (from memory): ask for "
    "the sheet’s data and the laser’s own list, cut under extraction, and stay beside it.",
)


class BadJig(BadInput):
    """A jig of these measures cannot be made for this placement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """
    A jig's measures in mm; the defaults are common practice, no source.

    ``hole_mm`` is the hole's diameter for the wick; ``clearance_mm`` the room to the vessel's
    inside all round; ``thickness_mm`` the sheet's or print's; ``lip_mm`` how deep the lower layer
    reaches into the vessel; ``kerf_mm`` the width of a laser's or saw's cut; ``tab_mm`` a wick
    tab's diameter and ``tab_fit_mm`` the room around it. ``slots`` opens the holes to the side.
    """

    hole_mm: float = 3.0
    clearance_mm: float = 0.5
    thickness_mm: float = 3.0
    lip_mm: float = 3.0
    arm_mm: float = 12.0
    overhang_mm: float = 4.0
    kerf_mm: float = 0.0
    tab_mm: float = 15.0
    tab_fit_mm: float = 0.4
    slots: bool = False

    def __post_init__(self) -> None:
        for name, value, least, most in (
            ("hole for the wick", self.hole_mm, 0.5, 30),
            ("clearance to the vessel", self.clearance_mm, 0.0, 5),
            ("material’s thickness", self.thickness_mm, 0.2, 20),
            ("lip’s depth", self.lip_mm, 0.2, 20),
            ("arms’ width", self.arm_mm, 4, 60),
            ("arms’ rest beyond the rim", self.overhang_mm, 0.5, 40),
            ("tool’s kerf", self.kerf_mm, 0.0, 3),
            ("wick tab’s diameter", self.tab_mm, 3, 60),
            ("room around the tab", self.tab_fit_mm, 0.0, 3),
        ):
            if not (isfinite(value) and least <= value <= most):
                raise BadJig(f"The {name} is {value:g} mm; {least:g} to {most:g} mm can be made.")
        if self.kerf_mm >= self.hole_mm:
            raise BadJig(
                f"A kerf of {self.kerf_mm:g} mm is as wide as the hole of {self.hole_mm:g} mm."
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """A flat part of a jig, and how thick it is in mm."""

    name: str
    plate: Plate
    thick_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Jig:
    """
    A jig: what comes out (``layers``), and the line a tool follows (``cut``).

    The first layer lies on top in use. ``holes`` are at the wicks' places, from the vessel's
    middle, seen from above. ``play_mm`` is how far the jig can lie off the middle.
    """

    form: Form
    layers: tuple[Layer, ...]
    cut: tuple[Layer, ...]
    holes: tuple[Round, ...]
    inside: Outline
    play_mm: float
    fit: Fit
    notes: tuple[str, ...] = ()

    def box(self) -> tuple[float, float, float, float]:
        """Return left, low, right and high of the largest layer as it is cut."""
        return self.cut[0].plate.box()


def jig_for(
    form: Form, positions: Sequence[Point], inside: Inside, *, fit: Fit | None = None
) -> Jig:
    """Return the bar or the guide for wicks at these places. Raises ``BadJig``."""
    if form not in FORMS:
        raise BadJig(f'A jig of the form "{form}" is not known; it is a bar or a guide.')
    return (wick_bar if form == "bar" else setting_guide)(positions, inside, fit=fit or Fit())


# --- the bar -------------------------------------------------------------------------------------


def wick_bar(positions: Sequence[Point], inside: Inside, *, fit: Fit) -> Jig:
    """
    Return a bar with an arm for every wick that leaves room for it; the others stand in the hub.

    Raises ``BadJig`` where holes run into each other or into the arm's edge, where wicks lie too
    close to have arms and too far out for a hub, and where the lip would touch the wax.
    """
    rim = inside.rim
    _refuse_size(rim, inside.wall_mm + fit.overhang_mm)
    web = (fit.arm_mm - fit.hole_mm) / 2 - SET_IN_MM
    if web < LEAST_WEB_MM:
        raise BadJig(
            f"An arm of {fit.arm_mm:g} mm leaves {max(web, 0):.1f} mm beside a hole of "
            f"{fit.hole_mm:g} mm; make it at least "
            f"{fit.hole_mm + 2 * (LEAST_WEB_MM + SET_IN_MM):g} mm wide."
        )
    _refuse_meeting(positions, fit.hole_mm, "holes", "a smaller hole")
    for x, y in positions:
        gap = float(rim.wall_gap(np.array([x, y])))
        need = fit.clearance_mm + fit.hole_mm / 2 + LEAST_WEB_MM
        if gap < need:
            raise BadJig(
                f"A wick stands {gap:.1f} mm from the wall; its hole in the bar needs {need:.1f} "
                "mm: place the wicks farther in, or make the hole or the clearance smaller."
            )
    if inside.headspace_mm is not None and fit.lip_mm > inside.headspace_mm - 1:
        raise BadJig(
            f"A lip of {fit.lip_mm:g} mm would touch the wax, which stands "
            f"{inside.headspace_mm:.1f} mm below the rim; make it at least 1 mm less."
        )
    star = _Star.for_places(positions, rim, fit)

    def layers(grow: float) -> tuple[Layer, ...]:
        top = star.plate(grow, lambda arm, half: _rest(arm, half, rim, inside.wall_mm, fit, grow))
        lip = star.plate(
            grow - SET_IN_MM, lambda arm, half: _inside_end(arm, half, rim, fit.clearance_mm - grow)
        )
        return (
            Layer(name="bar", plate=top, thick_mm=fit.thickness_mm),
            Layer(name="lip", plate=lip, thick_mm=fit.lip_mm),
        )

    made = layers(0.0)
    return Jig(
        form="bar",
        layers=made,
        cut=layers(fit.kerf_mm / 2),
        holes=tuple(Round(x, y, fit.hole_mm / 2) for x, y in positions),
        inside=rim,
        play_mm=_play(made[1].plate.outline, rim),
        fit=fit,
        notes=star.notes(),
    )


@dataclass(frozen=True, slots=True)
class _Arm:
    """An arm by its direction, with the places along it of holes that open to its side."""

    angle: float
    open_at: tuple[tuple[float, float], ...] = ()  # along the arm and beside its middle line

    def point(self, along: float, beside: float) -> Point:
        c, s = cos(self.angle), sin(self.angle)
        return along * c - beside * s, along * s + beside * c

    def corner(self, along: float, beside: float, bulge: float = 0.0) -> Corner:
        return Corner(*self.point(along, beside), bulge)


@dataclass(frozen=True, slots=True)
class _Star:
    """Arms from a hub, and which holes open to a side."""

    arms: tuple[_Arm, ...]
    hub_mm: float
    closed: tuple[Point, ...]
    middle_opens: bool
    fit: Fit

    @classmethod
    def for_places(cls, positions: Sequence[Point], rim: Outline, fit: Fit) -> _Star:
        half = fit.arm_mm / 2
        narrow = min(rim.half_width_mm, rim.half_height_mm)
        # Arms closer than this would be one plate far out from the hub.
        apart = 2 * asin(min(1.0, half / (0.75 * narrow)))
        angles: list[float] = []
        in_hub: list[Point] = []
        for x, y in sorted(positions, key=lambda p: (-round(hypot(*p), 3), atan2(p[1], p[0]))):
            angle = atan2(y, x) % (2 * pi)
            if hypot(x, y) < 0.01 or any(_between(angle, one) * hypot(x, y) < 0.01
                                         for one in angles):  # fmt: skip
                continue
            if all(_between(angle, one) >= apart for one in angles):
                angles.append(angle)
            else:
                in_hub.append((x, y))
        angles = _filled(angles)
        hub = max(
            (hypot(*p) + fit.hole_mm / 2 + LEAST_WEB_MM + SET_IN_MM for p in in_hub), default=0.0
        )
        if hub and hub > narrow - fit.clearance_mm - 1:
            raise BadJig(
                "The wicks stand too close in angle for arms of "
                f"{fit.arm_mm:g} mm and too far out for a hub: take narrower arms or fewer wicks."
            )
        return cls._with_slots(sorted(angles), hub, positions, in_hub, fit)

    @classmethod
    def _with_slots(
        cls, angles: list[float], hub: float, positions: Sequence[Point],
        in_hub: list[Point], fit: Fit,
    ) -> _Star:  # fmt: skip
        half, hole = fit.arm_mm / 2, fit.hole_mm / 2
        arms, closed, middle = [], list(in_hub), False
        on_arms = {
            angle: [p for p in positions if p not in in_hub and hypot(*p) >= 0.01
                    and _between(atan2(p[1], p[0]) % (2 * pi), angle) * hypot(*p) < 0.01]
            for angle in angles
        }  # fmt: skip
        for angle, gap in zip(angles, _gaps(angles), strict=True):
            c, s = cos(angle), sin(angle)
            free = max(half / tan(gap / 2), sqrt(max(hub**2 - half**2, 0.0)))
            opened = []
            for x, y in on_arms[angle]:
                along, beside = x * c + y * s, y * c - x * s
                if fit.slots and along - hole > free + 1:
                    opened.append((along, beside))
                else:
                    closed.append((x, y))
            arms.append(_Arm(angle, tuple(sorted(opened, reverse=True))))
        for x, y in positions:
            if hypot(x, y) < 0.01:
                middle = fit.slots
                if not fit.slots:
                    closed.append((x, y))
        return cls(tuple(arms), hub, tuple(closed), middle, fit)

    def notes(self) -> tuple[str, ...]:
        if self.fit.slots and self.closed:
            many = "One hole stands" if len(self.closed) == 1 else f"{len(self.closed)} holes stand"
            return (
                f"{many} too near the middle to open to a side: lift the bar straight up there.",
            )
        return ()

    def plate(self, grow: float, end: _End) -> Plate:
        """Return the star with all its edges moved outwards, holes made smaller by as much."""
        half, hole = self.fit.arm_mm / 2 + grow, self.fit.hole_mm / 2 - grow
        hub = self.hub_mm + grow if self.hub_mm else 0.0
        corners: list[Corner] = []
        angles = [arm.angle for arm in self.arms]
        gaps = _gaps(angles)
        # A hole in the middle opens into the widest gap between two arms.
        widest = max(range(len(gaps)), key=lambda n: (round(gaps[n], 6), -n))
        for number, arm in enumerate(self.arms):
            corners += end(arm, half)
            for along, beside in arm.open_at:
                corners += [
                    arm.corner(along + hole, half),
                    arm.corner(along + hole, beside, -1.0),
                    arm.corner(along - hole, beside),
                    arm.corner(along - hole, half),
                ]
            opens = self.middle_opens and number == widest
            corners += _inner(arm.angle, gaps[number], half, hub, hole if opens else 0.0)
        openings = tuple(Round(x, y, hole) for x, y in self.closed)
        return Plate(outline=tuple(corners), openings=openings)


class _End(Protocol):
    """How an arm ends: corners from its right side to its left."""

    def __call__(self, arm: _Arm, half: float) -> list[Corner]: ...


def _between(one: float, other: float) -> float:
    away = abs(one - other) % (2 * pi)
    return min(away, 2 * pi - away)


def _gaps(angles: Sequence[float]) -> list[float]:
    """Return the angle from each arm to the next one round."""
    return [
        (angles[(n + 1) % len(angles)] - angle) % (2 * pi) or 2 * pi
        for n, angle in enumerate(angles)
    ]


def _filled(angles: list[float]) -> list[float]:
    """Return the arms with more in wide gaps: three at least, so that the rim centres the bar."""
    if not angles:
        return [pi / 2, pi / 2 + 2 * pi / 3, pi / 2 + 4 * pi / 3]
    angles = sorted(angles)
    while True:
        gaps = _gaps(angles)
        widest = max(range(len(gaps)), key=lambda n: (round(gaps[n], 6), -n))
        if gaps[widest] <= MOST_GAP_BETWEEN_ARMS + 1e-9:
            return angles
        if len(angles) == 1:
            more = [angles[0] + 2 * pi / 3, angles[0] + 4 * pi / 3]
        else:
            more = [angles[widest] + gaps[widest] / 2]
        angles = sorted(one % (2 * pi) for one in [*angles, *more])


def _inner(angle: float, gap: float, half: float, hub: float, slot: float) -> list[Corner]:
    """Return the way from an arm's left side to the next arm's right side, counter-clockwise."""
    middle = _Arm(angle + gap / 2)
    meet = half / sin(gap / 2)
    if hub <= meet:
        if not slot:
            return [middle.corner(meet, 0.0)]
        mouth = meet + slot / tan(gap / 2)
        return [
            middle.corner(mouth, -slot), middle.corner(0.0, -slot, -1.0),
            middle.corner(0.0, slot), middle.corner(mouth, slot),
        ]  # fmt: skip
    along = sqrt(hub**2 - half**2)
    first, last = _Arm(angle), _Arm(angle + gap)
    turn = gap - 2 * asin(half / hub)
    if not slot:
        return [first.corner(along, half, tan(turn / 4)), last.corner(along, -half)]
    mouth = sqrt(hub**2 - slot**2)
    side = tan((turn / 2 - asin(slot / hub)) / 4)
    return [
        first.corner(along, half, side),
        middle.corner(mouth, -slot), middle.corner(0.0, -slot, -1.0),
        middle.corner(0.0, slot), middle.corner(mouth, slot, side),
        last.corner(along, -half),
    ]  # fmt: skip


def _reached(arm: _Arm, beside: float, outline: Outline, gap: float) -> float:
    """Return how far along an arm a line beside its middle is so far from the wall."""
    far = 2 * (outline.half_width_mm + outline.half_height_mm) + 100

    def over(along: float) -> float:
        return float(outline.wall_gap(np.array(arm.point(along, beside)))) - gap

    from scipy.optimize import brentq  # type: ignore[import-untyped]  # slow to load

    return float(brentq(over, 0.0, far, xtol=1e-10))


_ROUNDED = 2.0


def _rest(
    arm: _Arm, half: float, rim: Outline, wall_mm: float, fit: Fit, grow: float
) -> list[Corner]:
    """Return an arm's end beyond the rim, its corners rounded."""
    sides = (_reached(arm, beside, rim, 0.0) for beside in (-half, 0.0, half))
    end = max(sides) + wall_mm + fit.overhang_mm + grow
    # Moved outwards, a rounded corner keeps its middle and widens.
    r = min(_ROUNDED, (half - grow) / 2) + grow
    bulge = tan(pi / 8)
    return [
        arm.corner(end - r, -half, bulge), arm.corner(end, -half + r),
        arm.corner(end, half - r, bulge), arm.corner(end - r, half),
    ]  # fmt: skip


def _inside_end(arm: _Arm, half: float, rim: Outline, clearance: float) -> list[Corner]:
    """Return an arm's end that follows the rim's inside."""
    if isinstance(rim, Oval) and rim.is_round:
        radius = rim.half_width_mm - clearance
        along = sqrt(radius**2 - half**2)
        return [
            arm.corner(along, -half, tan(asin(half / radius) / 2)),
            arm.corner(along, half),
        ]
    besides = np.linspace(-half, half, 25)
    ends = [(_reached(arm, float(beside), rim, clearance), float(beside)) for beside in besides]
    return [arm.corner(along, beside) for along, beside in _straightened(ends)]


def _straightened(points: list[Point]) -> list[Point]:
    """Return a line of points without those that lie on the line of their neighbours."""
    kept = [points[0]]
    for here, after in pairwise(points[1:]):
        before = kept[-1]
        cross = (here[0] - before[0]) * (after[1] - before[1]) - (here[1] - before[1]) * (
            after[0] - before[0]
        )
        if abs(cross) > 1e-7:
            kept.append(here)
    return [*kept, points[-1]]


# --- the guide -----------------------------------------------------------------------------------


def setting_guide(positions: Sequence[Point], inside: Inside, *, fit: Fit) -> Jig:
    """
    Return a plate for the vessel's floor with an opening for each wick's tab.

    Raises ``BadJig`` where openings run into each other or out of the plate.
    """
    floor = inside.floor
    _refuse_size(floor, 0.0)
    across = fit.tab_mm + 2 * fit.tab_fit_mm
    _refuse_meeting(positions, across, "openings for the tabs", "smaller tabs")
    need = across / 2 + fit.clearance_mm + LEAST_WEB_MM
    for x, y in positions:
        gap = float(floor.wall_gap(np.array([x, y])))
        if gap < need:
            raise BadJig(
                f"A wick stands {gap:.1f} mm from the wall at the floor; an opening for a tab of "
                f"{fit.tab_mm:g} mm needs {need:.1f} mm: place the wicks farther in (a larger "
                "least distance to the wall) or take smaller tabs."
            )
    grips = _grips(positions, floor, across / 2, fit)

    def layers(grow: float) -> tuple[Layer, ...]:
        openings = [Round(x, y, across / 2 - grow) for x, y in positions]
        openings += [Round(one.x, one.y, one.radius - grow) for one in grips]
        outline = inset(floor, fit.clearance_mm - grow)
        plate = Plate(outline=outline, openings=tuple(openings))
        return (Layer(name="guide", plate=plate, thick_mm=fit.thickness_mm),)

    return Jig(
        form="guide",
        layers=layers(0.0),
        cut=layers(fit.kerf_mm / 2),
        holes=tuple(Round(x, y, across / 2) for x, y in positions),
        inside=floor,
        play_mm=fit.clearance_mm,
        fit=fit,
        notes=(
            ("The small holes are to lift it by: a loop of string through them.",)
            if grips
            else ("There is no room for holes to lift it by: glue a loop of tape to it.",)
        ),
    )


def inset(outline: Outline, by: float) -> Edge:
    """Return an outline moved inwards: exact for round and rectangular ones."""
    if isinstance(outline, Oval) and outline.is_round:
        return Round(0.0, 0.0, outline.half_width_mm - by)
    if isinstance(outline, Rectangle):
        a, b = outline.half_width_mm - by, outline.half_height_mm - by
        return _rounded(a, b, max(outline.corner_mm - by, 0.0))
    s = np.linspace(0, 1, 720, endpoint=False)
    here = outline.at(s)
    along = outline.at(s + 1e-6) - outline.at(s - 1e-6)
    along /= np.linalg.norm(along, axis=-1, keepdims=True)
    inwards = np.stack([-along[:, 1], along[:, 0]], axis=-1)
    loop = tuple(Corner(float(x), float(y)) for x, y in here + by * inwards)
    if area_mm2(loop) <= 0:
        raise BadJig(f"A clearance of {by:g} mm leaves nothing of the vessel’s inside.")
    return loop


def _rounded(a: float, b: float, r: float) -> Loop:
    if r <= 1e-9:
        return Corner(a, -b), Corner(a, b), Corner(-a, b), Corner(-a, -b)
    k = tan(pi / 8)
    corners = [
        Corner(a, -b + r), Corner(a, b - r, k), Corner(a - r, b), Corner(-a + r, b, k),
        Corner(-a, b - r), Corner(-a, -b + r, k), Corner(-a + r, -b), Corner(a - r, -b, k),
    ]  # fmt: skip
    kept = [
        corner for n, corner in enumerate(corners)
        if corner.bulge or hypot(corner.x - corners[(n + 1) % 8].x,
                                 corner.y - corners[(n + 1) % 8].y) > 1e-9
    ]  # fmt: skip
    return tuple(kept)


def _grips(positions: Sequence[Point], floor: Outline, opening: float, fit: Fit) -> list[Round]:
    """Return up to two holes to lift a guide by, where most room is; none where there is little."""
    across = np.linspace(-1, 1, 41)
    grid = np.stack(np.meshgrid(across, across), axis=-1).reshape(-1, 2)
    grid = grid * [floor.half_width_mm, floor.half_height_mm]
    free = floor.wall_gap(grid) - fit.clearance_mm
    for x, y in positions:
        free = np.minimum(free, np.hypot(grid[:, 0] - x, grid[:, 1] - y) - opening)
    found: list[Round] = []
    for _ in range(2):
        best = int((free - 1e-6 * np.hypot(grid[:, 0], grid[:, 1])).argmax())
        radius = min(float(free[best]) - 3.0, 5.0)
        if radius < 1.5:
            break
        x, y = float(grid[best, 0]), float(grid[best, 1])
        found.append(Round(x, y, radius))
        free = np.minimum(free, np.hypot(grid[:, 0] - x, grid[:, 1] - y) - radius - 8)
    return found


# --- what both ask -------------------------------------------------------------------------------


def _refuse_size(outline: Outline, beyond: float) -> None:
    width = 2 * (max(outline.half_width_mm, outline.half_height_mm) + beyond)
    if width > LARGEST_MM:
        raise BadJig(
            f"The jig would be {width:.0f} mm wide; up to {LARGEST_MM:g} mm can be drawn. Check "
            "the vessel’s measures and their units."
        )


def _refuse_meeting(positions: Sequence[Point], across: float, what: str, instead: str) -> None:
    if not positions:
        raise BadJig("There are no wicks to make a jig for.")
    for one, other in combinations(positions, 2):
        apart = hypot(one[0] - other[0], one[1] - other[1])
        if apart < across + LEAST_WEB_MM:
            raise BadJig(
                f"Two wicks stand {apart:.1f} mm apart; {what} of {across:g} mm across need "
                f"{across + LEAST_WEB_MM:.1f} mm: take {instead}, or place the wicks farther apart."
            )


def _play(lip: Edge, rim: Outline) -> float:
    """Return how far a lip can be pushed in any direction before it meets the rim."""
    assert not isinstance(lip, Round)
    points = np.array([[corner.x, corner.y] for corner in lip])
    least = rim.wall_gap(points).min()
    tips = points[rim.wall_gap(points) < least + 0.2]
    step = 1e-5
    farthest = 0.0
    for angle in np.linspace(0, 2 * pi, 72, endpoint=False):
        way = np.array([cos(angle), sin(angle)])
        gaps = rim.wall_gap(tips)
        slope = (gaps - rim.wall_gap(tips + step * way)) / step
        with np.errstate(divide="ignore"):
            room = np.where(slope > 1e-3, gaps / slope, np.inf).min()
        farthest = max(farthest, float(room))
    return farthest


__all__ = ["CAUTIONS", "FORMS", "WALL_MM", "BadJig", "Fit", "Form", "Jig", "Layer", "inset",
           "jig_for", "setting_guide", "wick_bar"]  # fmt: skip
