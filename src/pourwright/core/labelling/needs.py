"""
What must stand on this candle, for the markets it is sold in: a checklist with sizes and reasons.

Each need says what is printed, where, how tall at least and on what that is measured, why, and on
whose word; or what is missing before it can be printed. It does not make a label lawful: check it
against each rule's current text and, where unsure, with a competent adviser.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from pourwright.core.contents import statement_for
from pourwright.core.hazard.label import LabelElements
from pourwright.core.labelling.facts import MARKETS, Business, LabelFacts, MarketCode
from pourwright.core.labelling.panel import figure_height, us_bottom_zone, us_letter_height
from pourwright.core.labelling.texts import Texts, texts
from pourwright.core.rules import Rule, rule

Place = Literal["front", "front foot", "side", "any", "outer pack"]
Measured = Literal["o", "x", "capital", "figure", "symbol", ""]
State = Literal["ready", "missing", "kept", "optional"]

# No rule gives a height for most texts; below this x-height few people can read a label.
# Common practice, no source.
LEGIBLE_X_MM = Fraction("0.9")

ADVICE = (
    "This list is worked out from the rules named beside each line. Check it against their current "
    "text and, where you are unsure, with a competent adviser."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """
    One thing that the label needs.

    ``text`` is what is printed ("" while it is missing). ``least_mm`` is the least height of what
    ``measured_on`` names: the lower-case o, the x, capitals, figures, or a symbol's side.
    ``signs`` are pictograms or symbols. ``base_alone`` says whether it may stand on the base only.
    ``front_text`` is what a fold-out's front repeats of it, beside its signs. ``signs_mm`` is the
    side that its pictograms aim for and ``signs_least_mm`` the least.
    """

    key: str
    title: str
    markets: tuple[MarketCode, ...]
    text: str = ""
    front_text: str = ""
    signs: tuple[str, ...] = ()
    signs_mm: Fraction | None = None
    signs_least_mm: Fraction | None = None
    place: Place = "any"
    least_mm: Fraction = LEGIBLE_X_MM
    measured_on: Measured = "x"
    base_alone: bool = True
    why: str = ""
    source: str = ""
    status: str = ""
    state: State = "ready"
    missing: str = ""


def needs_of(facts: LabelFacts) -> list[Need]:
    """Return everything that the label needs, the front's first. Raises ``NoSuchWords``."""
    words = texts(facts.language)
    found = [
        *_identity(facts, words),
        *_net(facts, words),
        *_business(facts, words),
        *_lot(facts, words),
        *_fire(facts, words),
        *_hazard(facts, words),
        *_extras(facts, words),
    ]
    return list(_merged(found))


def lacking(needs: Iterable[Need]) -> list[Need]:
    """Return what keeps the label from being printed."""
    return [need for need in needs if need.state in ("missing", "kept")]


# --- the front -----------------------------------------------------------------------------------


def _identity(facts: LabelFacts, words: Texts) -> Iterator[Need]:
    found = rule("us/identity_and_business", on=facts.on)
    named = facts.identity.strip() or words.of(
        "words.identity_scented" if facts.scented else "words.identity_plain"
    )
    yield _if(
        bool(facts.name.strip()),
        Need(
            key="name",
            title="Name of the product",
            markets=facts.markets,
            text=facts.name,
            place="front",
            why="The name that it is sold and notified under.",
            source="Regulation (EC) No 1272/2008, Art. 18(3)(a), for a classified candle",
            status="from memory, high",
        ),
        missing="Give the design a name for the label.",
    )
    yield _by(
        found,
        Need(
            key="identity",
            title="What it is",
            markets=facts.markets,
            text=named,
            place="front",
            why="A principal feature of the front, in the common name of the thing, parallel to "
            "the base.",
        ),
    )


def _net(facts: LabelFacts, words: Texts) -> Iterator[Need]:
    if facts.declared is None:
        yield Need(
            key="net",
            title="Net weight",
            markets=facts.markets,
            place="front foot",
            why="How much wax and oil is in it.",
            state="missing",
            missing="Say what net weight the label declares.",
        )
        return
    if "us" in facts.markets:
        yield _net_us(facts, words)
    for market in facts.markets:
        if market != "us":
            yield _net_metric(facts, words, market)


