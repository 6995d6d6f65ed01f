"""``pourwright wick``: where wicks stand, and jigs that put them there."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from fractions import Fraction
from math import inf
from pathlib import Path

import numpy as np

from pourwright.cli.output import add_json_flag, print_json, print_pairs
from pourwright.core.amounts import parse_count, parse_length, show_length, show_percent
from pourwright.core.errors import BadInput
from pourwright.core.wicks import jigs
from pourwright.core.wicks.covering import (
    LEAST_GAP_MM,
    LEAST_SPACING_MM,
    Placement,
    covered_share,
    equal_slices,
    place,
    placement_of,
)
from pourwright.core.wicks.insides import Inside
from pourwright.core.wicks.outlines import Oval
from pourwright.core.wicks.tolerance import as_good_rings, scatter_of
from pourwright.intake.vessel_file import read_vessel, round_inside
from pourwright.papers.jigs.files import KINDS, jig_file, notes
from pourwright.papers.labels.sheets import PAPERS
from pourwright.papers.wicks_above import wicks_above_svg

PLACE_EPILOG = """\
The reach is the farthest that any of the wax lies from a wick: what a lone pool would have to
reach. It places wicks and does not size them, for real pools merge and cover more. Two wicks in a
round vessel do not shorten it. The least distances are common practice, no source.

A vessel that is not round is a small TOML file; see docs/vessel-file.md.

Example:
  pourwright wick place --inside-diameter "96 mm" --count 4 --reach "34 mm"
"""

JIG_EPILOG = """\
A bar rests on the rim and holds the wicks upright; a guide lies on the floor while their tabs are
pressed down. Written are a paper template (PDF), SVG and DXF to cut by, STL and 3MF to print, and
notes. The kerf is allowed for in SVG and DXF. --slots opens the bar's holes to the side.

Caution: take a jig off before the candle is lit. PLA softens below pouring temperature. Never cut
PVC with a laser.

Example:
  pourwright wick jig --inside-diameter "96 mm" --count 4 --form bar --kerf "0.15 mm" --out jigs
