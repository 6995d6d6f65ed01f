"""``pourwright hazard``: class and label of a candle, its headroom, and formula identifiers."""

from __future__ import annotations

import argparse
import sys
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path

from pourwright.cli.output import add_json_flag, print_json, print_pairs
from pourwright.core.amounts import number
from pourwright.core.errors import BadInput
from pourwright.core.hazard import identifier
from pourwright.core.hazard.assess import as_json, assess
from pourwright.core.hazard.headroom import (
    GOALS,
    Band,
    Headroom,
    Headrooms,
    headroom,
    headrooms,
    highest_keeping,
)
from pourwright.core.hazard.headroom_words import (
    driver_words,
    headroom_as_json,
    headrooms_as_json,
    shares_as_json,
    span_words,
)
from pourwright.core.hazard.model import Market
from pourwright.core.hazard.nearest import NearestShares, NoShares, nearest_shares
from pourwright.core.hazard.paths import amount_path
from pourwright.intake.hazard_file import BadHazardFile, CandleFile, read_candle
from pourwright.papers.headroom_bar import headroom_bar_svg
from pourwright.papers.pictograms import NAMES, diagonal_mm

MARKETS = {
    Market.EU: "EU and Northern Ireland",
    Market.GB: "Great Britain",
    Market.UN: "UN model rules (GHS)",
    Market.US: "United States",
}
# Of a band these are worth a line in the terminal; --json has them all.
SHOWN_KINDS = ("ban", "signal word", "pictogram", "statement", "supplemental", "identifier")
WIDTH = 100
LONGEST_NAME = 22

FILE_HELP = """\
FILE is a small TOML document, described in docs/candle-file.md: either a list of what is in the
whole candle, or a formula with the ingredients of each oil by its safety sheet.
"""
CHECK_AGAIN = """\
Check the result against the rule's current text and, where unsure, ask a competent adviser.
"""
CLASSIFY_EPILOG = f"""\
{FILE_HELP}
{CHECK_AGAIN}
Example:
  pourwright hazard classify candle.toml --market eu --on 2026-11-24
"""
HEADROOM_EPILOG = f"""\
{FILE_HELP}
Of a formula the load is moved, and each oil's dose with the others held; of a list of the whole,
the amount of everything in it. A share or load where something begins is rounded down.

{CHECK_AGAIN}
Example:
  pourwright hazard headroom candle.toml --market eu
"""
MAKE_EPILOG = """\
The formulation number is yours to give: one for each composition, never used for another. Only the
shape of a VAT number is looked at. Without one, use a company key.

Example:
  pourwright hazard identifier make --country AT --vat U24681357 --formulation 1042
"""
CHECK_EPILOG = """\
Lower case and missing hyphens are read. Any one wrong character is found.

Example:
  pourwright hazard identifier check sgv2s071q00335ry
"""


class BadOption(BadInput):
    """The options do not go together, or cannot be read."""


def register(parts) -> None:
    part = parts.add_parser("hazard", help="class and label of a candle, and what would change it")
    verbs = part.add_subparsers(dest="verb", metavar="VERB", required=True)
    classify = _verb(
        verbs, "classify", run_classify, "hazard class and label of a candle", CLASSIFY_EPILOG
    )
    _add_candle_options(classify, markets=[market.value for market in Market])
    classify.add_argument("--trace", action="store_true", help="every decision, one a line")
    room = _verb(
        verbs, "headroom", run_headroom, "at which loads the label changes", HEADROOM_EPILOG
    )
    _add_candle_options(room, markets=[m.value for m in Market if m is not Market.US])
    room.add_argument("--draw", metavar="FILE", type=Path, help="the load's bar, as an SVG file")
    part = verbs.add_parser("identifier", help="unique formula identifiers (UFI)")
    inner = part.add_subparsers(dest="what", metavar="VERB", required=True)
    make = _verb(inner, "make", run_make, "make a formula identifier", MAKE_EPILOG)
    make.add_argument("--country", metavar="XX", default="", help="of the VAT number, two letters")
    make.add_argument("--vat", metavar="NUMBER", default="", help="with or without the country")
    make.add_argument("--company-key", metavar="N", help="instead of country and VAT number")
    make.add_argument(
        "--formulation", metavar="N", required=True, help="of the composition, 0 to 268435455"
    )
    check = _verb(inner, "check", run_check, "read a formula identifier", CHECK_EPILOG)
    check.add_argument("code", metavar="CODE")


