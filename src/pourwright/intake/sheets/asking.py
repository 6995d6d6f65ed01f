"""
Reading a safety data sheet, from outside: the PDF itself is opened in a child process only.

A PDF is a program of sorts, written by a stranger. The child that opens it has a limit of time and,
where the platform can hold one, of memory; what it hands back is text and numbers, or a picture.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import threading
from dataclasses import asdict
from pathlib import Path

import pourwright
from pourwright.intake.sheets.found import LIMITS, Limits, SheetReading, SheetUnreadable
from pourwright.intake.sheets.meaning import reading_from

MOST_ANSWER_BYTES = 24 * 2**20
MOST_AT_ONCE = 2
WIDEST_PX = 3000
PASSED_ON = ("PATH", "SYSTEMROOT", "TEMP", "TMP", "VIRTUAL_ENV", "LD_LIBRARY_PATH")
_turns = threading.BoundedSemaphore(MOST_AT_ONCE)


def read_sheet(data: bytes, *, limits: Limits = LIMITS) -> SheetReading:
    """
    Return what a safety data sheet says, as far as it was found.

    Raises ``SheetUnreadable`` for a file that is empty, no PDF, broken, locked, too large, or that
    takes too long or too much memory. A sheet that is pictures of pages comes back with
    ``has_text`` False.
    """
    head, _ = _ask({"do": "read"}, data, limits)
    return reading_from(head)


def page_picture(data: bytes, page: int, *, width_px: int, limits: Limits = LIMITS) -> bytes:
    """
    Return a page (from 1) as PNG, ``width_px`` dots wide (a page of great height: less).

    Raises ``SheetUnreadable`` as ``read_sheet`` does, and for a page that is not there.
    """
    if not 1 <= width_px <= WIDEST_PX:
        raise SheetUnreadable(
            f"A picture of {width_px} dots was asked for; it can be 1 to {WIDEST_PX} dots wide."
        )
    _, body = _ask({"do": "picture", "page": page, "width_px": width_px}, data, limits)
    return body


def _ask(request: dict, data: bytes, limits: Limits) -> tuple[dict, bytes]:
    _refuse_plainly(data, limits)
    line = json.dumps({**request, "limits": asdict(limits)}).encode() + b"\n"
    if not _turns.acquire(timeout=2 * limits.seconds):
        raise SheetUnreadable("Other sheets are being read just now. Try again in a minute.")
    try:
        answer, ended = _child(line, data, limits)
    finally:
        _turns.release()
    head, _, body = answer.partition(b"\n")
    try:
        found = json.loads(head)
    except ValueError:
        found = None
    if not isinstance(found, dict):
        if ended == "late":
            raise SheetUnreadable(
                f"The PDF took longer than {limits.seconds:g} s to read and was given up. Print "
                "it to a new PDF and bring that in, or type the composition."
            )
        raise SheetUnreadable(
            "The PDF could not be read: it is broken inside, or it takes more than "
            f"{limits.memory_mib} MB of memory. Print it to a new PDF and bring that in, or type "
            "the composition."
        )
    if "unreadable" in found:
        raise SheetUnreadable(str(found["unreadable"])[:600])
    if "memory" in found:
        raise SheetUnreadable(
            f"The PDF takes more than {limits.memory_mib} MB of memory to read. Print it to a new "
            "PDF and bring that in, or type the composition."
        )
    return found, body


def _refuse_plainly(data: bytes, limits: Limits) -> None:
    """Refuse what needs no opening to be refused."""
    if not data:
        raise SheetUnreadable("The file is empty. Fetch the sheet again from the supplier.")
    if len(data) > limits.most_bytes:
        raise SheetUnreadable(
            f"The file is {len(data) / 2**20:.1f} MB; at most {limits.most_bytes / 2**20:g} MB are "
            "read. Save it with smaller pictures, or as the pages of this one sheet alone."
        )
    if b"%PDF-" not in data[:1024]:
        raise SheetUnreadable(
            "This is not a PDF. Bring in the sheet as the supplier's PDF, or print it to one; a "
            "text or a spreadsheet can be pasted as a composition instead."
        )


def _child(line: bytes, data: bytes, limits: Limits) -> tuple[bytes, str]:
    """Return what the child wrote and how it ended: "done", "late" or "broke"."""
    source = str(Path(pourwright.__file__).resolve().parents[1])
    # The child needs nothing of what this process was told besides where its modules are.
    kept = {name: os.environ[name] for name in PASSED_ON if name in os.environ}
    paths = [source, *filter(None, [os.environ.get("PYTHONPATH")])]
    environment = {**kept, "PYTHONPATH": os.pathsep.join(paths), "PYTHONUTF8": "1"}
    # From a file, not a pipe: nothing can block that way, however little of it the child reads.
    with tempfile.TemporaryFile() as given:
        given.write(line)
        given.write(data)
        given.seek(0)
        process = subprocess.Popen(
            [sys.executable, "-m", "pourwright.intake.sheets.child"],
            stdin=given,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment,
            cwd=source,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
    late = threading.Event()

    def give_up() -> None:
        late.set()
        process.kill()

    clock = threading.Timer(limits.seconds, give_up)
    clock.daemon = True
    clock.start()
    try:
        assert process.stdout is not None
        answer = process.stdout.read(MOST_ANSWER_BYTES + 1)
        whole = len(answer) <= MOST_ANSWER_BYTES
    finally:
        clock.cancel()
        process.kill()
        process.wait()
        process.stdout.close()
    if late.is_set():
        return b"", "late"
    return (answer, "done") if whole else (b"", "broke")
