"""The next state while it is being worked out, with what is to be done about it. Lives for one step only."""

from dataclasses import dataclass, field, replace
from typing import Any

from daemon.alarms.classes import AlarmClass
from daemon.alarms.events import Annunciate, Effect, Ladder, Pace, Record, Tell, Why
from daemon.alarms.state_values import AlarmMemory, AlarmState

Changes = dict[str, Any]
"""fields of AlarmState with their new values"""

CLOSED: Changes = {
    "memory": AlarmMemory.NORMAL,
    "occurrence": "",
    "version": 0,
    "repeats": 0,
    "hidden": False,
    "since_ms": None,
    "returned_ms": None,
    "acknowledged_by": "",
    "realarm_ms": None,
}
"""An alarm without an occurrence."""


@dataclass(slots=True)
class Draft:
    """Collects changes and effects. Nothing is told while the suppression set is not empty: that is decided here."""

    alarm: AlarmClass
    state: AlarmState
    event: str
    at_ms: int
    effects: list[Effect] = field(default_factory=list)
    reason: str = ""

    def change(self, row: str, reason: str, *, who: str = "", call: Why | None = None, **changes: Any) -> None:
        """Take a transition of the table. `call` annunciates: a new version, and the ladder from its first rung."""
        before = self.state.memory
        if call is not None:
            changes.setdefault("version", self.state.version + 1)
        self.state = replace(self.state, **changes)
        called = call is not None and not self.state.is_suppressed
        self._record(row, reason, before=before, who=who, annunciated=called, accepted=True)
        if call is not None and called:
            self.effects.append(Annunciate(call, self.state.occurrence, self.state.version, self.at_ms))

    def refuse(self, reason: str, *, who: str, row: str = "") -> None:
        """Change nothing and journal that a person wanted it."""
        self._record(row, reason, before=self.state.memory, who=who, annunciated=False, accepted=False)

    def leave(self, reason: str) -> None:
        """Change nothing."""
        self.reason = reason

    def tell(self, why: Why, occurrence: str, version: int, who: str = "") -> None:
        """Send one message to the people on duty."""
        if not self.state.is_suppressed:
            self.effects.append(Tell(why, occurrence, version, self.at_ms, who))

    def ladder(self, pace: Pace) -> None:
        """Slow the ladder down or stop it; a suppressed alarm has none."""
        if not self.state.is_suppressed:
            self.effects.append(Ladder(pace, self.at_ms))

    def stop_ladder(self) -> None:
        """Stop the ladder of an alarm that has just become suppressed."""
        self.effects.append(Ladder(Pace.STOP, self.at_ms))

    def _record(
        self, row: str, reason: str, *, before: AlarmMemory, who: str, annunciated: bool, accepted: bool
    ) -> None:
        self.reason = reason
        state = self.state
        self.effects.append(
            Record(row, self.event, before, state.memory, state.shown, who, reason, annunciated, accepted, self.at_ms)
        )
