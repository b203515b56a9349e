"""What a keeper changes in site.toml from a page: from the text of the file to its new text. Pure.

Nothing here judges whether the new text makes sense: `config.site.read_site_text` does, by the rules for the file. What
is named and does not exist raises StatedError.
"""

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from config.errors import StatedError
from config.toml_edit import append_table, remove_table, set_table, set_value
from config.words import Quantity

Edit = Callable[[str], str]
_LOOK_AGAIN = "Load the page again: it shows what stands there now."


@dataclass(frozen=True, slots=True)
class NewChannel:
    """A channel to add. `accuracy`: the plus or minus of the data sheet, K or % RH."""

    name: str
    quantity: Quantity
    accuracy: float | None = None


@dataclass(frozen=True, slots=True)
class NewSource:
    """Where a device with messages of its own puts the value of a channel; see `config.model.Source`."""

    topic: str
    channel: str
    unit: str
    pointer: str | None = None
    scale: float = 1.0
    time_pointer: str | None = None
    time_format: str | None = None


@dataclass(frozen=True, slots=True)
class NewProbe:
    """A probe to add. Without `sources` it speaks SenML."""

    id: str
    place: str
    interval_s: float
    channels: tuple[NewChannel, ...]
    sources: tuple[NewSource, ...] = ()


@dataclass(frozen=True, slots=True)
class NewContact:
    """A way to a person; the address stands in a file of its own, never here."""

    kind: str
    url_file: str


def add_probe(text: str, probe: NewProbe) -> str:
    """Add a probe behind the last one."""
    table: dict[str, Any] = {"id": probe.id, "place": probe.place, "interval_s": _plain(probe.interval_s)}
    if probe.channels:
        table["channel"] = [_channel(each) for each in probe.channels]
    if probe.sources:
        table["source"] = [_source(each) for each in probe.sources]
    return append_table(text, (), "probe", table)


def change_probe(text: str, probe_id: str, place: str | None = None, interval_s: float | None = None) -> str:
    """Give a probe another place or interval, seconds; None leaves it as it is."""
    steps = (("probe", _number(text, "probe", probe_id)),)
    for key, value in (("place", place), ("interval_s", None if interval_s is None else _plain(interval_s))):
        text = text if value is None else set_value(text, steps, key, value)
    return text


def add_channels(text: str, probe_id: str, channels: Sequence[NewChannel]) -> str:
    """Add channels to a probe behind those that it has."""
    steps = (("probe", _number(text, "probe", probe_id)),)
    for channel in channels:
        text = append_table(text, steps, "channel", _channel(channel))
    return text


def remove_probe(text: str, probe_id: str) -> str:
    """Take a probe out of use; its readings stay in the journal."""
    return remove_table(text, (), "probe", _number(text, "probe", probe_id))


def add_person(
    text: str, person_id: str, name: str, emergency: bool = False, contacts: Sequence[NewContact] = ()
) -> str:
    """Add a person behind the last one."""
    table: dict[str, Any] = {"id": person_id, "name": name, **({"emergency": True} if emergency else {})}
    if contacts:
        table["contact"] = [_contact(each) for each in contacts]
    return append_table(text, (), "person", table)


def change_person(text: str, person_id: str, name: str | None = None, emergency: bool | None = None) -> str:
    """Give a person another name, or set or remove the mark that they are for emergencies only."""
    steps = (("person", _number(text, "person", person_id)),)
    if name is not None:
        text = set_value(text, steps, "name", name)
    if emergency is not None:
        text = set_value(text, steps, "emergency", True if emergency else None)
    return text


def remove_person(text: str, person_id: str) -> str:
    """Take out a person with all their contacts. Files with addresses are left where they are."""
    return remove_table(text, (), "person", _number(text, "person", person_id))


def add_contact(text: str, person_id: str, contact: NewContact) -> str:
    """Add a way to a person behind their last one."""
    return append_table(text, (("person", _number(text, "person", person_id)),), "contact", _contact(contact))


def change_contact(text: str, person_id: str, number: int, contact: NewContact) -> str:
    """Give a contact another kind and file; `number` counts from 1. Keys that sign stay as they are."""
    steps = _contact_steps(text, person_id, number)
    if "url" in _tables(text, "person")[steps[0][1]]["contact"][number - 1]:
        text = set_value(text, steps, "url", None)
    return set_value(set_value(text, steps, "kind", contact.kind), steps, "url_file", contact.url_file)


def remove_contact(text: str, person_id: str, number: int) -> str:
    """Take out one way to a person; `number` counts from 1."""
    person, (name, at) = _contact_steps(text, person_id, number)
    return remove_table(text, (person,), name, at)


def set_quiet(text: str, start: str | None, end: str | None) -> str:
    """State the quiet hours by two times of day such as "22:00"; None removes them."""
    return set_table(text, "quiet", None if start is None or end is None else {"start": start, "end": end})


def _contact_steps(text: str, person_id: str, number: int) -> tuple[tuple[str, int], tuple[str, int]]:
    at = _number(text, "person", person_id)
    contacts = _tables(text, "person")[at].get("contact", [])
    if not 1 <= number <= len(contacts):
        raise StatedError(f"{person_id} has no contact {number} any more", _LOOK_AGAIN)
    return ("person", at), ("contact", number - 1)


def _number(text: str, name: str, wanted: str) -> int:
    found = [at for at, table in enumerate(_tables(text, name)) if table.get("id") == wanted]
    if not found:
        raise StatedError(f"there is no {name} {wanted} in site.toml any more", _LOOK_AGAIN)
    return found[0]


def _tables(text: str, name: str) -> list[dict[str, Any]]:
    try:
        found = tomllib.loads(text.removeprefix("\ufeff")).get(name, [])
    except tomllib.TOMLDecodeError:
        hint = "Mend it with an editor first; clutchwarden check says where."
        raise StatedError("site.toml as it stands now is not valid TOML", hint) from None
    return [each for each in found if isinstance(each, dict)] if isinstance(found, list) else []


def _source(source: NewSource) -> dict[str, Any]:
    return _stated(
        {
            "topic": source.topic,
            "channel": source.channel,
            "pointer": source.pointer,
            "unit": source.unit,
            "scale": None if source.scale == 1 else _plain(source.scale),
            "time_pointer": source.time_pointer,
            "time_format": source.time_format,
        }
    )


def _channel(channel: NewChannel) -> dict[str, Any]:
    return _stated({"name": channel.name, "quantity": channel.quantity.value, "accuracy": channel.accuracy})


def _contact(contact: NewContact) -> dict[str, Any]:
    return {"kind": contact.kind, "url_file": contact.url_file}


def _stated(table: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in table.items() if value is not None}


def _plain(number: float) -> float | int:
    """60 rather than 60.0, as a person writes it."""
    return int(number) if float(number).is_integer() else number
