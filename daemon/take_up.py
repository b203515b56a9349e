"""What an unknown device seems to be, from what it sent: names, quantities, places of values, interval. Pure.

Everything here is a guess that a person looks at before it counts, and none is made from the size of a number.
"""

import math
import re
import statistics
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

from config.words import Quantity
from daemon.probe_values import PREFIX
from sensors.reading import Rejection
from sensors.senml import Record, resolve_pack
from sensors.strict_json import RefusedError, load, text_of
from sensors.topics import parse_own_topic

MOST_VALUES = 24
_DEEPEST = 12
USUAL_INTERVAL_S = 60.0
_NICE_S = (1, 2, 5, 10, 15, 20, 30, 60, 120, 180, 300, 600, 900, 1200, 1800, 3600, 7200, 10800, 21600, 43200, 86400)
_NEAR = 1.25
_FEWEST = 3
_LONGEST_TEXT = 60
_NOT_OF_IDS = re.compile(r"[^A-Za-z0-9._-]+")
_LONGEST_ID = 64
_WORD = re.compile(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])")
_UNITS = {"f": "degF", "degf": "degF", "fahrenheit": "degF", "c": "Cel", "degc": "Cel", "cel": "Cel", "celsius": "Cel"}
_UNIT_AT_END = re.compile(r"temp(?:erature)?([cf])")
_OF_A_UNIT = frozenset({"unit", "units", "uom"})
_NOTHING: Mapping[str, Any] = {}
_DECIMAL = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")
_LAST_PARTS = frozenset({"state", "status", "sensor", "data", "measure", "json", "tele", "value"})


class Named(NamedTuple):
    """A record of a SenML pack: the last part of its name, what it seems to measure, and its newest value as text."""

    name: str
    quantity: Quantity | None
    shown: str


class Leaf(NamedTuple):
    """A value in a payload that is not SenML. `pointer`: where it is (RFC 6901), None for a payload that is the value.

    `guess`: what it seems to be, as the two words that the site file has for it, quantity and unit; empty for nothing.
    """

    pointer: str | None
    shown: str
    guess: tuple[str, str] | tuple[()]


def own_probe(topic: str) -> str | None:
    """Give the id that a topic of our own kind names; None for any other topic."""
    found = parse_own_topic(PREFIX, topic)
    return None if found is None else found[0]


def named_values(payloads: Iterable[bytes], now_ms: int) -> tuple[Named, ...]:
    """Give the names in the SenML packs among these payloads, newest payload first; each name once."""
    found: dict[str, Named] = {}
    for payload in payloads:
        try:
            records = resolve_pack(load(payload), now_ms)
        except RefusedError:
            continue
        if isinstance(records, Rejection):
            continue
        for record in records:
            name = record.name.replace("/", ":").rpartition(":")[2]
            found.setdefault(name, Named(name, _quantity(name, record), _shown_record(record)))
    return tuple(found.values())[:MOST_VALUES]


def leaves(payload: bytes) -> tuple[Leaf, ...]:
    """Give the values in a payload that is JSON, or the payload itself where it is a plain value."""
    try:
        text = text_of(payload).strip()
    except RefusedError:
        return ()
    try:
        document = load(payload)
    except RefusedError:
        document = None
    if isinstance(document, dict | list):
        return tuple(_leaves(document, "", 0))[:MOST_VALUES]
    return (Leaf(None, _cut(text), ()),) if text and len(text) <= _LONGEST_TEXT and text.isprintable() else ()


def estimated_interval_s(times_ms: Sequence[int]) -> float:
    """Give how often something comes, seconds, near a round number where there is one; 60 where nothing can be said.

    The median leaves out a break and a repetition.
    """
    ordered = sorted(set(times_ms))
    steps = [(after - before) / 1000 for before, after in pairwise(ordered)]
    if len(steps) < _FEWEST - 1:
        return USUAL_INTERVAL_S
    middle = statistics.median(steps)
    nice = min(_NICE_S, key=lambda each: abs(math.log(each / middle)))
    return float(nice if 1 / _NEAR <= middle / nice <= _NEAR else max(1, round(middle)))


