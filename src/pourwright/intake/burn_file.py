"""
Test burns written down in a small TOML document, and panels in CSV; every fault with its place.

The documents are described in docs/burn-file.md. Numbers are read exactly; a number stands without
unit, in the unit that its key names.
"""

from __future__ import annotations

import csv
import difflib
import io
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

from pourwright.core.amounts import parse_number
from pourwright.core.amounts.reading import shorten
from pourwright.core.burns.house import HouseLimits, house_limits
from pourwright.core.burns.record import Burn, Candle, Piece, Reading, Series
from pourwright.core.errors import BadInput

MOST_BYTES = 1024 * 1024
MOST_ROWS = 2000
MOST_SHOWN = 5
FULL_RATE = 1000


class BadBurnFile(BadInput):
    """A document that cannot be read; every fault with its table and key."""

    def __init__(self, faults: list[str]) -> None:
        self.faults = tuple(faults)
        more = len(faults) - MOST_SHOWN
        tail = f" (and {more} more)" if more > 0 else ""
        super().__init__("; ".join(faults[:MOST_SHOWN]) + tail)


# --- what is read --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictFile:
    """A candle's burns, and the limits to judge them by."""

    name: str
    on: date | None
    series: Series
    house_changes: Mapping[str, Fraction]
    house_reasons: Mapping[str, str]

    def house(self, *, on: date) -> HouseLimits:
        return house_limits(on=on, changed=self.house_changes, reasons=self.house_reasons)


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignRow:
    """A design as a search names it; ``recommended`` is the size that the supplier names for it."""

    name: str
    wax: str
    load_pct_of_wax: Fraction
    inside_diameter_mm: Fraction
    wick_count: int
    recommended: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRow:
    """One size of a wick series; ``rate_g_per_h`` by the supplier's chart, or yarn mass in g/m."""

    series: str
    size: str
    rate_g_per_h: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class BurntRow:
    """A burn of a design on a size."""

    design: str
    series: str
    size: str
    cure_days: int
    burn: Burn


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchFile:
    """A search for a wick: the designs, the sizes there are, and every burn so far."""

    search: str
    designs: tuple[DesignRow, ...]
    sizes: tuple[SizeRow, ...]
    burns: tuple[BurntRow, ...]
    criteria: Mapping[str, Fraction]
    side_by_side: int
    cure_days: Fraction
    wax_g: Fraction
    week_in_burns: Fraction
    only_series: str


def read_verdict_file(path: Path) -> VerdictFile:
    """Return the burns of a document; raises ``BadBurnFile`` with every fault."""
    top = _top(path)
    candle = _candle(top.table("candle"))
    pieces = [
        Piece(
            name=table.text("name") or f"piece {place}",
            burns=_burns(table.tables("burn")),
        )
        for place, table in enumerate(top.tables("piece"), start=1)
    ]
    loose = _burns(top.tables("burn"))
    if loose:
        pieces.append(Piece(name="the piece", burns=loose))
    house, reasons = top.table("house"), top.table("house_reasons")
    name, on = top.text("name"), top.day("on")
    changes = {key: house.number(key) or Fraction(0) for key in list(house.raw)}
    why = {key: reasons.text(key) for key in list(reasons.raw)}
    if not any(piece.burns for piece in pieces):
        top.fault("", "no burn is in it; add [[burn]], or [[piece]] with [[piece.burn]].")
    top.close()
    assert candle is not None  # without one there is a fault
    return VerdictFile(
        name=name, on=on, series=Series(candle=candle, pieces=tuple(pieces)),
        house_changes=changes, house_reasons=why,
    )  # fmt: skip


