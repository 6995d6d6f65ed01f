"""
What exactly a series was burnt with, and what a change of it asks to be tested again.

Source: rule table ``burns/after_a_change`` (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from pourwright.core.rules import rule

Share = tuple[str, Fraction]
Place = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fingerprint:
    """
    A design as it was put to the test.

    Waxes, oils and extras by name with their shares in percent (of the waxes, of the oils, and of
    the wax); ``load_pct_of_wax``; positions of the wicks in mm from the vessel's middle; and the
    supplier's revision of each material, by name.
    """

    waxes: tuple[Share, ...]
    oils: tuple[Share, ...]
    load_pct_of_wax: Fraction
    extras: tuple[Share, ...]
    wick_series: str
    wick_size: str
    wick_count: int
    wick_positions: tuple[Place, ...]
    trim_mm: Fraction
    fill_g: Fraction
    vessel: str
    wax_revisions: tuple[tuple[str, str], ...] = ()
    oil_revisions: tuple[tuple[str, str], ...] = ()
    wick_revision: str = ""
    vessel_revision: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Retest:
    """One test that a change asks for, and the parts that changed."""

    key: str
    title: str
    text: str
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """What differs between what was tested and what is now, and the tests that it asks for."""

    changed: tuple[str, ...]
    tests: tuple[Retest, ...]

    @property
    def series_stands(self) -> bool:
        """Whether the old series may still be used: nothing asks for burning again."""
        return not any(test.key in ("series", "one_life") for test in self.tests)


def difference(tested: Fingerprint, now: Fingerprint, *, on: date) -> Difference:
    """
    Return what differs and which tests that asks for; nothing changed, no tests.

    The order in which materials and wicks are listed does not matter, and a revision that was not
    on record when it was tested is not taken for a change. The whole series takes the
    single life of the smaller changes with it.
    """
    table = rule("burns/after_a_change", on=on)
    changed = [
        part
        for part in table["parts"]
        if _changed(part["key"], getattr(tested, part["key"]), getattr(now, part["key"]))
    ]
    asked: dict[str, list[str]] = {}
    for part in changed:
        for test in part["tests"]:
            asked.setdefault(test, []).append(part["what"])
    if "series" in asked and "one_life" in asked:
        asked["series"] += asked.pop("one_life")
    tests = [
        Retest(
            key=test["key"], title=test["title"], text=test["text"],
            because=tuple(asked[test["key"]]),
        )
        for test in table["tests"]
        if test["key"] in asked
    ]  # fmt: skip
    return Difference(changed=tuple(part["what"] for part in changed), tests=tuple(tests))


def _changed(key: str, tested: Any, now: Any) -> bool:
    if key.endswith("_revisions"):
        # What was not known then and is written down now need not have changed since.
        then, known = dict(tested), dict(now)
        return any(revision and known.get(name, "") != revision for name, revision in then.items())
    if key.endswith("_revision"):
        return bool(tested) and tested != now
    return _settled(tested) != _settled(now)


def _settled(value: object) -> object:
    return tuple(sorted(value)) if isinstance(value, tuple) else value
