"""
What the pages show of hazard: the label as it would stand, how far it is from changing, and why.

``Panel`` is the one record that templates read. Nothing is decided here: classes and elements come
from the core, what a candle is made of from the confirmed compositions, and what is not confirmed
is named and left out, never guessed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from pourwright.core.amounts import number
from pourwright.core.errors import BadInput
from pourwright.core.hazard.assess import Assessment, assess
from pourwright.core.hazard.classify import Classification
from pourwright.core.hazard.code_limits import CodeLimits, CodeOil, code_limits
from pourwright.core.hazard.elements import Judge
from pourwright.core.hazard.headroom import (
    GOALS,
    Breakpoint,
    Ceiling,
    Goal,
    Headroom,
    Headrooms,
    headrooms,
    highest_keeping,
    keeping,
    rounded_down,
)
from pourwright.core.hazard.identifier import BadIdentifier
from pourwright.core.hazard.identifier import make as make_identifier
from pourwright.core.hazard.label import LabelElements, Named, Statement
from pourwright.core.hazard.model import Composition, Market, Presence
from pourwright.core.hazard.nearest import NearestShares, nearest_shares
from pourwright.core.hazard.paths import Dose, Doses
from pourwright.core.hazard.signs import sign_of
from pourwright.core.hazard.trace import Step
from pourwright.core.hazard.us import UsAssessment, assess_us
from pourwright.papers.headroom_bar import Row as BarRow
from pourwright.papers.headroom_bar import headroom_bar_svg, headroom_rows
from pourwright.papers.pictograms import NAMES as PICTOGRAM_NAMES
from pourwright.papers.pictograms import pictogram_svg
from pourwright.workshop.formulas import identifiers
from pourwright.workshop.formulas import services as formulas
from pourwright.workshop.formulas.models import Formulation
from pourwright.workshop.formulas.services import Recipe
from pourwright.workshop.hazard.of_designs import market_named
from pourwright.workshop.hazard.services import Whole, compositions_for, whole_of
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.stores.models import Item

MARKET_NAMES = {
    Market.EU: "EU, Northern Ireland",
    Market.GB: "Great Britain",
    Market.US: "United States",
    Market.UN: "UN model",
}
# The bar beside a page's other column, beside a form, and on a phone.
BAR_WIDE_PX, BAR_BESIDE_PX, BAR_NARROW_PX = 600, 400, 318
# What a maker asks of a label, in the order in which it matters on a shelf.
ASKED = ("no class", "no pictogram", "no H317", "no environmental statement")
# EUH208 goes where H317 comes, and its names stay: what is asked is whether any is named.
NO_NAMES = Goal(
    key="no names",
    words="without a named substance",
    unwanted=lambda element: element.kind == "name" or element.code == "EUH208",
)
# Precautions and classes change with the statements; told apart they would only repeat them.
TOLD = ("ban", "signal word", "pictogram", "statement", "supplemental", "name", "identifier")
PLACES = 2
# Up to so many substances the nearest shares come back before a hand leaves the slider.
MOST_LIVE = 100


# --- markets -------------------------------------------------------------------------------------


def markets_offered(names: Sequence[str]) -> list[Market]:
    """Return where a candle is sold, as far as rules are known here, and the UN's model last."""
    sold = [market for market in map(market_named, names) if market]
    return list(dict.fromkeys([*sold, Market.UN]))


