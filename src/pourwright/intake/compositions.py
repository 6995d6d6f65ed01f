"""
The parts of a composition as text: one reader and one writer a part, for forms, files and pastes.

A share is read as a sheet writes it ("5 - <10 %"), classes by their names or statements, specific
limits and acute toxicity estimates one a line. Readers raise ``BadInput`` in the maker's words.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from fractions import Fraction

from pourwright.core.errors import BadInput
from pourwright.core.hazard.model import HazardClass, Range, Route
from pourwright.core.hazard.reference import check_cas
from pourwright.core.hazard.words import parse_class, parse_range, write_class
from pourwright.intake.columns import Cell, Column, Context

LONGEST_NAME = 300
LONGEST_CLASSES = 1000
_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d+)?")
_BELONGS = re.compile(
    r"\(?(?:(?:EUH|H) ?\d{3}[FDfdi]{0,2}|oral|dermal|skin|inhalation|gas|vapours?|dust|mist)\)?",
    re.IGNORECASE,
)
# How routes are named on sheets; the unit of each is the record's (mg/kg, ppm, mg/l).
ROUTES = {
    "oral": Route.ORAL, "dermal": Route.DERMAL, "skin": Route.DERMAL, "gas": Route.GAS,
    "vapour": Route.VAPOUR, "vapor": Route.VAPOUR, "vapours": Route.VAPOUR, "dust": Route.DUST,
    "mist": Route.DUST, "dust/mist": Route.DUST, "dusts": Route.DUST,
}  # fmt: skip


class Unreadable(BadInput):
    """A part of a row that cannot be read."""


# --- one reader a part ---------------------------------------------------------------------------


def read_name(text: str) -> str:
    name = " ".join(text.split())
    if not name:
        raise Unreadable("A substance needs its name; write it as the sheet does.")
    if len(name) > LONGEST_NAME:
        raise Unreadable(f"The name has {len(name)} letters; {LONGEST_NAME} are kept. Shorten it.")
    return name


def read_cas(text: str) -> str:
    return check_cas(text) if text.strip() else ""


def read_share(text: str) -> Range:
    if not text.strip():
        raise Unreadable("Its share is missing; write it as the sheet does, such as “5 - <10 %”.")
    return parse_range(text)


def read_classes(text: str) -> tuple[tuple[HazardClass, bool], ...]:
    """
    Return the classes of a list, one a line or with commas or semicolons between.

    A statement behind its class ("Acute Tox. 4, H302 oral") belongs to it; "none" is no class.
    """
    if len(text) > LONGEST_CLASSES:
        raise Unreadable(f"The classes take {len(text)} letters; {LONGEST_CLASSES} are kept.")
    found: list[tuple[HazardClass, bool]] = []
    for line in text.splitlines():
        for one in _classes_in(line.strip(" .;,")):
            if one not in found:
                found.append(one)
    return tuple(found)


NO_CLASS = {"", "-", "–", "none", "not classified", "no class", "n/a"}


def _classes_in(line: str) -> list[tuple[HazardClass, bool]]:
    if line.casefold() in NO_CLASS:
        return []
    words: list[str] = []
    for piece in (piece.strip() for piece in re.split(r"[;,]", line)):
        # A statement or a route alone belongs to the class before it.
        if words and _BELONGS.fullmatch(piece):
            words[-1] = f"{words[-1]} {piece}"
        elif piece:
            words.append(piece)
    return [parse_class(word) for word in words]


def read_m(text: str) -> Fraction | None:
    """Read an M-factor: 1, 10, 100 and so on; "M = 10" too."""
    if not text.strip():
        return None
    bare = re.sub(r"^\s*M\s*[=:]?\s*", "", text, flags=re.IGNORECASE).strip()
    value = _number(bare, "An M-factor", "10")
    if value < 1 or value > 1_000_000_000:
        raise Unreadable(f"An M-factor of {bare} does not exist; it is 1, 10, 100 and so on.")
    return value


def read_limits(text: str) -> dict[HazardClass, Fraction]:
    """Read specific limits, one a line: a class and a percentage, such as "Skin Sens 1A 0.01"."""
    found: dict[HazardClass, Fraction] = {}
    for line in _lines(text):
        hazard, value = _class_and_number(line)
        if not 0 < value <= 100:
            raise Unreadable(f"“{line[:40]}”: a limit lies above 0 and up to 100 %.")
        found[hazard] = value
    return found


def _class_and_number(line: str) -> tuple[HazardClass, Fraction]:
    numbers = list(_NUMBER.finditer(line))
    # "Skin Sens 1A: C ≥ 0.01 %" ends with its number; "0.01 %: Skin Sens 1A" begins with it.
    for match in (*reversed(numbers), *numbers):
        rest = f"{line[: match.start()]} {line[match.end() :]}"
        rest = re.sub(r"[≥>=:%]|\bC\b|\bSCL\b", " ", rest, flags=re.IGNORECASE).strip(" ,;-–")
        try:
            hazard, _ = parse_class(" ".join(rest.split()))
        except BadInput:
            continue
        return hazard, _number(match[0], "A limit", "0.01")
    raise Unreadable(
        f"“{line[:40]}” is not a class and its limit; write for example “Skin Sens 1A 0.01”."
    )


def read_ate(text: str) -> dict[Route, Fraction]:
    """Read acute toxicity estimates, one a line: a route and a value, such as "oral 1200"."""
    found: dict[Route, Fraction] = {}
    for line in _lines(text):
        bare = re.sub(r"mg\s*/\s*(?:kg|l)\b|ppm\s*v?\b", " ", line, flags=re.IGNORECASE)
        word = re.sub(r"[^a-z/]+", " ", re.sub(r"\bATE\b", "", bare, flags=re.I).casefold())
        route = next((ROUTES[one] for one in word.split() if one in ROUTES), None)
        match = _NUMBER.search(bare)
        if route is None or match is None:
            raise Unreadable(
                f"“{line[:40]}” is not a route and an estimate; write for example “oral 1200”, "
                "“dermal 1100”, “vapour 3” (mg/kg, mg/kg, mg/l) or “gas 700” (ppm)."
            )
        value = _number(match[0], "An estimate", "1200")
        if value <= 0:
            raise Unreadable(f"“{line[:40]}”: an estimate is above nothing.")
        found[route] = value
    return found


def _lines(text: str) -> list[str]:
    return [line.strip() for line in re.split(r"\n|;(?! ?E?U?H\d)|,(?!\d)", text) if line.strip()]


def _number(text: str, what: str, example: str) -> Fraction:
    match = _NUMBER.fullmatch(text.strip())
    if match is None or len(text) > 15:
        raise Unreadable(f"{what} is “{text[:30]}”; write a number such as {example}.")
    return Fraction(match[0].replace(",", "."))


# --- written out ---------------------------------------------------------------------------------


def class_lines(classes: Iterable[tuple[HazardClass, bool]]) -> str:
    return "\n".join(write_class(hazard, minimum=minimum) for hazard, minimum in classes)


def exact_words(value: Fraction) -> str:
    """Return an exact decimal as text; what is none is shown to seven places."""
    scaled = round(value * 10**7)
    whole, rest = divmod(scaled, 10**7)
    return f"{whole}.{rest:07d}".rstrip("0").rstrip(".")


def share_words(pct: Range) -> str:
    """
    Return a share as a person would type it, read back as the same.

    >>> share_words(Range(low=Fraction(5), high=Fraction(10), open_above=True))
    '5 - <10'
    """
    high = f"{'<' if pct.open_above else ''}{exact_words(pct.high)}"
    return high if pct.low is None else f"{exact_words(pct.low)} - {high}"


def limit_lines(limits: Mapping[HazardClass, Fraction]) -> str:
    return "\n".join(f"{write_class(hazard)} {exact_words(pct)}" for hazard, pct in limits.items())


def estimate_lines(ate: Mapping[Route, Fraction]) -> str:
    return "\n".join(f"{route.value} {exact_words(value)}" for route, value in ate.items())


# --- columns of files ----------------------------------------------------------------------------


def read_routes(text: str) -> frozenset[Route]:
    """Read the routes without data, commas between: "oral, vapour"."""
    words = [word for word in re.split(r"[,;\s]+", text.casefold()) if word]
    if unknown := [word for word in words if word not in ROUTES]:
        known = ", ".join(route.value for route in Route)
        raise Unreadable(f"“{unknown[0][:30]}” is no route; write of {known}, comma between.")
    return frozenset(ROUTES[word] for word in words)


def part(
    name: str,
    meaning: str,
    example: str,
    reader: Callable[[str], object],
    writer: Callable[..., str],
    **more,
) -> Column:
    """A column of a file that holds a part of a composition."""

    def read(given: str, context: Context) -> object:
        return reader(given)

    def write(value: object, context: Context) -> Cell:
        return writer(value).replace("\n", "; ") or None

    return Column(name=name, meaning=meaning, example=example, read=read, write=write, **more)


def routes_words(routes: Iterable[Route]) -> str:
    return ", ".join(sorted(routes))
