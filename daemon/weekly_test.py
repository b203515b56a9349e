"""Writes the test of the week: a message to every contact of every person, and a row for each, to be confirmed."""

import hashlib
import sqlite3

from config.site import Person, Site
from daemon.alarms.trial import weekly_test
from daemon.contacts import contact_ids
from daemon.storage import chain, contact_ways, outbox, trials
from daemon.storage.outbox import OutboxMessage
from daemon.storage.trials import Trial

LINK_PATH = "/a/test"
"""Below the path of the other links, so that a proxy that lets those through lets these through as well."""


class WeeklyTest:
    """Writes for one site. Without a `public_url` the messages have no links."""

    def __init__(self, site: Site, public_url: str | None) -> None:
        self._site = site
        self._public_url = public_url

    def store(self, conn: sqlite3.Connection, week: str, now_ms: int) -> int:
        """Put the messages of a week into the outbox, in the caller's transaction; gives how many are new.

        A week that was stored before gives none, except to a contact that was not there yet.
        """
        return sum(
            self._store_one(conn, person, number, contact, week, now_ms)
            for person in self._site.people
            for number, contact in enumerate(contact_ids(person), start=1)
        )

    def _store_one(
        self, conn: sqlite3.Connection, person: Person, number: int, contact: str, week: str, now_ms: int
    ) -> bool:
        # An address that is new in this week has had no test of it.
        message_id = _id(self._site.name, week, contact_ways.key_of(conn, contact))
        token = "" if self._public_url is None else trials.new_token()
        if not trials.add(conn, Trial(message_id, contact, person.id, week, now_ms), token):
            return False
        link = f"{self._public_url}{LINK_PATH}/{token}" if token else ""
        which = f" --contact {number}" if len(person.contacts) > 1 else ""
        command, code = f"clutchwarden contacts confirm {person.id}{which}", chain.head_code(conn)
        message = weekly_test(self._site.name, person.name, message_id, link, command, code)
        outbox.enqueue(conn, [OutboxMessage(message_id, contact, int(message.priority), now_ms, message.to_json())])
        return True


def _id(*parts: str) -> str:
    """The same message has the same id, so that a step that is done again sends nothing twice."""
    return hashlib.sha256("|".join(("weekly test", *parts)).encode()).hexdigest()[:24]
