"""Rules as dated data: the version of the day, and where it comes from."""

from datetime import date
from fractions import Fraction

import pytest

from pourwright.core.rules import NoRuleForDate, reading, rule


@pytest.fixture
def two_versions(monkeypatch):
    table = {
        "title": "Most of it",
        "source": "An act, clause 3",
        "status": "read",
        "last_checked": date(2026, 1, 5),
        "versions": [
            {"valid_from": date(2020, 1, 1), "limit": Fraction(1, 2)},
            {
                "valid_from": date(2024, 7, 1),
                "valid_until": date(2025, 12, 31),
                "limit": Fraction(1, 4),
                "status": "from memory, high",
            },
        ],
    }
    monkeypatch.setattr(reading, "_table", lambda name: table)


def test_the_version_in_force_that_day_is_read(two_versions):
    assert rule("x", on=date(2024, 6, 30))["limit"] == Fraction(1, 2)
    newer = rule("x", on=date(2024, 7, 1))
    assert newer["limit"] == Fraction(1, 4)
    assert newer.from_memory
    assert newer.source == "An act, clause 3"


@pytest.mark.parametrize("on", [date(2019, 12, 31), date(2026, 1, 1)])
def test_a_rule_that_cannot_answer_says_so(two_versions, on):
    with pytest.raises(NoRuleForDate, match="Most of it"):
        rule("x", on=on)
