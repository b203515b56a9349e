"""What a probe's board says of itself, in the few words that sharpen an alarm about its readings. Pure.

For known kinds of faults the words are ours and not those of the board: what goes to people at night must not be
written by whoever may publish a message. On the page of the probe its own sentence stands, as text.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import tzinfo
from types import MappingProxyType

from config.words import AlarmKind
from daemon.alarms.figures import clock_text
from daemon.alarms.shortened import shortened_words
from daemon.boards import BoardHeard
from sensors.linux.values import FaultKind

FAULTS: Mapping[str, str] = MappingProxyType(
    {
        FaultKind.GONE: "the sensor is not found; check its plug and cable",
        FaultKind.EMPTY: "the sensor cannot be read without errors; check its plug and cable",
        FaultKind.CHECKSUM: "what the sensor sends comes damaged; check its plug and cable",
        FaultKind.POWER_ON: "the sensor loses its power; check its plug and supply",
        FaultKind.LOW_POWER: "the sensor has too little power; check its supply and cable",
        FaultKind.STUCK_LOW: "the data line reads zero; check the cable",
        FaultKind.OUT_OF_RANGE: "the sensor gives what it cannot measure; replace it",
        FaultKind.FLAGGED: "the sensor reports a fault of its own; check its wires",
        FaultKind.SWITCHED_OFF: "the sensor is switched off on the board",
        FaultKind.STALE: "the sensor takes too long, or its value is old; look at the board",
        FaultKind.UNREADABLE: "the sensor cannot be read; look at the board",
    }
)
"""By the word before the colon of what a board says."""
_LONGEST = 80
ITS_BOARD = "its board"
"""How all words about a board begin."""

SHARPENED = frozenset({AlarmKind.NO_DATA, AlarmKind.NO_DATA_LONG, AlarmKind.PROBE_FAULT, AlarmKind.LAST_PROBE_SILENT})
"""Alarms that are about the readings of a probe."""


@dataclass(frozen=True, slots=True)
class BoardNow:
    """What is known of a board. `online`: what it last said, and since when; None where it never did."""

    heard: BoardHeard | None
    online: tuple[bool, int] | None


def board_words(kind: AlarmKind, channels: tuple[str, ...], board: BoardNow, now_ms: int, zone: tzinfo) -> str:
    """Say what the board has to say to an alarm about these channels of it; empty for nothing."""
    of_fault = kind is AlarmKind.PROBE_FAULT
    is_there, since_ms = (None, 0) if board.online is None else board.online
    if is_there is False and not of_fault:
        return f"{ITS_BOARD} left the network {clock_text(since_ms, now_ms, zone)}"
    if not is_there or board.heard is None:
        return ""
    state = board.heard.state
    fault = next((state.faults[channel] for channel in channels if channel in state.faults), None)
    if fault is not None:
        return f"{ITS_BOARD} says: {fault_words(fault)}"
    if of_fault:
        return ""
    if state.clock_is_right is False:
        return f"{ITS_BOARD} keeps all readings until its clock is set; check its network and time service"
    return f"{ITS_BOARD} is on the network and reports no fault"


def known_fault(said: str) -> str | None:
    """Give our words for what a board says of a channel; None where it is not one of its usual sentences."""
    return FAULTS.get(said.partition(":")[0])


def fault_words(said: str) -> str:
    """Say in our words what a board says of a channel; what is not one of its usual sentences is quoted."""
    ours = known_fault(said)
    if ours is not None:
        return ours
    return f'"{shortened_words(said, _LONGEST)}"'
