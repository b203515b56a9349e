"""What goes wrong, and when."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import NamedTuple


class EventKind(StrEnum):
    """What can happen to a simulated incubator."""

    MAINS_LOST = "mains-lost"
    """no heat; probes run on"""
    HEATER_STUCK_ON = "heater-stuck-on"
    HEATER_STUCK_OFF = "heater-stuck-off"
    DOOR_OPEN = "door-open"
    ROOM_CHANGE = "room-change"
    """the room is warmer (or, negative, colder) by `change_k`"""


@dataclass(frozen=True, slots=True)
class Event:
    """One happening, from a moment on, until another or for good. Times are UTC milliseconds since the epoch."""

    at_ms: int
    kind: EventKind
    until_ms: int | None = None
    change_k: float = 0.0


class Conditions(NamedTuple):
    """All events together, at one moment."""

    mains: bool = True
    stuck_on: bool = False
    stuck_off: bool = False
    door_open: bool = False
    room_change_k: float = 0.0


class Schedule:
    """The events of one incubator, past and to come."""

    def __init__(self, events: Iterable[Event] = ()) -> None:
        self._events = list(events)

    def add(self, event: Event) -> None:
        """Let something happen."""
        self._events.append(event)

    def end(self, kind: EventKind, at_ms: int) -> None:
        """End whatever of this kind goes on at the moment; what lies in the future stays planned."""
        self._events = [
            replace(event, until_ms=at_ms) if event.kind is kind and _active(event, at_ms) else event
            for event in self._events
        ]

    def conditions(self, at_ms: int) -> Conditions:
        """Combine what holds at the moment."""
        active = [event for event in self._events if _active(event, at_ms)]
        kinds = {event.kind for event in active}
        return Conditions(
            mains=EventKind.MAINS_LOST not in kinds,
            stuck_on=EventKind.HEATER_STUCK_ON in kinds,
            stuck_off=EventKind.HEATER_STUCK_OFF in kinds,
            door_open=EventKind.DOOR_OPEN in kinds,
            room_change_k=math.fsum(event.change_k for event in active),
        )

    def next_change_ms(self, at_ms: int) -> int | None:
        """Find the first moment after this one at which something begins or ends."""
        edges = [edge for event in self._events for edge in (event.at_ms, event.until_ms) if edge is not None]
        return min((edge for edge in edges if edge > at_ms), default=None)


def _active(event: Event, at_ms: int) -> bool:
    return event.at_ms <= at_ms and (event.until_ms is None or at_ms < event.until_ms)
