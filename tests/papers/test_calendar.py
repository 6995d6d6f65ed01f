"""A plan's calendar says what RFC 5545 asks for, and twice in the same words."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from icalendar import Calendar

from pourwright.papers.calendar import Entry, calendar_bytes

MADE = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)
ZONE = ZoneInfo("Europe/Berlin")
EVENING = datetime(2026, 3, 27, 18, 30, tzinfo=ZONE)
ENTRIES = (
    Entry(
        uid="melt-3@workshop", starts=EVENING, ends=EVENING + timedelta(hours=2),
        summary="Melt 2.4 kg: Fig, 12; Cedar, 6", description="Pot\nStick wicks first",
    ),
    Entry(uid="cure-9@workshop", starts=date(2026, 4, 10), summary="Fig is cured"),
)  # fmt: skip


def made(**more):
    return calendar_bytes(ENTRIES, name="Pours", made_at=MADE, **more)


def test_each_entry_is_read_back_by_its_time_and_words():
    melt, cure = Calendar.from_ical(made(zone=ZONE)).walk("VEVENT")
    assert melt["dtstart"].dt == EVENING
    assert melt["dtend"].dt - melt["dtstart"].dt == timedelta(hours=2)
    assert (str(melt["summary"]), str(melt["description"])) == (
        ENTRIES[0].summary, ENTRIES[0].description
    )  # fmt: skip
    assert (cure["dtstart"].dt, cure["dtend"].dt) == (date(2026, 4, 10), date(2026, 4, 11))


def test_a_zone_brings_its_own_rules():
    """RFC 5545, 3.2.19: a TZID is defined by a VTIMEZONE in the same calendar."""
    found = Calendar.from_ical(made(zone=ZONE))
    assert [str(zone["tzid"]) for zone in found.walk("VTIMEZONE")] == ["Europe/Berlin"]
    assert b"TZID=Europe/Berlin:20260327T183000" in made(zone=ZONE)


def test_without_a_zone_times_are_utc():
    assert b"DTSTART:20260327T173000Z" in made()


def test_what_the_standard_requires_is_there():
    """RFC 5545, 3.6: PRODID and VERSION once; 3.6.1: UID and DTSTAMP in each event."""
    text = made(zone=ZONE)
    assert text.startswith(b"BEGIN:VCALENDAR\r\n")
    assert text.count(b"PRODID:") == text.count(b"VERSION:2.0") == 1
    assert text.count(b"\r\nUID:") == text.count(b"BEGIN:VEVENT") == 2
    assert text.count(b"DTSTAMP:20260301T080000Z") == 2
    assert all(len(line) <= 75 for line in text.split(b"\r\n"))


def test_the_same_plan_gives_the_same_bytes():
    assert made(zone=ZONE) == made(zone=ZONE)
