"""
The child process in which a PDF is opened: ``python -m pourwright.intake.sheets.child``.

In: one line of JSON that says what to do, then the PDF's bytes. Out: one line of JSON, then the
picture if one was asked for. It limits its own memory and time where the platform lets it; the
parent ends it by the clock in any case.
"""

from __future__ import annotations

import contextlib
import json
import sys

from pourwright.intake.sheets.found import Limits, SheetUnreadable


def main() -> int:
    """Answer one request."""
    request = json.loads(sys.stdin.buffer.readline())
    limits = Limits(**request["limits"])
    _hold_back(limits)
    data = sys.stdin.buffer.read()
    body = b""
    try:
        if request["do"] == "picture":
            from pourwright.intake.sheets.pages import picture

            body = picture(data, request["page"], request["width_px"], limits)
            answer = {}
        else:
            from pourwright.intake.sheets.layout import layout_of
            from pourwright.intake.sheets.pages import pages_of

            answer = layout_of(pages_of(data, limits), limits)
    except SheetUnreadable as problem:
        answer = {"unreadable": str(problem)}
    except MemoryError:
        answer = {"memory": True}
    out = sys.stdout.buffer
    out.write(json.dumps(answer).encode() + b"\n" + body)
    out.flush()
    return 0


def _hold_back(limits: Limits) -> None:
    """Take no more memory and processor time than agreed, and write no file."""
    try:
        import resource
    except ImportError:  # Windows has no such limits; there the parent's clock is the bound
        return
    wanted = {
        "RLIMIT_AS": limits.memory_mib * 2**20,
        "RLIMIT_DATA": limits.memory_mib * 2**20,
        "RLIMIT_CPU": int(limits.seconds) + 2,
        "RLIMIT_FSIZE": 0,
        "RLIMIT_CORE": 0,
    }
    for name, most in wanted.items():
        # macOS knows some of these by name and refuses to set them.
        with contextlib.suppress(AttributeError, ValueError, OSError):
            resource.setrlimit(getattr(resource, name), (most, most))


if __name__ == "__main__":
    sys.exit(main())
