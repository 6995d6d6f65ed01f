"""``pourwright contents``: check a lot's net weights, find the fill to aim at, word a label."""

from __future__ import annotations

import argparse
import sys
from datetime import date
from fractions import Fraction
from pathlib import Path

from pourwright.cli.output import add_json_flag, print_json, print_pairs
from pourwright.core.amounts import parse_mass, parse_money, parse_number, parse_percent
from pourwright.core.amounts.reading import shorten
from pourwright.core.contents import (
    MARKET_RULES,
    RULE_NAMES,
    BadSample,
    Verdict,
    check_net,
    parse_declared,
    statement_for,
)
from pourwright.core.contents.figures import plain, raised
from pourwright.core.contents.scales import suitability
from pourwright.core.errors import BadInput
from pourwright.core.rules import Rule

CAUTION = """\
Check against the rule's current text and, where unsure, ask your weights and measures office."""

CHECK_EPILOG = f"""\
The file has one net weight a line, in the order of weighing, in grams unless a unit stands there;
"-" reads from the terminal. Empty lines and what follows a # are left out. With --tare, the lines
are gross weights and that one average tare is taken off each.

US: Handbook 133, Category A: the larger of the two declared figures is verified. EU and GB: the
average system, on the declared grams. Tables that were written down from memory are marked so.
{CAUTION}

Example:
  pourwright contents check --rule gb --declared "165 g" --lot-size 16 --weights fills.txt
"""

TARGET_EPILOG = f"""\
The lowest fill at which a lot of that size passes inspection with the probability wanted. --sd is
the standard deviation of single fills; --fills works it out from a file, one weight a line.
--batch-sd is how far the mean of a lot strays from the aim. Never below what is declared.
With --eye-sd, --candles-a-year and --mix-price, what pouring by eye costs a year.
{CAUTION}

Example:
  pourwright contents target --rule gb --declared "165 g" --sd "1.4 g" --lot-size 16 \\
    --probability 0.99 --eye-sd "4 g" --candles-a-year 900 --mix-price 11
"""

DECLARE_EPILOG = f"""\
Converted by the law's own factors and cut off, never rounded up; pounds first from 1 lb. The larger
of the two figures is what is enforced.
{CAUTION}

Example:
  pourwright contents declare "5 3/4 oz"
"""


class BadWeights(BadInput):
    """A file of weights that cannot be read."""


class BadOption(BadInput):
    """Options that do not go together."""