def market_asked(asked: str | None, offered: Sequence[Market]) -> Market:
    """Return the market that an address or a form asks for, else the first that is sold in."""
    chosen = market_named(asked or "")
    return chosen if chosen in offered else offered[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tab:
    """A market to choose."""

    market: Market
    name: str
    current: bool


def tabs(markets: Sequence[str], asked: str | None) -> tuple[Tab, ...]:
    """Return the markets to choose from, the one asked for marked."""
    offered = markets_offered(markets)
    current = market_asked(asked, offered)
    return tuple(Tab(market=one, name=MARKET_NAMES[one], current=one is current) for one in offered)


# --- the panel -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    text: str
    rule: str = ""
    status: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """An element of the label with its reasons; ``because`` says what drives it."""

    key: str
    title: str
    reasons: tuple[Reason, ...]
    because: str = ""
    kind: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep:
    """The highest load at which the label stays free of something; None: at no load."""

    words: str
    of_wax: str | None
    of_whole: str | None
    met_now: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """Where an oil's dose next changes the label, in % of the wax, and what comes and goes."""

    at: str
    comes: tuple[str, ...]
    goes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OilRow:
    """One oil with the others held. Doses in % of the wax; ``to`` is how far was looked."""

    item: Item
    known: bool
    now: str
    less: Turn | None
    more: Turn | None
    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearest:
    """The nearest shares with which the label stays free of something, beside the present ones."""

    words: str
    gained: tuple[str, ...]
    proven: bool
    shares: tuple[tuple[Item, Fraction, Fraction], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bars:
    """The headroom bar for a desk and for a phone: text is drawn at its true size."""

    wide: str
    narrow: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """
    Everything that a page shows of one recipe in one market on a day.

    ``whole.gaps`` are materials that nothing is known of; what is shown leaves them out.
    ``problem`` says why nothing can be shown, ``ufi`` is the identifier where one has been made,
    ``trace_at`` the address of the page with every decision. ``prefix`` begins every id.
    """

    prefix: str
    market: Market
    name: str
    tabs: tuple[Tab, ...]
    on: date
    whole: Whole
    problem: str = ""
    us: UsAssessment | None = None
    assessment: Assessment | None = None
    signs: tuple[str, ...] = ()
    whys: tuple[Why, ...] = ()
    why_else: tuple[Why, ...] = ()
    load: Headroom | None = None
    bars: Bars | None = None
    rows: tuple[BarRow, ...] = ()
    keeps: tuple[Keep, ...] = ()
    oils: tuple[OilRow, ...] = ()
    nearest: tuple[Nearest, ...] = ()
    nearest_later: bool = False
    ufi: str = ""
    trace_at: str = ""

    @property
    def label(self) -> LabelElements | None:
        return self.assessment.label if self.assessment else None

    @property
    def classification(self) -> Classification | None:
        return self.assessment.classification if self.assessment else None

    @property
    def why_else_title(self) -> str:
        """What the last fold of reasons is about."""
        kinds = [why.kind for why in self.why_else]
        return _and(list(dict.fromkeys(kinds))).capitalize()

    @property
    def bare(self) -> bool:
        """Whether nothing of hazard stands on the label."""
        label = self.label
        return label is not None and not any(
            (label.pictograms, label.signal_word, label.hazard_statements, label.supplemental)
        )

    @property
    def warnings(self) -> tuple[str, ...]:
        found = self.us or self.classification
        taken = [item.name for item in self.whole.waxes_taken]
        are, them = ("is", "it") if len(taken) == 1 else ("are", "them")
        waxes = [
            f"{_and(taken)} {are} taken as harmless: no composition of {them} is on record."
        ] if taken else []  # fmt: skip
        return (*(found.warnings if found else ()), *waxes)

    @property
    def steps(self) -> list[Step]:
        """Every decision, those that were reached first."""
        trace = self.classification.trace if self.classification else ()
        return sorted(trace, key=lambda step: (not step.met, step.sum is None))

    @property
    def present(self) -> list[Presence]:
        """What the candle holds, the most first."""
        return sorted(self.whole.mixture.present, key=lambda one: -one.pct_of_whole)

    @property
    def advice(self) -> str:
        found = self.us or self.label
        return found.advice if found else ""


def panel_of(
    recipe: Recipe,
    *,
    markets: Sequence[str],
    asked: str | None,
    on: date,
    package_ml: Fraction | None = None,
    compositions: Mapping[int, Composition] | None = None,
    deep: bool = True,
    prefix: str = "hazard",
    bar_px: int = BAR_WIDE_PX,
    live: bool = False,
) -> Panel:
    """
    Return the panel of a recipe, saved or as a form has it so far.

    ``asked`` is the market wanted, of those sold in (``markets``) and the UN's model. ``deep``
    adds the headroom, its bar ``bar_px`` wide on a desk; without it only the class and the label
    are worked out. ``live``: asked at every move of a slider, so what takes long is left for later.
    """
    market = market_asked(asked, markets_offered(markets))
    if compositions is None:
        compositions = compositions_for(item for item, _ in materials(recipe))
    whole = whole_of(recipe, compositions=compositions)
    panel = Panel(
        prefix=prefix, market=market, name=MARKET_NAMES[market], on=on, whole=whole,
        tabs=tabs(markets, asked),
    )  # fmt: skip
    try:
        if market is Market.US:
            return replace(panel, us=assess_us(whole.mixture, on))
        assessment = assess(whole.mixture, market=market, on=on, package_ml=package_ml)
    except BadInput as problem:
        return replace(panel, problem=str(problem))
    panel = replace(panel, assessment=assessment, signs=_signs(assessment.label, prefix))
    if deep and any(recipe.oils) and formulas.formula_of(recipe).load_pct_of_wax:
        # A load that cannot be walked, such as one beyond the wax itself, still has its label.
        with suppress(BadInput):
            panel = _with_headroom(
                panel, recipe, compositions, package_ml=package_ml, bar_px=bar_px, live=live
            )
    return replace(
        panel,
        whys=tuple(_whys(assessment.label, _causes(assessment.classification))),
        why_else=tuple(_why_else(assessment.label)),
    )


def materials(recipe: Recipe):
    """Return everything that goes into the melt: oils first, then dye and additives, then waxes."""
    return (*recipe.oils, *recipe.extras, *recipe.waxes)


def _signs(label: LabelElements, prefix: str) -> tuple[str, ...]:
    return tuple(
        str(pictogram_svg(code, prefix=f"{prefix}-{code.lower()}"))
        for code in map(str, label.pictograms)
    )


# --- why -----------------------------------------------------------------------------------------


def _causes(found: Classification) -> dict[str, str]:
    """Return by statement what brings it: the foremost ingredient and what it came with."""
    causes: dict[str, str] = {}
    for classed in found.classes:
        code = sign_of(classed.hazard, on=found.on).code
        if not classed.because or code in causes:
            continue
        first = classed.because[0]
        pct = number(first.pct, places=4, strip=True)
        sources = _and([name for name, _ in first.presence.parts])
        more = len(classed.because) - 1
        others = f" and {more} more" if more else ""
        causes[code] = (
            f"{first.presence.substance.name} {pct} % of the candle, from {sources}{others}"
        )
    return causes


def _whys(label: LabelElements, causes: Mapping[str, str]) -> Iterator[Why]:
    for statement in label.hazard_statements:
        title = f"{statement.code} {statement.text}"
        yield _why(statement.code, title, statement, causes.get(statement.code, ""))
    for statement in label.supplemental:
        yield _why(statement.code, f"{statement.code} {statement.text}", statement)


def _why_else(label: LabelElements) -> Iterator[Why]:
    for sign in label.pictograms:
        name = PICTOGRAM_NAMES[str(sign)]
        yield _why(str(sign), f"{sign}, {name}", sign, kind="pictogram")
    if label.signal_word:
        reason = label.reasons["signal_word"]
        yield _why("signal", label.signal_word, reason, kind="signal word")
    if label.contains:
        names = [(str(name), name) for name in label.named_substances]
        yield _several("names", "The names", names, kind="names")
    if label.precautionary:
        care = [(one.code, one) for one in label.precautionary]
        yield _several("care", "The precautionary statements", care, kind="precautions")
    if "identifier" in label.reasons:
        needed = "needed" if label.identifier_needed else "not needed"
        title = f"Unique formula identifier (UFI): {needed}"
        yield _why("ufi", title, label.reasons["identifier"], kind="identifier")
    for key, title in (
        ("tactile_warning", "Tactile warning"), ("child_resistant", "Child-resistant closure"),
    ):  # fmt: skip
        if key in label.reasons:
            yield _why(key, title, label.reasons[key], kind=title.lower())


def _why(key: str, title: str, reason, because: str = "", kind: str = "") -> Why:
    found = Reason(text=reason.why, rule=reason.rule, status=reason.status)
    key = key.lower().replace(" ", "-")
    return Why(key=key, title=title, because=because, reasons=(found,), kind=kind)


def _several(key: str, title: str, each: Iterable[tuple[str, Statement | Named]], kind: str) -> Why:
    """Return reasons under one head; a clause that several share stands once, after the last."""
    found: list[Reason] = []
    for name, one in each:
        if found and (found[-1].rule, found[-1].status) == (one.rule, one.status):
            found[-1] = replace(found[-1], rule="", status="")
        text = one.why if one.why.startswith(name) else f"{name}: {one.why}"
        found.append(Reason(text=text, rule=one.rule, status=one.status))
    return Why(key=key, title=title, reasons=tuple(found), kind=kind)


# --- headroom ------------------------------------------------------------------------------------


def doses_in(recipe: Recipe, compositions: Mapping[int, Composition]) -> Doses:
    """Return a recipe's doses; what has no composition counts in the whole and brings nothing."""
    formula = formulas.formula_of(recipe)
    load = formula.load_pct_of_wax

    def dose(item: Item, pct_of_wax: Fraction) -> Dose:
        made_of = compositions.get(item.pk) or Composition(name=item.name)
        return Dose(composition=made_of, pct_of_wax=pct_of_wax)

    return Doses(
        waxes=tuple(
            dose(item, 100 * part)
            for (item, _), part in zip(recipe.waxes, formula.wax_fractions, strict=True)
        ),
        oils=tuple(
            dose(item, load * part)
            for (item, _), part in zip(recipe.oils, formula.oil_fractions, strict=True)
        ),
        extras=tuple(dose(item, Fraction(pct)) for item, pct in recipe.extras),
    )


def _with_headroom(
    panel: Panel,
    recipe: Recipe,
    compositions: Mapping[int, Composition],
    *,
    package_ml: Fraction | None,
    bar_px: int,
    live: bool,
) -> Panel:
    doses = doses_in(recipe, compositions)
    found = headrooms(doses, market=panel.market, on=panel.on, package_ml=package_ml)
    title = f"The label by the load, {panel.name}"
    wide, narrow = (
        str(headroom_bar_svg(found.load, title=title, width=width, prefix=f"{panel.prefix}-{name}"))
        for name, width in (("bar", bar_px), ("narrow", BAR_NARROW_PX))
    )
    later = live and len(found.load.path.substances) > MOST_LIVE
    near = () if later else tuple(_nearest(panel, recipe, doses, found, package_ml))
    return replace(
        panel,
        load=found.load,
        bars=Bars(wide=wide, narrow=narrow),
        rows=headroom_rows(found.load, places=PLACES),
        keeps=tuple(_keep(found.load, goal) for goal in _goals()),
        oils=tuple(_oil_rows(recipe, panel.whole, found)),
        nearest=near,
        nearest_later=later,
    )


def _goals() -> list[Goal]:
    known = {goal.key: goal for goal in GOALS}
    return [*(known[key] for key in ASKED), NO_NAMES]


def _keep(found: Headroom, goal: Goal) -> Keep:
    ceiling = highest_keeping(found, goal)
    of_wax, of_whole = (
        (None, None)
        if ceiling is None
        else (_highest(ceiling, of_whole=whole) for whole in (False, True))
    )
    return Keep(
        words=goal.words,
        of_wax=of_wax,
        of_whole=of_whole,
        met_now=any(span.holds(found.path.present) for span in keeping(found, goal)),
    )


def _highest(ceiling: Ceiling, *, of_whole: bool) -> str:
    words = ceiling.words(places=PLACES, of_whole=of_whole).removeprefix("up to ")
    return f"≥ {words}" if ceiling.to_the_end else words


def _oil_rows(recipe: Recipe, whole: Whole, found: Headrooms) -> Iterator[OilRow]:
    gaps = {item.pk for item in whole.gaps}
    for (item, _), walk in zip(recipe.oils, found.oils or (found.load,), strict=True):
        here = walk.path.present
        turns = [point for point in walk.breakpoints if any(_told(point))]
        yield OilRow(
            item=item,
            known=item.pk not in gaps,
            now=number(here, places=PLACES),
            less=_less([point for point in turns if point.at <= here]),
            more=_more([point for point in turns if point.at > here]),
            to=number(walk.path.high, places=PLACES, strip=True),
        )


def _more(above: Sequence[Breakpoint]) -> Turn | None:
    if not above:
        return None
    comes, goes = _told(above[0])
    return Turn(at=_down(above[0].at), comes=comes, goes=goes)


def _less(below: Sequence[Breakpoint]) -> Turn | None:
    """Return the same the other way: what comes with more goes with less."""
    if not below:
        return None
    goes, comes = _told(below[-1])
    return Turn(at=_down(below[-1].at), comes=comes, goes=goes)


def _told(point: Breakpoint) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what comes and what goes as the dose grows past a place."""
    comes, goes = (
        tuple(one.code for one in elements if one.kind in TOLD)
        for elements in (point.appears, point.disappears)
    )
    return comes, goes


def _down(value: Fraction) -> str:
    """Round down: an element that begins a little above the figure is not there at it."""
    return number(rounded_down(value, PLACES), places=PLACES)


def _nearest(
    panel: Panel,
    recipe: Recipe,
    doses: Doses,
    found: Headrooms,
    package_ml: Fraction | None,
) -> Iterator[Nearest]:
    """Yield, for each thing that is on the label now, the nearest shares that lose it."""
    if len(recipe.oils) < 2 or panel.whole.gaps:
        return
    parts = formulas.formula_of(recipe).oil_fractions
    judge = Judge(
        found.load.path.substances, market=panel.market, on=panel.on, package_ml=package_ml
    )
    same: dict[tuple[Fraction, ...], list[NearestShares]] = {}
    for goal in _goals():
        if not _keep(found.load, goal).met_now:
            near = nearest_shares(
                doses, goal, market=panel.market, on=panel.on, package_ml=package_ml, judge=judge
            )
            if isinstance(near, NearestShares):
                same.setdefault(near.offered, []).append(near)
    for shares, ends in same.items():
        rows = zip(recipe.oils, parts, shares, strict=True)
        yield Nearest(
            words=_and([near.goal.words for near in ends]),
            gained=tuple(one.code for one in ends[0].gained if one.kind in TOLD),
            proven=all(near.proven for near in ends),
            shares=tuple((item, 100 * now, 100 * then) for (item, _), now, then in rows),
        )


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


# --- the unique formula identifier ---------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbered:
    """
    A recipe's formulation number and its identifier.

    ``code`` is empty where none can be made; ``problem`` says why. ``changed``: what the safety
    sheets name in it is not what they named when the number was given.
    """

    formulation: Formulation | None
    code: str = ""
    problem: str = ""
    changed: bool = False


def numbered(whole: Whole, workshop: Workshop) -> Numbered:
    """Return the identifier of a recipe, as far as one has been made."""
    found = identifiers.formulation_of(identifiers.print_of_recipe(whole.pct_of_whole))
    if found is None:
        return Numbered(formulation=None)
    changed = found.made_of != identifiers.print_of_mixture(whole.mixture)
    try:
        code = make_identifier(
            formulation=found.number, country=workshop.vat_country, vat=workshop.vat_number,
            company_key=workshop.company_key,
        )  # fmt: skip
    except BadIdentifier:
        problem = "Enter your VAT number or company key in the settings to make the identifier."
        return Numbered(formulation=found, problem=problem, changed=changed)
    return Numbered(formulation=found, code=code, changed=changed)


# --- the industry code ---------------------------------------------------------------------------


def codes_of(recipe: Recipe, *, on: date) -> CodeLimits | None:
    """Return what the oils' certificates allow, each alone and all together; None without oil."""
    formula = formulas.formula_of(recipe)
    oils = [
        CodeOil(name=oil.name, share=oil.share, limit_pct_of_whole=oil.max_pct_of_whole)
        for oil in formula.oils
    ]
    try:
        return code_limits(oils, on=on, load_pct_of_whole=formula.load_pct_of_whole)
    except BadInput:
        return None
