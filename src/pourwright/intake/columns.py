"""
The columns of the files that come in and go out: what each means, how it is read and written.

A column is written once, in ``kinds.py``; head, template, export and reading all follow from it.
``read`` gives what a record keeps (milligrams, hundredths of the minor unit, Decimal, date); it
raises ``BadInput`` in the maker's words. ``write`` gives a plain cell and is read back the same.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from pourwright.core import amounts
from pourwright.core.errors import BadInput

# Text that may be this long may stand on several lines, as an address does.
SEVERAL_LINES = 1000

Cell = str | int | Decimal | date | None


class UnreadableCell(BadInput):
    """A cell does not hold what its column is for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What the reading of a cell depends on besides its text."""

    currency: str = "USD"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """
    One column of a kind of file.

    ``unit`` is what a bare number means, ``{currency}`` standing for the workshop's. ``head``
    columns belong to the whole group (a parcel, a formula), the others to the line.
    """

    name: str
    meaning: str
    example: str
    read: Callable[[str, Context], object]
    write: Callable[[object, Context], Cell]
    required: bool = False
    head: bool = False
    unit: str = ""
    words: tuple[str, ...] = ()

    def title(self, context: Context) -> str:
        """Return the column's head: its name, and the unit of its numbers."""
        unit = self.unit_in(context)
        return f"{self.name} ({unit})" if unit else self.name

    def unit_in(self, context: Context) -> str:
        return self.unit.format(currency=context.currency)


# --- text and words ------------------------------------------------------------------------------


def text(name: str, meaning: str, example: str = "", *, most: int = 200, **more) -> Column:
    def read(given: str, context: Context) -> str:
        if len(given) > most:
            raise UnreadableCell(
                f"{_named(name)} has {len(given)} characters; {most} fit. Shorten it."
            )
        if "\n" in given and most < SEVERAL_LINES:
            raise UnreadableCell(f"{_named(name)} goes over several lines; write it on one.")
        if bad := next((sign for sign in given if _cannot_be_shown(sign)), None):
            raise UnreadableCell(
                f"{_named(name)} has a character that cannot be shown (code {ord(bad)}); "
                "leave it out."
            )
        return given

    return _column(name, meaning, example, read, lambda value, context: value or None, more)


def one_of(name: str, meaning: str, example: str, words: Mapping[str, str], **more) -> Column:
    """A column of fixed words: ``words`` maps what is written to what the record keeps."""
    by_word = {word.casefold(): kept for word, kept in words.items()}
    by_word |= {kept.casefold(): kept for kept in words.values()}
    # The first word for a kept value is the one that is written out.
    written = {kept: word for word, kept in reversed(list(words.items()))}

    def read(given: str, context: Context) -> str:
        try:
            return by_word[given.casefold()]
        except KeyError:
            raise UnreadableCell(
                f"{_named(name)} “{_short(given)}” is not known; write {_or(list(words))}."
            ) from None

    def write(value: object, context: Context) -> Cell:
        return written.get(str(value), str(value)) if value else None

    return _column(name, meaning, example, read, write, {"words": tuple(words), **more})


def yes_or_no(name: str, meaning: str, example: str = "no", **more) -> Column:
    words = {"yes": True, "y": True, "true": True, "1": True}
    words |= {"no": False, "n": False, "false": False, "0": False}

    def read(given: str, context: Context) -> bool:
        try:
            return words[given.casefold()]
        except KeyError:
            raise UnreadableCell(
                f"{_named(name)} “{_short(given)}” is neither yes nor no; write yes or no."
            ) from None

    def write(value: object, context: Context) -> Cell:
        return "yes" if value else "no"

    return _column(name, meaning, example, read, write, {"words": ("yes", "no"), **more})


# --- amounts -------------------------------------------------------------------------------------


def mass(name: str, meaning: str, example: str, **more) -> Column:
    """Milligrams; a bare number is grams."""

    def read(given: str, context: Context) -> int:
        return amounts.to_mg(amounts.parse_mass(given, field=_named(name)))

    return _column(name, meaning, example, read, _grams, {"unit": "g", **more})


@dataclass(frozen=True, slots=True)
class Amount:
    """
    So much of an item: what it counts as depends on how the item is measured.

    ``text`` as it was written; ``of`` reads it for an item by weight (milligrams) or by the piece.
    """

    text: str
    field: str = "Amount"

    def of(self, *, by_mass: bool) -> int:
        if by_mass:
            return amounts.to_mg(amounts.parse_mass(self.text, field=self.field))
        return amounts.parse_count(self.text, field=self.field)


