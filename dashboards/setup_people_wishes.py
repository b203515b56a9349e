"""From what a keeper typed about people and quiet hours to a change of the site file, or to what is wrong. Pure.

An address is a secret: it goes from the form into a file of its own, and no form ever shows it again.
"""

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from config import site_edit
from config.contacts import address_fault
from config.errors import Mistake
from config.site_edit import Edit, NewContact
from daemon.people_values import PeopleNow, PersonNow
from dashboards.setup_forms import Read, Typed
from dashboards.setup_people_forms import KINDS, Act, wanted_of

_IDENTIFIER = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
_NAME_RULE = "Use letters without accents, digits, - _ and . only, and begin with a letter or digit: ana-m."
_TIME = re.compile(r"([01]?\d|2[0-3]):[0-5]\d")
_FIELDS = {
    "contact": "address",
    "url_file": "address",
    "url": "address",
    "kind": "kind",
    "id": "id",
    "name": "name",
    "quiet": "start",
    "start": "start",
    "end": "end",
}
"""Where on the form a key of the site file was typed."""
_GONE = "Nothing was done: there is no such person or contact any more. What there is now is below."


@dataclass(frozen=True, slots=True)
class SiteWish:
    """A change to the site file: in a few words, how, and the addresses that go into files of their own, by name."""

    what: str
    edit: Edit
    secrets: Mapping[str, str] = field(default_factory=dict)


def wish_of(
    act: Act, fields: Mapping[str, str], found: PeopleNow, free_secret: Callable[[str], str]
) -> SiteWish | Typed:
    """Read a form, or say what is wrong with it. `free_secret` gives a name for the file of an address."""
    read = Read(fields)
    person = next((each for each in found.people if each.person == fields.get("person", "")), None)
    wish: SiteWish | None
    if act is Act.ADD:
        wish = _read_add(read, fields, found, free_secret)
    elif act is Act.QUIET:
        wish = _read_quiet(fields, read)
    elif person is None:
        return Typed(wanted_of(act, fields), fields, error=_GONE)
    elif act is Act.CHANGE:
        wish = _read_change(read, person)
    elif act is Act.REMOVE:
        wish = _read_remove(read, person)
    else:
        wish = _read_contact(act, read, fields, person, free_secret)
    if wish is None or read.errors:
        return Typed(wanted_of(act, fields), fields, read.errors, "" if read.errors else _GONE)
    return wish


def refused(act: Act, fields: Mapping[str, str], mistakes: Sequence[Mistake]) -> Typed:
    """Say beside the fields what the rules for the site file refuse, and of the rest above the form."""
    errors: dict[str, str] = {}
    others = []
    subject = fields.get("person", "") or fields.get("id", "").strip() or _made_of(fields.get("name", ""))
    about = "quiet" if act is Act.QUIET else f"person.{subject}"
    for mistake in mistakes:
        told, last = f"{_told(mistake.reason)}. {mistake.hint}", mistake.key.rpartition(".")[2]
        name = _FIELDS.get("contact" if last.startswith("contact#") else last, "")
        if name in fields and f"{mistake.key}.".startswith(f"{about}."):
            errors.setdefault(name, told)
        else:
            # What is wrong elsewhere in the file says where.
            others.append(told if mistake.key in ("", "person") else f"{mistake.key}: {told}")
    return Typed(wanted_of(act, fields), fields, errors, f"Nothing was changed. {' '.join(others)}" if others else "")


def _told(reason: str) -> str:
    return f"{reason[:1].upper()}{reason[1:].rstrip('.')}"


