"""`clutchwarden contacts list|test|confirm`: who is told and how, and whether a message gets there."""

import json
import secrets
import sqlite3
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from config.model import Contact
from config.plain import nearest
from config.site import Person
from daemon.alarms.delivery import Channel, Delivered, SendResult, as_sent
from daemon.alarms.trial import trial_message
from daemon.commands.contacts_confirm import confirm
from daemon.commands.progress import waiting
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, fail, login_name, read_site
from daemon.contacts import channel_for, contact_ids
from daemon.storage import deliveries

app = typer.Typer(help="Who is told, and whether a message gets there.", no_args_is_help=True)

app.command("confirm")(confirm)
EXIT_NOT_DELIVERED = 1
_NOBODY = "No person has a contact. Add [[person]] with [[person.contact]] to site.toml."

JsonOption = Annotated[bool, typer.Option("--json", help="For programs.")]


@app.command("list")
def list_contacts(site: SiteOption = HERE, as_json: JsonOption = False) -> None:
    """List people and the kinds of their contacts; never an address."""
    people = read_site(site).site.people
    if as_json:
        listed = [
            {"id": one.id, "name": one.name, "contacts": [_as_dict(each) for each in one.contacts]} for one in people
        ]
        print(json.dumps(listed, indent=2, ensure_ascii=False))
        return
    if not people:
        print(_NOBODY)
        return
    table = Table("person", "contacts", box=None, pad_edge=False)
    for person in people:
        kinds = ", ".join(_kind(contact) for contact in person.contacts)
        table.add_row(Text(f"{person.name} ({person.id})"), Text(kinds or "none: no alert reaches this person"))
    Console(soft_wrap=True).print(table)


@app.command("test")
def send_test(
    person: Annotated[
        str | None,
        typer.Argument(metavar="[PERSON]", help="Id or name of one person.", show_default="everybody"),
    ] = None,
    site: SiteOption = HERE,
    as_json: JsonOption = False,
) -> None:
    """Send a message whose first word is TEST to each contact, once, and say what each answered."""
    whole = read_site(site)
    trials = [_Trial(each, number, contact) for each in _people(whole, person) for number, contact in _numbered(each)]
    if not trials:
        raise fail(_NOBODY if person is None else f"{person} has no contact. Add [[person.contact]] to site.toml.")
    ways = [channel_for(trial.contact, whole.folder, whole.settings.delivery.timeout_s) for trial in trials]
    with waiting("Sending"), ThreadPoolExecutor(len(trials)) as pool:
        results = list(pool.map(lambda trial, way: _send(whole.site.name, trial, way), trials, ways))
    answers = list(zip(trials, results, strict=True))
    _remember(whole, answers)
    if as_json:
        print(json.dumps([_answer(*each) for each in answers], indent=2, ensure_ascii=False))
    else:
        for trial, result in answers:
            print(f"{trial.person.name}, contact {trial.number} ({trial.contact.kind}): {_said(result)}")
    if not all(isinstance(result, Delivered) for result in results):
        raise typer.Exit(EXIT_NOT_DELIVERED)


@dataclass(frozen=True, slots=True)
class _Trial:
    """One contact to send to."""

    person: Person
    number: int
    contact: Contact


def _remember(whole: SiteFolder, answers: Sequence[tuple[_Trial, SendResult]]) -> None:
    """What was accepted ends an alarm about that contact. Without a journal there is none."""
    accepted = [
        contact_ids(trial.person)[trial.number - 1] for trial, result in answers if isinstance(result, Delivered)
    ]
    if accepted and whole.settings.storage.journal.exists():
        with whole.journal() as journal:
            journal.write(lambda conn: _note(conn, accepted))


def _note(conn: sqlite3.Connection, accepted: Sequence[str]) -> None:
    for contact in accepted:
        deliveries.note_accepted(conn, contact)


def _people(whole: SiteFolder, wanted: str | None) -> list[Person]:
    people = whole.site.people
    if wanted is None:
        return list(people)
    found = [one for one in people if wanted == one.id] or [
        one for one in people if wanted.casefold() == one.name.casefold()
    ]
    if not found:
        raise fail(f"There is no person {wanted!r} in site.toml. {nearest(wanted, (one.id for one in people))}")
    return found


def _numbered(person: Person) -> Iterator[tuple[int, Contact]]:
    return iter(enumerate(person.contacts, start=1))


def _send(site_name: str, trial: _Trial, way: Channel) -> SendResult:
    message = trial_message(site_name, trial.person.name, secrets.token_hex(12), login_name())
    return way.send(as_sent(message, time.time_ns() // 1_000_000))


def _kind(contact: Contact) -> str:
    return f"{contact.kind}, signed" if _signed(contact) else contact.kind


def _signed(contact: Contact) -> bool:
    return bool(contact.signing_key_file or contact.signing_key_variable)


def _as_dict(contact: Contact) -> dict[str, object]:
    return {"kind": contact.kind, "signed": _signed(contact)}


def _said(result: SendResult) -> str:
    return "accepted" if isinstance(result, Delivered) else f"not accepted: {result.error}"


def _answer(trial: _Trial, result: SendResult) -> dict[str, object]:
    return {
        "person": trial.person.id,
        "contact": trial.number,
        "kind": trial.contact.kind,
        "accepted": isinstance(result, Delivered),
        "error": "" if isinstance(result, Delivered) else result.error,
    }
