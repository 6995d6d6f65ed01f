"""``pourwright formula batch``: what to weigh, sized from the vessels, the wax or a melter."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import asdict
from fractions import Fraction

from pourwright.cli.output import add_json_flag, print_json, print_pairs
from pourwright.core import formula as core
from pourwright.core.amounts import (
    System,
    mass_number,
    number,
    parse_count,
    parse_density,
    parse_mass,
    parse_number,
    parse_percent,
    parse_temperature,
    parse_volume,
    show_mass,
    show_percent,
)
from pourwright.core.errors import BadInput

EPILOG = """\
A load has two bases: 10 % of the wax is 9.09 % of the whole. An amount may be written "2.5 kg",
"1 lb 8 oz" or "40 g"; a bare number is grams. A wax's limit can be passed with a reason, an oil's
safety limit cannot. With --oil-in melter, wax and oil together must fit the melter; with --oil-in
pitcher, only the wax.

Caution: never leave a melt. A wax fire is smothered with a lid, never watered. Wear gloves and
have fresh air when you handle oils. Check limits against your suppliers' current sheets.

Example:
  pourwright formula batch --vessels 18 --fill "190 g" --load 6 --basis wax \\
    --oil "fig leaf"=2 --oil cedar=1 --loss 2 --scale-division "1 g"