def read_search_file(path: Path) -> SearchFile:
    """Return a search; raises ``BadBurnFile`` with every fault."""
    top = _top(path)
    sizes: list[SizeRow] = []
    for table in top.tables("series"):
        series = table.text("name", needed=True)
        for row in table.tables("size"):
            name = row.text("name", needed=True)
            told = [key for key in ("rate_g_per_h", "yarn_g_per_m") if key in row.raw]
            rate = row.number("rate_g_per_h", above=0, most=FULL_RATE)
            mass = row.number("yarn_g_per_m", above=0, most=FULL_RATE)
            if len(told) != 1:
                row.fault(
                    "", "give rate_g_per_h by the supplier's chart, or yarn_g_per_m; one of them."
                )
                continue
            if rate is None and mass is not None:
                # The chart of docs/burn-file.md: g/h = 2.01 (g/m)^0.76.
                rate = Fraction(2.01 * float(mass) ** 0.76).limit_denominator(10_000)
            sizes.append(SizeRow(series=series, size=name, rate_g_per_h=rate or Fraction(1)))
    designs = [_design(table) for table in top.tables("design")]
    burns = [_burnt(table) for table in top.tables("burn")]
    limits = top.table("criteria")
    bounds = {
        "full_pct": (50, 100), "soonest_h": (0, 4), "latest_h": (1, 4), "depth_mm": (3, 40),
        "wall_c": (30, 150), "needed": (1, 20),
    }  # fmt: skip
    criteria = {
        key: found
        for key, (least, most) in bounds.items()
        if (found := limits.number(key, least=least, most=most)) is not None
    }
    cost = top.table("cost")
    made = SearchFile(
        search=top.text("search", needed=True), designs=tuple(designs), sizes=tuple(sizes),
        burns=tuple(b for b in burns if b is not None), criteria=criteria,
        side_by_side=cost.whole("side_by_side", default=1, least=1, most=12),
        cure_days=cost.number("cure_days", least=0, most=365) or Fraction(14),
        wax_g=cost.number("wax_g", least=0, most=10**6) or Fraction(0),
        week_in_burns=_or(cost.number("week_in_burns", least=0, most=50), Fraction(1, 2)),
        only_series=top.text("series_only"),
    )  # fmt: skip
    _check_names(top, made)
    top.close()
    return made


def _or(value: Fraction | None, default: Fraction) -> Fraction:
    return default if value is None else value


def _check_names(top: _Table, made: SearchFile) -> None:
    """Note every name that nothing in the document has."""
    designs = {design.name for design in made.designs}
    sizes = {(size.series, size.size) for size in made.sizes}
    if made.search and made.search not in designs:
        top.fault("search", f'no [[design]] is named "{shorten(made.search)}".')
    if not sizes:
        top.fault("series", "no wick sizes; add [[series]] with [[series.size]] for each.")
    if made.only_series and made.only_series not in {size.series for size in made.sizes}:
        top.fault("series_only", f'no [[series]] is named "{shorten(made.only_series)}".')
    for place, burn in enumerate(made.burns, start=1):
        if burn.design not in designs:
            top.fault(f"burn {place}", f'no [[design]] is named "{shorten(burn.design)}".')
        if (burn.series, burn.size) not in sizes:
            words = f'no size "{shorten(burn.size)}" of a series "{shorten(burn.series)}".'
            top.fault(f"burn {place}", words)
    for design in made.designs:
        for series, size in design.recommended.items():
            if (series, size) not in sizes:
                words = f'no size "{shorten(size)}" of a series "{shorten(series)}".'
                top.fault(f"design {design.name}, recommended", words)


def read_ranks(text: str) -> tuple[list[str], list[list[float]]]:
    """
    Return the candles' names and the ranks of a CSV, one line an assessor.

    The first line names the candles; a first column headed "assessor" is left out.
    """
    if len(text.encode()) > MOST_BYTES:
        raise BadBurnFile([f"over {MOST_BYTES // 1024} kB; a panel is smaller."])
    lines = text.lstrip("\ufeff").splitlines()
    body = [(n, line) for n, line in enumerate(lines, start=1) if line.strip()]
    if len(body) < 2:
        raise BadBurnFile(["no ranks; write the candles' names, then a line for each assessor."])
    sign = next((mark for mark in ";\t," if mark in body[0][1]), ",")
    rows = [(n, next(csv.reader(io.StringIO(line), delimiter=sign))) for n, line in body]
    names = [cell.strip() for cell in rows[0][1]]
    skip = 1 if names[0].casefold() in ("assessor", "assessors", "nose", "") else 0
    names = names[skip:]
    faults, ranks = [], []
    for number, cells in rows[1:]:
        given = [cell.strip() for cell in cells[skip:]]
        if len(given) != len(names):
            faults.append(f"line {number}: {len(given)} ranks for {len(names)} candles.")
            continue
        try:
            ranks.append([float(parse_number(cell, field=f"Line {number}")) for cell in given])
        except BadInput as problem:
            faults.append(str(problem))
    if len(set(names)) != len(names) or not all(names):
        faults.append("line 1: each candle has a name of its own.")
    if faults:
        raise BadBurnFile(faults)
    return names, ranks


# --- parts ---------------------------------------------------------------------------------------


