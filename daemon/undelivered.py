"""Alerts that reached nobody's phone, in sentences for the page and for `/health`."""

import sqlite3

from config.site import Site
from daemon.contacts import names_by_contact
from daemon.storage import outbox

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
