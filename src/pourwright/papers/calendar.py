"""
What is planned, as a calendar that other programs subscribe to: iCalendar, RFC 5545.

An event keeps its ``uid`` for as long as it means the same thing, so that a calendar that asks
again moves it and does not double it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event
from icalendar.prop import vDuration

PRODUCT = "-//Pourwright//plan//EN"
# How often a subscriber may ask again: RFC 7986, section 5.7.
ASK_AGAIN = timedelta(hours=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """
    One entry: at a time, or of a whole day where ``starts`` is a date.

    ``ends`` is the moment it is over; a whole day's entry needs none. Times carry their zone.
    """

    uid: str
    starts: datetime | date
    ends: datetime | None = None
    summary: str
    description: str = ""
    where: str = ""


def calendar_bytes(
    entries: Sequence[Entry], *, name: str, made_at: datetime, zone: ZoneInfo | None = None
) -> bytes:
    """
    Return the calendar.

    ``made_at`` (UTC or with a zone) stamps every entry; the same entries at the same time give the
    same bytes. Times are written in ``zone``, with its rules in the calendar, or else in UTC.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("name", name)
    calendar.add("x-wr-calname", name)
    calendar.add("refresh-interval", vDuration(ASK_AGAIN), parameters={"VALUE": "DURATION"})
    stamp = made_at.astimezone(UTC)
    for entry in entries:
        event = Event()
        event.add("uid", entry.uid)
        event.add("dtstamp", stamp)
        event.add("summary", entry.summary)
        event.add("dtstart", _in_zone(entry.starts, zone))
        if entry.ends is not None:
            event.add("dtend", _in_zone(entry.ends, zone))
        elif not isinstance(entry.starts, datetime):
            event.add("dtend", entry.starts + timedelta(days=1))
            event.add("transp", "TRANSPARENT")
        if entry.description:
            event.add("description", entry.description)
        if entry.where:
            event.add("url", entry.where)
        calendar.add_component(event)
    calendar.add_missing_timezones()
    return calendar.to_ical()


def _in_zone(when: datetime | date, zone: ZoneInfo | None) -> datetime | date:
    if not isinstance(when, datetime):
        return when
    return when.astimezone(zone or UTC)