def _candle(table: _Table) -> Candle | None:
    wide = table.number("inside_diameter_mm", needed=True)
    count = table.whole("wick_count", default=1, least=1, most=20)
    container, tea = table.yes("container"), table.yes("tea_light")
    if wide is None:
        return None
    return table.made(
        Candle, inside_diameter_mm=wide, wick_count=count, container=container is not False,
        tea_light=tea is True,
    )  # fmt: skip


_LISTS = {"flame_mm", "pool_mm", "afterglow_s"}
_WHOLE = {"number", "cure_days", "soot"}
_TRUE = {"pool_flashed", "last"}
_MAYBE = {"relit", "went_out_by_itself"}
_TEXT = {"draught", "vessel_failed", "note"}


def _reading(table: _Table) -> Reading | None:
    if "minute" not in table.raw:
        table.fault("minute", "it is not there; add it.")
    return table.record(Reading)


def _burn(table: _Table, *, number: int = 1) -> Burn | None:
    if "readings" in table.raw:
        table.fault("readings", "write each reading as [[…burn.reading]].")
    readings = tuple(r for r in map(_reading, table.tables("reading")) if r is not None)
    return table.record(Burn, readings=readings, number=number)


def _burns(tables: list[_Table]) -> tuple[Burn, ...]:
    """Return a piece's burns; one without a number has that of its place."""
    made = (_burn(table, number=place) for place, table in enumerate(tables, start=1))
    return tuple(burn for burn in made if burn is not None)


def _burnt(table: _Table) -> BurntRow | None:
    names = {key: table.text(key, needed=True) for key in ("design", "series", "size")}
    burn = _burn(table)
    if burn is None:
        return None
    cure = 14 if burn.cure_days is None else burn.cure_days
    return BurntRow(**names, cure_days=cure, burn=burn)


def _design(table: _Table) -> DesignRow:
    told = table.table("recommended")
    return DesignRow(
        name=table.text("name", needed=True), wax=table.text("wax", needed=True),
        load_pct_of_wax=table.number("load_pct_of_wax", least=0, most=50) or Fraction(0),
        inside_diameter_mm=table.number("inside_diameter_mm", needed=True, least=10, most=600)
        or Fraction(80),
        wick_count=table.whole("wick_count", default=1, least=1, most=20),
        recommended={key: told.text(key) for key in list(told.raw)},
    )  # fmt: skip


def _top(path: Path) -> _Table:
    try:
        with open(path, "rb") as opened:
            data = opened.read(MOST_BYTES + 1)
    except OSError as problem:
        raise BadBurnFile([f"it cannot be read ({problem.strerror or problem})."]) from problem
    if len(data) > MOST_BYTES:
        raise BadBurnFile([f"it is over {MOST_BYTES // 1024} kB."])
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
        raw = tomllib.loads(text, parse_float=_exact)
    except (ValueError, RecursionError) as problem:
        raise BadBurnFile([f"it is not TOML in UTF-8: {problem}."]) from problem
    return _Table(raw, "", [], [])


def _exact(text: str) -> Fraction:
    if len(text) > 20 or not text.lstrip("+-").replace(".", "", 1).isdigit():
        raise ValueError(f'"{shorten(text)}" is not a number that a burn has')
    return Fraction(text)


