"""The message about what was found afterwards: excursions that lay in readings that came late, and are over. Pure.

A lethal limit that was passed is URGENT, everything else CHECK. Nobody has to hurry for what is over, so it is never
CRITICAL and no ladder climbs. But what drove a place past a lethal limit may do so again within the hour, and eggs that
live may need help now; a message that waits for the morning could come after the second time. Quiet hours hold CHECK
alone.
"""

from collections.abc import Sequence
from datetime import tzinfo
from typing import NamedTuple

from config.words import AlarmKind, Priority, Quantity
from daemon.alarms.figures import clock_text, value_text
from daemon.alarms.shortened import shortened, shortened_place
from daemon.alarms.wrong import WRONG

LONGEST_HEADLINE = 60
LONGEST_TEXT = 300
OLD_READING_MS = 300_000
"""The newest reading's time is told from here on."""
_MINUTE_MS = 60_000
_LOOK = "Look at the eggs there."
_UNKNOWN = "What it was like there meanwhile nobody knows."
_MORE_ROOM = len("\nAnd 1000 more, see the page of alarms.")


class FoundPlace(NamedTuple):
    """One excursion for people. Values in the canonical unit; `now_value`: the newest one, None where none is known."""

    place: str
    kind: AlarmKind
    quantity: Quantity
    worst: float
    limit: float
    since_ms: int
    until_ms: int
    now_value: float | None = None
    now_value_ms: int = 0
    is_lethal: bool = False
    is_on: bool = False
    """another one of the same kind is on now"""

    @property
    def is_fault(self) -> bool:
        """True where it is about the probe; then there is neither a worst value nor a limit."""
        return self.kind is AlarmKind.PROBE_FAULT

    @property
    def is_high(self) -> bool:
        """True where it was above its limit."""
        return self.worst > self.limit


class FoundText(NamedTuple):
    """What is sent: at most 60 characters of headline, and 300 in all without a link."""

    priority: Priority
    headline: str
    body: str


def found_text(
    found: Sequence[FoundPlace],
    came_ms: tuple[int, int],
    now_ms: int,
    zone: tzinfo,
    *,
    fahrenheit: bool,
    must_say: str = "",
    more: int = 0,
) -> FoundText:
    """Write the message about at least one excursion, the worst first. `came_ms`: the first and the last arrival.

    `more`: so many others are on record. What is about probes alone comes after all that is about a limit.
    """
    first = found[0]
    priority = Priority.HIGH if first.is_lethal else Priority.LOW
    places = len({each.place for each in found})
    what = f"{_was(first)}, over now" if places == 1 else f"and {places - 1} more: {_were(first)}"
    room = LONGEST_HEADLINE - len(f"{priority.word} : {what}")
    headline = f"{priority.word} {shortened_place(first.place, room)}{':' if places == 1 else ''} {what}"
    needed = [must_say] if must_say else []
    more_room = _MORE_ROOM if len(found) + more > 1 else 0
    left = LONGEST_TEXT - len(headline) - 1 - sum(len(line) + 1 for line in needed) - more_room
    told = _told(first, now_ms, zone, fahrenheit, left)
    lines, left = [*needed, told], left - len(told)
    for line in (_now(first, now_ms, zone, fahrenheit), _came(came_ms, now_ms, zone)):
        if len(line) < left:
            lines.append(line)
            left -= len(line) + 1
    others = list(found[1:])
    while others:
        line = f"Also {_short(others[0], fahrenheit)}"
        if len(line) + 1 > left + (more_room if len(others) == 1 and not more else 0):
            break
        lines.append(line)
        left -= len(line) + 1
        others.pop(0)
    look = _UNKNOWN if first.is_fault else _LOOK
    if others or more:
        lines.append(f"And {len(others) + more} more, see the page of alarms.")
    elif len(look) < left:
        lines.append(look)
    return FoundText(priority, headline, "\n".join(lines))


def _was(each: FoundPlace) -> str:
    return "probe was faulty" if each.is_fault else f"was {WRONG[each.kind]}"


def _were(each: FoundPlace) -> str:
    return "probes were faulty" if each.is_fault else "was out of range"


def _told(each: FoundPlace, now_ms: int, zone: tzinfo, fahrenheit: bool, room: int) -> str:
    span = f"from {clock_text(each.since_ms, now_ms, zone)} to {clock_text(each.until_ms, now_ms, zone)}"
    if each.is_fault:
        what = f": a probe said what cannot be true {span}."
        return f"Found afterwards: {shortened(each.place, min(70, room - len(what) - 18))}{what}"
    worst = value_text(each.worst, each.quantity, fahrenheit, each.limit)
    limit = value_text(each.limit, each.quantity, fahrenheit, each.worst)
    extreme, side = ("at most", "above") if each.is_high else ("at least", "below")
    lethal = "lethal limit" if each.is_lethal else "limit"
    what = f" was {worst} {extreme}, {side} its {lethal} of {limit} {span}."
    return f"Found afterwards: {shortened(each.place, min(70, room - len(what) - 18))}{what}"


def _short(each: FoundPlace, fahrenheit: bool) -> str:
    if each.is_fault:
        return f"{shortened_place(each.place, 40)}: {_was(each)}."
    return f"{shortened_place(each.place, 40)}: {value_text(each.worst, each.quantity, fahrenheit, each.limit)}."


def _now(each: FoundPlace, now_ms: int, zone: tzinfo, fahrenheit: bool) -> str:
    if each.is_on:
        again = "faulty" if each.is_fault else "out of range"
        return f"It ended, but it is {again} again now; that is called for by itself."
    if each.now_value is None:
        return "It is over."
    value = value_text(each.now_value, each.quantity, fahrenheit)
    if now_ms - each.now_value_ms > OLD_READING_MS:
        return f"It was over; the newest reading is {value}, {clock_text(each.now_value_ms, now_ms, zone)}."
    return f"It is over: {value} now."


def _came(came_ms: tuple[int, int], now_ms: int, zone: tzinfo) -> str:
    first, last = (clock_text(each, now_ms, zone) for each in came_ms)
    return f"These readings came at {first}." if first == last else f"These readings came from {first} to {last}."
