"""Tables of a plan's document, in TOML or JSON, read key by key with every fault noted."""

from __future__ import annotations

import datetime as dt
import difflib
import json
import tomllib
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

from pourwright.core.amounts.reading import shorten
from pourwright.core.errors import BadInput

MOST_BYTES = 4 * 1024 * 1024
MOST_ROWS = 3000
MOST_SHOWN = 5
MOST_NUMBER = 10**9


class BadPlanFile(BadInput):
    """A document that cannot be read; every fault with its table and key."""

    def __init__(self, faults: list[str]) -> None:
        self.faults = tuple(faults)
        more = len(faults) - MOST_SHOWN
        tail = f" (and {more} more)" if more > 0 else ""
        super().__init__("; ".join(fault.rstrip(".") for fault in faults[:MOST_SHOWN]) + tail)


def read_top(path: Path) -> Table:
    """Return a document's outermost table: JSON where the name ends in .json, TOML otherwise."""
    try:
        with open(path, "rb") as opened:
            data = opened.read(MOST_BYTES + 1)
    except OSError as problem:
        raise BadPlanFile([f"it cannot be read ({problem.strerror or problem})."]) from problem
    if len(data) > MOST_BYTES:
        raise BadPlanFile([f"it is over {MOST_BYTES // 1024**2} MB."])
    kind = "JSON" if path.suffix.casefold() == ".json" else "TOML"
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
        if kind == "JSON":
            raw = json.loads(text, parse_float=_exact, parse_constant=_exact)
        else:
            raw = tomllib.loads(text, parse_float=_exact)
    except (ValueError, RecursionError) as problem:
        raise BadPlanFile([f"it is not {kind} in UTF-8: {problem}."]) from problem
    return Table(raw, "", [], [])


def _exact(text: str) -> Fraction:
    if len(text) > 20 or not text.lstrip("+-").replace(".", "", 1).isdigit():
        raise ValueError(f'"{shorten(text)}" is not a number that a plan has')
    return Fraction(text)


class Table:
    """A table that notes its faults, and which of its keys nobody asked for."""

    def __init__(self, raw: Any, place: str, faults: list[str], all_of: list[Table]) -> None:
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
            raise BadPlanFile(self.faults)

    def get(self, key: str) -> Any:
        self._known.add(key)
        return self.raw.get(key)

    def _needed(self, key: str) -> None:
        self.fault(key, "it is not there; add it.")

    def tables(self, key: str) -> list[Table]:
        given = self.get(key)
        if given is None:
            return []
        if not isinstance(given, list) or len(given) > MOST_ROWS:
            self.fault(key, f"write [[{key}]] above each, {MOST_ROWS} at most.")
            return []
        before = f"{self.place}, " if self.place else ""
        return [
            Table(row, f"{before}{key} {place}", self.faults, self._all)
            for place, row in enumerate(given, start=1)
        ]

    def text(self, key: str, *, needed: bool = False) -> str:
        value = self.get(key)
        if value is None:
            if needed:
                self._needed(key)
            return ""
        if not isinstance(value, str) or not value.strip() or len(value) > 300:
            self.fault(key, f"{_shown(value)} is not text of up to 300 letters in quotation marks.")
            return ""
        return " ".join(value.split())

    def texts(self, key: str) -> tuple[str, ...] | None:
        value = self.get(key)
        if value is None:
            return None
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            self.fault(key, f'{_shown(value)} is no list of names; write ["one", "two"].')
            return ()
        return tuple(" ".join(one.split()) for one in value)

    def yes(self, key: str) -> bool:
        value = self.get(key)
        if value is None or isinstance(value, bool):
            return value is True
        self.fault(key, f"{_shown(value)} is neither true nor false.")
        return False

    def day(self, key: str, *, needed: bool = False) -> dt.date | None:
        value = self.get(key)
        if value is None and needed:
            self._needed(key)
        return None if value is None else self.as_day(key, value)

    def days(self, key: str) -> list[dt.date]:
        value = self.get(key)
        rows = value if isinstance(value, list) else [] if value is None else [value]
        found = [self.as_day(key, row) for row in rows]
        return [day for day in found if day is not None]

    def as_day(self, key: str, value: Any) -> dt.date | None:
        if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
            return value
        if isinstance(value, str):
            try:
                return dt.date.fromisoformat(value)
            except ValueError:
                pass
        self.fault(key, f"{_shown(value)} is no day; write {key} = 2027-03-31.")
        return None

    def clock(self, key: str) -> int:
        """Return a time of day in seconds; "24:00" is the end of the day."""
        value = self.get(key)
        if value is None:
            self._needed(key)
            return 0
        if isinstance(value, dt.time):
            return value.hour * 3600 + value.minute * 60 + value.second
        if isinstance(value, str):
            hours, colon, minutes = value.partition(":")
            if colon and hours.isdecimal() and minutes.isdecimal():
                seconds = int(hours) * 3600 + int(minutes) * 60
                if int(minutes) < 60 and seconds <= 86_400:
                    return seconds
        self.fault(key, f'{_shown(value)} is no time of day; write {key} = "18:30".')
        return 0

    def number(
        self, key: str, *, needed: bool = False, above: bool = False, most: int = MOST_NUMBER
    ) -> Fraction | None:
        """Return a number from 0 (with ``above``: over 0) to ``most``."""
        value = self.get(key)
        if value is None:
            if needed:
                self._needed(key)
            return None
        if isinstance(value, bool) or not isinstance(value, int | Fraction):
            self.fault(key, f"{_shown(value)} is no number; write it without quotation marks.")
            return None
        found = Fraction(value)
        if found < 0 or found > most or (above and not found):
            least = "more than 0, up to" if above else "0 to"
            self.fault(key, f"{_shown(value)} does not fit; give {least} {most}.")
            return None
        return found

    def whole(
        self, key: str, *, default: int = 0, needed: bool = False, most: int = MOST_NUMBER
    ) -> int:
        found = self.number(key, needed=needed, most=most)
        if found is None:
            return default
        if found.denominator != 1:
            self.fault(key, f"{_shown(self.raw[key])} is no whole number.")
        return int(found)

    def maybe(self, key: str, *, most: int = MOST_NUMBER) -> int | None:
        return None if self.get(key) is None else self.whole(key, most=most)

    def times(self, key: str, factor: int, *, needed: bool = False, above: bool = False) -> int:
        """Return a number times a factor, rounded half up to a whole."""
        found = self.number(key, needed=needed, above=above)
        return 0 if found is None else int(found * factor + Fraction(1, 2))


def _shown(value: Any) -> str:
    return f'"{shorten(str(value))}"'
