"""The demo's invented goods, recipes and people, as tables to read."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources


@cache
def table(name: str) -> dict:
    """Return one of the tables: workshop, supplies, formulas, designs, labels or people."""
    text = resources.files(__package__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
