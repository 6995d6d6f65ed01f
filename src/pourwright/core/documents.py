"""
The core's records as plain documents (dicts, lists, text, whole numbers), and back again, exactly.

Dates are written as in ISO 8601, fractions as "p/q". What a document lacks takes the record's own
default, so that one written before a field was added can still be read.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import types
import typing
from fractions import Fraction
from functools import cache
from typing import Any, TypeVar

from pourwright.core.errors import BadInput

Record = TypeVar("Record")


class BadDocument(BadInput):
    """A document that does not say the record that was looked for."""


def document_of(record: Any) -> Any:
    """Return a frozen dataclass of the core, of plain fields, as a plain document."""
    if dataclasses.is_dataclass(record) and not isinstance(record, type):
        return {
            field.name: document_of(getattr(record, field.name))
            for field in dataclasses.fields(record)
        }
    if isinstance(record, tuple):
        return [document_of(part) for part in record]
    if isinstance(record, dt.date):
        return record.isoformat()
    if isinstance(record, Fraction):
        return str(record)
    return record


def record_of(kind: type[Record], document: Any) -> Record:
    """Return the record that a document says. Raises ``BadDocument``."""
    try:
        return typing.cast(Record, _read(kind, document))
    except (TypeError, ValueError, KeyError) as problem:
        raise BadDocument(f"This is no {kind.__name__.lower()}: {problem}.") from problem


def _read(kind: Any, document: Any) -> Any:
    origin = typing.get_origin(kind)
    if origin in (types.UnionType, typing.Union):
        if document is None:
            return None
        return _read(next(k for k in typing.get_args(kind) if k is not types.NoneType), document)
    if origin is tuple:
        parts = typing.get_args(kind)
        if parts[-1] is not ...:
            return tuple(_read(part, each) for part, each in zip(parts, document, strict=True))
        return tuple(_read(parts[0], each) for each in document)
    if origin is typing.Literal:
        if document not in typing.get_args(kind):
            raise ValueError(f"{document!r} is none of {', '.join(typing.get_args(kind))}")
        return document
    if isinstance(kind, type) and dataclasses.is_dataclass(kind):
        hints = _hints(kind)
        if not isinstance(document, dict):
            raise TypeError(f"{document!r} is no {kind.__name__}")
        if unknown := set(document) - set(hints):
            raise ValueError(f"{kind.__name__} has no {', '.join(sorted(unknown))}")
        return kind(**{name: _read(hints[name], value) for name, value in document.items()})
    if kind is dt.date:
        return dt.date.fromisoformat(document)
    if kind is Fraction:
        return Fraction(document)
    if not isinstance(document, kind) or (kind is int and isinstance(document, bool)):
        raise TypeError(f"{document!r} is not {kind.__name__}")
    return document


@cache
def _hints(kind: Any) -> dict[str, Any]:
    return typing.get_type_hints(kind)
