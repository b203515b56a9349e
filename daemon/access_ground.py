"""What all parts of the access desk stand on: the journal, the clock, the counts by address, and the audit's words."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from config.site import Site
from daemon.access import hashing
from daemon.access.addresses import FORGOTTEN_AFTER_MS, Counts, Seldom, grouped, one_more_of_address
from daemon.access.values import Refused, Role, Visitor
from daemon.access.waiting import Tries, one_more, wait_words
from daemon.storage import audit
from daemon.storage.audit import Change
from daemon.storage.journal import Journal

NOBODY = "nobody"
"""Who did what somebody tried who did not get in. No account can have this name."""
UNKNOWN_NAME = "a name that nobody has"
"""What was typed there is never kept: it may be a password in the wrong field."""
REFUSALS_EVERY_MS = 60_000
REFUSALS_IN_AN_HOUR = 600
TURN_S = 10.0
MOST_WAITING = 8
KEEPERS_ONLY = Refused("Only a keeper may change this. Ask one, or use `clutchwarden access` on the machine itself.")
SIGNED_OUT = Refused("You are not signed in any more. Sign in again.")
BUSY = Refused("Several people sign in at this moment. Wait some seconds and press again.", 5.0)


class Ground:
    """Shared by the parts of one desk. Safe to use from any thread."""

    def __init__(self, journal: Journal, site: Site, now_ms: Callable[[], int]) -> None:
        self.journal = journal
        self.now_ms = now_ms
        self.site_name = site.name
        self.people = frozenset(person.id.lower() for person in site.people)
        self._names = {person.id.lower(): person.name for person in site.people}
        self._lock = threading.Lock()
        self._turn = threading.Lock()
        self._waiting = threading.BoundedSemaphore(MOST_WAITING)
        self._addresses = Counts(one_more_of_address, FORGOTTEN_AFTER_MS)
        self._unknown = Counts(one_more)
        self._refusals = Seldom(REFUSALS_EVERY_MS, REFUSALS_IN_AN_HOUR)

    def context(self, name: str) -> tuple[str, ...]:
        """Give the words that somebody would try first as this account's password."""
        return (name, self.site_name, self._names.get(name.lower(), ""))

    @contextmanager
    def turn(self) -> Iterator[bool]:
        """Let one password be worked on at a time; False where too many wait.

        So a flood of sign-ins takes the memory of one, and no two tries slip past the same count.
        """
        if not self._waiting.acquire(blocking=False):
            yield False
            return
        try:
            has_turn = self._turn.acquire(timeout=TURN_S)
            try:
                yield has_turn
            finally:
                if has_turn:
                    self._turn.release()
        finally:
            self._waiting.release()

    def refused_by_address(self, address: str) -> Refused | None:
        """Say how long an address has to wait; None where it has not."""
        now_ms = self.now_ms()
        with self._lock:
            left_ms = self._addresses.of(grouped(address), now_ms).left_ms(now_ms)
        if not left_ms:
            return None
        wait_s = left_ms / 1000
        return Refused(f"Too many tries from where you are. Try again in {wait_words(wait_s)}.", wait_s)

    def failed_from(self, address: str) -> None:
        """Count a failure from an address."""
        now_ms = self.now_ms()
        with self._lock:
            self._addresses.failed(grouped(address), now_ms)

    def unknown_tries(self, name: str) -> Tries:
        """What was tried under a name that nobody has."""
        now_ms = self.now_ms()
        with self._lock:
            return self._unknown.of(hashing.digest(name.lower()), now_ms)

    def unknown_failed(self, name: str) -> Tries:
        """Count a try under a name that nobody has, as one under any other is counted."""
        now_ms = self.now_ms()
        with self._lock:
            return self._unknown.failed(hashing.digest(name.lower()), now_ms)

    def is_worth_noting(self, about: str, address: str) -> bool:
        """True where a refusal is to be written down: one a minute for each account and address."""
        with self._lock:
            return self._refusals.lets(f"{about} {grouped(address)}", self.now_ms())

    def note_refusal(self, about: str, address: str, what: str, why: str) -> None:
        """Write a refusal down where it is worth it, in a transaction of its own."""
        if self.is_worth_noting(about, address):
            change, now_ms = Change(NOBODY, address, what, about, why=why), self.now_ms()
            self.journal.write(lambda conn: audit.record(conn, change, now_ms))


def who_of(by: Visitor | None) -> str:
    """Who stands in the audit; None is the program itself."""
    return audit.HOST if by is None else by.who


def is_keeper(by: Visitor | None) -> bool:
    """True where accounts may be changed."""
    return by is None or by.role.may(Role.KEEPER)
