"""Messages about what was found afterwards: one to whoever is on duty, whatever an outage has brought to light.

Where nobody can be reached by the rota it goes to everybody, once.
"""

import hashlib
import logging
import sqlite3
from collections.abc import Iterable, Mapping
from zoneinfo import ZoneInfo

from config.places import Places
from config.site import Site
from config.words import Priority
from daemon.alarm_desk import Desk
from daemon.alarm_desk_found import put, seen
from daemon.alarm_near import DANGEROUS, NearAlarms
from daemon.alarms.delivery import MessageKind, MessageStatus, OutgoingMessage, rfc3339
from daemon.alarms.found_text import FoundPlace, FoundText, found_text
from daemon.alarms.people import Person, Rota, told_once
from daemon.desk_messages import Written
from daemon.late_gathering import Closed, Excursion
from daemon.occupancy import Occupancy
from daemon.rota import quiet_hours
from daemon.rounds.cautions import VENOMOUS
from daemon.storage import alarm_links, samples
from daemon.storage.alarm_links import AlarmLink
from daemon.storage.outbox import OutboxMessage
from sensors.calibration import Calibrations
from sensors.reading import ChannelKey

log = logging.getLogger("clutchwarden.late")


class FoundMessages:
    """Writes them for one site. Without a `public_url` they have no link."""

    def __init__(
        self,
        site: Site,
        places: Places,
        channels: Mapping[str, ChannelKey],
        status: MessageStatus,
        public_url: str | None,
    ) -> None:
        self._site = site
        self._places = places
        self._channels = channels
        self._status = status
        self._public_url = public_url
        self._zone = ZoneInfo(site.time_zone)
        self._quiet = quiet_hours(site)

    def of(
        self,
        conn: sqlite3.Connection,
        closed: Closed | None,
        desk: Desk,
        rota: Rota,
        occupancy: Occupancy,
        calibrations: Calibrations,
        now_ms: int,
    ) -> Written:
        """Put what was found on the desk, and write the message for every contact that it goes to."""
        links: list[AlarmLink] = []
        told = [] if closed is None else put(desk, closed.excursions, self._channels, now_ms)
        people = told_once(rota, now_ms)
        if closed is None or not told:
            return Written([], links)
        if not people:
            log.error("Something was found afterwards and there is nobody to tell it to; see the page of alarms.")
            return Written([], links)
        closed = closed._replace(excursions=tuple(told))
        first = closed.excursions[0]
        near = NearAlarms(occupancy)
        said = {near.of(each.place, each.since_ms).must_say for each in closed.excursions} - {""}
        text = found_text(
            [self._place(conn, each, desk, calibrations) for each in closed.excursions],
            (closed.first_ms, closed.last_ms),
            max(now_ms, closed.last_ms),
            self._zone,
            fahrenheit=self._site.temperature_unit == "F",
            must_say="" if not said else f"{VENOMOUS if VENOMOUS in said else DANGEROUS}.",
            more=closed.more,
        )
        until_ms = self._quiet.end_of_quiet_ms(now_ms) if self._quiet and text.priority is Priority.LOW else None
        messages = []
        for person, contact in _contacts(people, every=first.is_lethal):
            link = self._link(person, desk, closed.excursions, now_ms, links)
            message = self._message(closed, text, contact, link)
            number, text_json = int(text.priority), message.to_json()
            messages.append(
                OutboxMessage(message.message_id, contact, number, now_ms, text_json, not_before_ms=until_ms)
            )
        return Written(messages, links)

    def _message(self, closed: Closed, text: FoundText, contact: str, link: str) -> OutgoingMessage:
        """One message of all, with what is the first of it in its fields."""
        first = closed.excursions[0]
        return OutgoingMessage(
            message_id=_id(closed.excursions, contact),
            kind=MessageKind.CLEARED,
            status=self._status,
            site=self._site.name,
            place=self._places.name(first.place),
            priority=text.priority,
            headline=text.headline,
            body=f"{text.body}\n{link}" if link else text.body,
            alarm=first.kind,
            occurrence=first.occurrence,
            value=None if first.is_fault else first.worst,
            limit=None if first.is_fault else first.limit,
            started_at=rfc3339(first.since_ms),
            acknowledge_url=link or None,
        )

    def _place(self, conn: sqlite3.Connection, each: Excursion, desk: Desk, calibrations: Calibrations) -> FoundPlace:
        newest = samples.newest_good_of(conn, each.channel)
        return FoundPlace(
            self._places.name(each.place),
            each.kind,
            self._channels[each.channel].quantity,
            each.worst,
            each.limit,
            each.since_ms,
            each.until_ms,
            None if newest is None else calibrations.corrected(each.channel, newest.value, newest.measured_at_ms),
            0 if newest is None else newest.measured_at_ms,
            each.is_lethal,
            any(entry.state.in_alarm and each.is_of(key) for key, entry in desk.entries.items()),
        )

    def _link(
        self, person: Person, desk: Desk, excursions: Iterable[Excursion], now_ms: int, links: list[AlarmLink]
    ) -> str:
        waiting = seen(desk, list(excursions))
        if self._public_url is None or not waiting:
            return ""
        token, row = alarm_links.new_link(person.id, waiting, now_ms)
        links.append(row)
        return f"{self._public_url}/a/{token}"


def _contacts(people: Iterable[Person], *, every: bool) -> list[tuple[Person, str]]:
    return [(person, contact.id) for person in people for contact in (person.usable if every else person.usable[:1])]


def _id(excursions: Iterable[Excursion], contact: str) -> str:
    """The same message has the same id, so that a step that is done again sends nothing twice."""
    names = "|".join(sorted(each.occurrence for each in excursions))
    return hashlib.sha256(f"found|{names}|{contact}".encode()).hexdigest()[:24]
