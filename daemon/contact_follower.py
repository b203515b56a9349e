"""At the start of the daemon: what the journal holds of contacts goes with their addresses."""

import hashlib
import secrets
import sqlite3
from collections.abc import Callable, Mapping
from pathlib import Path

from config.site import Site
from daemon.contact_changes import contact_changes
from daemon.contacts import contact_ids
from daemon.storage import contact_ways, deliveries
from daemon.storage.journal import Journal
from daemon.undelivered import try_what_failed

_COST = 2**13
"""8 MB and some hundredths of a second for each contact, at the start alone. Project choice."""
_BEFORE = " (before)"
"""Behind the id of a contact that is not in the site file any more, so that its place can be another's."""


def begin_with_contacts(journal: Journal, site: Site, folder: Path, now_ms: Callable[[], int]) -> None:
    """Follow the contacts, and put a test in for each that took nothing last. Raises JournalError, ConfigError."""
    readdressed = follow_contacts(journal, site, folder)
    journal.write(lambda conn: try_what_failed(conn, site, now_ms(), readdressed))


def follow_contacts(journal: Journal, site: Site, folder: Path) -> frozenset[str]:
    """Bring the journal up to the contacts as the site file has them, however it was changed.

    Nothing of an old address is told of a new one: neither that a test arrived, nor that it is gone. What still waits
    for somebody goes to their new address; what waited for a contact that was taken out goes nowhere. Gives the
    contacts that have another address and took nothing with the old one. Raises JournalError, ConfigError.
    """
    with journal.read() as conn:
        salt = contact_ways.salt(conn) or secrets.token_hex(16)
    digests = _digests(site, folder, bytes.fromhex(salt))

    def follow(conn: sqlite3.Connection) -> frozenset[str]:
        before = contact_ways.kept(conn)
        changes = contact_changes(before, digests, lambda: f"address {secrets.token_hex(8)}")
        failing = {each.contact for each in deliveries.failing(conn)}
        if changes.are_any:
            moved = {**changes.moved, **{contact: f"{contact}{_BEFORE}" for contact in changes.ended}}
            contact_ways.move(conn, moved, changes.readdressed | changes.ended)
        if changes.ways != before:
            contact_ways.keep(conn, changes.ways, salt)
        return changes.readdressed & failing

    return journal.write(follow)


def _digests(site: Site, folder: Path, salt: bytes) -> Mapping[str, str]:
    found = {}
    for person in site.people:
        for contact_id, contact in zip(contact_ids(person), person.contacts, strict=True):
            # With the person in it, two people who share an address have two digests.
            whole = f"{person.id}\n{contact.kind}\n{contact.reveal(folder)}".encode()
            found[contact_id] = hashlib.scrypt(whole, salt=salt, n=_COST, r=8, p=1, maxmem=2**25).hex()
    return found
