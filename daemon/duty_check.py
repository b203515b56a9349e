"""Duties and absences on record that the site file has left without their person."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from config.errors import Mistake
from config.site import Site
from daemon.alarms.hand_over_text import span_text
from daemon.storage.duties import Entries


def duty_mistakes(entries: Entries, site: Site, now_ms: int) -> Iterator[Mistake]:
    """Warn of each duty that is not over and calls nobody: its person is gone, or has no contact any more. Pure."""
    callable_ids = {person.id for person in site.people if person.contacts}
    zone = ZoneInfo(site.time_zone)
    for planned in entries.duties:
        duty = planned.duty
        over = planned.cancelled or (duty.end_ms is not None and duty.end_ms <= now_ms)
        if over or duty.person in callable_ids:
            continue
        yield Mistake(
            "duties",
            f"no. {planned.number}",
            f"{duty.person} is on duty {span_text(planned, zone)}, and nobody of that id can be called",
            f"Give a person that id and a contact, or: clutchwarden duty cancel {planned.number}",
            "warning",
        )