def amount(name: str, meaning: str, example: str, **more) -> Column:
    """An ``Amount``, read for real once the item is known; a bare number is grams or pieces."""

    def read(given: str, context: Context) -> Amount:
        written = Amount(given, _named(name))
        try:
            written.of(by_mass=True)
        except BadInput:
            # Not a mass; then it must be a number of pieces. Which of them is right comes later.
            try:
                written.of(by_mass=False)
            except BadInput:
                raise UnreadableCell(
                    f"{_named(name)} “{_short(given)}” is neither a mass nor a number of pieces; "
                    "write for example 2 kg, 5 lb or 24."
                ) from None
        return written

    def write(value: object, context: Context) -> Cell:
        """Write (quantity, by mass) as grams or pieces."""
        if value is None:
            return None
        quantity, by_mass = value  # type: ignore[misc]
        return None if quantity is None else _grams(quantity) if by_mass else int(quantity)

    return _column(name, meaning, example, read, write, {"unit": "g or pieces", **more})


def money(name: str, meaning: str, example: str, **more) -> Column:
    """Hundredths of the currency's minor unit."""

    def read(given: str, context: Context) -> int:
        return amounts.parse_money(
            given,
            minor_digits=amounts.minor_digits(context.currency),
            currency=context.currency,
            field=_named(name),
        )

    def write(value: object, context: Context) -> Cell:
        return money_cell(value, context.currency)

    return _column(name, meaning, example, read, write, {"unit": "{currency}", **more})


def money_cell(minor100: object, currency: str) -> Decimal | None:
    """Return money as a plain number of the currency, without closing zeros."""
    if minor100 is None:
        return None
    return plain(Decimal(int(minor100)).scaleb(-2 - amounts.minor_digits(currency)))  # type: ignore[call-overload]


def number(
    name: str,
    meaning: str,
    example: str,
    *,
    places: int,
    most: int,
    kind: Callable[..., Fraction] = amounts.parse_number,
    **more,
) -> Column:
    """A Decimal up to ``most`` with ``places`` decimals, read by ``kind``, rounded half to even."""

    def read(given: str, context: Context) -> Decimal:
        value = kind(given, field=_named(name))
        if value > most:
            unit = more.get("unit", "")
            raise UnreadableCell(
                f"{_named(name)} “{_short(given)}” is more than {most} {unit}".rstrip()
                + "; check it."
            )
        return Decimal(round(value * 10**places)).scaleb(-places)

    def write(value: object, context: Context) -> Cell:
        return None if value is None else plain(Decimal(value))  # type: ignore[arg-type]

    return _column(name, meaning, example, read, write, more)


def percent(name: str, meaning: str, example: str, *, places: int = 3, **more) -> Column:
    more = {"unit": "%", **more}
    return number(
        name, meaning, example, places=places, most=100, kind=amounts.parse_percent, **more
    )


def density(name: str, meaning: str, example: str, **more) -> Column:
    more = {"unit": "g/ml", **more}
    return number(name, meaning, example, places=4, most=9, kind=amounts.parse_density, **more)


def length(name: str, meaning: str, example: str, *, places: int = 2, **more) -> Column:
    more = {"unit": "mm", **more}
    return number(
        name, meaning, example, places=places, most=999, kind=amounts.parse_length, **more
    )


def volume(name: str, meaning: str, example: str, **more) -> Column:
    more = {"unit": "ml", **more}
    return number(name, meaning, example, places=3, most=99_999, kind=amounts.parse_volume, **more)


def temperature(name: str, meaning: str, example: str, **more) -> Column:
    more = {"unit": "°C", **more}
    return number(
        name, meaning, example, places=1, most=999, kind=amounts.parse_temperature, **more
    )


def marks(name: str, meaning: str, example: str, **more) -> Column:
    """Water marks: pairs of height (mm) and the volume below it (ml), as the record's texts."""

    def read(given: str, context: Context) -> list[list[str]]:
        found = [_mark(part, name) for part in re.split(r"[;\n]", given) if part.strip()]
        if len(found) > 60:
            raise UnreadableCell(f"{_named(name)}: {len(found)} marks; at most 60 are kept.")
        return found

    def write(value: object, context: Context) -> Cell:
        pairs = [
            f"{plain(Decimal(height)):f} mm {plain(Decimal(ml)):f} ml"
            for height, ml in value  # type: ignore[attr-defined]
        ]
        return "; ".join(pairs) or None

    return _column(name, meaning, example, read, write, more)


def _mark(given: str, name: str) -> list[str]:
    words = given.replace(":", " ").replace("\t", " ").split()
    for cut in range(1, len(words)):
        try:
            height_mm = amounts.parse_length(" ".join(words[:cut]))
            volume_ml = amounts.parse_volume(" ".join(words[cut:]))
        except BadInput:
            continue
        return [f"{Decimal(round(height_mm * 100)).scaleb(-2):.2f}",
                f"{Decimal(round(volume_ml * 1000)).scaleb(-3):.3f}"]  # fmt: skip
    raise UnreadableCell(
        f"{_named(name)} “{_short(given)}” is not a height and a volume; write for example "
        "“40 mm 120 ml; 60 mm 190 ml”."
    )