class _Table:
    """A table that notes its faults, and which of its keys nobody asked for."""

    def __init__(self, raw: Any, place: str, faults: list[str], all_of: list[_Table]) -> None:
        self.place, self.faults, self._all = place, faults, all_of
        self.raw: Mapping[str, Any] = raw if isinstance(raw, Mapping) else {}
        if not isinstance(raw, Mapping):
            self.fault("", "it is a table; write its name in brackets above its keys.")
        self._known: set[str] = set()
        self._all.append(self)

    def fault(self, key: str, message: str) -> None:
        where = ", ".join(part for part in (self.place, key) if part)
        self.faults.append(f"{where}: {message}" if where else message)

    def close(self) -> None:
        """Raise with every fault, keys that are not known among them."""
        for table in self._all:
            for key in table.raw:
                if key not in table._known:
                    near = difflib.get_close_matches(key, sorted(table._known), 1)
                    known = ", ".join(sorted(table._known)) or "none"
                    hint = f"did you mean {near[0]}?" if near else f"known here: {known}."
                    table.fault("", f'"{shorten(key)}" is no key of it; {hint}')
        if self.faults:
            raise BadBurnFile(self.faults)

    def _get(self, key: str) -> Any:
        self._known.add(key)
        return self.raw.get(key)

    def table(self, key: str) -> _Table:
        place = ", ".join(part for part in (self.place, key) if part)
        return _Table(self._get(key) or {}, place, self.faults, self._all)

    def tables(self, key: str) -> list[_Table]:
        given = self._get(key) or []
        if not isinstance(given, list) or len(given) > MOST_ROWS:
            self.fault(key, f"write [[{key}]] above each, {MOST_ROWS} at most.")
            return []
        before = f"{self.place}, " if self.place else ""
        return [
            _Table(row, f"{before}{key} {place}", self.faults, self._all)
            for place, row in enumerate(given, start=1)
        ]

    def text(self, key: str, *, needed: bool = False) -> str:
        value = self._get(key)
        if value is None:
            if needed:
                self.fault(key, "it is not there; add it.")
            return ""
        if not isinstance(value, str) or len(value) > 300:
            self.fault(key, f"{_shown(value)} is not text of up to 300 letters in quotation marks.")
            return ""
        return " ".join(value.split())

    def yes(self, key: str) -> bool | None:
        value = self._get(key)
        if value is None or isinstance(value, bool):
            return value
        self.fault(key, f"{_shown(value)} is neither true nor false.")
        return None

    def day(self, key: str) -> date | None:
        value = self._get(key)
        if value is None or (isinstance(value, date) and not isinstance(value, datetime)):
            return value
        self.fault(key, f"{_shown(value)} is no day; write {key} = 2026-03-31.")
        return None

    def number(
        self, key: str, *, needed: bool = False, least: int | None = None,
        above: int | None = None, most: int | None = None,
    ) -> Fraction | None:  # fmt: skip
        value = self._get(key)
        if value is None:
            if needed:
                self.fault(key, "it is not there; add it.")
            return None
        found = _number(value)
        if found is None:
            self.fault(key, f"{_shown(value)} is no number; write it without quotation marks.")
            return None
        low = f"{least}" if least is not None else f"more than {above}, up"
        if (
            (least is not None and found < least)
            or (above is not None and found <= above)
            or (most is not None and found > most)
        ):
            self.fault(key, f"{_shown(value)} does not fit; give {low} to {most}.")
            return None
        return found

    def whole(self, key: str, *, default: int, least: int, most: int) -> int:
        found = self.number(key, least=least, most=most)
        if found is not None and found.denominator != 1:
            self.fault(key, f"{_shown(self.raw[key])} is no whole number.")
        return default if found is None else int(found)

    def made(self, kind: Callable[..., Any], **values: Any) -> Any:
        try:
            return kind(**values)
        except BadInput as problem:
            self.fault("", str(problem))
            return None

    def record(self, kind: type, **given: Any) -> Any:
        """Return a record of the table's keys, or None with the faults noted."""
        before = len(self.faults)
        values: dict[str, Any] = dict(given)
        for field in fields(kind):
            key = field.name
            if key == "readings":
                continue
            if key in _TEXT:
                values[key] = self.text(key)
            elif key in _TRUE:
                values[key] = self.yes(key) is True
            elif key in _MAYBE:
                values[key] = self.yes(key)
            elif key in _LISTS:
                values[key] = self._list(key)
            elif (found := self.number(key)) is not None:
                if key in _WHOLE and found.denominator != 1:
                    self.fault(key, f"{_shown(self.raw[key])} is no whole number.")
                values[key] = int(found) if key in _WHOLE else found
            elif key not in values:
                values[key] = None
        if kind is Reading and values["soot"] is not None and not 0 <= values["soot"] <= 3:
            self.fault("soot", f"{values['soot']} does not fit; give 0 none to 3 thick.")
        if len(self.faults) > before:
            return None
        return self.made(kind, **values)

    def _list(self, key: str) -> tuple[Fraction, ...]:
        value = self._get(key)
        if value is None:
            return ()
        rows = value if isinstance(value, list) else [value]
        found = [_number(row) for row in rows]
        if len(rows) > 20 or None in found:
            self.fault(key, f"{_shown(value)} is no number, nor a list of numbers in brackets.")
            return ()
        return tuple(row for row in found if row is not None)


def _number(value: Any) -> Fraction | None:
    if isinstance(value, bool) or not isinstance(value, int | Fraction):
        return None
    return Fraction(value) if abs(value) < 10**12 else None


def _shown(value: Any) -> str:
    return f'"{shorten(str(value))}"'