"""

CAUTION = (
    "Caution: never leave a melt; a wax fire is smothered, never watered. "
    "Gloves and fresh air at the oils."
)


class BadOption(BadInput):
    """The options do not go together."""


def register(parts) -> None:
    part = parts.add_parser("formula", help="amounts for a batch, within every limit")
    verbs = part.add_subparsers(dest="verb", metavar="VERB", required=True)
    batch = verbs.add_parser(
        "batch",
        help="what to weigh, how many vessels it fills, what is left",
        description="Work out one batch: what to weigh, how many vessels it fills, what is left.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _add_size_options(batch.add_argument_group("size: one of --wax, --vessels and --melter"))
    _add_formula_options(batch.add_argument_group("formula"))
    _add_limit_options(batch.add_argument_group("limits"))
    add_json_flag(batch)
    batch.set_defaults(run=run_batch)


def _add_size_options(group) -> None:
    group.add_argument("--wax", metavar="MASS", help="wax at hand")
    group.add_argument("--vessels", metavar="N", help="vessels wanted")
    group.add_argument("--fill", metavar="MASS", help="what one vessel takes")
    group.add_argument(
        "--also",
        metavar="N=MASS",
        action="append",
        default=[],
        help="further vessels to fill, number and fill; repeatable",
    )
    group.add_argument("--loss", metavar="PCT", default="0", help="of the mix, kept by jugs (0)")
    group.add_argument("--melter", metavar="MASS", help="what the melter is rated for")
    group.add_argument("--melter-volume", metavar="VOLUME", help="what the melter holds, liquid")
    group.add_argument(
        "--liquid-density", metavar="G/ML", help="of the melted wax, for --melter-volume"
    )
    group.add_argument(
        "--oil-in",
        choices=("melter", "pitcher"),
        default="melter",
        help="where the oil goes in: what the melter must hold (melter)",
    )
    group.add_argument("--scale-division", metavar="MASS", help="smallest step of the oils' scale")
    group.add_argument("--wax-scale-division", metavar="MASS", help="of the wax's scale, if other")


def _add_formula_options(group) -> None:
    group.add_argument("--load", metavar="PCT", help="fragrance load; needs --basis")
    group.add_argument("--basis", choices=("wax", "whole"), help="what the load is a percentage of")
    for flag, meta, what in (
        ("--oil", "NAME=SHARE", "an oil and its share of the oils"),
        ("--wax-part", "NAME=SHARE", "a wax of a blend and its share"),
        ("--extra", "NAME=PCT", "dye or an additive, percent of the wax"),
    ):
        group.add_argument(
            flag, metavar=meta, action="append", default=[], help=f"{what}; repeatable"
        )


def _add_limit_options(group) -> None:
    group.add_argument(
        "--max-load",
        metavar="[WAX=]PCT",
        action="append",
        default=[],
        help="most oil the wax takes; needs --max-load-basis",
    )
    group.add_argument("--max-load-basis", choices=("wax", "whole"))
    group.add_argument("--override-reason", metavar="TEXT", default="", help="to pass --max-load")
    group.add_argument("--adding-temperature", metavar="TEMP", help="of the wax when oil goes in")
    group.add_argument(
        "--flash",
        metavar="OIL=TEMP",
        action="append",
        default=[],
        help="an oil's flash point; repeatable",
    )
    group.add_argument(
        "--oil-limit",
        metavar="OIL=PCT",
        action="append",
        default=[],
        help="an oil's safety limit, percent of the whole candle; repeatable",
    )


def run_batch(arguments: argparse.Namespace) -> int:
    formula = read_formula(arguments)
    findings = core.refuse_over_limit(
        core.check_limits(formula), override_reason=arguments.override_reason
    )
    batch = read_batch(arguments, formula)
    weighing = read_weighing(arguments, formula, batch)
    if weighing is not None:
        findings += weighing.findings
    if arguments.json:
        print_json(as_json(formula, batch, weighing, findings))
    else:
        scale = "us" if _in_ounces(arguments.scale_division) else "metric"
        print_batch(formula, batch, weighing, findings, scale=scale)
    return 0


# Reading the options


def read_formula(arguments: argparse.Namespace) -> core.Formula:
    limits = _by_name("--max-load", arguments.max_load, parse_percent, nameless=True)
    if limits and arguments.max_load_basis is None:
        raise BadOption("--max-load needs its basis; add --max-load-basis wax or whole.")
    waxes = _pairs("--wax-part", arguments.wax_part, parse_number) or [("Wax", Fraction(1))]
    oils = _pairs("--oil", arguments.oil, parse_number)
    flashes = _by_name("--flash", arguments.flash, parse_temperature)
    oil_limits = _by_name("--oil-limit", arguments.oil_limit, parse_percent)
    _refuse_unknown("--max-load", [name for name in limits if name], waxes)
    _refuse_unknown("--flash", flashes, oils)
    _refuse_unknown("--oil-limit", oil_limits, oils)
    adding = arguments.adding_temperature
    return core.Formula(
        waxes=tuple(
            core.WaxPart(
                name=name,
                share=share,
                max_load=_load(limits.get(name, limits.get("")), arguments.max_load_basis),
            )
            for name, share in waxes
        ),
        load=_read_load(arguments),
        oils=tuple(
            core.OilPart(
                name=name,
                share=share,
                flash_point_c=flashes.get(name),
                max_pct_of_whole=oil_limits.get(name),
            )
            for name, share in oils
        ),
        extras=tuple(
            core.Extra(name=name, pct_of_wax=pct)
            for name, pct in _pairs("--extra", arguments.extra, parse_percent)
        ),
        adding_temp_c=None
        if adding is None
        else parse_temperature(adding, field="--adding-temperature"),
    )


def _read_load(arguments: argparse.Namespace) -> core.Load:
    if arguments.load is None:
        if arguments.oil:
            raise BadOption("Oils need a load; add for example --load 6 --basis wax.")
        return core.NO_LOAD
    if arguments.basis is None:
        raise BadOption("--load needs its basis; add --basis wax or --basis whole.")
    load = _load(parse_percent(arguments.load, field="--load"), arguments.basis)
    assert load is not None
    return load


def _load(pct: Fraction | None, basis: str | None) -> core.Load | None:
    if pct is None:
        return None
    return core.LoadOfWhole(pct) if basis == "whole" else core.LoadOfWax(pct)


def read_batch(arguments: argparse.Namespace, formula: core.Formula) -> core.Batch:
    if arguments.wax is not None and arguments.vessels is not None:
        raise BadOption("--wax and --vessels both size the batch; give one of them.")
    loss_pct = parse_percent(arguments.loss, field="--loss")
    melter = _read_melter(arguments)
    fill_g = None if arguments.fill is None else parse_mass(arguments.fill, field="--fill")
    also = [
        core.Fill(
            count=parse_count(number, field="--also"), fill_g=parse_mass(mass, field="--also")
        )
        for number, mass in (_split("--also", text) for text in arguments.also)
    ]
    if arguments.vessels is not None:
        if fill_g is None:
            raise BadOption(
                '--vessels needs what one vessel takes; add for example --fill "190 g".'
            )
        count = parse_count(arguments.vessels, field="--vessels", least=1)
        fills = [core.Fill(count=count, fill_g=fill_g), *also]
        return core.batch_for_vessels(formula, fills=fills, loss_pct_of_mix=loss_pct, melter=melter)
    if arguments.wax is not None:
        wax_g = parse_mass(arguments.wax, field="--wax")
        return core.batch_for_wax(
            formula,
            wax_g=wax_g,
            fill_g=fill_g,
            first=also,
            loss_pct_of_mix=loss_pct,
            melter=melter,
        )
    if melter is not None:
        return core.batch_for_melter(
            formula, melter=melter, fill_g=fill_g, first=also, loss_pct_of_mix=loss_pct
        )
    raise BadOption('Nothing sizes the batch; add --vessels, --wax or --melter, as --wax "2 kg".')


def _read_melter(arguments: argparse.Namespace) -> core.Melter | None:
    if arguments.melter is None and arguments.melter_volume is None:
        if arguments.liquid_density is not None:
            raise BadOption("--liquid-density is for --melter-volume; add that, or leave it out.")
        return None
    volume, density = arguments.melter_volume, arguments.liquid_density
    return core.Melter(
        usable_g=None
        if arguments.melter is None
        else parse_mass(arguments.melter, field="--melter"),
        usable_ml=None if volume is None else parse_volume(volume, field="--melter-volume"),
        liquid_density_g_per_ml=None
        if density is None
        else parse_density(density, field="--liquid-density"),
        oil_goes_in=arguments.oil_in,
    )


def read_weighing(
    arguments: argparse.Namespace, formula: core.Formula, batch: core.Batch
) -> core.Weighing | None:
    if arguments.scale_division is None:
        if arguments.wax_scale_division is not None:
            raise BadOption("--wax-scale-division goes with --scale-division; add that.")
        return None
    wax_division = arguments.wax_scale_division
    return core.weighing_targets(
        formula,
        batch,
        division_g=parse_mass(arguments.scale_division, field="--scale-division"),
        wax_division_g=None
        if wax_division is None
        else parse_mass(wax_division, field="--wax-scale-division"),
        past_wax_limit=bool(arguments.override_reason.strip()),
    )


def _split(flag: str, text: str) -> tuple[str, str]:
    name, equals, value = text.rpartition("=")
    shown = "".join(sign if sign.isprintable() else "?" for sign in text)
    if not equals or not name.strip() or not value.strip():
        raise BadOption(f'{flag} "{shown}" is not a pair; write it as in {flag} {_PAIR[flag]}.')
    if shown != text:
        raise BadOption(f'{flag} "{shown}" has a sign that cannot be printed; leave it out.')
    return name.strip(), value.strip()


_PAIR = {
    "--oil": "cedar=2",
    "--wax-part": '"soy wax"=3',
    "--extra": "dye=0.1",
    "--also": '6="250 g"',
    "--flash": 'cedar="80 C"',
    "--oil-limit": "cedar=4",
    "--max-load": '"soy wax"=9',
}


def _pairs(
    flag: str, texts: Sequence[str], parse: Callable[..., Fraction]
) -> list[tuple[str, Fraction]]:
    """Return the names and values of a repeatable NAME=VALUE option."""
    split = [_split(flag, text) for text in texts]
    return [(name, parse(value, field=f"{flag} {name}")) for name, value in split]


def _by_name(
    flag: str, texts: Sequence[str], parse: Callable[..., Fraction], *, nameless: bool = False
) -> dict[str, Fraction]:
    """Return the values by name, each once; under "" the value given without a name."""
    found: dict[str, Fraction] = {}
    for text in texts:
        name, value = ("", text) if nameless and "=" not in text else _split(flag, text)
        if name in found:
            raise BadOption(f"{flag} is given twice{f' for {name}' if name else ''}; give it once.")
        found[name] = parse(value, field=f"{flag} {name}".strip())
    return found


def _refuse_unknown(flag: str, names, parts: Sequence[tuple[str, Fraction]]) -> None:
    known = [name for name, _ in parts]
    for name in names:
        if name not in known:
            listed = ", ".join(known) or "none"
            raise BadOption(f'{flag} names "{name}", which is not in the formula ({listed}).')


# Printing


def as_json(
    formula: core.Formula,
    batch: core.Batch,
    weighing: core.Weighing | None,
    findings: Sequence[core.Finding],
) -> dict:
    pcts = core.oil_pct_of_whole(formula)
    answer = {
        "wax_g": batch.wax_g,
        "waxes": list(batch.waxes),
        "oils": [
            {"name": oil.name, "mass_g": oil.mass_g, "pct_of_whole": pct}
            for oil, pct in zip(batch.oils, pcts, strict=True)
        ],
        "extras": list(batch.extras),
        "mix_g": batch.mix_g,
        "load_pct_of_wax": batch.load_pct_of_wax,
        "load_pct_of_whole": batch.load_pct_of_whole,
        "vessels": batch.vessels,
        "fills": [{"count": fill.count, "fill_g": fill.fill_g} for fill in batch.fills],
        "loss_g": batch.loss_g,
        "left_g": batch.left_g,
        "findings": list(findings),
        "not_checked": core.unknown_limits(formula),
    }
    if weighing is not None:
        # Its findings stand among the others already.
        answer["weighing"] = {
            key: value for key, value in asdict(weighing).items() if key != "findings"
        }
    return answer


def print_batch(
    formula: core.Formula,
    batch: core.Batch,
    weighing: core.Weighing | None,
    findings: Sequence[core.Finding],
    *,
    scale: System,
) -> None:
    _print_columns(_mass_rows(batch, weighing, scale))
    print()
    print_pairs(_summary(batch, weighing))
    for finding in findings:
        print(f"Note: {finding.message}")
        if finding.override_reason:
            print(f"      Passed because: {finding.override_reason}")
    gaps = core.unknown_limits(formula)
    if gaps:
        print(f"Not checked, not given: {'; '.join(gaps)}.")
    print(CAUTION)


def _in_ounces(division: str | None) -> bool:
    """Return whether the scale's division was written in US units, so that it shows them too."""
    return division is not None and any(unit in division.lower() for unit in ("oz", "ou", "lb"))