def suggested_id(topic: str, taken: Iterable[str]) -> str:
    """Make an id of a topic: its last part that says something; with a number where that is taken."""
    parts = [part for part in (_NOT_OF_IDS.sub("-", each).strip("-._") for each in topic.split("/")) if part]
    telling = [part for part in parts if part.lower() not in _LAST_PARTS] or parts or ["probe"]
    base, known = telling[-1][: _LONGEST_ID - 4], set(taken)
    return next(each for each in (base, *(f"{base}-{number}" for number in range(2, 10_000))) if each not in known)


def _quantity(name: str, record: Record) -> Quantity | None:
    unit, word = record.unit, name.lower()
    if unit in ("Cel", "K"):
        return Quantity.SURFACE_TEMPERATURE if "lid" in word or "surf" in word else Quantity.AIR_TEMPERATURE
    if unit == "%RH":
        return Quantity.RELATIVE_HUMIDITY
    contact = Quantity.MAINS if "main" in word or "power" in word else Quantity.DOOR if "door" in word else None
    if type(record.value) is bool:
        return contact or Quantity.DOOR
    if unit == "/":
        # RFC 8428 section 12.1 has this for a switch and for a ratio; a name tells the one, anything else the other.
        return contact or Quantity.RELATIVE_HUMIDITY
    return None


def _shown_record(record: Record) -> str:
    if record.value is None:
        return "no number"
    shown = str(record.value).lower() if type(record.value) is bool else f"{record.value:g}"
    return f"{shown} {record.unit}" if record.unit else f"{shown}, no unit"


def _leaves(value: Any, pointer: str, depth: int, beside: Mapping[str, Any] = _NOTHING) -> Iterator[Leaf]:
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else None
    if inside is None:
        if value is not None and value != "":
            yield Leaf(pointer, _cut(_said(value)), _guess(pointer.rpartition("/")[2], value, beside))
        return
    if depth > _DEEPEST:
        return
    for key, child in inside:
        escaped = str(key).replace("~", "~0").replace("/", "~1")
        yield from _leaves(child, f"{pointer}/{escaped}", depth + 1, value if isinstance(value, dict) else _NOTHING)


def _said(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _guess(name: str, value: Any, beside: Mapping[str, Any]) -> tuple[str, str] | tuple[()]:
    key, words = name.lower(), [each.lower() for each in _WORD.findall(name)]
    if isinstance(value, bool):
        return (Quantity.DOOR.value, "/") if "door" in key else ()
    if isinstance(value, str) and not _DECIMAL.fullmatch(value.strip()):
        return ()
    if any(each.startswith("temp") for each in words):
        kind = Quantity.SURFACE_TEMPERATURE if "lid" in key or "surf" in key else Quantity.AIR_TEMPERATURE
        unit = _unit_in(words) or _unit_beside(beside)
        # 28 may be either scale to a device, and the wrong one would be an alarm that nobody gets.
        return (kind.value, unit) if unit else ()
    if "humid" in key or key in ("rh", "hum"):
        return (Quantity.RELATIVE_HUMIDITY.value, "percent")
    return ()


def _unit_in(words: Sequence[str]) -> str:
    """The scale that a name says; empty where it says none."""
    ends = [found[1] for found in map(_UNIT_AT_END.fullmatch, words) if found]
    said = {_UNITS[each] for each in (*words, *ends) if each in _UNITS}
    return said.pop() if len(said) == 1 else ""


def _unit_beside(beside: Mapping[str, Any]) -> str:
    """The scale that a field for the unit in the same object says; empty where none does, or two differ."""
    said = {
        _UNITS.get(value.strip().lower().removeprefix("°"), "")
        for name, value in beside.items()
        if isinstance(value, str) and _OF_A_UNIT.intersection(each.lower() for each in _WORD.findall(name))
    } - {""}
    return said.pop() if len(said) == 1 else ""


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST_TEXT else f"{text[: _LONGEST_TEXT - 1]}…"
