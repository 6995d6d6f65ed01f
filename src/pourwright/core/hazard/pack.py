"""
What the pack's size decides: sizes on the label, what may be left out, what is still to come.

Source: CLP Annex I, 1.2.1 and 1.5.2, Annex II, 3; the EU's later texts with their dates.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import sqrt
from typing import Any

from pourwright.core.hazard.model import HazardClass, Market
from pourwright.core.hazard.rulebook import rulebook
from pourwright.core.hazard.trace import plain
from pourwright.core.rules import NoRuleForDate, Rule, rule


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeRow:
    """A least x-height (mm) up to a capacity (ml; None: above all others), and from when."""

    up_to_ml: Fraction | None
    x_height_mm: Fraction
    valid_from: date


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSize:
    """
    Least sizes in mm.

    ``side_mm`` is the pictogram's own side to aim for and ``least_side_mm`` the least; the square
    around the diamond is ``bounding_mm`` wide. Where ``if_possible`` the area may be smaller for
    want of room. None throughout where a market has no such table. ``x_height_mm`` is what is in
    force on the day; ``x_height_rows`` what is, or comes, in force and from when.
    """

    width_mm: Fraction | None = None
    height_mm: Fraction | None = None
    if_possible: bool = False
    side_mm: Fraction | None = None
    least_side_mm: Fraction | None = None
    x_height_mm: Fraction | None = None
    x_height_rows: tuple[TypeRow, ...] = ()
    line_distance_pct: Fraction | None = None
    why: str = ""
    rule: str = ""
    status: str = ""

    @property
    def bounding_mm(self) -> float | None:
        """Width of the square around the standing diamond of ``side_mm``."""
        return float(self.side_mm) * sqrt(2) if self.side_mm is not None else None

    @property
    def least_bounding_mm(self) -> float | None:
        """Width of the square around the least diamond."""
        return float(self.least_side_mm) * sqrt(2) if self.least_side_mm is not None else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """A change that is not in force yet on the day, and from when it is."""

    valid_from: date
    title: str
    text: str
    rule: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """Which classes lose which kinds of statements ("H", "P") on a small pack."""

    of: Mapping[tuple[str, str], frozenset[str]]
    up_to_ml: Fraction
    rule: str
    status: str

    def spares(self, what: str, classes: Iterable[HazardClass]) -> bool:
        """Return whether a statement with these classes behind it may be left out."""
        found = list(classes)
        return bool(found) and all(
            what in self.of.get((one.kind.value, one.category), frozenset()) for one in found
        )


def rule_of_market(name: str, *, market: Market, on: date) -> Rule | None:
    """Return a rule that not every market has; None where there is none on that day."""
    try:
        return rule(f"{market.value}/{name}", on=on)
    except (NoRuleForDate, FileNotFoundError):
        return None


def label_size(package_ml: Fraction | None, *, market: Market, on: date) -> LabelSize:
    """
    Return the least sizes for a package capacity in ml; for the smallest row where it is unknown.
    """
    table = rule_of_market("hazard_label_size", market=market, on=on)
    kind = _type_table(market, on)
    if table is None:
        return LabelSize(why="This market's rules give no size in millimetres.")
    row = _row_for(table["rows"], package_ml)
    x_row = _row_for(kind["rows"], package_ml) if kind else None
    in_force = kind is not None and kind.valid_from <= on
    held = (
        "The package's capacity is not known: taken as a small one"
        if package_ml is None
        else (f"The package holds {plain(package_ml)} ml")
    )
    return LabelSize(
        width_mm=Fraction(row["width_mm"]),
        height_mm=Fraction(row["height_mm"]),
        if_possible=row.get("if_possible", False),
        side_mm=Fraction(row["side_mm"]),
        least_side_mm=Fraction(row["least_side_mm"]),
        x_height_mm=Fraction(x_row["x_height_mm"]) if x_row and in_force else None,
        x_height_rows=_type_rows(kind) if kind else (),
        line_distance_pct=Fraction(kind["line_distance_pct"]) if kind and in_force else None,
        why=(
            f"{held}. Each pictogram takes at least 1/{table['share_of_label']} of the least label "
            f"area and at least {table['least_area_mm2']} mm²; its side is the diamond's own."
        ),
        rule=rulebook(market, on).clause(table["clause"]),
        status=table.status,
    )


def _type_table(market: Market, on: date) -> Rule | None:
    """Return the rule on type height, as it stands or as it will come."""
    return rule_of_market("hazard_label_type", market=market, on=on) or rule_of_market(
        "hazard_label_type", market=market, on=date.max
    )


def _type_rows(table: Rule) -> tuple[TypeRow, ...]:
    return tuple(
        TypeRow(
            up_to_ml=Fraction(row["up_to_ml"]) if "up_to_ml" in row else None,
            x_height_mm=Fraction(row["x_height_mm"]),
            valid_from=table.valid_from,
        )
        for row in table["rows"]
    )


def _row_for(rows: Sequence[Mapping[str, Any]], package_ml: Fraction | None) -> Mapping[str, Any]:
    if package_ml is None:
        return rows[0]
    return next(row for row in rows if "up_to_ml" not in row or package_ml <= row["up_to_ml"])


def small_pack_relief(package_ml: Fraction | None, *, market: Market, on: date) -> Relief | None:
    """Return what may be left out for a package's contents in ml; None where nothing may."""
    table = rule_of_market("hazard_small_packs", market=market, on=on)
    if table is None or package_ml is None or package_ml > table["up_to_ml"]:
        return None
    found: dict[tuple[str, str], set[str]] = {}
    for relief in table["reliefs"]:
        for row in relief["classes"]:
            for category in row["categories"]:
                found.setdefault((row["kind"], category), set()).update(relief["what"])
    return Relief(
        of={key: frozenset(what) for key, what in found.items()},
        up_to_ml=Fraction(table["up_to_ml"]),
        rule=table["clause"],
        status=table.status,
    )


def needing(rows: Sequence[Mapping[str, Any]], classes: Iterable[HazardClass]) -> list[HazardClass]:
    """Return those of the classes that a table's rows of kind and categories name."""
    return [
        hazard
        for hazard in classes
        if any(r["kind"] == hazard.kind.value and hazard.category in r["categories"] for r in rows)
    ]


def coming_after(on: date, *, market: Market) -> tuple[Coming, ...]:
    """Return the known changes later than a day, the next first."""
    table = rule_of_market("hazard_coming", market=market, on=on)
    rows = [row for row in table["changes"] if row["from"] > on] if table else []
    return tuple(
        Coming(
            valid_from=row["from"],
            title=row["title"],
            text=row["text"],
            rule=row["clause"],
            status=row["status"],
        )
        for row in sorted(rows, key=lambda row: row["from"])
    )