def _mass_rows(
    batch: core.Batch, weighing: core.Weighing | None, scale: System
) -> list[tuple[str, ...]]:
    parts = [*batch.waxes, *batch.oils, *batch.extras]
    rows = [(part.name, part.mass_g) for part in parts] + [("mix", batch.mix_g)]
    shown = [(name, _column(mass, "g", 2), _column(mass, "oz", 3)) for name, mass in rows]
    if weighing is None:
        return shown
    finest_g = min(weighing.division_g, weighing.wax_division_g)
    to_weigh = [
        *((target.weigh_g, weighing.wax_division_g) for target in weighing.waxes),
        *((target.weigh_g, weighing.division_g) for target in (*weighing.oils, *weighing.extras)),
        (weighing.mix_g, finest_g),
    ]
    on_scale = [show_mass(mass, scale, division_g=division) for mass, division in to_weigh]
    header = ("", "exactly", "", "weigh")
    return [header] + [(*row, cell) for row, cell in zip(shown, on_scale, strict=True)]


def _column(mass_g: Fraction, unit: str, places: int) -> str:
    return f"{mass_number(mass_g, unit=unit, places=places)} {unit}"


def _summary(batch: core.Batch, weighing: core.Weighing | None) -> list[tuple[str, str]]:
    pairs = [
        (
            "load",
            f"{show_percent(batch.load_pct_of_wax, places=3)} of the wax = "
            f"{show_percent(batch.load_pct_of_whole, places=3)} of the whole",
        )
    ]
    if weighing is not None:
        pairs += _weighing_summary(weighing)
    pairs += [("fills", f"{fill.count} of {_both(fill.fill_g)}") for fill in batch.fills]
    if batch.loss_g:
        pairs.append(("loss", _both(batch.loss_g)))
    return [*pairs, ("left over", _both(batch.left_g))]


def _weighing_summary(weighing: core.Weighing) -> list[tuple[str, str]]:
    pairs = [
        (
            "as weighed",
            f"{show_percent(weighing.load_pct_of_wax, places=3)} of the wax, shares within "
            f"{number(weighing.worst_share_error_points, places=2)} points",
        )
    ]
    if weighing.nearby is not None:
        nearby = weighing.nearby
        pairs.append(
            (
                "closer with",
                f"{show_mass(nearby.oil_g, 'metric')} of oil in {show_mass(nearby.wax_g, 'metric')}"
                f" of wax: within {number(nearby.worst_share_error_points, places=2)} points",
            )
        )
    return pairs


def _both(mass_g: Fraction) -> str:
    return f"{show_mass(mass_g, 'metric')} ({show_mass(mass_g, 'us')})"


def _print_columns(rows: Sequence[tuple[str, ...]]) -> None:
    """Print names on the left and amounts lined up on the right."""
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    for first, *rest in rows:
        cells = [f"{cell:>{width}}" for cell, width in zip(rest, widths[1:], strict=True)]
        print("   ".join([f"{first:<{widths[0]}}", *cells]).rstrip())
