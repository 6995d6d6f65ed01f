"""``pourwright burn``: the verdict on test burns, and what to burn next."""

from __future__ import annotations

import argparse
import textwrap
from dataclasses import asdict
from datetime import date
from pathlib import Path

from pourwright.cli.output import add_json_flag, print_json, print_pairs
from pourwright.core.burns.cautions import cautions
from pourwright.core.burns.findings import Finding
from pourwright.core.burns.series import SeriesVerdict, judge_series
from pourwright.core.burns.verdict import BurnVerdict, judge_burn
from pourwright.intake.burn_file import SearchFile, read_search_file, read_verdict_file

WIDTH = 100

VERDICT_EPILOG = """\
FILE is a small TOML document, described in docs/burn-file.md. A single burn is never a pass: only
a whole series is, and that says which criteria were met by what was burnt.

Caution: stay with a test burn all the time, on a surface that cannot burn, an extinguisher for fat
or a lid within reach; never put water on burning wax.

Example:
  pourwright burn verdict burns.toml
"""
NEXT_EPILOG = """\
FILE is a small TOML document, described in docs/burn-file.md: the designs, the sizes of the wick
series, and every burn so far, of other designs too. A chance is the share of burns expected to meet
your own criteria; it is no chance of safety.

Example:
  pourwright burn next search.toml
"""


def register(parts) -> None:
    burn = parts.add_parser("burn", help="the verdict on test burns, and what to burn next")
    verbs = burn.add_subparsers(dest="verb", metavar="VERB", required=True)
    verdict = verbs.add_parser(
        "verdict", help="judge burns, and the series that they make", epilog=VERDICT_EPILOG
    )
    verdict.add_argument("file", metavar="FILE", help="a TOML document")
    add_json_flag(verdict)
    verdict.set_defaults(run=run_verdict)
    following = verbs.add_parser(
        "next", help="the size to burn next, from all burns so far", epilog=NEXT_EPILOG
    )
    following.add_argument("file", metavar="FILE", help="a TOML document")
    add_json_flag(following)
    following.set_defaults(run=run_next)


# --- verdict -------------------------------------------------------------------------------------


def run_verdict(arguments: argparse.Namespace) -> int:
    given = read_verdict_file(Path(arguments.file))
    on = given.on or date.today()  # noqa: DTZ011  # the maker's own day, at the door
    house = given.house(on=on)
    each = [
        (piece.name, burn.number, judge_burn(burn, given.series.candle, on=on, house=house))
        for piece in given.series.pieces
        for burn in piece.burns
    ]
    series = judge_series(given.series, on=on, house=house)
    if arguments.json:
        print_json(_verdict_json(given.name, on, each, series))
    else:
        _print_verdict(each, series, on)
    return 0


def _verdict_json(
    name: str, on: date, each: list[tuple[str, int, BurnVerdict]], series: SeriesVerdict
) -> dict:
    answer = {
        "name": name,
        "on": on,
        "burns": [
            {
                "piece": piece, "burn": number, "verdict": found.verdict, "words": found.words,
                "findings": [asdict(finding) for finding in found.findings],
                "criteria": list(found.criteria), "notes": list(found.notes),
            }
            for piece, number, found in each
        ],
        "series": {
            "state": series.state, "passed": series.passed, "missing": list(series.missing),
            "findings": [asdict(finding) for finding in series.findings],
            "warnings": [asdict(finding) for finding in series.warnings],
            "pieces_whole": series.pieces_whole, "pieces_needed": series.pieces_needed,
        },
        "closing": series.closing,
    }  # fmt: skip
    if len(each) == 1:
        answer["verdict"] = each[0][2].verdict
    return answer


def _print_verdict(
    each: list[tuple[str, int, BurnVerdict]], series: SeriesVerdict, on: date
) -> None:
    for piece, number, found in each:
        _say(f"{piece}, burn {number}: {found.verdict.upper()} ({found.words})")
        for finding in found.findings:
            _say(_finding_words(finding), indent="    ")
    rows = [("series", f"{series.state.upper()}")]
    rows += [("needs", words) for words in series.missing[:8]]
    if len(series.missing) > 8:
        rows.append(("", f"and {len(series.missing) - 8} more"))
    rows += [("warning", f"{f.where}: {_finding_words(f)}") for f in series.warnings]
    print()
    print_pairs(rows)
    print()
    _say(series.closing)
    _say(f"Before each burn: {cautions(on=on).before[0]}")


