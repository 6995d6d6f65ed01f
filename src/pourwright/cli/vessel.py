"""``pourwright vessel``: what a vessel holds, how high a fill stands, and its drawing."""

from __future__ import annotations

import argparse
import sys
from dataclasses import asdict
from fractions import Fraction
from pathlib import Path

from pourwright.cli.output import add_json_flag, print_json, print_pairs
from pourwright.core.amounts import (
    System,
    parse_count,
    parse_density,
    parse_length,
    parse_mass,
    parse_volume,
    show_length,
    show_mass,
    show_percent,
    show_volume,
)
from pourwright.core.errors import BadInput
from pourwright.core.vessel.fill import (
    Fill,
    NormalFill,
    fill_by_height,
    fill_by_volume,
    fill_by_weight,
    normal_fill,
)
from pourwright.core.vessel.vessel import NOTED_DISAGREEMENT, Vessel, vessel_from
from pourwright.papers.candle import above_svg, drawing_of, section_svg

FILL_EPILOG = """\
A vessel is described by its brim volume, by its inside measures, or by water marks. Volumes are
US fluid ounces or millilitres; a plain "oz" is a weight. Without --weight, --volume or --height
only the usual fill is told.

Caution: leave room below the rim for the flame, and use only vessels made to hold one.

Example:
  pourwright vessel fill --inside-diameter "68 mm" --top-diameter "76 mm" --depth "85 mm" \\
    --density 0.88 --liquid-density 0.82 --weight "190 g"
"""

DRAW_EPILOG = """\
The drawing is to scale; --true-size makes it 1:1 on paper.

Example:
  pourwright vessel draw --inside-diameter "3 in" --depth "3.5 in" --wall "4 mm" --base "8 mm" \\
    --density 0.88 --weight "6 oz" --wicks 1 --units us --out tumbler.svg
"""


class BadOption(BadInput):
    """The options do not go together."""


