"""Addresses at which the calendar can be read: made, shown once, and taken back. Raises JournalError."""

import hashlib
import sqlite3
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

from config.site import Site
from config.unprintable import has_unprintable
from daemon.access import hashing
from daemon.access.session_life import is_to_be_seen
from daemon.access.values import Refused, Role, Visitor
from daemon.calendar_feed import Feed
from daemon.calendar_feed_ical import calendar_of
from daemon.storage import audit, calendar_feeds
from daemon.storage.audit import Change
from daemon.storage.journal import Journal, JournalClosedError

FEED_PATH = "/calendar/"
ENDING = ".ics"
_MARK = "cwc_"
"""How every token begins, so that one that lies where it should not is known for what it is."""
_LONGEST_NAME = 64
_KEEPERS_ONLY = Refused("Only a keeper may change this. Ask one, or use `clutchwarden calendar` on the machine itself.")


@dataclass(frozen=True, slots=True)
class Shown:
    """A calendar as it goes out, and a mark that changes with it."""

    body: bytes
    mark: str


class FeedDesk:
    """Feeds of one site. Safe to use from any thread."""

    def __init__(self, journal: Journal, site: Site, now_ms: Callable[[], int]) -> None:
        self._journal = journal
        self._site = site
        self.time_zone = site.time_zone
        self.now_ms = now_ms

    def read(self, token: str) -> Shown | None:
        """Give the calendar to whoever has the token of a feed; None where it is good for nothing."""
        now_ms = self.now_ms()
        with self._journal.read() as conn:
            feed = calendar_feeds.find(conn, hashing.digest(token))
            if feed is None:
                return None
            body = calendar_of(self._site.name, calendar_feeds.entries(conn).values())
        if feed.seen_ms is None or is_to_be_seen(feed.seen_ms, now_ms):
            with suppress(JournalClosedError):
                self._journal.submit(lambda conn: calendar_feeds.seen(conn, feed.name, now_ms))
        return Shown(body, hashlib.blake2b(body, digest_size=12).hexdigest())

    def in_use(self) -> tuple[Feed, ...]:
        """Give the feeds that are in use, by name."""
        with self._journal.read() as conn:
            return calendar_feeds.in_use(conn)

    def make(self, by: Visitor | None, name: str, from_where: str) -> str | Refused:
        """Make a feed, and give its token, this once."""
        refused = _mistake_in(name) if _is_keeper(by) else _KEEPERS_ONLY
        if refused is not None:
            return refused
        now_ms, token = self.now_ms(), _MARK + hashing.draw_token()

        def add(conn: sqlite3.Connection) -> str | Refused:
            if name.lower() in {each.name.lower() for each in calendar_feeds.in_use(conn)}:
                return Refused(f'There is a calendar address "{name}" already. Take another name.', field="name")
            calendar_feeds.add(conn, hashing.digest(token), name, _who(by), now_ms)
            audit.record(conn, Change(_who(by), from_where, "calendar address made", name), now_ms)
            return token

        return self._journal.write(add)

    def withdraw(self, by: Visitor | None, name: str, from_where: str) -> Refused | None:
        """End a feed: whoever has its address reads nothing from now on."""
        if not _is_keeper(by):
            return _KEEPERS_ONLY
        now_ms = self.now_ms()

        def end(conn: sqlite3.Connection) -> Refused | None:
            found = calendar_feeds.withdraw(conn, name, now_ms)
            if found is None:
                return Refused(f'There is no calendar address "{name}" in use.', field="name")
            audit.record(conn, Change(_who(by), from_where, "calendar address withdrawn", found.name), now_ms)
            return None

        return self._journal.write(end)


def path_of(token: str) -> str:
    """Give the path of a feed."""
    return f"{FEED_PATH}{token}{ENDING}"


def _mistake_in(name: str) -> Refused | None:
    """Nobody is meant by the name of an address: any words will do that people can read."""
    if not name.strip():
        return Refused("Write where the address is used, such as Mara's phone.", field="name")
    if len(name) > _LONGEST_NAME or has_unprintable(name):
        told = f"Write it on one line, with {_LONGEST_NAME} characters at the most."
        return Refused(told, field="name")
    return None


def _who(by: Visitor | None) -> str:
    return audit.HOST if by is None else by.who


def _is_keeper(by: Visitor | None) -> bool:
    return by is None or by.role.may(Role.KEEPER)
