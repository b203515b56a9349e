"""Alerts that reached nobody's phone, contacts whose address is dead, and what is tried with them."""

import hashlib
import sqlite3

from config.site import Site
from daemon.alarms.trial import trial_message
from daemon.contacts import contact_ids, names_by_contact
from daemon.storage import deliveries, outbox
from daemon.storage.outbox import OutboxMessage

SHOWN_MS = 24 * 3_600_000
"""For so long somebody may still want to know."""


def undelivered(conn: sqlite3.Connection, site: Site, now_ms: int) -> list[str]:
    """One sentence for each contact that did not get all it was to get."""
    names = names_by_contact(site)
    return [
        f"{each.messages} alert{'s' * (each.messages > 1)} did not reach {names.get(each.contact, each.contact)}: "
        f"{each.error}."
        for each in outbox.undelivered(conn, now_ms - SHOWN_MS)
    ]


def dead_contacts(conn: sqlite3.Connection, site: Site) -> frozenset[str]:
    """Contacts whose receiver has said that the address is not in use any more, by contact id.

    Empty where that is every contact of the site: a call that will hardly arrive is better than none.
    """
    known = frozenset(names_by_contact(site))
    dead = known & {each.contact for each in deliveries.failing(conn) if each.gone}
    return frozenset() if dead == known else dead


def try_what_failed(
    conn: sqlite3.Connection, site: Site, now_ms: int, readdressed: frozenset[str] = frozenset()
) -> int:
    """Put a test message in for each contact that took nothing last and has nothing waiting; gives their number.

    For the start of the daemon: the keeper may have given the contact another address, and nothing else would show
    that it works now. `readdressed` took nothing with the address that they had before.
    """
    waiting = outbox.waiting_contacts(conn)
    failing = ({each.contact for each in deliveries.failing(conn)} | readdressed) - waiting
    tests = [
        _test(site, person.name, contact, now_ms)
        for person in site.people
        for contact in contact_ids(person)
        if contact in failing
    ]
    outbox.enqueue(conn, tests)
    return len(tests)


def _test(site: Site, person: str, contact: str, now_ms: int) -> OutboxMessage:
    message_id = hashlib.sha256(f"test at the start|{contact}|{now_ms}".encode()).hexdigest()[:24]
    message = trial_message(site.name, person, message_id, "Clutchwarden")
    return OutboxMessage(message_id, contact, int(message.priority), now_ms, message.to_json())