def email(name: str, meaning: str, example: str, **more) -> Column:
    plain_text = text(name, meaning, example, most=254, **more)

    def read(given: str, context: Context) -> object:
        if not re.fullmatch(r"[^@\s,;]+@[^@\s,;]+\.[^@\s,;.]+", given):
            raise UnreadableCell(
                f"{_named(name)} “{_short(given)}” is not an address for mail; write it as in "
                "hello@example.com."
            )
        return plain_text.read(given, context)

    return replace(plain_text, read=read)


def whole(name: str, meaning: str, example: str, *, least: int = 0, **more) -> Column:
    """A whole number, at least ``least`` and small enough for every database."""

    def read(given: str, context: Context) -> int:
        value = amounts.parse_count(given, field=_named(name), least=least)
        if value > 30_000:
            raise UnreadableCell(f"{_named(name)} “{_short(given)}” is more than 30000; check it.")
        return value

    return _column(
        name,
        meaning,
        example,
        read,
        lambda value, context: value,
        more,  # type: ignore[arg-type,return-value]
    )


def day(name: str, meaning: str, example: str, **more) -> Column:
    def read(given: str, context: Context) -> date:
        return read_day(given, field=_named(name))

    return _column(
        name, meaning, example, read, lambda value, context: value,  # type: ignore[arg-type,return-value]
        more,
    )  # fmt: skip


MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def read_day(given: str, *, field: str = "Date") -> date:
    """
    Return a date: ``2026-03-02``, or another writing that can mean one day only.

    >>> read_day("2 Mar 2026")
    datetime.date(2026, 3, 2)
    """
    hint = "write year-month-day, as 2026-03-31"
    plain_text = given.strip().lower().removesuffix("t00:00:00").removesuffix(" 00:00:00")
    if match := re.fullmatch(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})", plain_text):
        year, month, on = (int(part) for part in match.groups())
    elif match := re.fullmatch(r"([0-9]{1,2})[-/.]([0-9]{1,2})[-/.]([0-9]{4})", plain_text):
        first, second, year = (int(part) for part in match.groups())
        if first <= 12 and second <= 12 and first != second:
            raise UnreadableCell(
                f"{field} “{_short(given)}” could be {year}-{first:02}-{second:02} or "
                f"{year}-{second:02}-{first:02}; {hint}."
            )
        month, on = (second, first) if first > 12 else (first, second)
    elif match := re.fullmatch(r"([0-9]{1,2})[ -]([a-z]{3})[a-z]*\.?[ -]([0-9]{4})", plain_text):
        on, year = int(match[1]), int(match[3])
        month = MONTHS.index(match[2]) + 1 if match[2] in MONTHS else 0
    else:
        raise UnreadableCell(f"{field} “{_short(given)}” is not a date; {hint}.")
    if not 1980 <= year <= 2199:
        raise UnreadableCell(f"{field} “{_short(given)}” is in the year {year}; check it.")
    try:
        return date(year, month, on)
    except ValueError:
        raise UnreadableCell(
            f"{field} “{_short(given)}” is not a day of the calendar; {hint}."
        ) from None


# --- helpers -------------------------------------------------------------------------------------


def plain(value: Decimal) -> Decimal:
    """
    Return the same number without closing zeros and never in powers of ten.

    >>> plain(Decimal("2500.000")), plain(Decimal("1E+3"))
    (Decimal('2500'), Decimal('1000'))
    """
    shorter = value.normalize()
    return shorter.quantize(Decimal(1)) if shorter.as_tuple().exponent > 0 else shorter  # type: ignore[operator]


def _grams(mg: object, context: Context | None = None) -> Decimal | None:
    return None if mg is None else plain(Decimal(int(mg)).scaleb(-3))  # type: ignore[call-overload]


def _column(name, meaning, example, read, write, more) -> Column:
    return Column(name=name, meaning=meaning, example=example, read=read, write=write, **more)


def _cannot_be_shown(sign: str) -> bool:
    """Control characters and halves of characters, which neither databases nor XML can hold."""
    return sign != "\n" and (unicodedata.category(sign) in ("Cc", "Cs") or sign in "\ufffe\uffff")


def _named(name: str) -> str:
    return name[0].upper() + name[1:]


def _short(given: str) -> str:
    shown = "".join(sign if sign.isprintable() else "?" for sign in given)
    return shown if len(shown) <= 40 else f"{shown[:37]}..."


def _or(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
