"""What the successor sees and presses by the link of a message that asks to take over. Looking changes nothing."""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, replace

from config.errors import StatedError
from config.site import Site
from daemon.alarms.hand_over import Planned, called_first
from daemon.duty_work import DutyWork
from daemon.storage import duties, rota_links
from daemon.storage.journal import Journal

_HOW = "by the link of a message"


@dataclass(frozen=True, slots=True)
class DutySeen:
    """A duty as it is now. Times are UTC ms.

    `waits`: it can be accepted. `refused` says why a press was not taken, empty where it was or there was none.
    `before` is who is called first now, empty where that is nobody else.
    """

    person: str
    before: str
    planned: Planned
    now_ms: int
    time_zone: str
    waits: bool
    refused: str = ""


class DutyDesk:
    """Looks and takes over for one site. Safe to use from any thread. `answered` is called after an acceptance."""

    def __init__(
        self, journal: Journal, work: DutyWork, site: Site, now_ms: Callable[[], int], answered: Callable[[], None]
    ) -> None:
        self._journal = journal
        self._work = work
        self._time_zone = site.time_zone
        self._names = {person.id: person.name for person in site.people}
        self._now_ms = now_ms
        self._answered = answered

    def look(self, token: str) -> DutySeen | None:
        """What a link is about; None where it is unknown, malformed or too old. Raises JournalError."""
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            return self._seen(conn, token, now_ms)

    def take_over(self, token: str) -> DutySeen | None:
        """Accept by a link; None as with `look`. Raises JournalError."""
        now_ms = self._now_ms()

        def accept(conn: sqlite3.Connection) -> str:
            link = rota_links.find(conn, token, now_ms)
            if link is None:
                return ""
            try:
                self._work.accept(conn, link.person, link.number, _HOW, now_ms)
            except StatedError as error:
                # Nothing was written before the refusal.
                return f"{error.reason[:1].upper()}{error.reason[1:]}."
            return ""

        refused = self._journal.write(accept)
        self._answered()
        with self._journal.read() as conn:
            seen = self._seen(conn, token, now_ms)
        return None if seen is None else replace(seen, refused=refused)

    def _seen(self, conn: sqlite3.Connection, token: str, now_ms: int) -> DutySeen | None:
        link = rota_links.find(conn, token, now_ms)
        # Whoever is not of the site any more was asked, and has nothing to say here.
        if link is None or link.person not in self._names:
            return None
        planned = next((each for each in duties.entries(conn).duties if each.number == link.number), None)
        if planned is None:
            return None
        known = self._work.known(conn)
        over = planned.duty.end_ms is not None and planned.duty.end_ms <= now_ms
        open_ = not (planned.cancelled or over or planned.duty.accepted_ms is not None)
        callable_ = any(each.id == link.person for each in known.rota.people)
        before = called_first(planned.duty, known.rota, now_ms)
        return DutySeen(
            self._names[link.person],
            "" if before is None else before.name,
            planned,
            now_ms,
            self._time_zone,
            waits=open_ and callable_,
        )
