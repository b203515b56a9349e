"""From what was typed into a form of probes to a change of the site file, or to what is wrong with it. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from urllib.parse import unquote

from config.errors import Mistake
from config.site_edit import (
    Edit,
    NewChannel,
    NewProbe,
    NewSource,
    add_channels,
    add_probe,
    change_probe,
    remove_probe,
)
from config.words import Quantity
from daemon.probe_values import ProbesSeen
from dashboards.setup_forms import Read, Typed
from dashboards.setup_probe_forms import CHANGE, CHANNEL, LEAF, PLAIN, QUANTITIES, REMOVE, TAKE_UP, VALUES, Device
from dashboards.setup_probes import quantity_word

_NAMES = {
    Quantity.AIR_TEMPERATURE: "t",
    Quantity.SURFACE_TEMPERATURE: "surface",
    Quantity.RELATIVE_HUMIDITY: "rh",
    Quantity.MAINS: "mains",
    Quantity.DOOR: "door",
}
_TIME = "time"
_SHORTEST_INTERVAL_S = 1.0
"""What sends more often is no probe of eggs, and would be called silent between two messages. Project choice."""
_LONGEST_INTERVAL_S = 86_400.0
_OF_KEYS = {"place": "place", "interval_s": "interval_s", "id": "id"}


@dataclass(frozen=True, slots=True)
class Wish:
    """A change of the site file: what it is in a few words, how it is made, why, and which file was seen."""

    what: str
    edit: Edit
    why: str
    mark: str


def take_up_wish(fields: Mapping[str, str], device: Device, seen: ProbesSeen) -> Wish | Typed:
    """Read the form of an unknown device. `seen`: which places and probes there are."""
    read = Read(fields)
    values = _values(read, fields, device)
    channels, sources = _senml(values) if device.speaks_senml else _foreign(values, device.topic)
    if not channels:
        missing = "Say of at least one value what it is; without one there is nothing to take up."
        return Typed(TAKE_UP, fields, read.errors, "" if read.errors else missing)
    mark = fields.get("mark", "")
    if device.existing is not None:
        if read.errors:
            return Typed(TAKE_UP, fields, read.errors)
        what = f"probe {device.probe_id}: more channels"
        return Wish(what, partial(add_channels, probe_id=device.probe_id, channels=channels), "", mark)
    probe_id = device.probe_id if device.speaks_senml else read.text("id", "Give it an id, such as shelf-2-air.")
    place, interval_s = _place(read, [place for place, _ in seen.places]), _interval(read)
    occupied = _occupied(place, channels, seen)
    if occupied:
        read.wrong("place", occupied)
    if read.errors:
        return Typed(TAKE_UP, fields, read.errors)
    probe = NewProbe(probe_id, place, interval_s, channels, sources)
    return Wish(f"probe {probe_id} taken up", partial(add_probe, probe=probe), "", mark)


def change_wish(probe_id: str, fields: Mapping[str, str], places: Iterable[str]) -> Wish | Typed:
    """Read the form for another place or interval."""
    read = Read(fields)
    place, interval_s, why = _place(read, places), _interval(read), read.text("why")
    if read.errors:
        return Typed(CHANGE, fields, read.errors)
    edit = partial(change_probe, probe_id=probe_id, place=place, interval_s=interval_s)
    return Wish(f"probe {probe_id} changed", edit, why, fields.get("mark", ""))


def remove_wish(probe_id: str, fields: Mapping[str, str]) -> Wish | Typed:
    """Read the form that takes a probe out of use."""
    read = Read(fields)
    why = read.text("why")
    if not read.ticked("sure"):
        read.wrong("sure", "Tick this to say that you mean it.")
    if read.errors:
        return Typed(REMOVE, fields, read.errors)
    edit = partial(remove_probe, probe_id=probe_id)
    return Wish(f"probe {probe_id} out of use", edit, why, fields.get("mark", ""))


def refused(wanted: str, fields: Mapping[str, str], mistakes: Iterable[Mistake]) -> Typed:
    """Put what the rules of the site file say beside the fields that it is about."""
    errors: dict[str, str] = {}
    others: list[str] = []
    for mistake in mistakes:
        reason = f"{mistake.reason[:1].upper()}{mistake.reason[1:].rstrip('.')}"
        told = f"{reason}{'' if reason.endswith('?') else '.'} {mistake.hint}".strip()
        key, last = mistake.key.split("."), mistake.key.rpartition(".")[2]
        channel = next((f"{CHANNEL}{name}" for name in key if f"{CHANNEL}{name}" in fields), "")
        field = channel or _OF_KEYS.get(last, "")
        if field in fields and mistake.key.startswith("probe."):
            errors.setdefault(field, told)
        else:
            others.append(told)
    return Typed(wanted, fields, errors, f"Nothing was changed. {' '.join(others)}" if others else "")


def _occupied(place: str, channels: Iterable[NewChannel], seen: ProbesSeen) -> str:
    """Say which probe has this place already, where one has: heat and alarms can follow but one."""
    name = dict(seen.places).get(place, place)
    for channel in channels:
        for other in seen.probes:
            if other.probe.place == place and any(each.quantity is channel.quantity for each in other.probe.channels):
                measured = quantity_word(channel.quantity)
                return (
                    f"{name} has a probe for this already, {other.probe.id} ({measured}). Choose the box or shelf "
                    "where this one really lies, or leave the value out."
                )
    return ""


def _place(read: Read, places: Iterable[str]) -> str:
    return read.choice("place", [(each, each) for each in places], "Choose where it is.")


def _interval(read: Read) -> float:
    found = read.number("interval_s", "Say how often it sends, in seconds.")
    if found is not None and not _SHORTEST_INTERVAL_S <= found <= _LONGEST_INTERVAL_S:
        read.wrong("interval_s", "Give seconds: 1 at the least, and a day (86400) at the most.")
    return 0.0 if found is None else found


def _values(read: Read, fields: Mapping[str, str], device: Device) -> dict[str, str]:
    """What was said of each value that the device sends, by the name of the value."""
    options = QUANTITIES if device.speaks_senml else VALUES
    prefix = CHANNEL if device.speaks_senml else LEAF
    chosen = {
        unquote(name.removeprefix(prefix)): read.choice(name, options)
        for name in fields
        if name.startswith(prefix) or (name == PLAIN and not device.speaks_senml)
    }
    return {name: value for name, value in chosen.items() if value}


def _senml(values: Mapping[str, str]) -> tuple[tuple[NewChannel, ...], tuple[NewSource, ...]]:
    return tuple(NewChannel(name, Quantity(quantity)) for name, quantity in values.items()), ()


def _foreign(values: Mapping[str, str], topic: str) -> tuple[tuple[NewChannel, ...], tuple[NewSource, ...]]:
    """Channels with names of ours, and where their values are; one time holds for all of them."""
    times = [(pointer, chosen.partition("|")[2]) for pointer, chosen in values.items() if chosen.startswith(_TIME)]
    time_pointer, time_format = times[0] if times else (None, None)
    channels: list[NewChannel] = []
    sources: list[NewSource] = []
    for pointer, chosen in values.items():
        word, _, unit = chosen.partition("|")
        if word == _TIME:
            continue
        quantity = Quantity(word)
        same = sum(each.quantity is quantity for each in channels)
        name = _NAMES[quantity] + (f"-{same + 1}" if same else "")
        channels.append(NewChannel(name, quantity))
        where = None if pointer == PLAIN else pointer
        sources.append(NewSource(topic, name, unit, pointer=where, time_pointer=time_pointer, time_format=time_format))
    return tuple(channels), tuple(sources)
