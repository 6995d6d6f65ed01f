"""
A candle written down for its hazard class: a small TOML document, read with every fault named.

Two shapes. A flat list of what is in the whole candle::

    package_ml = 200
    [[ingredient]]
    name = "linalool"
    cas = "78-70-6"
    percent_of_whole = 0.45

or a formula: ``wax_g`` with a ``mass_g`` for each oil, or ``load`` and ``basis`` with a ``share``
for each, and in either the ingredients of each oil by its safety sheet::

    load = 7
    basis = "wax"
    [[oil]]
    name = "Quince blossom"
    share = 3
    [[oil.ingredient]]
    cas = "78-70-6"
    percent_of_oil = "5 - <10"

Whatever is in the mix besides wax and oils is an ``[[extra]]`` with ``mass_g`` or
``percent_of_wax``. The whole document is in docs/files.md. Numbers are read exactly.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

from pourwright.core.amounts.reading import shorten
from pourwright.core.errors import BadInput
from pourwright.core.formula import LoadOfWax, LoadOfWhole
from pourwright.core.hazard.model import (
    Composition,
    HazardClass,
    Ingredient,
    Mixture,
    Portion,
    Range,
    Route,
    mixture_of,
)
from pourwright.core.hazard.paths import Dose, Doses
from pourwright.core.hazard.reference import reference, substance
from pourwright.core.hazard.words import parse_class, parse_range

MOST_BYTES = 512 * 1024
MOST_INGREDIENTS = 2000
MOST_MATERIALS = 100
MOST_FAULTS = 100
LONGEST_NUMBER = 30

ROUTES = {
    "oral": Route.ORAL, "dermal": Route.DERMAL, "gas": Route.GAS, "vapour": Route.VAPOUR,
    "vapor": Route.VAPOUR, "dust": Route.DUST, "mist": Route.DUST,
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Something wrong in the document: where ("ingredient 2, cas"), and what to do."""

    place: str
    message: str

    def __str__(self) -> str:
        return f"{self.place}: {self.message}" if self.place else self.message


