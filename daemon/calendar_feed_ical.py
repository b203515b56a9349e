"""Writes a calendar as RFC 5545 has it. The only module that knows the library for it. Pure.

There is no METHOD, so the moment of an entry (DTSTAMP) is that of its last change (3.8.7.2), and the same calendar is
always the same bytes. Moments are in UTC, so no time zone has to come with them; whole days are those of the site.
"""

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

from icalendar import Calendar, Event, Timezone, vDuration, vText

from daemon.calendar_feed import Entry, Kept
from daemon.calendar_feed_entries import clean

PRODUCT = "-//clutchwarden//clutchwarden//EN"
READ_AGAIN = timedelta(hours=1)
MEDIA_TYPE = "text/calendar; charset=utf-8"


def calendar_of(site_name: str, shown: Iterable[Kept]) -> bytes:
    """Give the whole calendar, entries in the order of their keys."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    # Name and interval by RFC 7986, 5.1 and 5.7; a program that does not know them leaves them out.
    calendar.add("name", vText(" ".join(clean(site_name).split())))
    calendar.add("refresh-interval", vDuration(READ_AGAIN), parameters={"VALUE": "DURATION"})
    events = [_event(kept) for kept in sorted(shown, key=lambda each: each.entry.key) if kept.gone_ms is None]
    for event in events:
        calendar.add_component(event)
    if not events:
        calendar.add_component(_nothing())
    written: bytes = calendar.to_ical()
    return written


def _nothing() -> Timezone:
    """Give what harms nobody: a calendar has one component at least (3.6)."""
    zone = Timezone.from_tzid("UTC", first_date=date(2026, 1, 1), last_date=date(2027, 1, 1))
    del zone["comment"]
    return zone


def _event(kept: Kept) -> Event:
    entry, event = kept.entry, Event()
    event.add("uid", kept.uid)
    event.add("dtstamp", _moment(kept.modified_ms))
    event.add("created", _moment(kept.created_ms))
    event.add("last-modified", _moment(kept.modified_ms))
    event.add("sequence", kept.sequence)
    _add_times(event, entry)
    event.add("summary", entry.summary)
    event.add("description", entry.description)
    event.add("categories", [entry.kind.value])
    event.add("status", "CONFIRMED" if entry.is_certain else "TENTATIVE")
    event.add("transp", "TRANSPARENT")
    event.add("class", "PRIVATE")
    return event


def _add_times(event: Event, entry: Entry) -> None:
    if entry.first_day is not None and entry.last_day is not None:
        event.add("dtstart", entry.first_day)
        # The end is not part of it (3.6.1).
        event.add("dtend", entry.last_day + timedelta(days=1))
    elif entry.start_ms is not None:
        event.add("dtstart", _moment(entry.start_ms))
        if entry.end_ms is not None:
            event.add("dtend", _moment(entry.end_ms))


def _moment(at_ms: int) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=at_ms // 1000)