def _net_us(facts: LabelFacts, words: Texts) -> Need:
    assert facts.declared is not None  # the caller asked
    statement = statement_for(facts.declared, "us").text
    need = Need(
        key="net_us",
        title="Net weight, in both systems",
        markets=("us",),
        text=words.of("words.net_us", quantity=statement),
        place="front foot",
        measured_on="o",
        why="Its letters’ height goes by the front’s area.",
    )
    if facts.panel is None:
        need = _by(rule("us/type_height", on=facts.on), need)
        return _if(False, need, missing="Enter the vessel’s outside height and diameter.")
    height = us_letter_height(facts.panel, on=facts.on)
    zone = us_bottom_zone(facts.panel, on=facts.on)
    where = (
        "" if zone.height_mm is None
        else f" It stands in the lowest {float(zone.height_mm):.0f} mm of the front."
    )  # fmt: skip
    why = (
        f"The front has {float(facts.panel.area_in2):.1f} square inches ({facts.panel.how}): "
        f"letters of {height.words} at least, measured on the lower-case o.{where}"
    )
    return _by(height.rule, replace(need, least_mm=height.mm, why=why))


def _net_metric(facts: LabelFacts, words: Texts, market: MarketCode) -> Need:
    assert facts.declared is not None  # the caller asked
    assert market != "us"
    need = Need(
        key=f"net_{market}",
        title="Nominal quantity",
        markets=(market,),
        place="front foot",
        measured_on="figure",
        why="The quantity in g or kg.",
    )
    if facts.declared.metric_g is None:
        return _if(
            False, need, missing="The declared net weight has no grams: write it in both systems."
        )
    height = figure_height(facts.declared.metric_g, market=market, on=facts.on)
    return _by(
        height.rule,
        replace(
            need,
            text=words.of("words.net_eu", quantity=statement_for(facts.declared, market).text),
            least_mm=height.mm,
            why=f"Figures of {height.words} at least for this quantity; the unit follows.",
        ),
    )


# --- who made it, and which ----------------------------------------------------------------------


def _business(facts: LabelFacts, words: Texts) -> Iterator[Need]:
    if "us" in facts.markets:
        yield _business_us(facts, words)
    for market in facts.markets:
        if market != "us":
            found = rule(f"{market}/traceability", on=facts.on)
            yield _business_traced(facts, words, market, found)
            if (
                found["responsible_person_where_maker_is_outside"]
                and facts.maker.country.upper() not in found["countries"]
            ):
                yield _responsible(facts, words, market, found)


def _made(facts: LabelFacts) -> str:
    return "words.made_for" if facts.made_for else "words.made_by"


def _business_us(facts: LabelFacts, words: Texts) -> Need:
    maker = facts.maker
    need = Need(
        key="business",
        title="Name and place of business",
        markets=("us",),
        text=_said(words, _made(facts), maker, electronic=bool(maker.electronic)),
        why="The actual name, and town, state and ZIP code; the street too, unless a directory or "
        "web site has it.",
    )
    missing = "Enter the maker’s name and place in the settings."
    return _by(
        rule("us/identity_and_business", on=facts.on),
        _if(maker.is_named, need, missing=missing),
    )


def _business_traced(facts: LabelFacts, words: Texts, market: MarketCode, found: Rule) -> Need:
    maker = facts.maker
    electronic = bool(found["electronic_address"])
    hazardous = _says_anything(facts.hazard.get(market))
    lacks = _what_lacks(maker, electronic=electronic, telephone=hazardous)
    need = Need(
        key=f"business_{market}",
        title="Maker, with how to reach them",
        markets=(market,),
        text=_said(words, _made(facts), maker, electronic=True, telephone=hazardous),
        why="Name and postal "
        + ("and electronic " if electronic else "")
        + "address"
        + (", and with a hazard statement the telephone number." if hazardous else "."),
    )
    return _by(found, _if(not lacks, need, missing=lacks))