"""


class BadOption(BadInput):
    """The options do not go together."""


def register(parts) -> None:
    part = parts.add_parser("wick", help="where wicks stand, and jigs for them")
    verbs = part.add_subparsers(dest="verb", metavar="VERB", required=True)
    where = verbs.add_parser(
        "place",
        help="places of the wicks, and how far a lone pool would reach",
        description="Place one to ten wicks in a vessel.",
        epilog=PLACE_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _add_placing(where)
    where.add_argument("--reach", metavar="LENGTH", help="tell what lone pools so far would cover")
    where.add_argument(
        "--scatter", metavar="LENGTH", default="1 mm",
        help="how far wicks stand off by chance, each way (1 mm)",
    )  # fmt: skip
    where.add_argument("--draw", metavar="FILE", help="write the view from above as an SVG")
    add_json_flag(where)
    where.set_defaults(run=run_place)

    jig = verbs.add_parser(
        "jig",
        help="a wick bar or a setting guide, as files",
        description="Make a jig for a placement, true to size.",
        epilog=JIG_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _add_placing(jig)
    jig.add_argument("--form", choices=jigs.FORMS, required=True)
    _add_fit(jig.add_argument_group("jig"))
    jig.add_argument("--paper", choices=tuple(PAPERS), default="A4")
    jig.add_argument("--out", metavar="DIR", required=True, help="the folder for the files")
    add_json_flag(jig)
    jig.set_defaults(run=run_jig)


def _add_placing(parser) -> None:
    vessel = parser.add_argument_group("vessel")
    vessel.add_argument("--inside-diameter", metavar="LENGTH", help="inside; at the floor if taper")
    vessel.add_argument("--top-diameter", metavar="LENGTH", help="inside, at the rim of a taper")
    vessel.add_argument("--depth", metavar="LENGTH", help="inside, from floor to rim")
    vessel.add_argument("--fill-height", metavar="LENGTH", help="where the wax of a taper stands")
    vessel.add_argument("--wall", metavar="LENGTH", help="its thickness at the rim (3 mm)")
    vessel.add_argument("--vessel", metavar="FILE", help="a TOML file instead: oval, square ...")
    wicks = parser.add_argument_group("wicks")
    wicks.add_argument("--count", metavar="N", required=True, help="1 to 10")
    wicks.add_argument(
        "--layout", choices=("smallest", "slices"), default="smallest",
        help="for the smallest reach, or in the middles of equal slices (round vessels)",
    )  # fmt: skip
    wicks.add_argument(
        "--gap", metavar="LENGTH", default=f"{LEAST_GAP_MM:g} mm",
        help=f"least distance to the wall ({LEAST_GAP_MM:g} mm)",
    )  # fmt: skip
    wicks.add_argument(
        "--spacing", metavar="LENGTH", default=f"{LEAST_SPACING_MM:g} mm",
        help=f"least distance between wicks ({LEAST_SPACING_MM:g} mm)",
    )  # fmt: skip


FIT_OPTIONS = (
    ("hole", "hole_mm", "diameter of the holes for the wicks"),
    ("clearance", "clearance_mm", "room to the vessel's inside"),
    ("thickness", "thickness_mm", "of the sheet or print"),
    ("lip", "lip_mm", "how deep the bar's lip reaches in"),
    ("arm", "arm_mm", "width of the bar's arms"),
    ("overhang", "overhang_mm", "how far arms reach beyond the rim"),
    ("kerf", "kerf_mm", "width of the tool's cut"),
    ("tab", "tab_mm", "diameter of the wick tabs"),
    ("tab-fit", "tab_fit_mm", "room around a tab"),
)


def _add_fit(group) -> None:
    usual = jigs.Fit()
    for option, name, what in FIT_OPTIONS:
        default = f"{getattr(usual, name):g} mm"
        group.add_argument(
            f"--{option}", metavar="LENGTH", default=default, help=f"{what} ({default})"
        )
    group.add_argument("--slots", action="store_true", help="open the bar's holes to the side")


def run_place(arguments: argparse.Namespace) -> int:
    inside, found = _placed(arguments)
    positions = np.array(found.positions_mm)
    scatter = scatter_of(
        positions, inside.surface, sd_mm=_length(arguments.scatter, "Scatter", zero=True)
    )
    rings = _rings(arguments, inside)
    pool = found.reach_mm
    covered = None
    if arguments.reach is not None:
        pool = _length(arguments.reach, "Reach")
        covered = covered_share(positions, inside.surface, pool_radius_mm=pool)
    if arguments.draw:
        svg = wicks_above_svg(
            found.positions_mm, inside, pool_radius_mm=pool, size=480, standalone=True
        )
        _write(Path(arguments.draw), f"{svg}\n".encode())
    if arguments.json:
        answer = {
            **asdict(found),
            "as_good_ring_radii_mm": None if rings is None else [rings.least_mm, rings.most_mm],
            "scatter": asdict(scatter),
        }
        if covered is not None:
            answer |= {"pool_radius_mm": pool, "covered_share": covered}
        answer["note"] = "The reach places wicks and does not size them: real pools merge."
        print_json(_rounded(answer))
        return 0
    rows = [
        (f"wick {number}", f"{_at(x)} mm right, {_at(y)} mm away, from the middle")
        for number, (x, y) in enumerate(found.positions_mm, start=1)
    ]
    rows.append(("reach", f"{_mm(found.reach_mm)}, for a lone pool; real pools merge"))
    if found.ring_radius_mm is not None:
        rows.append(("ring radius", _mm(found.ring_radius_mm)))
    if rings is not None:
        inner = "one more in the middle, " if rings.in_middle else ""
        least, most, best = map(_mm, (rings.least_mm, rings.most_mm, rings.best_reach_mm))
        rows.append(("as good", f"{inner}a ring of {least} to {most}"))
        rows.append(("", f"its reach is within 2 % of the best ring’s, {best}"))
    rows.append(("to the wall", _mm(found.wall_clearance_mm)))
    if found.spacing_mm is not None:
        rows.append(("between wicks", _mm(found.spacing_mm)))
    rows.append(("held back by", found.binds))
    if scatter.sd_mm:
        rows.append(
            ("if off by chance", f"{_mm(scatter.sd_mm)} each way: reach {_mm(scatter.mean_rise_mm)}"
                       f" more on average, {_mm(scatter.rise_95_mm)} in the worst of 20")
        )  # fmt: skip
    if covered is not None:
        share = show_percent(Fraction(100 * covered), places=1)
        rows.append(("covered", f"{share} by lone pools of {_mm(pool)}; real pools cover more"))
    if arguments.draw:
        rows.append(("written", arguments.draw))
    print_pairs(rows)
    return 0


def run_jig(arguments: argparse.Namespace) -> int:
    inside, found = _placed(arguments)
    lengths = {
        name: _length(getattr(arguments, option.replace("-", "_")), option.capitalize(), zero=True)
        for option, name, _ in FIT_OPTIONS
    }
    fit = jigs.Fit(**lengths, slots=arguments.slots)
    jig = jigs.jig_for(arguments.form, found.positions_mm, inside, fit=fit)
    what = "Wick bar" if arguments.form == "bar" else "Setting guide"
    title = f"{what}: {_size(jig)} inside, wicks: {len(found.positions_mm)}"
    folder = Path(arguments.out)
    name = "wick-bar" if arguments.form == "bar" else "setting-guide"
    written = []
    for kind in KINDS:
        path = folder / f"{name}.{kind}"
        _write(path, jig_file(jig, kind, title=title, paper=arguments.paper))
        written.append(str(path))
    _write(folder / f"{name}.txt", notes(jig, title=title).encode())
    written.append(str(folder / f"{name}.txt"))
    if arguments.json:
        print_json(
            _rounded(
                {
                    "form": arguments.form,
                    "files": written,
                    **asdict(found),
                    "play_mm": jig.play_mm,
                    "fit": asdict(fit),
                    "notes": list(jig.notes),
                    "cautions": list(jigs.CAUTIONS),
                }
            )
        )
        return 0
    print_pairs(
        [
            *(("written", path) for path in written),
            ("off the middle", f"{_mm(jig.play_mm)} at most"),
            *(("note", note) for note in jig.notes),
            *(("caution", caution) for caution in jigs.CAUTIONS),
        ]
    )
    return 0


def _placed(arguments: argparse.Namespace) -> tuple[Inside, Placement]:
    inside = _inside(arguments)
    count = parse_count(arguments.count, field="Count")
    gap = _length(arguments.gap, "Gap", zero=True)
    spacing = _length(arguments.spacing, "Spacing", zero=True)
    outline = inside.surface
    if arguments.layout == "smallest":
        return inside, place(outline, count, least_gap_mm=gap, least_spacing_mm=spacing)
    if not (isinstance(outline, Oval) and outline.is_round):
        raise BadOption("Equal slices are for round vessels; leave --layout out for another.")
    return inside, placement_of(equal_slices(outline.half_width_mm, count), outline)


def _inside(arguments: argparse.Namespace) -> Inside:
    own = ("inside_diameter", "top_diameter", "depth", "fill_height", "wall")
    if arguments.vessel is not None:
        if any(getattr(arguments, name) is not None for name in own):
            raise BadOption("Give the vessel by --vessel or by its measures, not by both.")
        return read_vessel(arguments.vessel)
    if arguments.inside_diameter is None:
        raise BadOption('Say how wide the vessel is: --inside-diameter "80 mm", or --vessel FILE.')
    given = {
        name: None if (text := getattr(arguments, name)) is None
        else _length(text, name.replace("_", " ").capitalize())
        for name in own
    }  # fmt: skip
    wall = {} if given["wall"] is None else {"wall_mm": given["wall"]}
    return round_inside(
        diameter_mm=given["inside_diameter"], top_mm=given["top_diameter"],
        depth_mm=given["depth"], fill_height_mm=given["fill_height"], **wall,
    )  # fmt: skip


def _rings(arguments: argparse.Namespace, inside: Inside):
    outline = inside.surface
    if not (isinstance(outline, Oval) and outline.is_round):
        return None
    return as_good_rings(
        vessel_inner_radius_mm=outline.half_width_mm,
        wick_count=parse_count(arguments.count, field="Count"),
        least_gap_mm=_length(arguments.gap, "Gap", zero=True),
        least_spacing_mm=_length(arguments.spacing, "Spacing", zero=True),
    )


def _size(jig: jigs.Jig) -> str:
    width, height = 2 * jig.inside.half_width_mm, 2 * jig.inside.half_height_mm
    if isinstance(jig.inside, Oval) and jig.inside.is_round:
        return f"Ø {width:g} mm"
    return f"{width:g} × {height:g} mm"


def _write(path: Path, data: bytes) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    except OSError as problem:
        raise BadOption(f'"{path}" cannot be written: {problem.strerror}.') from problem


def _length(text: str, field: str, *, zero: bool = False) -> float:
    if zero and text.strip().split(maxsplit=1)[:1] == ["0"]:
        return 0.0
    return float(parse_length(text, field=field))


def _at(value: float) -> str:
    return f"{round(value, 1) + 0.0:.1f}"


def _mm(value: float) -> str:
    return show_length(Fraction(value), "metric")


def _rounded(value):
    """Return the same with lengths to a tenth of a micrometre."""
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(inner) for inner in value]
    if isinstance(value, float):
        return None if value == inf else round(value, 4) + 0.0
    return value
