"""The process that works what waits in the background, and ends when nothing does."""

from __future__ import annotations

import os
from contextlib import suppress


def main() -> None:
    import django

    django.setup()
    from django.conf import settings
    from django.utils import timezone

    from pourwright.workshop import safekeeping
    from pourwright.workshop.house import jobs

    if hasattr(os, "nice"):
        with suppress(OSError):
            os.nice(5)  # pages first
    # Marked as in use, so that no backup is brought back under it.
    with safekeeping.in_use(settings.DATA):
        while job := jobs.take_next(at=timezone.now()):
            jobs.run_watched(job)


if __name__ == "__main__":
    main()