def _responsible(facts: LabelFacts, words: Texts, market: MarketCode, found: Rule) -> Need:
    named = facts.responsible_eu
    need = Need(
        key="responsible_eu",
        title="Responsible person in the Union",
        markets=(market,),
        text=_said(words, "words.responsible", named, electronic=True),
        why="The maker is outside the Union, so somebody inside answers for the product.",
    )
    missing = "Enter the responsible person in the EU, with address and e-mail."
    return _by(found, _if(named.is_named and bool(named.electronic), need, missing=missing))


def _said(
    words: Texts, key: str, who: Business, *, electronic: bool = False, telephone: bool = False
) -> str:
    if not who.is_named:
        return ""
    parts = [words.of(key, name=who.name), who.address]
    # The telephone comes last, so that the shorter line of one market begins another's.
    if electronic and who.electronic:
        parts.append(who.electronic)
    if telephone and who.telephone:
        parts.append(who.telephone)
    return ", ".join(parts)


def _what_lacks(who: Business, *, electronic: bool, telephone: bool) -> str:
    lacks = [
        word
        for word, there in (
            ("name", who.name),
            ("town and post code", who.place),
            ("e-mail or web address", who.electronic or not electronic),
            ("telephone number", who.telephone or not telephone),
        )
        if not there
    ]
    return f"Enter the maker’s {' and '.join(lacks)} in the settings." if lacks else ""


def _lot(facts: LabelFacts, words: Texts) -> Iterator[Need]:
    need = Need(
        key="lot",
        title="Lot",
        markets=facts.markets,
        text=words.of("words.lot", lot=facts.lot) if facts.lot else "",
        why="So that one candle can be told from another lot’s, and a recall reaches only its own.",
        source="common practice, no source",
    )
    traced = [market for market in facts.markets if market != "us"]
    if traced:
        need = _by(rule(f"{traced[0]}/traceability", on=facts.on), need)
    yield _if(
        bool(facts.lot),
        need,
        missing="The lot’s number is filled in when a lot’s labels are printed.",
    )


# --- fire safety ---------------------------------------------------------------------------------


def _fire(facts: LabelFacts, words: Texts) -> Iterator[Need]:
    if "us" in facts.markets:
        yield _by(
            rule("us/fire_label", on=facts.on),
            Need(
                key="fire_us",
                title="Fire-safety warning",
                markets=("us",),
                text=_fire_text(facts, words, trim="fire.more.trim_us"),
                signs=("general_warning",),
                why="Safety alert symbol, then at once the signal word in bold capitals, then the "
                "statements; it is seen where the candle is sold, not covered and not taken off.",
            ),
        )
    metric = tuple(market for market in facts.markets if market != "us")
    if metric:
        found = rule("eu/fire_label", on=facts.on)
        side = Fraction(rule("eu/fire_symbols", on=facts.on)["supplementary_mm"])
        yield _by(
            found,
            Need(
                key="fire_symbols",
                title="Fire-safety symbols",
                markets=metric,
                text=", ".join(words.of(f"symbols.{sign}") for sign in found["mandatory"]),
                signs=tuple(found["mandatory"]),
                least_mm=side,
                measured_on="symbol",
                why="The general warning sign and the symbols for the three core messages.",
            ),
        )
        yield _by(
            found,
            Need(
                key="fire_more",
                title="Further fire-safety symbols",
                markets=metric,
                signs=tuple(found["more"]),
                least_mm=side,
                measured_on="symbol",
                why="What a trade association’s list adds. They may stand on a fold-out.",
                state="optional",
            ),
        )


def _fire_text(facts: LabelFacts, words: Texts, *, trim: str) -> str:
    lines = [words.of(f"fire.core.{key}") for key in ("in_sight", "catches_fire", "children_pets")]
    more = [trim, *(f"fire.more.{key}" for key in ("draught", "heat_proof", "do_not_move"))]
    lines += [words.of(key) for key in more]
    if facts.hours_at_once is not None:
        lines.append(words.of("fire.more.hours_at_once", hours=f"{float(facts.hours_at_once):g}"))
    return f"{words.of('fire.signal_word')} {words.of('fire.lead')} {' '.join(lines)}"


# --- hazard --------------------------------------------------------------------------------------


