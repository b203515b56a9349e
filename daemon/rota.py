"""The people of a site as the ladder knows them: who can be reached, by what, in which order, and who is on duty."""

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple
from zoneinfo import ZoneInfo

from config.site import Person as StatedPerson
from config.site import Site
from daemon.alarms.hand_over import Planned
from daemon.alarms.people import Contact, Person, QuietHours, Rota
from daemon.contacts import contact_ids
from daemon.storage import duties
from daemon.undelivered import dead_contacts

NONE_DEAD: frozenset[str] = frozenset()
DeadContacts = Callable[[sqlite3.Connection, Site], frozenset[str]]


class KnownRota(NamedTuple):
    """The rota, and the duties in it under their numbers, in the same order."""

    rota: Rota
    duties: tuple[Planned, ...]


def rota_of(site: Site, conn: sqlite3.Connection, dead: frozenset[str] = NONE_DEAD) -> Rota:
    """The rota as site file and journal say. `dead` are contacts whose receiver says that the address is gone."""
    return known_rota(site, duties.entries(conn), dead).rota


def known_rota(site: Site, entries: duties.Entries, dead: frozenset[str] = NONE_DEAD) -> KnownRota:
    """Everybody who has a contact, in the order of the site file. Contacts of one kind share a path.

    What was planned for somebody who is gone from the site file is left out: nobody could be called by it.
    """
    stated = [person for person in site.people if person.contacts]
    standing = tuple(person.id for person in stated if not person.emergency)
    if all(name in dead for person in stated if not person.emergency for name in contact_ids(person)):
        # Whatever the receivers said, somebody has to be tried.
        dead = NONE_DEAD
    people = tuple(_person(person, dead) for person in stated)
    names = {person.id for person in people}
    planned = tuple(
        replace(each, duty=replace(each.duty, second=each.duty.second if each.duty.second in names else ""))
        for each in entries.duties
        if not each.cancelled and each.duty.person in names
    )
    rota = Rota(
        people,
        standing,
        tuple(each.duty for each in planned),
        tuple(each.absence for each in entries.absences if not each.cancelled and each.absence.person in names),
        tuple(person.id for person in stated if person.emergency),
        quiet_hours(site),
    )
    return KnownRota(rota, planned)


def quiet_hours(site: Site) -> QuietHours | None:
    """The quiet hours of a site, in its zone; None where none are stated."""
    stated = site.quiet
    return None if stated is None else QuietHours(stated.start, stated.end, ZoneInfo(site.time_zone))


class Rotas:
    """Gives the rota of each moment; reads the journal anew only after a change. Safe to use from any thread."""

    def __init__(self, site: Site, dead: DeadContacts = dead_contacts) -> None:
        self._site = site
        self._dead = dead
        self._kept: tuple[object, KnownRota] | None = None

    def dead(self, conn: sqlite3.Connection) -> frozenset[str]:
        """Contacts whose receiver says that the address is gone, by id."""
        return self._dead(conn, self._site)

    def of(self, conn: sqlite3.Connection) -> KnownRota:
        """The rota as the journal has it; the very same object as long as nothing has changed.

        Not to be asked after a change in the same transaction, which may yet be undone.
        """
        dead = self.dead(conn)
        version = (duties.version(conn), dead)
        kept = self._kept
        if kept is None or kept[0] != version:
            kept = self._kept = (version, known_rota(self._site, duties.entries(conn), dead))
        return kept[1]


def _person(person: StatedPerson, dead: frozenset[str]) -> Person:
    contacts = (
        Contact(name, contact.kind, usable=name not in dead)
        for name, contact in zip(contact_ids(person), person.contacts, strict=True)
    )
    return Person(person.id, person.name, tuple(contacts))