def register(parts) -> None:
    part = parts.add_parser("contents", help="net contents: checks, target fill, declarations")
    verbs = part.add_subparsers(dest="verb", metavar="VERB", required=True)
    _register_check(verbs)
    _register_target(verbs)
    declare = verbs.add_parser(
        "declare",
        help="a lawful net-weight statement",
        description="Word a net weight as a label may say it.",
        epilog=DECLARE_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    declare.add_argument("declared", metavar="WEIGHT", help='such as "5 3/4 oz" or "165 g"')
    declare.add_argument("--rule", choices=MARKET_RULES, default="us", help="whose label (us)")
    add_json_flag(declare)
    declare.set_defaults(run=run_declare)


def _register_check(verbs) -> None:
    check = verbs.add_parser(
        "check",
        help="whether a lot's net weights pass",
        description="Check the net weights of a lot against its label, each step shown.",
        epilog=CHECK_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    check.add_argument("--rule", choices=MARKET_RULES, required=True, help="whose rules")
    check.add_argument("--declared", metavar="LABEL", required=True, help="as the label says it")
    check.add_argument("--lot-size", metavar="N", required=True, help="candles in the lot")
    check.add_argument("--weights", metavar="FILE", required=True, help="one a line, or -")
    check.add_argument(
        "--plan", choices=("single", "double", "destructive"), help="eu and gb, where offered"
    )
    check.add_argument("--tare", metavar="MASS", help="the lines are gross; take this off each")
    check.add_argument("--scale-division", metavar="MASS", help="adds whether the scale suits")
    check.add_argument("--on", metavar="DAY", help="the rules of that day, year-month-day (today)")
    add_json_flag(check)
    check.set_defaults(run=run_check)


def _register_target(verbs) -> None:
    target = verbs.add_parser(
        "target",
        help="the cheapest fill that passes",
        description="Find the fill to aim at from the spread of your own pouring.",
        epilog=TARGET_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    target.add_argument("--rule", choices=MARKET_RULES, required=True, help="whose rules")
    target.add_argument("--declared", metavar="LABEL", required=True, help="as the label says it")
    spread = target.add_mutually_exclusive_group(required=True)
    spread.add_argument("--sd", metavar="MASS", help="standard deviation of single fills")
    spread.add_argument("--fills", metavar="FILE", help="past fills, one a line, or -")
    target.add_argument("--lot-size", metavar="N", required=True, help="candles in a lot")
    target.add_argument("--probability", metavar="P", default="0.95", help="to pass (0.95)")
    target.add_argument("--batch-sd", metavar="MASS", default="0 g", help="of lots' means (0)")
    target.add_argument("--tare-sd", metavar="MASS", default="0 g", help="of empty vessels (0)")
    target.add_argument("--scale-division", metavar="MASS", help="round the aim up to it")
    target.add_argument("--eye-sd", metavar="MASS", help="the spread of pouring by eye")
    target.add_argument("--candles-a-year", metavar="N", default="0")
    target.add_argument("--mix-price", metavar="MONEY", default="0", help="of 1 kg, any currency")
    add_json_flag(target)
    target.set_defaults(run=run_target)


# --- reading -------------------------------------------------------------------------------------


def read_weights(name: str) -> list[Fraction]:
    """Return the weights (g) of a file, one a line; every faulty line is named."""
    try:
        text = sys.stdin.read() if name == "-" else Path(name).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as problem:
        raise BadWeights(f'Weights "{shorten(name)}" cannot be read: {problem}.') from problem
    found, faults = [], []
    for number, line in enumerate(text.splitlines(), start=1):
        written = line.partition("#")[0].strip().rstrip(",;")
        if not written:
            continue
        try:
            found.append(parse_mass(written, field=f"Line {number}"))
        except BadInput as problem:
            faults.append(str(problem))
    if faults:
        more = f" (and {len(faults) - 5} more lines)" if len(faults) > 5 else ""
        raise BadWeights(" ".join(faults[:5]) + more)
    if not found:
        raise BadWeights(f'Weights "{shorten(name)}" has no weight; write one a line.')
    return found


def _lot_size(text: str) -> int:
    size = parse_number(text, field="Lot size", example='"40"')
    if size.denominator != 1 or size < 1:
        raise BadSample(f'Lot size "{shorten(text)}" is not a number of candles, 1 or more.')
    return int(size)


def _day(text: str | None) -> date:
    if text is None:
        return date.today()  # noqa: DTZ011  # the maker's own day, at the door
    try:
        return date.fromisoformat(text)
    except ValueError as problem:
        raise BadOption(f'Day "{shorten(text)}" is not a day; write 2026-03-31.') from problem


def _probability(text: str) -> float:
    percent = text.strip().endswith("%")
    value = parse_percent(text, field="Probability") if percent else None
    if value is not None:
        return float(value / 100)
    return float(parse_number(text, field="Probability", example='"0.95"'))


# --- check ---------------------------------------------------------------------------------------


def run_check(arguments: argparse.Namespace) -> int:
    on = _day(arguments.on)
    declared = parse_declared(arguments.declared, field="Declared")
    nets = read_weights(arguments.weights)
    if arguments.tare is not None:
        tare = parse_mass(arguments.tare, field="Tare")
        nets = [gross - tare for gross in nets]
    found = check_net(
        market=arguments.rule, declared=declared, nets_g=nets,
        lot_size=_lot_size(arguments.lot_size), plan=arguments.plan, on=on,
    )  # fmt: skip
    scale = None
    if arguments.scale_division is not None:
        scale = suitability(
            division_g=parse_mass(arguments.scale_division, field="Scale division"),
            declared=declared, market=arguments.rule, on=on,
        )  # fmt: skip
    if arguments.json:
        print_json(as_json(found, scale))
    else:
        _print_verdict(found, scale)
    return 0


def as_json(found: Verdict, scale=None) -> dict:
    """Return a verdict for programs: masses in grams, what the rule does not have left out."""
    figures = {
        "verified_g": found.verified_g, "average_error_g": found.average_error_g,
        "sample_error_limit_g": found.sample_error_limit_g, "mav_g": found.mav_g,
        "beyond_mav": found.beyond_mav,
    }  # fmt: skip
    if found.market != "us":
        figures = {
            "verified_g": found.verified_g, "tne_g": found.tne_g, "t1_g": found.t1_g,
            "t2_g": found.t2_g, "defectives": found.defectives, "beyond_t2": found.beyond_t2,
            "mean_g": found.mean_g, "limit_g": found.limit_g,
            "average_error_g": found.average_error_g,
        }  # fmt: skip
    steps = [
        {
            "name": step.name, "words": step.words, "figure": step.figure, "limit": step.limit,
            "unit": step.unit, "passed": step.passed, "rule": step.rule.title,
            "source": step.rule.source, "status": step.rule.status,
        }
        for step in found.steps
    ]  # fmt: skip
    answer = {
        "rule": RULE_NAMES[found.market], "plan": found.plan, "verdict": found.verdict,
        "reasons": list(found.reasons), "lot_size": found.lot_size,
        "sample_size": found.sample.count, "sample_sd_g": found.sample.sd, **figures,
        "steps": steps, "notes": list(found.notes), "rules": rules_json(found.rules),
    }  # fmt: skip
    if scale is not None:
        answer["scale"] = {"suitable": scale.suitable, "coarsest_g": scale.coarsest_g}
    return answer


def rules_json(rules: tuple[Rule, ...]) -> list[dict]:
    return [
        {"title": r.title, "source": r.source, "status": r.status, "edition": r["edition"]}
        for r in rules
    ]


def _print_verdict(found: Verdict, scale) -> None:
    plan = "" if found.market == "us" else f", {found.plan}"
    rows = [("rule", f"{RULE_NAMES[found.market]}{plan}")]
    marks = {True: "ok  ", False: "FAIL", None: "    "}
    rows += [(step.name, f"{marks[step.passed]} {step.words}") for step in found.steps]
    if scale is not None:
        rows.append(("scale", f"{marks[scale.suitable]} {scale.words}"))
    words = {"pass": "PASS", "fail": "FAIL", "more": "WEIGH MORE"}
    rows.append(("verdict", f"{words[found.verdict]}: {' '.join(found.reasons)}"))
    rows += [("note", note) for note in found.notes]
    rows += _rule_rows(found.rules)
    print_pairs(rows)


def _rule_rows(rules: tuple[Rule, ...]) -> list[tuple[str, str]]:
    return [("source", f"{r.source} ({r.status})") for r in rules]


# --- target --------------------------------------------------------------------------------------


def run_target(arguments: argparse.Namespace) -> int:
    # scipy is loaded only where it is needed: the other commands start sooner.
    from pourwright.core.contents.target import by_eye, spread_of_fills, target_fill

    on = date.today()  # noqa: DTZ011
    declared = parse_declared(arguments.declared, field="Declared")
    upper = None
    if arguments.fills is not None:
        sd, upper = spread_of_fills([float(fill) for fill in read_weights(arguments.fills)])
    else:
        sd = float(parse_mass(arguments.sd, field="Standard deviation"))
    common = {
        "market": arguments.rule, "declared": declared,
        "lot_size": _lot_size(arguments.lot_size), "on": on,
        "probability": _probability(arguments.probability),
        "batch_sd_g": float(parse_mass(arguments.batch_sd, field="Batch spread")),
    }  # fmt: skip
    tare_sd = float(parse_mass(arguments.tare_sd, field="Tare spread"))
    found = target_fill(sd_g=sd, tare_sd_g=tare_sd, **common)
    answer = {
        "rule": RULE_NAMES[arguments.rule], "target_g": found.target_g, "over_g": found.over_g,
        "error_g": found.error_g, "declared_g": found.declared_g, "sd_g": found.sd_g,
        "sd_upper_g": upper, "lot_size": found.lot_size, "probability": found.probability,
        "passes": found.reached.passes, "passes_error": found.reached.error,
        "average_passes": found.reached.average_passes,
        "singles_pass": found.reached.singles_pass, "limited_by": found.limited_by,
    }  # fmt: skip
    if arguments.scale_division is not None:
        division = parse_mass(arguments.scale_division, field="Scale division")
        if division <= 0:
            raise BadOption("A scale’s division is more than 0, such as 0.1 g.")
        answer["aim_g"] = raised(Fraction(found.target_g).limit_denominator(10**6), division)
    eye = None
    if arguments.eye_sd is not None:
        wide = target_fill(sd_g=float(parse_mass(arguments.eye_sd, field="Eye spread")), **common)
        eye = by_eye(
            wide=wide, narrow=found,
            candles_a_year=int(parse_number(arguments.candles_a_year, field="Candles a year")),
            mix_minor100_per_kg=parse_money(arguments.mix_price, field="Price of the mix"),
        )  # fmt: skip
        answer["by_eye"] = {
            "target_g": wide.target_g, "extra_each_g": eye.extra_each_g,
            "extra_year_g": eye.extra_year_g, "cost": Fraction(eye.cost_minor100, 10_000),
            "candles": eye.candles,
        }  # fmt: skip
    answer["rules"] = rules_json(found.rules)
    if arguments.json:
        print_json(answer)
    else:
        _print_target(found, answer, eye)
    return 0


def _print_target(found, answer: dict, eye) -> None:
    rows = [
        ("rule", answer["rule"]),
        ("declared", f"{plain(found.declared_g, 3)} g"),
        ("aim at", f"{found.target_g:.2f} g, {found.over_g:.2f} g above the label"),
    ]
    if "aim_g" in answer:
        rows.append(("", f"{plain(answer['aim_g'], 3)} g on the scale"))
    rows += [
        ("passes", f"{100 * found.reached.passes:.1f} % of lots of {found.lot_size}"),
        ("limited by", found.limited_by),
        ("computed to", f"±{found.error_g:.3f} g"),
    ]
    if answer["sd_upper_g"] is not None:
        rows.append(
            ("spread", f"{found.sd_g:.2f} g; from so few it may be {answer['sd_upper_g']:.2f} g")
        )
    if eye is not None:
        rows.append(("by eye", f"{eye.extra_each_g:.2f} g more in each candle"))
        money = f"{eye.cost_minor100 / 10_000:.2f} in money"
        kilos = f"{eye.extra_year_g / 1000:.2f} kg a year"
        rows.append(("", f"{kilos}, enough for {eye.candles:.0f} candles, {money}"))
    print_pairs([*rows, *_rule_rows(found.rules)])


# --- declare -------------------------------------------------------------------------------------


def run_declare(arguments: argparse.Namespace) -> int:
    declared = parse_declared(arguments.declared, field="Net weight")
    stated = statement_for(declared, arguments.rule)
    if arguments.json:
        print_json(
            {
                "statement": stated.text,
                "grams": stated.grams,
                "enforced_g": stated.enforced_g,
                "notes": list(stated.notes),
                "rules": rules_json(stated.used),
            }
        )
    else:
        rows = [
            ("statement", stated.text),
            ("enforced", f"{plain(stated.enforced_g, 3)} g"),
            *(("note", note) for note in stated.notes),
        ]
        print_pairs([*rows, *_rule_rows(stated.used)])
    return 0