def _hazard(facts: LabelFacts, words: Texts) -> Iterator[Need]:
    for market in facts.markets:
        if market == "us":
            yield from _hazard_us(facts, words)
            continue
        elements = facts.hazard.get(market)
        if elements is None:
            yield _hazard_kept(market)
            continue
        if facts.small_pack:
            elements = spared(elements)
        if elements.refused:
            yield Need(
                key=f"hazard_{market}",
                title="May not be sold to the public",
                markets=(market,),
                state="missing",
                missing=" ".join(str(refusal.reason) for refusal in elements.refused),
                why="A label does not cure a ban: change the formula.",
            )
            continue
        if _says_anything(elements):
            yield _hazard_block(facts, words, market, elements)


def _hazard_kept(market: MarketCode) -> Need:
    return Need(
        key=f"hazard_{market}",
        title="Hazard statements",
        markets=(market,),
        place="side",
        base_alone=False,
        state="kept",
        missing="The candle’s hazard class is not known: confirm what its oils are made of.",
        why="Every oil’s ingredients count at their real load.",
    )


def spared(elements: LabelElements) -> LabelElements:
    """Return the elements without the statements that a small pack may leave out."""
    codes = {one.code for one in elements.left_out}
    return replace(
        elements,
        hazard_statements=tuple(s for s in elements.hazard_statements if s.code not in codes),
        precautionary=tuple(s for s in elements.precautionary if s.code not in codes),
    )


def _hazard_us(facts: LabelFacts, words: Texts) -> Iterator[Need]:
    """
    Yield the cautionary label where the candle holds something that a list names.

    The law wants precautions and first aid without giving their words: the maker writes them.
    """
    found = facts.us_listed
    if found is None or not found.elements:
        return
    said = {e.what: e for e in found.elements}
    lines = [found.signal_word or ""]
    lines += [f"{e.text.rstrip('.')}." for e in found.elements if e.what == "hazard"]
    lines.append(words.of("words.contains", names=", ".join(found.named_substances)))
    lines.append(facts.us_precautions.strip())
    lines.append(said["children"].text)
    need = Need(
        key="hazard_us",
        title="Cautionary label of a listed substance",
        markets=("us",),
        text=" ".join(line for line in lines if line),
        front_text=found.signal_word or "",
        place="side",
        base_alone=facts.in_a_box,
        why=" ".join(row.text for row in found.met),
        source="15 USC 1261(p); 16 CFR 1500.13, 1500.14, 1500.121",
        status=said["children"].status,
    )
    missing = (
        "Write what to do or to avoid, and first aid, in your own words: the law wants them and "
        "gives none."
    )
    yield _if(bool(facts.us_precautions.strip()), need, missing=missing)


def _hazard_block(
    facts: LabelFacts, words: Texts, market: MarketCode, elements: LabelElements
) -> Need:
    need = Need(
        key=f"hazard_{market}",
        title="Hazard pictograms, signal word and statements",
        markets=(market,),
        text=hazard_text(elements, words, identifier=facts.identifier),
        front_text=_front_of(elements, words, identifier=facts.identifier),
        signs=tuple(str(code) for code in elements.pictograms),
        signs_mm=elements.sizes.side_mm,
        signs_least_mm=elements.sizes.least_side_mm,
        place="side",
        base_alone=facts.in_a_box,
        least_mm=Fraction(elements.sizes.x_height_mm or LEGIBLE_X_MM),
        why="Pictograms, signal word and statements stand together, level when the candle stands; "
        "on the base alone only where an outer box carries them too.",
        source="Regulation (EC) No 1272/2008, Art. 17, 18, 25, 31, 32",
        status="from memory, high",
    )
    return _if(
        bool(facts.identifier) or not elements.identifier_needed,
        need,
        missing="The formula needs its unique formula identifier: fill in the settings for it.",
    )


def hazard_text(elements: LabelElements, words: Texts, *, identifier: str = "") -> str:
    """Return the hazard block as it is printed, in reading order."""
    lines = [elements.signal_word or ""]
    lines += [statement.text for statement in elements.hazard_statements]
    if elements.contains:
        lines.append(elements.contains)
    lines += [statement.text for statement in elements.supplemental]
    lines += [statement.text for statement in elements.precautionary]
    if elements.identifier_needed and identifier:
        lines.append(words.of("words.identifier", code=identifier))
    return " ".join(line for line in lines if line)


