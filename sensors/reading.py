"""The values that travel from a message to the journal."""

from dataclasses import dataclass
from enum import IntFlag, StrEnum
from typing import NamedTuple

from config.words import Quantity
from sensors.board_state import BoardState


class Quality(IntFlag):
    """Why a reading is suspect; 0 is good. Stored beside the value, so the numbers are fixed for ever.

    A suspect reading is kept, shown with its flag, and never used to clear an alarm or to add heat.
    """

    GOOD = 0
    OUT_OF_RANGE = 1
    """outside what the quantity can physically be in a room with an incubator"""
    FAULT_VALUE = 2
    """a value that a known probe gives when it is broken or unplugged"""
    TOO_FAST = 4
    """changed faster than air or a box can"""
    STUCK = 8
    """the very same value for too long"""


class Outcome(StrEnum):
    """What became of a message. Every message ends in exactly one of these, and each is counted."""

    STORED = "stored"
    """at least one reading in it was new"""
    DUPLICATE = "duplicate"
    """every reading in it was in the journal already"""
    STATUS = "status"
    """a probe said that it is online or offline, or its board how it is"""
    OVERSIZED = "rejected: oversized"
    MALFORMED = "rejected: malformed"
    NOT_A_NUMBER = "rejected: not a finite number"
    WRONG_UNIT = "rejected: unit"
    UNKNOWN_PROBE = "rejected: unknown probe"
    UNKNOWN_CHANNEL = "rejected: unknown channel"
    FUTURE_DATED = "rejected: future-dated"
    RETAINED_STALE = "rejected: retained without a fresh time"
    UNTIMED = "rejected: no time known"
    CONFLICT = "rejected: other value for a stored time"

    @property
    def is_rejected(self) -> bool:
        """True where the message is kept with its reason instead of being stored as readings."""
        return self.value.startswith("rejected")


class Reading(NamedTuple):
    """One value of one channel, in the canonical unit of its quantity.

    `channel` is `<probe>/<name>`, for example `north-air/t`. Times are UTC milliseconds since the epoch:
    `measured_at_ms` as the probe said (or arrival, where it said none), `received_at_ms` on arrival.
    """

    channel: str
    measured_at_ms: int
    received_at_ms: int
    value: float
    quality: int


@dataclass(frozen=True, slots=True)
class ChannelKey:
    """Where a channel belongs and what it measures."""

    channel: str
    probe: str
    name: str
    quantity: Quantity


@dataclass(frozen=True, slots=True)
class Accepted:
    """A message understood: its readings, in order of time, with at least one in it.

    `suspicions` has one sentence for each suspect reading. Where one foreign message feeds several probes, `probe` is
    that of the first reading.
    """

    probe: str
    readings: tuple[Reading, ...]
    suspicions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StatusChange:
    """A probe's retained status: `online`, or `offline` (its Last Will)."""

    probe: str
    online: bool
    received_at_ms: int


@dataclass(frozen=True, slots=True)
class BoardSaid:
    """What the agent of a probe's board said of itself, retained; not trusted."""

    probe: str
    state: BoardState
    received_at_ms: int


@dataclass(frozen=True, slots=True)
class Rejection:
    """A message that could not be used, with a reason a keeper can act on."""

    outcome: Outcome
    reason: str


Decoded = Accepted | StatusChange | BoardSaid | Rejection
