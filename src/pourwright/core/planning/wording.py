"""Days, hours and amounts as a maker reads them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_words(on: dt.date) -> str:
    """
    Return a day in words.

    >>> day_words(dt.date(2027, 3, 6))
    'Sat 6 Mar'
    """
    return f"{_DAYS[on.weekday()]} {on.day} {_MONTHS[on.month - 1]}"


def clock_words(seconds: int) -> str:
    """
    Return a time of day, rounded down to the minute.

    >>> clock_words(18 * 3600 + 5 * 60)
    '18:05'
    """
    return f"{seconds // 3600:02}:{seconds // 60 % 60:02}"


def session_words(on: dt.date, start_s: int, name: str = "") -> str:
    """
    Return a session in words: its day, and its name or when it begins.

    >>> session_words(dt.date(2027, 3, 6), 9 * 3600)
    'Sat 6 Mar 09:00'
    """
    return f"{day_words(on)} {name or clock_words(start_s)}"


def minutes_words(seconds: int) -> str:
    """
    Return a duration, rounded up to the minute.

    >>> minutes_words(61)
    '2 minutes'
    """
    minutes = -(-seconds // 60)
    return f"{minutes} minute" if minutes == 1 else f"{minutes} minutes"


def amount_words(amount: int, unit: str) -> str:
    """
    Return an amount of a material: grams where it is weighed, pieces otherwise; rounded up.

    >>> amount_words(1_250_400, "mg")
    '1251 g'
    """
    if unit == "mg":
        return f"{-(-amount // 1000)} g"
    return f"{amount} piece" if amount == 1 else f"{amount} pieces"


def units_words(count: int) -> str:
    """
    Return a count of candles.

    >>> units_words(1)
    '1 unit'
    """
    return f"{count} unit" if count == 1 else f"{count} units"


def span_words(seconds: int) -> str:
    """
    Return a stretch of time, rounded up to the minute; from two hours on with its hours.

    >>> span_words(29 * 60), span_words(195 * 60), span_words(10_800)
    ('29 minutes', '3 h 15 min', '3 h')
    """
    minutes = -(-seconds // 60)
    if minutes < 120:
        return minutes_words(seconds)
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def names_words(names: Sequence[str], *, most: int = 2) -> str:
    """
    Return names, each once, in the order given; beyond so many only how many more.

    >>> names_words(["Quay market", "order 31", "Quay market"])
    'Quay market and order 31'
    >>> names_words(["a", "b", "c", "d"])
    'a, b and 2 more'
    """
    once = list(dict.fromkeys(names))
    if len(once) > most:
        return f"{', '.join(once[:most])} and {len(once) - most} more"
    return " and ".join([", ".join(once[:-1]), once[-1]] if len(once) > 1 else once)


def capital(words: str) -> str:
    """
    Return words with their first letter large, and nothing else changed.

    >>> capital("oil of Scent 1")
    'Oil of Scent 1'
    """
    return words[:1].upper() + words[1:]