class BadHazardFile(BadInput):
    """The document cannot be read as a candle; ``faults`` has each reason, with its place."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(str(fault) for fault in self.faults[:3]) + self._more())

    def _more(self) -> str:
        more = len(self.faults) - 3
        return f" (and {more} more)" if more > 0 else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CandleFile:
    """
    What a document says.

    ``doses`` is None for a flat list, of which only the whole is known. ``notes`` are for the
    maker: what was taken for granted.
    """

    name: str
    package_ml: Fraction | None
    mixture: Mixture
    doses: Doses | None
    notes: tuple[str, ...] = ()


def read_candle(given: str | Path) -> CandleFile:
    """
    Return the candle of a document, given as its text or the path of its file.

    Raises ``BadHazardFile`` with every fault, each with its place.
    """
    text = _text_of(given) if isinstance(given, Path) else given
    if len(text.encode()) > MOST_BYTES:
        raise _whole(f"The document is over {MOST_BYTES // 1024} kB; it describes one candle.")
    faults: list[Fault] = []
    top = _Table(_parsed(text), "", faults)
    found = _read(top)
    top.done()
    if faults:
        raise BadHazardFile(faults)
    assert found is not None  # where nothing could be made there is a fault
    return found


def _text_of(path: Path) -> str:
    try:
        with open(path, "rb") as opened:
            data = opened.read(MOST_BYTES + 1)
    except OSError as problem:
        raise _whole(f"It cannot be read ({problem.strerror or problem}).") from problem
    if len(data) > MOST_BYTES:
        raise _whole(f"It is over {MOST_BYTES // 1024} kB; a document describes one candle.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise _whole(
            f"It is not text in UTF-8 (byte {problem.start + 1}); save it as UTF-8."
        ) from problem


def _whole(message: str) -> BadHazardFile:
    return BadHazardFile([Fault(place="", message=message)])


def _parsed(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text.replace("\r\n", "\n"), parse_float=_exact)
    except _NumberTooLong as problem:
        raise _whole(str(problem)) from problem
    except RecursionError as problem:
        raise _whole("It is nested too deep; a candle needs two levels.") from problem
    except ValueError as problem:  # TOMLDecodeError, and a whole number too long for Python
        raise _whole(
            f"It is not TOML: {_first_lower(str(problem))}. Text stands in quotation marks, a "
            "number with a point."
        ) from problem


class _NumberTooLong(ValueError):
    pass


def _exact(text: str) -> Fraction:
    """Read a decimal exactly; one that would fill the memory, or is none, is refused."""
    plain = text.replace("_", "").lower()
    digits, _, power = plain.partition("e")
    plain_form = re.fullmatch(r"[+-]?[0-9.]+", digits) and re.fullmatch(r"[+-]?[0-9]{0,2}", power)
    if len(plain) > LONGEST_NUMBER or not plain_form:
        raise _NumberTooLong(f'The number "{shorten(text)}" is not one that a candle has.')
    return Fraction(plain)


def _first_lower(text: str) -> str:
    return f"{text[:1].lower()}{text[1:]}"


# --- the document --------------------------------------------------------------------------------


def _read(top: _Table) -> CandleFile | None:
    name = top.text("name")
    package_ml = top.number("package_ml", above=Fraction(0), most=Fraction(1_000_000))
    budget = _Budget()
    if "oil" in top.raw or "wax_g" in top.raw:
        top.refuse(
            "ingredient", "an ingredient of a formula stands under its oil, [[oil.ingredient]]"
        )
        doses = _read_formula(top, budget)
        if doses is None:
            return None
        return CandleFile(
            name=name,
            package_ml=package_ml,
            mixture=_without_unlisted(doses),
            doses=doses,
            notes=tuple(budget.notes),
        )
    if "ingredient" not in top.raw:
        top.fault(
            "",
            "Nothing is in the candle; add an [[ingredient]] for each substance with its "
            "percent_of_whole, or wax_g and an [[oil]] for each oil.",
        )
        return None
    parts = _ingredients(top, "ingredient", "percent_of_whole", budget)
    if top.faults:
        return None
    whole = Composition(name=name or "the candle", ingredients=parts)
    mixture = mixture_of([Portion(composition=whole, pct_of_whole=Fraction(100))])
    # What a flat list does not name is wax and the like, not something held back.
    return CandleFile(
        name=name,
        package_ml=package_ml,
        mixture=replace(mixture, undisclosed_pct=Fraction(0)),
        doses=None,
        notes=tuple(budget.notes),
    )


def _without_unlisted(doses: Doses) -> Mixture:
    """Return the candle; a wax, or what has no list at all, holds nothing back of one."""
    undisclosed = sum(
        (
            portion.pct_of_whole * portion.composition.undisclosed_pct / 100
            for portion in doses.portions
            if portion.composition.ingredients
        ),
        Fraction(0),
    )
    return replace(doses.mixture, undisclosed_pct=undisclosed)


def _read_formula(top: _Table, budget: _Budget) -> Doses | None:
    wax_g = top.number("wax_g", above=Fraction(0), most=Fraction(10**9))
    load = top.number("load", least=Fraction(0), most=Fraction(100))
    basis = top.text("basis")
    oils = [_material(table, "oil", budget) for table in top.tables("oil", MOST_MATERIALS)]
    extras = [_material(table, "extra", budget) for table in top.tables("extra", MOST_MATERIALS)]
    by_share = "load" in top.raw or any("share" in table.raw for table, _ in oils)
    _check_shape(top, by_share=by_share, oils=[table for table, _ in oils])
    extra_doses = [(composition, _extra_dose(table, wax_g)) for table, composition in extras]
    amount, most = ("share" if by_share else "mass_g"), Fraction(10**9)
    amounts = [table.number(amount, needed=True, least=Fraction(0), most=most) for table, _ in oils]
    for table, _ in (*oils, *extras):
        table.done()
    total = sum((found for found in amounts if found is not None), Fraction(0))
    if by_share:
        extras_pct = sum((pct for _, pct in extra_doses if pct is not None), Fraction(0))
        load_pct = _load_of_wax(top, load, basis, extras_pct)
        if not total and not top.faults:
            top.fault("oil", "the shares of the oils come to nothing; give at least one a share.")
        factor = None if load_pct is None or not total else load_pct / total
    else:
        factor = None if wax_g is None else 100 / wax_g
    if top.faults or factor is None:
        return None
    oil_doses = [
        (composition, factor * found)
        for (_, composition), found in zip(oils, amounts, strict=True)
        if found is not None
    ]
    return Doses(
        waxes=(Dose(composition=Composition(name="wax"), pct_of_wax=Fraction(100)),),
        oils=tuple(Dose(composition=part, pct_of_wax=pct) for part, pct in oil_doses),
        extras=tuple(
            Dose(composition=part, pct_of_wax=pct) for part, pct in extra_doses if pct is not None
        ),
    )


def _check_shape(top: _Table, *, by_share: bool, oils: list[_Table]) -> None:
    """Say what lacks, or does not go together, in the two ways to write a formula."""
    if not oils and not top.faults:
        top.fault("oil", "there is no oil; add an [[oil]] for each, with its ingredients.")
    if by_share:
        for key, why in (
            ("load", "shares need the load that they share; add load = 7, for example"),
            ("basis", 'the load needs its basis; add basis = "wax" or basis = "whole"'),
        ):
            if key not in top.raw:
                top.fault(key, f"{why}.")
        for table in oils:
            table.refuse("mass_g", "an oil has a share where there is a load, or a mass, not both")
    else:
        if "wax_g" not in top.raw and oils:
            top.fault("wax_g", "an oil's mass_g needs the wax that it goes into; add wax_g.")
        top.refuse("basis", "the basis goes with load; with masses it is not needed")


def _load_of_wax(
    top: _Table, load: Fraction | None, basis: str, extras_pct: Fraction
) -> Fraction | None:
    if load is None or not basis:
        return None
    try:
        if basis in ("wax", "of the wax"):
            return LoadOfWax(load).pct_of_wax
        if basis in ("whole", "of the whole"):
            return LoadOfWhole(load).of_wax(extras_pct_of_wax=extras_pct).pct_of_wax
    except BadInput as problem:
        top.fault("load", str(problem))
        return None
    top.fault("basis", f'"{shorten(basis)}" is no basis; write "wax" or "whole".')
    return None


def _extra_dose(table: _Table, wax_g: Fraction | None) -> Fraction | None:
    if ("mass_g" in table.raw) == ("percent_of_wax" in table.raw):
        table.fault("", "give what it comes to: mass_g, or percent_of_wax, one of them.")
    mass_g = table.number("mass_g", least=Fraction(0), most=Fraction(10**9))
    pct = table.number("percent_of_wax", least=Fraction(0), most=Fraction(100))
    if mass_g is None:
        return pct
    if wax_g is None:
        table.fault("mass_g", "a mass needs the wax beside it; add wax_g at the top.")
        return None
    return 100 * mass_g / wax_g


class _Budget:
    """How many ingredients may still come, and what to tell the maker."""

    def __init__(self) -> None:
        self.left = MOST_INGREDIENTS
        self.notes: list[str] = []


def _material(table: _Table, what: str, budget: _Budget) -> tuple[_Table, Composition]:
    """Return a material of the formula, and its table to read how much of it there is."""
    name = table.text("name")
    table.place = f"{table.place} ({shorten(name)})" if name else table.place
    name = name or table.place
    if "ingredient" not in table.raw:
        budget.notes.append(f"Nothing is listed in {name}: it is taken to bring nothing.")
    parts = _ingredients(table, "ingredient", f"percent_of_{what}", budget)
    made = Composition(
        name=name,
        ingredients=parts,
        unknown_acute_pct=table.by_route("unknown_acute_pct", most=Fraction(100)),
        flash_point_c=table.number("flash_point_c", least=Fraction(-273), most=Fraction(1000)),
        density_g_ml=table.number("density_g_ml", above=Fraction(0), most=Fraction(20)),
        sheet_date=table.day("sheet_date"),
        revision=table.text("revision"),
    )
    return table, made


# --- ingredients ---------------------------------------------------------------------------------


def _ingredients(
    table: _Table, key: str, share_key: str, budget: _Budget
) -> tuple[Ingredient, ...]:
    rows = table.tables(key, MOST_INGREDIENTS)
    budget.left -= len(rows)
    if budget.left < 0:
        table.fault(key, f"there are more than {MOST_INGREDIENTS} ingredients in all.")
        return ()
    found = []
    for row in rows:
        made = _ingredient(row, share_key, budget)
        if made is not None:
            found.append(made)
    least = sum((_least(part.pct) for part in found), Fraction(0))
    if least > 100:
        table.fault(
            key,
            f"the ingredients come to at least {float(least):g} %; all are 100 % at most.",
        )
    return tuple(found)


def _least(share: Range) -> Fraction:
    """The lower end; a plain number is its own."""
    return share.high if share.low is None else share.low


def _ingredient(row: _Table, share_key: str, budget: _Budget) -> Ingredient | None:
    before = len(row.faults)
    name, cas = row.text("name"), row.text("cas")
    row.place = f"{row.place} ({shorten(name or cas)})" if name or cas else row.place
    share = row.share(share_key)
    classes = row.classes()
    ate = row.by_route("ate", above=Fraction(0), most=Fraction(10**9))
    limits = row.specific_limits()
    unknown_acute, unknown_aquatic = row.unknown()
    m_acute = row.number("m_acute", least=Fraction(1), most=Fraction(10**9))
    m_chronic = row.number("m_chronic", least=Fraction(1), most=Fraction(10**9))
    non_additive = row.yes("non_additive")
    row.done()
    if not name and not cas:
        row.fault("", "it needs a name or a CAS number.")
    if len(row.faults) > before or share is None:
        return None
    if not cas:
        cas = _cas_by_name(name, budget)
    try:
        made = substance(
            cas,
            name=name,
            classes=classes,
            m_acute=m_acute,
            m_chronic=m_chronic,
            ate=ate,
            specific_limits=limits,
            non_additive=non_additive,
            unknown_acute=unknown_acute,
            unknown_aquatic=unknown_aquatic,
            source="the document",
        )
    except BadInput as problem:
        row.fault("cas", str(problem))
        return None
    return Ingredient(substance=made, pct=share)


def _cas_by_name(name: str, budget: _Budget) -> str:
    """Return the CAS number of a substance of the reference table that is only named."""
    for cas, known in reference().items():
        if known.name.casefold() == name.casefold():
            budget.notes.append(f"{name} was taken for CAS {cas}, by its name; check that.")
            return cas
    return ""


# --- one table of the document -------------------------------------------------------------------


class _Table:
    """A table of the document that notes its faults and which keys were looked at."""

    def __init__(self, raw: Mapping[str, Any], place: str, faults: list[Fault]) -> None:
        self.raw, self.place, self.faults = raw, place, faults
        self._seen: set[str] = set()

    def fault(self, key: str, message: str) -> None:
        if len(self.faults) < MOST_FAULTS:
            place = ", ".join(part for part in (self.place, key) if part)
            self.faults.append(Fault(place=place, message=message))

    def done(self) -> None:
        """Note every key that nobody asked for."""
        for key in self.raw:
            if key in self._seen:
                continue
            close = difflib.get_close_matches(key.casefold(), sorted(self._seen), n=1, cutoff=0.6)
            known = f'did you mean "{close[0]}"?' if close else f"known here: {self._known()}."
            self.fault("", f'"{shorten(key)}" is no key of it; {known}')

    def _known(self) -> str:
        return ", ".join(sorted(self._seen))

    def refuse(self, key: str, why: str) -> None:
        self._seen.add(key)
        if key in self.raw:
            self.fault(key, f"{why}.")

    def _value(self, key: str) -> Any:
        self._seen.add(key)
        return self.raw.get(key)

    def text(self, key: str) -> str:
        value = self._value(key)
        if value is None:
            return ""
        if not isinstance(value, str) or len(value) > 200:
            self.fault(key, f"{_shown(value)} is not text of up to 200 letters in quotation marks.")
            return ""
        return " ".join("".join(sign if sign.isprintable() else " " for sign in value).split())

    def yes(self, key: str) -> bool | None:
        value = self._value(key)
        if value is None or isinstance(value, bool):
            return value
        self.fault(key, f"{_shown(value)} is neither true nor false.")
        return None

    def day(self, key: str) -> date | None:
        value = self._value(key)
        if value is None:
            return None
        if isinstance(value, date) and not isinstance(value, datetime):
            return value
        self.fault(key, f"{_shown(value)} is no day; write it as {key} = 2026-03-31.")
        return None

    def number(
        self,
        key: str,
        *,
        needed: bool = False,
        above: Fraction | None = None,
        least: Fraction | None = None,
        most: Fraction | None = None,
    ) -> Fraction | None:
        value = self._value(key)
        if value is None:
            if needed:
                self.fault(key, "it is not there; add it.")
            return None
        return self._checked(key, value, above=above, least=least, most=most)

    def _checked(
        self,
        key: str,
        value: Any,
        *,
        above: Fraction | None = None,
        least: Fraction | None = None,
        most: Fraction | None = None,
    ) -> Fraction | None:
        number = _number(value)
        if number is None:
            self.fault(key, f"{_shown(value)} is no number; write it without quotation marks.")
            return None
        if above is not None and number <= above:
            self.fault(key, f"{_shown(value)} does not fit; it is more than {float(above):g}.")
            return None
        if (least is not None and number < least) or (most is not None and number > most):
            bounds = " and ".join(
                text
                for text in (
                    f"at least {float(least):g}" if least is not None else "",
                    f"at most {float(most):g}" if most is not None else "",
                )
                if text
            )
            self.fault(key, f"{_shown(value)} does not fit; it is {bounds}.")
            return None
        return number

    def share(self, key: str) -> Range | None:
        value = self._value(key)
        if value is None:
            self.fault(key, 'it is not there; write for example 0.5 or "5 - <10".')
            return None
        try:
            if isinstance(value, str):
                return parse_range(value)
            number = _number(value)
            if number is None:
                raise BadShare(f'{_shown(value)} is no share; write for example 0.5 or "5 - <10".')
            if not 0 <= number <= 100:
                raise BadShare(f"{_shown(value)} % does not fit; it lies between 0 and 100 %.")
            return Range(high=number)
        except BadInput as problem:
            self.fault(key, str(problem))
            return None

    def classes(self) -> list[tuple[HazardClass, bool]]:
        value = self._value("classes")
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(text, str) for text in value):
            self.fault("classes", 'it is a list of texts, such as ["Skin Sens 1B", "Chronic 2"].')
            return []
        found = []
        for text in value[:40]:
            try:
                found.append(parse_class(text))
            except BadInput as problem:
                self.fault("classes", str(problem))
        return found

    def specific_limits(self) -> dict[HazardClass, Fraction]:
        found: dict[HazardClass, Fraction] = {}

        def keep(name: str, number: Fraction) -> None:
            found[parse_class(name)[0]] = number

        self._each("specific_limits", keep, '{ "Skin Sens 1A" = 0.01 }', most=Fraction(100))
        return found

    def by_route(
        self, key: str, *, above: Fraction | None = None, most: Fraction | None = None
    ) -> dict[Route, Fraction]:
        found: dict[Route, Fraction] = {}

        def keep(name: str, number: Fraction) -> None:
            found[_route(name)] = number

        self._each(key, keep, "{ oral = 1450 }", above=above, most=most)
        return found

    def _each(
        self,
        key: str,
        keep: Callable[[str, Fraction], None],
        example: str,
        *,
        above: Fraction | None = None,
        most: Fraction | None = None,
    ) -> None:
        value = self._value(key)
        if value is None:
            return
        if not isinstance(value, dict):
            self.fault(key, f"{_shown(value)} is no table; write for example {key} = {example}.")
            return
        for name, given in value.items():
            number = self._checked(key, given, above=above, least=Fraction(0), most=most)
            try:
                if number is not None:
                    keep(name, number)
            except BadInput as problem:
                self.fault(key, str(problem))

    def unknown(self) -> tuple[frozenset[Route], bool]:
        """Return the routes of unknown toxicity, and whether the aquatic hazard is unknown."""
        value = self._value("unknown")
        if value is None or value is False:
            return frozenset(), False
        if value is True:
            return frozenset((Route.ORAL, Route.DERMAL, Route.VAPOUR, Route.DUST)), True
        if not isinstance(value, list) or not all(isinstance(text, str) for text in value):
            self.fault("unknown", 'it is true, or a list such as ["oral", "aquatic"].')
            return frozenset(), False
        routes = set()
        for text in value:
            if text == "aquatic":
                continue
            try:
                routes.add(_route(text))
            except BadInput as problem:
                self.fault("unknown", str(problem))
        return frozenset(routes), "aquatic" in value

    def tables(self, key: str, most: int) -> list[_Table]:
        value = self._value(key)
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
            self.fault(key, f"it is written with a head of its own for each, [[{key}]].")
            return []
        if len(value) > most:
            self.fault(key, f"there are {len(value)}; at most {most} are read.")
            return []
        place = f"{self.place}, " if self.place else ""
        return [
            _Table(row, f"{place}{key} {count}", self.faults)
            for count, row in enumerate(value, start=1)
        ]


class BadShare(BadInput):
    """A number that is no percentage."""


class UnknownRoute(BadInput):
    """A word that is no way into the body."""


def _route(text: str) -> Route:
    found = ROUTES.get(text.strip().casefold())
    if found is None:
        raise UnknownRoute(
            f'"{shorten(text)}" is no route; write oral, dermal, gas, vapour or dust.'
        )
    return found


def _number(value: Any) -> Fraction | None:
    if isinstance(value, bool) or not isinstance(value, int | Fraction):
        return None
    return Fraction(value)


def _shown(value: Any) -> str:
    if isinstance(value, str):
        return f'"{shorten(value)}"'
    if isinstance(value, Fraction):
        return f"{float(value):g}"
    return shorten(str(value))
