"""A HiGHS solver that says nothing: its banner would land amid a command's JSON."""

from __future__ import annotations

import os
import threading
from typing import Any

_LOCK = threading.Lock()


def quiet_highs() -> Any:
    """
    Return a new solver with its output off.

    The library prints its banner once, when the first solver is made and before any option can be
    set; for that moment the process's standard output leads nowhere.
    """
    import highspy

    make: Any = highspy.Highs
    with _LOCK:
        try:
            kept = os.dup(1)
        except OSError:  # no standard output to keep clean
            solver = make()
        else:
            nowhere = os.open(os.devnull, os.O_WRONLY)
            try:
                os.dup2(nowhere, 1)
                solver = make()
            finally:
                os.dup2(kept, 1)
                os.close(kept)
                os.close(nowhere)
    solver.setOptionValue("output_flag", False)
    return solver