def _verb(verbs, name: str, run, what: str, epilog: str):
    verb = verbs.add_parser(
        name,
        help=what,
        description=f"{what[0].upper()}{what[1:]}.",
        epilog=epilog,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_json_flag(verb)
    verb.set_defaults(run=run)
    return verb


def _add_candle_options(verb, *, markets: Sequence[str]) -> None:
    verb.add_argument("file", metavar="FILE", type=Path)
    verb.add_argument("--market", choices=markets, default="eu", help="whose rules (eu)")
    verb.add_argument("--on", metavar="DATE", help="the day of sale, as 2026-11-24 (today)")
    verb.add_argument(
        "--marketed-before",
        action="store_true",
        help="the candle was already on sale when a rule that spares such candles began",
    )


# --- identifiers ---------------------------------------------------------------------------------


def run_make(arguments: argparse.Namespace) -> int:
    key = arguments.company_key
    code = identifier.make(
        country=arguments.country,
        vat=arguments.vat,
        company_key=None if key is None else _whole("--company-key", key),
        formulation=_whole("--formulation", arguments.formulation),
    )
    found = identifier.check(code)
    if arguments.json:
        print_json({"identifier": code, **_said(found)})
    else:
        print(f"UFI: {code}")
    return 0


def run_check(arguments: argparse.Namespace) -> int:
    found = identifier.check(arguments.code)
    if arguments.json:
        print_json({"identifier": found.code, "valid": True, **_said(found)})
        return 0
    maker = (
        ("VAT number", f"{found.country} {found.vat} ({found.country_name})")
        if found.company_key is None
        else ("company key", str(found.company_key))
    )
    print_pairs([("valid", f"UFI: {found.code}"), maker, ("formulation", str(found.formulation))])
    return 0


def _said(found: identifier.Identifier) -> dict:
    return {key: value for key, value in asdict(found).items() if key != "code"}


def _whole(option: str, text: str) -> int:
    plain = text.strip()
    if not plain.isascii() or not plain.isdigit() or len(plain) > 20:
        shown = "".join(sign if sign.isprintable() else "?" for sign in text[:40])
        raise BadOption(f'{option} "{shown}" is not a whole number; write digits only.')
    return int(plain)


# --- the document, the day, the market -----------------------------------------------------------


def _candle(file: Path) -> CandleFile | None:
    """Return the candle of a document, or None after its faults have been told."""
    try:
        return read_candle(file)
    except BadHazardFile as problem:
        if len(problem.faults) == 1:
            raise BadOption(f"{file}: {problem.faults[0]}") from problem
        for fault in problem.faults:
            print(f"{file}: {fault}", file=sys.stderr)
        print(
            f"pourwright: {len(problem.faults)} faults in {file}; nothing was worked out.",
            file=sys.stderr,
        )
        return None


def _day(text: str | None) -> date:
    if text is None:
        return datetime.now().astimezone().date()
    try:
        return date.fromisoformat(text.strip())
    except ValueError as problem:
        shown = "".join(sign if sign.isprintable() else "?" for sign in text[:40])
        raise BadOption(
            f'--on "{shown}" is no day; write year-month-day, as --on 2026-11-24.'
        ) from problem


def _head(market: Market, on: date, candle: CandleFile) -> str:
    said = [MARKETS[market], f"{on.day} {on:%B %Y}"]
    if candle.name:
        said.insert(0, candle.name)
    if candle.package_ml is not None:
        said.append(f"package of {_short(candle.package_ml)} ml")
    return ", ".join(said)


def _short(value: Fraction, places: int = 4) -> str:
    return number(value, places=places, strip=True)


# --- class and label -----------------------------------------------------------------------------


def run_classify(arguments: argparse.Namespace) -> int:
    on, market = _day(arguments.on), Market(arguments.market)
    candle = _candle(arguments.file)
    if candle is None:
        return 2
    found = as_json(
        assess(
            candle.mixture,
            market=market,
            on=on,
            package_ml=candle.package_ml,
            marketed_before=arguments.marketed_before,
        )
    )
    found["warnings"] = [*candle.notes, *found["warnings"]]
    if arguments.json:
        print_json(found)
        return 0
    print(_head(market, on, candle))
    for refusal in found["refused"]:
        _print_section("Not for sale to the public", [("", _because(refusal, "reason"))])
    _print_section("On the label", list(_label_rows(found)))
    _print_section("Why", list(_why_rows(found)))
    _print_section("Sizes", list(_size_rows(found.get("sizes", {}))))
    _print_section(
        "May be left out on so small a package",
        [(one["code"], _because(one, "why")) for one in found.get("may_be_left_out", [])],
    )
    _print_section(
        "Comes later",
        [
            (f"from {one['from']}", f"{one['title']}: {_because(one, 'text')}")
            for one in found.get("coming", [])
        ],
    )
    _print_section("Look at", [("-", warning) for warning in found["warnings"]])
    if arguments.trace:
        _print_section("Every decision", [("-", step["text"]) for step in found["trace"]])
    _print_section("", [("", found["advice"])])
    return 0


def _label_rows(found: dict) -> Iterator[tuple[str, str]]:
    """Yield what stands on the label, in its order."""
    if found["signal_word"]:
        yield found["signal_word"], "signal word"
    for code in found["pictograms"]:
        yield code, f"pictogram: {NAMES[code]}"
    for statement in (*found["hazard_statements"], *found["supplemental_statements"]):
        yield statement["code"], statement["text"]
    if found.get("contains"):
        yield "", found["contains"]
    elif found["named_substances"] and not found["supplemental_statements"]:
        yield "", f"Contains: {', '.join(found['named_substances'])}."
    for statement in found["precautionary_statements"]:
        yield statement["code"], statement["text"]
    for statement in found.get("also_on_the_label", []):
        yield "", statement["text"]
    if found["identifier_needed"]:
        yield "UFI:", "the unique formula identifier (pourwright hazard identifier make)"
    if found.get("tactile_warning"):
        yield "", "a tactile warning"
    if found.get("child_resistant"):
        yield "", "a child-resistant closure"
    if not found["classes"] and not found["supplemental_statements"]:
        yield "", "nothing: not classified by what was given"
    if found.get("safety_data_sheet_on_request"):
        yield "", "a safety data sheet is due on request (to professional users)"


def _why_rows(found: dict) -> Iterator[tuple[str, str]]:
    """Yield the reason of each element with its clause."""
    reasons = found.get("reasons", {})
    if found["signal_word"] and "signal_word" in reasons:
        yield found["signal_word"], _because(reasons["signal_word"], "why")
    for code, reason in reasons.get("pictograms", {}).items():
        yield code, _because(reason, "why")
    for key in (
        "hazard_statements",
        "supplemental_statements",
        "precautionary_statements",
    ):
        for statement in found[key]:
            yield statement["code"] or statement["what"], _because(statement, "why")
    for name, reason in reasons.get("named_substances", {}).items():
        yield name, _because(reason, "why")
    for key, shown in (
        ("identifier", "UFI"),
        ("tactile_warning", "tactile warning"),
        ("child_resistant", "closure"),
    ):
        if key in reasons:
            yield shown, _because(reasons[key], "why")


def _size_rows(sizes: dict) -> Iterator[tuple[str, str]]:
    if not sizes or sizes["width_mm"] is None:
        return
    possible = " if possible" if sizes["if_possible"] else ""
    yield "label", f"{sizes['width_mm']:g} x {sizes['height_mm']:g} mm{possible}"
    yield (
        "pictogram",
        f"side {sizes['pictogram_side_mm']:g} mm{possible}, "
        f"{diagonal_mm(sizes['pictogram_side_mm']):.2f} mm from corner to corner; never below "
        f"{sizes['pictogram_least_side_mm']:g} mm",
    )
    if sizes["x_height_mm"] is not None:
        yield "letters", f"x-height {sizes['x_height_mm']:g} mm at least"
    yield "", _because(sizes, "why")


def _because(reason: dict, key: str) -> str:
    """Return the words of a reason, its clause, and whether that is from memory."""
    told = reason[key]
    if reason.get("rule") and reason["rule"] not in told:
        told += f" [{reason['rule']}]"
    if "memory" in reason.get("status", ""):
        told += " (from memory)"
    return told


def _print_section(title: str, rows: Sequence[tuple[str, str]]) -> None:
    """Print names on the left and wrapped text beside them, below a title."""
    if not rows:
        return
    print(f"\n{title}" if title else "")
    indent = "  " if title else ""
    names = [name for name, _ in rows if len(name) <= LONGEST_NAME]
    width = max((len(name) + 2 for name in names if name), default=0)
    for name, text in rows:
        if len(name) > LONGEST_NAME:
            print(f"{indent}{name}")
            name = ""
        start = f"{indent}{name:<{width}}"
        print(
            textwrap.fill(
                text,
                width=WIDTH,
                initial_indent=start,
                subsequent_indent=" " * len(start),
                break_on_hyphens=False,
                break_long_words=False,
            ).rstrip()
        )


# --- headroom ------------------------------------------------------------------------------------


def run_headroom(arguments: argparse.Namespace) -> int:
    on, market = _day(arguments.on), Market(arguments.market)
    candle = _candle(arguments.file)
    if candle is None:
        return 2
    asked = {
        "market": market,
        "on": on,
        "package_ml": candle.package_ml,
        "marketed_before": arguments.marketed_before,
    }
    if candle.doses is None:
        amount = headroom(amount_path(candle.mixture), **asked)
        _draw(amount, arguments.draw, _head(market, on, candle))
        if arguments.json:
            print_json({"amount": headroom_as_json(amount), "notes": list(_notes(candle))})
        else:
            print(_head(market, on, candle))
            _print_walk(amount)
            _print_end(_notes(candle))
        return 0
    found = headrooms(candle.doses, **asked)
    _draw(found.load, arguments.draw, _head(market, on, candle))
    nearest = _nearest(candle, found, asked)
    names = tuple(dose.composition.name for dose in candle.doses.oils)
    if arguments.json:
        print_json(
            {
                **headrooms_as_json(found),
                "nearest": [shares_as_json(one, names=names) for one in nearest],
                "notes": list(_notes(candle)),
            }
        )
        return 0
    print(_head(market, on, candle))
    _print_walk(found.load)
    for walk in found.oils:
        _print_walk(walk)
    _print_nearest(nearest, names)
    _print_end(_notes(candle))
    return 0


def _draw(walk: Headroom, file: Path | None, title: str) -> None:
    if file is None:
        return
    picture = headroom_bar_svg(walk, title=title, standalone=True)
    try:
        file.write_text(f"{picture}\n", encoding="utf-8")
    except OSError as problem:
        raise BadOption(f'The bar cannot be written to "{file}": {problem.strerror}.') from problem


def _notes(candle: CandleFile) -> Iterator[str]:
    yield from candle.notes
    if candle.doses is None:
        yield (
            "A list of the whole has no load to move: here the amount of everything listed moves, "
            "100 being the present. For loads and shares write the formula, with an [[oil]] for "
            "each."
        )


def _nearest(candle: CandleFile, found: Headrooms, asked: dict) -> list[NearestShares | NoShares]:
    """Return the nearest shares for every goal that the present label misses; none for one oil."""
    if not found.oils or candle.doses is None:
        return []
    missed = [goal for goal in GOALS if any(goal.unwanted(element) for element in found.load.now)]
    return [nearest_shares(candle.doses, goal, **asked) for goal in missed]


def _print_walk(walk: Headroom) -> None:
    path = walk.path
    present = f"now {_short(path.present)} {path.unit}"
    if path.kind != "amount":
        present += f", {_short(path.pct_of_whole_at(path.present))} % of the whole"
    title = {"load": "Along the load", "amount": "Along the amount"}.get(
        path.kind, f"Along {path.name}, the other oils held"
    )
    print(f"\n{title} ({present})")
    bands = [band for band in walk.bands if band.element.kind in SHOWN_KINDS]
    rows = [(_element_name(band), _band_words(band, walk), _driven(band)) for band in bands]
    if not rows:
        print(f"  nothing on the label up to {_short(path.high)} {path.unit}")
        return
    widths = [max(len(row[place]) for row in rows) for place in range(2)]
    for name, where, driver in rows:
        print(f"  {name:<{widths[0]}}  {where:<{widths[1]}}  {driver}".rstrip())
    highest = [
        (f"  {goal.words}", f"{ceiling.words()} {path.unit}")
        for goal in GOALS
        if (ceiling := highest_keeping(walk, goal)) is not None and not ceiling.to_the_end
    ]
    if highest:
        print("  The highest that stays")
        print_pairs([(f"  {name}", words) for name, words in highest])


def _element_name(band: Band) -> str:
    code = "banned" if band.element.kind == "ban" else band.element.code
    return f"{'●' if band.now else '○'} {code}"


def _band_words(band: Band, walk: Headroom) -> str:
    return "; ".join(span_words(span, walk.path) for span in band.spans)


def _driven(band: Band) -> str:
    return driver_words(band.drivers[0]) if band.drivers else ""


def _print_nearest(nearest: Sequence[NearestShares | NoShares], names: Sequence[str]) -> None:
    if not nearest:
        return
    print("\nThe nearest shares, the load held")
    for found in nearest:
        if isinstance(found, NoShares):
            none = "no shares are" if found.proven else "no shares were found that are"
            print(f"  {found.goal.words}: {none}; lower the load")
            continue
        shares = ", ".join(
            f"{name} {_short(100 * share, 2)} %"
            for name, share in zip(names, found.offered, strict=True)
        )
        print(f"  {found.goal.words}: {shares}")
        gained = ", ".join(e.code for e in found.gained if e.kind in SHOWN_KINDS)
        if gained:
            print(f"    but gains {gained}")
        if not found.proven:
            print("    nearer ones may exist")


def _print_end(notes: Iterator[str]) -> None:
    print("\n● on the label now, ○ not now")
    for note in notes:
        print(f"Note: {note}")
    print(CHECK_AGAIN.strip())