def register(parts) -> None:
    part = parts.add_parser("vessel", help="what a vessel holds, and its drawing")
    verbs = part.add_subparsers(dest="verb", metavar="VERB", required=True)
    fill = verbs.add_parser(
        "fill",
        help="weight, volume, height and headspace of a fill",
        description="Work out a fill: how much wax, how high it stands, how much room is left.",
        epilog=FILL_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _add_vessel_options(fill.add_argument_group("vessel"))
    _add_fill_options(fill.add_argument_group("fill"), density_required=True)
    fill.add_argument("--units", choices=("metric", "us"), help="to show; --weight decides if left")
    add_json_flag(fill)
    fill.set_defaults(run=run_fill)

    draw = verbs.add_parser(
        "draw",
        help="the candle to scale, as an SVG file",
        description="Draw the vessel, and the candle in it, to scale.",
        epilog=DRAW_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _add_vessel_options(draw.add_argument_group("vessel"))
    _add_fill_options(draw.add_argument_group("fill"), density_required=False)
    look = draw.add_argument_group("drawing")
    look.add_argument("--wall", metavar="LENGTH", help="thickness of the wall")
    look.add_argument("--base", metavar="LENGTH", help="thickness of the base")
    look.add_argument("--wicks", metavar="N", default="1", help="how many (1)")
    look.add_argument("--wick-height", metavar="LENGTH", default="6 mm", help="above the wax")
    look.add_argument("--lit", action="store_true", help="with its flames")
    look.add_argument("--view", choices=("section", "above"), default="section")
    look.add_argument("--size", metavar="PIXELS", default="480", help="widest or highest (480)")
    look.add_argument("--true-size", action="store_true", help="1:1 on paper")
    look.add_argument("--plain", action="store_true", help="without dimensions")
    look.add_argument("--name", default="", help="the candle's name, for the title")
    look.add_argument("--units", choices=("metric", "us"), default="metric")
    draw.add_argument("--out", metavar="FILE", required=True, help='a file, or "-" to print it')
    add_json_flag(draw)
    draw.set_defaults(run=run_draw)


def _add_vessel_options(group) -> None:
    group.add_argument("--brim", metavar="VOLUME", help="volume to the brim")
    group.add_argument("--inside-diameter", metavar="LENGTH", help="inside; at the base if tapered")
    group.add_argument("--top-diameter", metavar="LENGTH", help="inside, at the top of a taper")
    group.add_argument("--depth", metavar="LENGTH", help="inside, from base to rim")
    group.add_argument(
        "--mark",
        metavar="HEIGHT=VOLUME",
        action="append",
        default=[],
        help="a water mark, such as 40mm=150ml; repeatable, the last at the brim",
    )


def _add_fill_options(group, *, density_required: bool) -> None:
    group.add_argument(
        "--density", metavar="G/ML", required=density_required, help="of the set wax"
    )
    group.add_argument("--liquid-density", metavar="G/ML", help="at the pouring temperature")
    one = group.add_mutually_exclusive_group()
    one.add_argument("--weight", metavar="MASS", help="of the fill")
    one.add_argument("--volume", metavar="VOLUME", help="of the fill, set")
    one.add_argument("--height", metavar="LENGTH", help="of the fill, set, from the inside base")


def run_fill(arguments: argparse.Namespace) -> int:
    vessel = read_vessel(arguments)
    density = _density(arguments.density, "Density")
    fill = read_fill(arguments, vessel)
    usual = normal_fill(vessel, density_g_per_ml=density)
    if arguments.json:
        print_json(as_json(vessel, fill, usual))
    else:
        print_fill(vessel, fill, usual, units=_units(arguments))
    return 0


def run_draw(arguments: argparse.Namespace) -> int:
    vessel = read_vessel(arguments)
    drawing = drawing_of(
        vessel,
        fill_ml=_drawn_ml(arguments, vessel),
        wick_count=parse_count(arguments.wicks, field="Wicks"),
        wick_height_mm=_length(arguments.wick_height, "Wick height"),
        lit=arguments.lit,
        name=arguments.name,
    )
    draw = section_svg if arguments.view == "section" else above_svg
    size = parse_count(arguments.size, field="Size", least=40)
    picture = draw(
        drawing,
        size=min(size, 4000),
        dimensions=not arguments.plain,
        units=arguments.units,
        standalone=True,
        true_size=arguments.true_size,
    )
    if arguments.out == "-":
        sys.stdout.write(f"{picture}\n")
        return 0
    try:
        Path(arguments.out).write_text(f"{picture}\n", encoding="utf-8")
    except OSError as problem:
        raise BadOption(
            f'The drawing cannot be written to "{arguments.out}": {problem.strerror}.'
        ) from problem
    if arguments.json:
        print_json({"file": arguments.out, "view": arguments.view})
    else:
        print_pairs([("written", arguments.out)])
    return 0


def read_vessel(arguments: argparse.Namespace) -> Vessel:
    """Return the vessel of the options, lengths and volumes in any unit."""
    wall, base = getattr(arguments, "wall", None), getattr(arguments, "base", None)
    return vessel_from(
        inside_diameter_mm=_length(arguments.inside_diameter, "Inside diameter"),
        top_diameter_mm=_length(arguments.top_diameter, "Top diameter"),
        depth_mm=_length(arguments.depth, "Depth"),
        brim_ml=_volume(arguments.brim, "Brim"),
        marks=[_mark(text) for text in arguments.mark],
        wall_mm=_length(wall, "Wall"),
        base_mm=_length(base, "Base"),
    )


def read_fill(arguments: argparse.Namespace, vessel: Vessel) -> Fill | None:
    """Return the fill that is asked for, or None where none is."""
    densities = {
        "density_g_per_ml": _density(arguments.density, "Density"),
        "liquid_density_g_per_ml": (
            None
            if arguments.liquid_density is None
            else _density(arguments.liquid_density, "Liquid density")
        ),
    }
    if arguments.weight is not None:
        grams = float(parse_mass(arguments.weight, field="Weight"))
        return fill_by_weight(vessel, fill_g=grams, **densities)
    if arguments.volume is not None:
        volume = _volume(arguments.volume, "Volume")
        return fill_by_volume(vessel, fill_ml=volume, **densities)
    if arguments.height is not None:
        height = _length(arguments.height, "Height")
        return fill_by_height(vessel, height_mm=height, **densities)
    return None


def as_json(vessel: Vessel, fill: Fill | None, usual: NormalFill) -> dict:
    """Return the answer for programs; every length in mm, volume in ml, mass in g."""
    answer: dict = {
        "brim_ml": vessel.brim_ml,
        "depth_mm": vessel.depth_mm,
        "height_known": vessel.height_known,
        "usual_fill": asdict(usual),
    }
    if vessel.disagreement:
        answer["brim_by_shape_ml"] = vessel.shape.brim_ml
    if fill is not None:
        answer |= asdict(fill)
    return _rounded(answer)


def print_fill(vessel: Vessel, fill: Fill | None, usual: NormalFill, *, units: System) -> None:
    rows = [("brim", show_volume(Fraction(vessel.brim_ml), units))]
    if abs(vessel.disagreement) > NOTED_DISAGREEMENT:
        by_shape = show_volume(Fraction(vessel.shape.brim_ml), units)
        rows.append(("", f"by its diameter and depth {by_shape}: check the measures"))
    if fill is not None:
        rows.append(("full of wax", show_mass(Fraction(fill.brim_wax_g), units)))
        rows.append(
            (
                "fill",
                f"{show_mass(Fraction(fill.fill_g), units)}, "
                f"{show_volume(Fraction(fill.fill_ml), units)}, "
                f"{_pct(fill.fill_pct_of_brim)} of the brim",
            )
        )
        rows.append(("wax stands", _level(fill.height_mm, fill.headspace_mm, units)))
        if fill.liquid_ml is not None:
            rows.append(
                (
                    "at pouring",
                    f"{show_volume(Fraction(fill.liquid_ml), units)}, "
                    f"{_level(fill.liquid_height_mm, fill.liquid_headspace_mm, units)}",
                )
            )
    low, high = (show_mass(Fraction(g), units) for g in (usual.low_g, usual.high_g))
    rows.append(
        (
            "usual fill",
            f"{low} to {high}, {usual.low_pct_of_brim:g} to {usual.high_pct_of_brim:g} % of the "
            f"brim ({usual.source})",
        )
    )
    print_pairs(rows)


def _level(height_mm: float | None, room_mm: float | None, units: System) -> str:
    if height_mm is None or room_mm is None:
        return "height not known: give inside diameter and depth, or water marks"
    height, room = (show_length(Fraction(mm), units) for mm in (height_mm, room_mm))
    return f"{height} high, {room} below the rim"


def _drawn_ml(arguments: argparse.Namespace, vessel: Vessel) -> float | None:
    """Return the volume to draw; only a weight, or a hot level, needs a density."""
    if arguments.density is not None:
        fill = read_fill(arguments, vessel)
        return None if fill is None else fill.fill_ml
    if arguments.weight is not None:
        raise BadOption("A fill by weight needs the density of the set wax: add --density.")
    if arguments.volume is not None:
        return _volume(arguments.volume, "Volume")
    if arguments.height is not None:
        return vessel.shape.volume_ml(_length(arguments.height, "Height"))
    return None


def _units(arguments: argparse.Namespace) -> System:
    """Return the units asked for, or those in which the weight or the brim was written."""
    if arguments.units is not None:
        return arguments.units
    written = (arguments.weight or arguments.volume or arguments.brim or "").lower()
    return "us" if any(unit in written for unit in ("oz", "lb", "cup", "pint")) else "metric"


def _mark(text: str) -> tuple[float, float]:
    height, sign, volume = text.partition("=")
    if not sign:
        raise BadOption(f'The mark "{text}" has no volume; write for example "40mm=150ml".')
    return float(parse_length(height, field="Mark height")), float(
        parse_volume(volume, field="Mark volume")
    )


def _length(text: str | None, field: str) -> float | None:
    return None if text is None else float(parse_length(text, field=field))


def _volume(text: str | None, field: str) -> float | None:
    return None if text is None else float(parse_volume(text, field=field))


def _density(text: str, field: str) -> float:
    return float(parse_density(text, field=field))


def _pct(value: float) -> str:
    return show_percent(Fraction(value), places=1)


def _rounded(value):
    """Return the same with floats to a millionth, far below what a rule or a jug tells."""
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    return round(value, 6) if isinstance(value, float) else value