def _finding_words(finding: Finding) -> str:
    whose = "house limit" if finding.house else finding.edition
    return f"{finding.says} {finding.reading}; {finding.limit} ({whose})."


# --- next ----------------------------------------------------------------------------------------


def run_next(arguments: argparse.Namespace) -> int:
    # numpy and scipy are loaded only where they are needed: the other commands start sooner.
    from pourwright.core.burns.criteria import criteria_of
    from pourwright.core.burns.learning import prior
    from pourwright.core.burns.next_burn import Cost, next_burn
    from pourwright.core.burns.seen import seen_of

    given = read_search_file(Path(arguments.file))
    on = date.today()  # noqa: DTZ011
    criteria = criteria_of(given.criteria)
    setups = _setups(given)
    seen = [
        seen_of(
            row.burn, setups(row.design, row.series, row.size, row.cure_days),
            criteria=criteria, prior=prior(on=on),
        )
        for row in given.burns
    ]  # fmt: skip
    candidates = [
        setups(given.search, size.series, size.size, int(given.cure_days))
        for size in given.sizes
        if given.only_series in ("", size.series)
    ]
    cost = Cost(
        side_by_side=given.side_by_side, cure_days=float(given.cure_days),
        wax_g=float(given.wax_g), week_in_burns=float(given.week_in_burns),
    )  # fmt: skip
    advice = next_burn(
        candidates, seen, criteria=criteria, on=on, words=_words(given, setups), cost=cost
    )
    if arguments.json:
        print_json(_advice_json(advice))
    else:
        _print_advice(advice)
    return 0


def _setups(given: SearchFile):
    from pourwright.core.burns.learning import Setup

    designs = {design.name: design for design in given.designs}
    rates = {(size.series, size.size): float(size.rate_g_per_h) for size in given.sizes}

    def made(design: str, series: str, size: str, cure_days: int) -> Setup:
        row = designs[design]
        return Setup(
            design=design, series=series, size=size, rate_g_per_h=rates[(series, size)],
            inside_diameter_mm=float(row.inside_diameter_mm), wax=row.wax,
            load_pct_of_wax=float(row.load_pct_of_wax), wick_count=row.wick_count,
            cure_days=float(cure_days),
        )  # fmt: skip

    return made


def _words(given: SearchFile, setups) -> list:
    from pourwright.core.burns.learning import Word

    return [
        Word(setup=setups(design.name, series, size, 14))
        for design in given.designs
        for series, size in design.recommended.items()
    ]


def _chance_json(chance) -> dict:
    return {
        "series": chance.setup.series, "size": chance.setup.size, "share": chance.share,
        "low": chance.low, "high": chance.high, "all_needed": chance.all_needed,
        "left": chance.left, "to_come": chance.to_come if chance.to_come < 1000 else None,
        "good": chance.good, "bad": chance.bad, "burns": chance.burns, "met": chance.met,
        "reasons": [{"why": why, "share": share} for why, share in chance.reasons],
        "says": chance.says,
    }  # fmt: skip


def _advice_json(advice) -> dict:
    return {
        "state": advice.state,
        "propose": [{"series": s.series, "size": s.size} for s in advice.propose],
        "best": _chance_json(advice.best), "weeks": advice.weeks, "wax_g": advice.wax_g,
        "chances": [_chance_json(chance) for chance in advice.chances],
        "says": list(advice.says),
    }  # fmt: skip


def _print_advice(advice) -> None:
    for words in advice.says:
        _say(words)
    if advice.propose:
        _say(f"The set takes {advice.weeks:.1f} weeks of cure and {advice.wax_g:.0f} g of wax.")
    print(f"\n{'size':<28} {'expected':>9} {'low':>6} {'high':>6} {'met':>9}")
    for chance in advice.chances:
        name = f"{chance.setup.series}, {chance.setup.size}"
        record = f"{chance.met} of {chance.burns}" if chance.burns else ""
        shares = f"{chance.share:>8.0%} {chance.low:>7.0%} {chance.high:>6.0%}"
        print(f"{name:<28} {shares} {record:>9}".rstrip())


def _say(text: str, *, indent: str = "") -> None:
    print(
        textwrap.fill(
            text, width=WIDTH, initial_indent=indent, subsequent_indent=indent,
            break_long_words=False, break_on_hyphens=False,
        )
    )  # fmt: skip
