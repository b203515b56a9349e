"""`clutchwarden contacts confirm`: somebody says at the machine that the test of the week arrived."""

import sqlite3
import time
from typing import Annotated

import typer

from config.plain import nearest
from config.site import Person
from daemon.alarms.figures import clock_text
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, WhoOption, fail, login_name, read_site
from daemon.contacts import contact_ids
from daemon.storage import trials
from daemon.storage.trials import Trial


def confirm(
    person: Annotated[str, typer.Argument(help="Id or name of the person whom the test reached.")],
    contact: Annotated[
        list[int] | None,
        typer.Option(help="Which of the person's contacts, counted from 1; again for another one.", show_default="all"),
    ] = None,
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Say that the weekly test arrived, where its message has no link. It ends the alarm that nobody confirmed it."""
    whole = read_site(site)
    one, now_ms = person_named(whole, person), time.time_ns() // 1_000_000
    with whole.journal() as journal:
        with journal.read() as conn:
            wanted = _wanted(whole, one, _waiting(conn, one), contact)
        for number, trial in wanted.items():
            journal.write(lambda conn, trial=trial: trials.confirm(conn, trial.message_id, now_ms, _by(who), "command"))  # type: ignore[misc]
            sent = clock_text(trial.sent_at_ms, now_ms, whole.zone)
            print(f"{one.name}, contact {number} ({one.contacts[number - 1].kind}): the test of {sent} is confirmed.")


def person_named(whole: SiteFolder, wanted: str) -> Person:
    """Give the person of an id or a name; the end of the command where there is none."""
    people = whole.site.people
    for one in people:
        if wanted == one.id or wanted.casefold() == one.name.casefold():
            return one
    raise fail(f"There is no person {wanted!r} in site.toml. {nearest(wanted, (one.id for one in people))}")


def _waiting(conn: sqlite3.Connection, person: Person) -> dict[int, Trial]:
    """The newest test of each contact, by number, where nobody confirmed it yet."""
    newest = {number: trials.newest(conn, contact) for number, contact in enumerate(contact_ids(person), start=1)}
    return {number: trial for number, trial in newest.items() if trial is not None and trial.confirmed_at_ms is None}


def _wanted(
    whole: SiteFolder, person: Person, waiting: dict[int, Trial], numbers: list[int] | None
) -> dict[int, Trial]:
    """The tests to confirm. Of several contacts somebody has to say which: one that is dead must not pass for well."""
    for number in numbers or ():
        if not 1 <= number <= len(person.contacts):
            raise fail(f"{person.name} has no contact {number} in site.toml, but {len(person.contacts)} in all.")
    found = {number: trial for number, trial in waiting.items() if not numbers or number in numbers}
    if not found:
        off = "" if whole.site.messages.test else " The weekly test is switched off in site.toml."
        raise fail(f"No test to {person.name} waits for a confirmation.{off} See also: clutchwarden contacts test.")
    if len(found) > 1 and not numbers:
        listed = ", ".join(f"{number} ({person.contacts[number - 1].kind})" for number in found)
        options = " ".join(f"--contact {number}" for number in found)
        raise fail(f"Tests to several contacts of {person.name} wait: {listed}. Say which arrived, or all: {options}")
    return found


def _by(who: str) -> str:
    return who or login_name()
