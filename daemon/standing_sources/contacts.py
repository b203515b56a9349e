"""Mains lost and doors open, by the newest readings of the contacts.

A look costs one indexed query for each contact, and the readings since the last look for those in alarm: with 19
contacts 0.4 ms, with 15 doors open 0.7 ms. The first look at these takes 0.1 s where each speaks every second.
"""

import sqlite3
from collections.abc import Iterator
from typing import NamedTuple

from config.model import ROOM
from config.site import Site
from config.words import Quantity
from daemon.alarms.definitions import tuned
from daemon.alarms.silence import window_ms
from daemon.standing.contacts import ALARM_OF, Contact, contact_alarms, run_since_ms, speaks_for_ms
from daemon.standing.found import Found
from daemon.standing_sources.source import Moment
from daemon.storage import hearing, samples

EVERY_MS = 5_000
RUN_SPAN_MS = 15 * 60_000
"""So far back it is looked since when a contact has said the same, where that is not known from the look before."""


class _Run(NamedTuple):
    """Since when a contact has said the same, and until when its readings were seen."""

    since_ms: int
    seen_ms: int


class ContactStates:
    """The contacts of a site, and what they say. `ahead_s`: how far the clock of a device may run ahead, seconds."""

    def __init__(self, site: Site, ahead_s: float) -> None:
        self._ahead_ms = round(ahead_s * 1000)
        self._delay_ms = {
            quantity: round(tuned(kind, site.alarms).on_delay_s * 1000) for quantity, (kind, _) in ALARM_OF.items()
        }
        self._contacts = [
            (f"{probe.id}/{channel.name}", channel.quantity, probe.place, window_ms(probe.interval_s))
            for probe in site.probes
            for channel in probe.channels
            if channel.quantity.is_contact
        ]
        self._runs: dict[str, _Run] = {}

    def contacts(self, conn: sqlite3.Connection, now_ms: int) -> Iterator[Contact]:
        """Every contact as it is now."""
        for channel, quantity, place, longest_ms in self._contacts:
            newest = self._newest(conn, channel, quantity, longest_ms, now_ms)
            incubator, state = "" if place == ROOM else place, None if newest is None else newest[1]
            since_ms = None
            if newest is not None and state == ALARM_OF[quantity][1]:
                since_ms = self._since_ms(conn, channel, newest, longest_ms)
            yield Contact(channel, quantity, incubator, state, since_ms)

    def mains(self, conn: sqlite3.Connection, now_ms: int) -> float | None:
        """What the contacts of the mains say now: 0 where one of them says absent, None where none says anything."""
        said = [
            newest[1]
            for channel, quantity, _, longest_ms in self._contacts
            if quantity is Quantity.MAINS
            and (newest := self._newest(conn, channel, quantity, longest_ms, now_ms)) is not None
        ]
        return min(said, default=None)

    def _newest(
        self, conn: sqlite3.Connection, channel: str, quantity: Quantity, longest_ms: int, now_ms: int
    ) -> tuple[int, float] | None:
        """The newest good reading, if it still says how things are."""
        delay_ms = self._delay_ms[quantity]
        start_ms = now_ms - speaks_for_ms(quantity, longest_ms, delay_ms, ALARM_OF[quantity][1])
        newest = hearing.newest_good(conn, channel, start_ms, now_ms + self._ahead_ms)
        if newest is None or now_ms - newest[0] >= speaks_for_ms(quantity, longest_ms, delay_ms, newest[1]):
            return None
        return newest

    def _since_ms(
        self, conn: sqlite3.Connection, channel: str, newest: tuple[int, float], longest_ms: int
    ) -> int | None:
        """Since when it says so: what was found before goes on where the readings since then say the same."""
        known, start_ms = self._runs.get(channel), newest[0] - RUN_SPAN_MS
        if known is not None and start_ms <= known.seen_ms <= newest[0]:
            start_ms = known.seen_ms
        readings = samples.good_between(conn, channel, start_ms, newest[0], 0)
        since_ms = run_since_ms(readings, newest[1], longest_ms)
        if known is not None and since_ms == known.seen_ms:
            since_ms = known.since_ms
        if since_ms is not None:
            self._runs[channel] = _Run(since_ms, newest[0])
        return since_ms


class Contacts:
    """Mains lost and doors open; `ahead_s` is the `future_tolerance_s` of the settings."""

    kinds = frozenset(kind for kind, _ in ALARM_OF.values())
    every_ms = EVERY_MS

    def __init__(self, site: Site, ahead_s: float = 120.0) -> None:
        self._states = ContactStates(site, ahead_s)

    def found(self, moment: Moment) -> Iterator[Found]:
        """Everything that holds at this moment; of contacts above no eggs nothing is said."""
        occupancy, now_ms = moment.occupancy, moment.now_ms
        return contact_alarms(
            contact
            for contact in self._states.contacts(moment.conn, now_ms)
            if occupancy.lying_in(contact.incubator or ROOM, now_ms)
        )
