"""``pourwright label``: what a candle's label must say, and its labels on paper."""

from __future__ import annotations

import argparse
import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path

from pourwright.cli.output import add_json_flag, print_json
from pourwright.cli.workshop import add_data_flag, open_workshop
from pourwright.core.errors import BadInput

NEEDS_EPILOG = """\
DESIGN is a design's name, or enough of it to tell it from the others. Without --market it is shown
for every market that the candle is sold in.

Example:
  pourwright label needs "Print room, tumbler" --market us,eu --json
"""

PRINT_EPILOG = """\
--face takes wrap, fold, base, lid, tag or carton, as often as wanted; without it all that go with
every candle are printed. --sheet is plain-a4, plain-letter, plain-a3 or plain-ledger (to cut),
alone (each label on a page of its own), or a sheet of labels by its measures. Labels that lack
something are refused; --draft prints them with DRAFT across. What was printed is kept on record.

Example:
  pourwright label print "Print room, tumbler" --lot L-0042 --sheet plain-a4 --out labels.pdf
"""


class NoSuchDesign(BadInput):
    """No design, or more than one, goes by a name."""


class CannotWrite(BadInput):
    """The file cannot be written."""


def register(parts) -> None:
    part = parts.add_parser("label", help="what a label must say, and labels on paper")
    verbs = part.add_subparsers(dest="verb", metavar="VERB", required=True)
    needs = verbs.add_parser(
        "needs",
        help="what must be on a design's label",
        description="List what must be on a design's label, with sizes, reasons and sources.",
        epilog=NEEDS_EPILOG,
    )
    needs.add_argument("design", metavar="DESIGN")
    needs.add_argument("--market", metavar="LIST", help="us, eu, gb; comma between")
    needs.add_argument("--lot", metavar="LOT", help="fill in this lot's number and net weight")
    add_data_flag(needs)
    add_json_flag(needs)
    needs.set_defaults(run=run_needs)
    out = verbs.add_parser(
        "print",
        help="a lot's labels as a PDF",
        description="Make the PDF of a lot's labels, with the lot's number filled in.",
        epilog=PRINT_EPILOG,
    )
    out.add_argument("design", metavar="DESIGN")
    out.add_argument("--lot", metavar="LOT", required=True)
    out.add_argument("--sheet", metavar="SHEET", required=True)
    out.add_argument("--out", metavar="FILE", type=Path, required=True)
    out.add_argument("--face", metavar="FACE", action="append", help="may be given again")
    out.add_argument("--start", metavar="PLACE", type=int, default=1, help="on the first sheet (1)")
    out.add_argument("--count", metavar="N", type=int, help="of each (the lot's good candles)")
    out.add_argument("--serial", action="store_true", help="number each label within the lot")
    out.add_argument("--no-cut-marks", action="store_true", help="leave the marks to cut by out")
    out.add_argument("--draft", action="store_true", help="print DRAFT across each")
    add_data_flag(out)
    add_json_flag(out)
    out.set_defaults(run=run_print)


# Django's models can be read only once a workshop is open, so that each command imports them then.


def run_needs(arguments: argparse.Namespace) -> int:
    open_workshop(arguments.data)
    from django.utils import timezone

    from pourwright.core.labelling.needs import ADVICE, needs_of
    from pourwright.workshop.house.models import Workshop
    from pourwright.workshop.labels import composing, services
    from pourwright.workshop.trace.services import find_lot

    version = _version_of(arguments.design)
    lot = find_lot(arguments.lot) if arguments.lot else None
    if lot is not None:
        version = _of_the_design(services.version_for(lot), version, lot)
    markets = arguments.market.split(",") if arguments.market else None
    facts = composing.facts_of(
        version, on=timezone.localdate(), workshop=Workshop.load(), lot=lot, markets=markets
    )
    needs = needs_of(facts)
    if arguments.json:
        print_json(
            {
                "design": version.design.name, "version": version.number,
                "markets": facts.markets, "needs": [asdict(need) for need in needs],
                "advice": ADVICE,
            }
        )  # fmt: skip
        return 0
    for need in needs:
        print(f"{need.title} ({', '.join(need.markets).upper()}): {need.state}")
        for line in (need.text, need.missing, need.why, f"[{need.source}; {need.status}]"):
            if line.strip("[]; "):
                print(textwrap.fill(line, 92, initial_indent="    ", subsequent_indent="    "))
    print(f"\n{textwrap.fill(ADVICE, 96)}")
    return 0


def run_print(arguments: argparse.Namespace) -> int:
    open_workshop(arguments.data)
    from django.utils import timezone

    from pourwright.workshop.contents.queries import lot_size
    from pourwright.workshop.house.models import Workshop
    from pourwright.workshop.labels import services
    from pourwright.workshop.trace.services import find_lot

    named = _version_of(arguments.design)
    lot = find_lot(arguments.lot)
    _of_the_design(services.version_for(lot), named, lot)
    workshop, on = Workshop.load(), timezone.localdate()
    faces = arguments.face
    if not faces:
        _, labels = services.labels_of(lot, on=on, workshop=workshop)
        faces = [f.key for f in labels.faces if f.counts and not (f.problem and arguments.draft)]
    wanted = services.Printing(
        faces=faces, sheet=arguments.sheet,
        number=lot_size(lot) if arguments.count is None else arguments.count,
        start=arguments.start, cut=not arguments.no_cut_marks, draft=arguments.draft,
        serial=arguments.serial,
    )  # fmt: skip
    with _to_be_written(arguments.out) as write:
        write(services.print_labels(lot, wanted, on=on, at=timezone.now(), workshop=workshop))
    if arguments.json:
        print_json(
            {"lot": lot.code, "faces": list(faces), "count": wanted.number,
             "sheet": arguments.sheet, "draft": arguments.draft, "file": str(arguments.out)}
        )  # fmt: skip
    else:
        print(f"{wanted.number} each of {', '.join(faces)} for lot {lot.code}: {arguments.out}")
    return 0


@contextmanager
def _to_be_written(path: Path) -> Iterator[Callable[[bytes], int]]:
    """Refuse a file that cannot be written before anything is printed, and leave none half made."""
    new = not path.exists()
    try:
        with path.open("ab"):
            pass
    except OSError as problem:
        raise CannotWrite(
            f'The labels cannot be written to "{path}": {problem.strerror}.'
        ) from problem
    try:
        yield path.write_bytes
    except BadInput:
        if new:
            path.unlink()
        raise


def _version_of(name: str):
    """Return the newest version of the design that a name means; refuse none or several."""
    from pourwright.workshop.designs.models import Design
    from pourwright.workshop.designs.queries import versions_with_all

    wanted = name.strip()
    found = list(Design.objects.filter(name__iexact=wanted)[:2]) or list(
        Design.objects.filter(name__icontains=wanted)[:6]
    )
    if not wanted or not found:
        known = ", ".join(Design.objects.values_list("name", flat=True)[:6])
        raise NoSuchDesign(f"There is no design “{name}” here; there are {known or 'none yet'}.")
    if len(found) > 1:
        raise NoSuchDesign(
            f"“{name}” may mean {', '.join(one.name for one in found)}; write more of it."
        )
    return versions_with_all().filter(design=found[0]).order_by("-number").first()


def _of_the_design(version, named, lot):
    """Return a lot's design version; refuse a lot of another design."""
    if version.design_id != named.design_id:
        raise NoSuchDesign(
            f"Lot {lot.code} is of {version.design.name}, not of {named.design.name}."
        )
    return version
