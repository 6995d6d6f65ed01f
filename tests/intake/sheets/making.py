"""
Invented safety data sheets with their truth: unlike layouts, scans, and files that mean harm.

    make("ruled grid", seed=3)   a readable sheet
    scans()                      sheets that are pictures
    hostile()                    files that have to be refused in bounded time and memory
"""

from __future__ import annotations

import random

from intake.sheets.layouts import LAYOUTS
from intake.sheets.truth import Made


def make(layout: str, seed: int) -> Made:
    """Return a sheet of a layout; the same for the same seed."""
    data, truth = LAYOUTS[layout](random.Random(f"{layout} {seed}"))
    return Made(layout=layout, seed=seed, data=data, truth=truth)