def _front_of(elements: LabelElements, words: Texts, *, identifier: str) -> str:
    lines = [elements.signal_word or ""]
    if elements.identifier_needed and identifier:
        lines.append(words.of("words.identifier", code=identifier))
    return " ".join(line for line in lines if line)


def _says_anything(elements: LabelElements | None) -> bool:
    return elements is not None and bool(
        elements.pictograms
        or elements.signal_word
        or elements.hazard_statements
        or elements.supplemental
    )


# --- what one may add ----------------------------------------------------------------------------


def _extras(facts: LabelFacts, words: Texts) -> Iterator[Need]:
    if facts.burn_hours is not None:
        yield Need(
            key="burn_hours",
            title="Burn time",
            markets=facts.markets,
            text=words.of("words.burn_hours", hours=f"{float(facts.burn_hours):g}"),
            why="From completed test burns of this design, never from a model.",
            source="common practice, no source",
            state="optional",
        )
    if facts.article_number is not None:
        yield Need(
            key="bar_code",
            title="Article number",
            markets=facts.markets,
            text=str(facts.article_number),
            why="A bar code for tills, its quiet zones kept.",
            source="GS1 General Specifications",
            status="read in a secondary source",
            state="optional",
        )
    if facts.web_page:
        yield Need(
            key="qr",
            title="Square code to a page of yours",
            markets=facts.markets,
            text=facts.web_page,
            why="Four modules of quiet on every side.",
            source="ISO/IEC 18004",
            status="read in a secondary source",
            state="optional",
        )
    if facts.metal_core and "us" in facts.markets:
        found = rule("us/candle_wicks", on=facts.on)
        yield _by(
            found,
            Need(
                key="metal_core",
                title="Metal-cored wick",
                markets=("us",),
                text=found["statement"],
                place="outer pack",
                why="The shipping outer or shelf wrap of candles with a metal core says so.",
            ),
        )


# --- small helpers -------------------------------------------------------------------------------


def _by(found: Rule, need: Need) -> Need:
    """Return a need with the rule that asks for it."""
    return replace(need, source=found.source, status=found.status)


def _if(complete: bool, need: Need, *, missing: str) -> Need:
    """Return a need as it is where its facts are complete, else as missing with what to enter."""
    return need if complete else replace(need, state="missing", missing=missing)


ENDS_LONGER = ("business", "hazard")


def _merged(needs: Iterable[Need]) -> Iterator[Need]:
    """
    Yield each thing once where two markets want the same, with the stricter height.

    A shorter line is left out where a fuller one of the same kind begins with it: the maker's
    without a telephone, a hazard block without an identifier.
    """
    kept: dict[tuple[str, str, tuple[str, ...], str], Need] = {}
    for need in needs:
        same = (need.title, need.text, need.signs, need.missing)
        kept[same] = _both(kept[same], need) if same in kept else need
    found = list(kept.values())
    for need in found:
        fuller = next((other for other in found if _says_more(other, need)), None)
        if fuller is None:
            yield _with_shorter(need, found)


def _says_more(other: Need, need: Need) -> bool:
    return (
        other is not need
        and any(need.key.startswith(kind) and other.key.startswith(kind) for kind in ENDS_LONGER)
        and bool(need.text)
        and other.signs == need.signs
        and other.text != need.text
        and other.text.startswith(need.text)
    )


def _with_shorter(need: Need, found: Iterable[Need]) -> Need:
    for shorter in found:
        if _says_more(need, shorter):
            need = _both(need, shorter)
    return need


def _both(first: Need, second: Need) -> Need:
    return replace(
        first,
        markets=tuple(m for m in MARKETS if m in (*first.markets, *second.markets)),
        least_mm=max(first.least_mm, second.least_mm),
        signs_mm=_larger(first.signs_mm, second.signs_mm),
        signs_least_mm=_larger(first.signs_least_mm, second.signs_least_mm),
        base_alone=first.base_alone and second.base_alone,
    )


def _larger(first: Fraction | None, second: Fraction | None) -> Fraction | None:
    return max((side for side in (first, second) if side is not None), default=None)
