"""How every command prints: a JSON object for programs, or a few aligned lines for people."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction


def add_json_flag(parser) -> None:
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def print_json(value) -> None:
    print(json.dumps(value, default=_plain, ensure_ascii=False, indent=2))


def _plain(value):
    """Exact numbers leave as JSON numbers; they are rounded once, here, at the door."""
    if isinstance(value, Fraction | Decimal):
        return round(float(value), 9)
    if isinstance(value, date | datetime):
        return value.isoformat()
    if is_dataclass(value) and not isinstance(value, type):
        return asdict(value)
    raise TypeError(f"cannot print {type(value).__name__} as JSON")


def print_pairs(pairs: Iterable[tuple[str, str]]) -> None:
    """Print name and value in two columns, the values lined up."""
    rows = list(pairs)
    width = max((len(name) for name, _ in rows), default=0)
    for name, value in rows:
        print(f"{name:<{width}}  {value}".rstrip())
