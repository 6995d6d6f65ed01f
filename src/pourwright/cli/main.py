"""
The command line: ``pourwright PART VERB …``, one module a part of the trade.

Each module in ``PARTS`` has ``register(parts)``, which adds its own commands and sets ``run`` on
them: a function from the parsed arguments to an exit status. Bad input is one line on stderr and
exit status 2, whatever the part.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import os
import sys
from collections.abc import Sequence

from pourwright import __version__
from pourwright.core.errors import BadInput

PARTS = (
    "amount",
    "formula",
    "vessel",
    "wick",
    "heat",
    "burn",
    "panel",
    "plan",
    "hazard",
    "contents",
    "label",
    "cost",
    "trace",
    "data",
    "serve",
)
# The commands that are not named as the module they stand in.
ELSEWHERE = {
    **dict.fromkeys(("backup", "restore", "import", "export", "check"), "data"),
    **dict.fromkeys(("start", "demo"), "serve"),
}


class Parser(argparse.ArgumentParser):
    """argparse, with abbreviations off so that a typing slip never means something else."""

    def __init__(self, **keywords) -> None:
        keywords.setdefault("allow_abbrev", False)
        keywords.setdefault("formatter_class", argparse.RawDescriptionHelpFormatter)
        super().__init__(**keywords)

    def error(self, message: str) -> None:  # type: ignore[override]
        self.exit(2, f"{self.prog}: {message} (more: {self.prog} --help)\n")


def build_parser(asked: str | None = None) -> Parser:
    """Return the parser of all commands, or of those in the module of the one asked for alone."""
    parser = Parser(
        prog="pourwright",
        description="From a scent idea to a safe, legal, priced, traceable candle.",
        epilog='Example: pourwright vessel fill --brim "250 ml" --density 0.90 --weight "180 g"',
    )
    parser.add_argument("--version", action="version", version=f"pourwright {__version__}")
    parts = parser.add_subparsers(dest="part", metavar="PART", required=True)
    module = ELSEWHERE.get(asked or "", asked)
    # Each module brings its libraries along: a command waits for its own alone.
    known = module in PARTS and asked != "data"
    for name in (module,) if known else PARTS:
        importlib.import_module(f"pourwright.cli.{name}").register(parts)
    return parser


def run(words: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    for stream in (sys.stdout, sys.stderr):
        # A console that cannot show "½" or "−" shows a question mark rather than failing.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    words = sys.argv[1:] if words is None else words
    arguments = build_parser(words[0] if words else None).parse_args(words)
    try:
        return arguments.run(arguments)
    except BadInput as problem:
        print(f"pourwright: {problem}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        # The reader (head, less) has seen enough; keep the interpreter quiet about it on exit.
        with contextlib.suppress(OSError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


if __name__ == "__main__":
    sys.exit(run())
