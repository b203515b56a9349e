"""Rules for foreign sources: topic filters, pointers, units, and who may claim what."""

import re
from collections.abc import Iterator
from itertools import combinations, zip_longest

from config.errors import Mistake
from config.model import Probe, Site, Source
from config.plain import nearest
from config.words import Quantity

_FILE = "site.toml"
_OWN_TREE = "clutchwarden/#"
_TEMPERATURE_UNITS = ("Cel", "degC", "degF", "K")
_HUMIDITY_UNITS = ("%RH", "percent", "/")
INVERTED = "inverted"
"""The unit of a contact whose device says it the other way round: 0, off and false are open or present."""
_CONTACT_UNITS = ("/", INVERTED)
_POINTER = re.compile(r"(?:/(?:[^~/]|~[01])*)*")
"""RFC 6901 section 3: empty, or tokens that each begin with /; in a token ~ is ~0 and / is ~1."""


def source_mistakes(site: Site, channels_known: bool) -> Iterator[Mistake]:
    """Check all sources of a site; `channels_known` is False where a channel could not be read."""
    stated = [
        (f"probe.{probe.id}.source#{number}", probe, source)
        for probe in site.probes
        for number, source in enumerate(probe.sources, start=1)
    ]
    for key, probe, source in stated:
        yield from _topic(key, source)
        yield from _pointers(key, source)
        if channels_known:
            yield from _channel(key, probe, source)
        if source.scale == 0:
            yield Mistake(_FILE, f"{key}.scale", "a scale of 0 makes every value 0", "Leave scale out, or correct it.")
    for (earlier, _, one), (later, _, other) in combinations(stated, 2):
        if one.pointer == other.pointer and filters_overlap(one.topic, other.topic):
            reason = f"the same value of {other.topic} is claimed by {earlier} already"
            yield Mistake(_FILE, f"{later}.topic", reason, "One value feeds one channel: correct a topic or a pointer.")


def is_topic_filter(topic: str) -> bool:
    """Tell whether a text is a topic filter by MQTT 5.0 clauses 4.7.1 and 4.7.3."""
    levels = topic.split("/")
    alone = all(level in ("+", "#") or not ("+" in level or "#" in level) for level in levels)
    return bool(topic) and "\0" not in topic and alone and "#" not in levels[:-1]


def filters_overlap(first: str, second: str) -> bool:
    """Tell whether some topic matches both filters, by the matching rules of MQTT 5.0 clause 4.7.

    `#` also matches its parent level, and no wildcard at the start matches a topic that begins with `$`.
    """
    starts = first[0], second[0]
    if "$" in starts and starts != ("$", "$"):
        return False
    for one, other in zip_longest(first.split("/"), second.split("/")):
        if "#" in (one, other):
            return True
        if one is None or other is None or not ("+" in (one, other) or one == other):
            return False
    return True


def _topic(key: str, source: Source) -> Iterator[Mistake]:
    where = f"{key}.topic"
    if not is_topic_filter(source.topic):
        hint = "A # stands alone as the last level, a + alone as any level: sensors/+/state or sensors/#."
        yield Mistake(_FILE, where, f'"{source.topic}" is not an MQTT topic filter', hint)
    elif source.topic.startswith("$share/"):
        hint = "Write the topic without $share/ and the group name."
        yield Mistake(_FILE, where, "a shared subscription would hand each message to one listener only", hint)
    elif filters_overlap(source.topic, _OWN_TREE):
        reason = f'"{source.topic}" reaches into clutchwarden/..., where probes speak SenML'
        hint = "Name the topic of the foreign device more closely; probes that speak SenML need no source."
        yield Mistake(_FILE, where, reason, hint)


def _pointers(key: str, source: Source) -> Iterator[Mistake]:
    for name in ("pointer", "time_pointer"):
        pointer = getattr(source, name)
        if pointer is not None and not _POINTER.fullmatch(pointer):
            hint = "Begin with / and put / between the names, for example /climate/temperature (RFC 6901)."
            yield Mistake(_FILE, f"{key}.{name}", f'"{pointer}" is not a JSON pointer', hint)
    if (source.time_pointer is None) != (source.time_format is None):
        missing = "time_format" if source.time_format is None else "time_pointer"
        reason = f"{missing} is missing: a time needs both the place where it stands and the form it has"
        yield Mistake(_FILE, f"{key}.{missing}", reason, "Give both time_pointer and time_format, or neither.")
    if source.pointer is None and source.time_pointer is not None:
        reason = "without a pointer the payload is a plain number, which has no time in it"
        yield Mistake(_FILE, f"{key}.time_pointer", reason, "Give the pointer to the value, or leave the time out.")


def _channel(key: str, probe: Probe, source: Source) -> Iterator[Mistake]:
    quantities = {channel.name: channel.quantity for channel in probe.channels}
    quantity = quantities.get(source.channel)
    if quantity is None:
        reason = f'probe {probe.id} has no channel "{source.channel}"'
        hint = nearest(source.channel, quantities) if quantities else "Add [[probe.channel]] with this name."
        yield Mistake(_FILE, f"{key}.channel", reason, hint)
    elif source.unit not in _units(quantity):
        reason = f'"{source.unit}" is not a unit of {quantity.value.replace("_", " ")}'
        hint = f"Use {', '.join(_units(quantity))}; capital and small letters count."
        if quantity.is_contact:
            hint = 'Use "/" where 1, on or true is open or present, "inverted" where it is closed or absent.'
        yield Mistake(_FILE, f"{key}.unit", reason, hint)
    if quantity is not None and quantity.is_contact and source.scale not in (0, 1):
        reason = f"a contact is 0 or 1 and has no scale, here {source.scale:g}"
        yield Mistake(_FILE, f"{key}.scale", reason, f'Leave scale out. Where 0 is open, write unit = "{INVERTED}".')


def _units(quantity: Quantity) -> tuple[str, ...]:
    """SenML names (RFC 8428 section 12.1; a switch has `/`) and some plain ones for foreign sources."""
    if quantity.is_contact:
        return _CONTACT_UNITS
    return _TEMPERATURE_UNITS if quantity.is_temperature else _HUMIDITY_UNITS
