"""What people see and confirm by the link of a test message. Looking changes nothing."""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

from config.site import Site
from daemon.contacts import names_by_contact
from daemon.storage import trials
from daemon.storage.journal import Journal


@dataclass(frozen=True, slots=True)
class TrialSeen:
    """One test message as its reader sees it. UTC ms.

    `contact` names the person, and which of their contacts it is where there are several. `confirmed_ms` is None as
    long as nobody said that it arrived; `now` is True where it was said just now.
    """

    contact: str
    sent_ms: int
    confirmed_ms: int | None
    now_ms: int
    time_zone: str
    now: bool = False


class TrialDesk:
    """Looks and confirms for one site. Safe to use from any thread."""

    def __init__(self, journal: Journal, site: Site, now_ms: Callable[[], int]) -> None:
        self._journal = journal
        self._names = names_by_contact(site)
        self._time_zone = site.time_zone
        self._now_ms = now_ms

    def look(self, token: str) -> TrialSeen | None:
        """What a link is about; None where it is unknown, malformed or too old. Raises JournalError."""
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            return self._seen(conn, token, now_ms)

    def confirm(self, token: str) -> TrialSeen | None:
        """Say that the message arrived; None as with `look`. Raises JournalError."""
        now_ms = self._now_ms()

        def press(conn: sqlite3.Connection) -> TrialSeen | None:
            found = trials.find(conn, token, now_ms)
            # Whoever is not of the site any more has nothing to say here.
            if found is None or found.contact not in self._names:
                return None
            new = trials.confirm(conn, found.message_id, now_ms, found.person, "link")
            return self._seen(conn, token, now_ms, now=new)

        return self._journal.write(press)

    def _seen(self, conn: sqlite3.Connection, token: str, now_ms: int, *, now: bool = False) -> TrialSeen | None:
        found = trials.find(conn, token, now_ms)
        if found is None or found.contact not in self._names:
            return None
        name = self._names[found.contact]
        return TrialSeen(name, found.sent_at_ms, found.confirmed_at_ms, now_ms, self._time_zone, now)
