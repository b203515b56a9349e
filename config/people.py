"""The rules for people and quiet hours: whether anybody is left to be called when an alarm begins."""

from collections.abc import Iterator
from datetime import datetime, time, timedelta

from config.errors import Mistake
from config.model import Site

_FILE = "site.toml"
_LONGEST_QUIET = timedelta(hours=12)
"""Project choice: longer than any night, so start and end are likely to be the wrong way round."""


def people_mistakes(site: Site) -> Iterator[Mistake]:
    """Check who is called, and when not."""
    reached = [person for person in site.people if person.contacts]
    if reached and all(person.emergency for person in reached):
        reason = "everybody who has a contact is there for emergencies only, so nobody is called when an alarm begins"
        hint = "Remove emergency = true from whoever looks after the eggs."
        yield Mistake(_FILE, "person", reason, hint)
    for person in site.people:
        if person.emergency and not person.contacts:
            reason = "a person for emergencies has no contact, so nobody can call them then"
            hint = "Add [[person.contact]], or remove emergency = true."
            yield Mistake(_FILE, f"person.{person.id}", reason, hint, severity="warning")
    if site.quiet is not None:
        lasts = _between(site.quiet.start, site.quiet.end)
        if lasts > _LONGEST_QUIET:
            reason = f"the quiet hours last {lasts.total_seconds() / 3600:g} h of the day"
            hint = "Alarms of the lowest priority wait so long. Are start and end the wrong way round?"
            yield Mistake(_FILE, "quiet", reason, hint, severity="warning")


def _between(start: time, end: time) -> timedelta:
    any_day = datetime(2000, 1, 1)  # noqa: DTZ001 - times of day alone, in no zone
    span = datetime.combine(any_day, end) - datetime.combine(any_day, start)
    return span if span >= timedelta(0) else span + timedelta(days=1)