def _read_add(
    read: Read, fields: Mapping[str, str], found: PeopleNow, free_secret: Callable[[str], str]
) -> SiteWish | None:
    name = read.text("name", "Say who it is.")
    person_id = read.text("id") or _made_of(name)
    kind, address = read.choice("kind", KINDS) or KINDS[0][0], fields.get("address", "").strip()
    if name and not _IDENTIFIER.fullmatch(person_id):
        read.wrong("id", _NAME_RULE)
    if any(each.person.casefold() == person_id.casefold() for each in found.people):
        read.wrong("id", f"There is a person {person_id} already. Take another short name.")
    if address:
        _check_address(read, kind, address)
    if read.errors:
        return None
    file = free_secret(person_id) if address else ""
    contacts = (NewContact(kind, file),) if address else ()
    return SiteWish(
        f"person {person_id} added",
        lambda text: site_edit.add_person(text, person_id, name, read.ticked("emergency"), contacts),
        {file: address} if address else {},
    )


def _read_quiet(fields: Mapping[str, str], read: Read) -> SiteWish | None:
    start, end = (fields.get(name, "").strip()[:5] for name in ("start", "end"))
    for name, text, other in (("start", start, end), ("end", end, start)):
        if (text or other) and not _TIME.fullmatch(text):
            read.wrong(name, "Write a time of day, such as 22:00; or leave both empty.")
    if start and start.zfill(5) == end.zfill(5):
        read.wrong("start", "So they end when they begin. Write two times; or leave both empty for no quiet hours.")
    if read.errors:
        return None
    if not start:
        return SiteWish("no quiet hours any more", lambda text: site_edit.set_quiet(text, None, None))
    return SiteWish("quiet hours", lambda text: site_edit.set_quiet(text, start.zfill(5), end.zfill(5)))


def _read_change(read: Read, person: PersonNow) -> SiteWish | None:
    name, emergency = read.text("name", "A person needs a name."), read.ticked("emergency")
    return SiteWish(
        f"person {person.person} changed", lambda text: site_edit.change_person(text, person.person, name, emergency)
    )


def _read_remove(read: Read, person: PersonNow) -> SiteWish | None:
    if not read.ticked("sure"):
        read.wrong("sure", f"Tick this, and {person.name} is removed.")
    return SiteWish(f"person {person.person} removed", lambda text: site_edit.remove_person(text, person.person))


def _read_contact(
    act: Act, read: Read, fields: Mapping[str, str], person: PersonNow, free_secret: Callable[[str], str]
) -> SiteWish | None:
    kind, address = read.choice("kind", KINDS), fields.get("address", "").strip()
    way = next((each for each in person.contacts if str(each.number) == fields.get("number", "")), None)
    if act is not Act.ADD_CONTACT and way is None:
        return None
    if act is Act.REMOVE_CONTACT and way is not None:
        if not read.ticked("sure"):
            read.wrong("sure", "Tick this, and nothing is sent there any more.")
        number = way.number
        return SiteWish(
            f"contact {number} of {person.person} removed",
            lambda text: site_edit.remove_contact(text, person.person, number),
        )
    if not address:
        read.wrong("address", "Type or paste the whole address.")
        return None
    _check_address(read, kind, address)
    if read.errors:
        return None
    file = free_secret(person.person)
    contact = NewContact(kind or KINDS[0][0], file)
    if way is None:
        return SiteWish(
            f"contact of {person.person} added",
            lambda text: site_edit.add_contact(text, person.person, contact),
            {file: address},
        )
    return SiteWish(
        f"contact {way.number} of {person.person} changed",
        lambda text: site_edit.change_contact(text, person.person, way.number, contact),
        {file: address},
    )


def _check_address(read: Read, kind: str, address: str) -> None:
    """Tell it with whatever else is wrong in the form; the rules for the site file would tell it last."""
    fault = address_fault(kind or KINDS[0][0], address)
    if fault is not None:
        read.wrong("address", f"{_told(fault[0])}. {fault[1]}")


def _made_of(name: str) -> str:
    """A short name of a name: `Ana María` is `ana-maria`."""
    apart = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    return "-".join(re.findall(r"[a-z0-9]+", apart.casefold()))[:40]
