"""What is remembered of one alarm: its condition, its alarm memory and its suppression set. Pure.

The words are those of ISA-18.2 / IEC 62682. Three memories instead of one variable: whether the condition is on,
whether people have acknowledged it, and why its message is held back are three questions, and the standards' single
state is only what is shown of them. OPC 10000-9 (IEC 62541-9) keeps them apart in the same way.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

from daemon.alarms.classes import Mode


class Condition(StrEnum):
    """The condition memory as a word."""

    NORMAL = "normal"
    ALARM = "alarm"
    UNKNOWN = "unknown"
    """no fresh good data: it is not normal, whatever it was"""


class AlarmMemory(StrEnum):
    """The alarm memory: the states of ISA-18.2 that are not a suppression."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned to normal unacknowledged"
    LATCHED_UNACKNOWLEDGED = "latched unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched acknowledged"

    @property
    def waits_for_a_person(self) -> bool:
        """True where nobody has acknowledged."""
        return self in _UNSEEN

    @property
    def is_latched(self) -> bool:
        """True where it is held until somebody resets it."""
        return self in (AlarmMemory.LATCHED_UNACKNOWLEDGED, AlarmMemory.LATCHED_ACKNOWLEDGED)


_UNSEEN = frozenset({AlarmMemory.UNACKNOWLEDGED, AlarmMemory.RETURNED, AlarmMemory.LATCHED_UNACKNOWLEDGED})


class Shown(StrEnum):
    """The one state that people see: the nine of ISA-18.2 / IEC 62682."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned to normal unacknowledged"
    LATCHED_UNACKNOWLEDGED = "latched unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched acknowledged"
    SHELVED = "shelved"
    SUPPRESSED_BY_DESIGN = "suppressed by design"
    OUT_OF_SERVICE = "out of service"


@dataclass(frozen=True, slots=True)
class Shelf:
    """A person asked not to be told until a moment. UTC ms. `one_shot` ends at the next return to normal as well."""

    who: str
    reason: str
    started_ms: int
    until_ms: int
    one_shot: bool = False
    second: str = ""
    """the second person, or the note of somebody on site"""


@dataclass(frozen=True, slots=True)
class DesignSuppression:
    """A designed reason not to tell. UTC ms.

    `settling_until_ms` is set once the reason has ended. `spent` is set when the hard end has passed: from then on it
    suppresses nothing, and cannot be renewed until the reason has ended once.
    """

    mode: Mode
    name: str
    since_ms: int
    hard_end_ms: int
    settle_ms: int
    settling_until_ms: int | None = None
    spent: bool = False

    @property
    def ends_ms(self) -> int:
        """When it stops at the latest, as things are now."""
        return self.hard_end_ms if self.settling_until_ms is None else self.settling_until_ms


@dataclass(frozen=True, slots=True)
class OutOfService:
    """A person took the alarm out of service. UTC ms. `interim` is what watches the eggs meanwhile."""

    who: str
    reason: str
    interim: str
    since_ms: int
    review_ms: int
    remind_ms: int
    """when people are reminded next"""


@dataclass(frozen=True, slots=True)
class AlarmState:
    """All that is remembered of one alarm. UTC ms. A new one is unknown, not normal: nothing was heard yet.

    `in_alarm` is the last known condition and `known` whether it still is. `hidden` marks an occurrence that began
    while the alarm was suppressed. `version` rises with every annunciation of an occurrence, so that an
    acknowledgement can say what it was that the person had seen.
    """

    memory: AlarmMemory = AlarmMemory.NORMAL
    in_alarm: bool = False
    known: bool = False
    occurrence: str = ""
    version: int = 0
    repeats: int = 0
    hidden: bool = False
    since_ms: int | None = None
    returned_ms: int | None = None
    acknowledged_by: str = ""
    realarm_ms: int | None = None
    """when an acknowledged alarm is annunciated again"""
    shelf: Shelf | None = None
    shelves_in_a_row: int = 0
    shelf_ended_ms: int | None = None
    design: tuple[DesignSuppression, ...] = ()
    out: OutOfService | None = None

    @property
    def condition(self) -> Condition:
        """The condition memory."""
        if not self.known:
            return Condition.UNKNOWN
        return Condition.ALARM if self.in_alarm else Condition.NORMAL

    @property
    def is_suppressed_by_design(self) -> bool:
        """True while a designed reason holds."""
        return any(not each.spent for each in self.design)

    @property
    def is_suppressed(self) -> bool:
        """True while the suppression set is not empty: no message leaves."""
        return self.shelf is not None or self.out is not None or self.is_suppressed_by_design

    @property
    def shown(self) -> Shown:
        """The state that people see."""
        if self.out is not None:
            return Shown.OUT_OF_SERVICE
        if self.is_suppressed_by_design:
            return Shown.SUPPRESSED_BY_DESIGN
        return Shown.SHELVED if self.shelf is not None else Shown(self.memory.value)


def shifted(state: AlarmState, by_ms: int) -> AlarmState:
    """Move every remembered moment, after the clock was set: what was 10 minutes ahead is so still."""

    def moved(moment_ms: int | None) -> int | None:
        return None if moment_ms is None else moment_ms + by_ms

    shelf, out = state.shelf, state.out
    return replace(
        state,
        since_ms=moved(state.since_ms),
        returned_ms=moved(state.returned_ms),
        realarm_ms=moved(state.realarm_ms),
        shelf_ended_ms=moved(state.shelf_ended_ms),
        shelf=shelf and replace(shelf, started_ms=shelf.started_ms + by_ms, until_ms=shelf.until_ms + by_ms),
        design=tuple(
            replace(
                each,
                since_ms=each.since_ms + by_ms,
                hard_end_ms=each.hard_end_ms + by_ms,
                settling_until_ms=moved(each.settling_until_ms),
            )
            for each in state.design
        ),
        out=out
        and replace(
            out, since_ms=out.since_ms + by_ms, review_ms=out.review_ms + by_ms, remind_ms=out.remind_ms + by_ms
        ),
    )
