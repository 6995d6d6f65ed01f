"""
Make the demo in a folder with the program's own command, as on one day, so that figures stay.

Run as a program, with the folder as its one argument: it sets up a Django of its own.
"""

import sys
from datetime import date

TODAY = date(2026, 6, 15)


def main(folder: str) -> int:
    from django.utils import timezone

    from pourwright.cli.main import run

    timezone.localdate = lambda *_, **__: TODAY
    return run(["demo", "--no-serve", "--data", folder])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
