"""The remembered state of one alarm as one line of JSON, and back. Pure.

A state that is not exactly as written is refused with the reason: a guess could drop an alarm that somebody was called
for. Only the suppression set is treated otherwise, as OPC 10000-9 (IEC 62541-9) 5.8.17.1 asks: where it cannot be read,
the alarm is not suppressed any more, and what is still on is told.
"""

import json
from dataclasses import asdict, dataclass, replace
from typing import Any

from daemon.alarms.classes import Mode
from daemon.alarms.state_json import (
    INTEGER,
    INTEGER_OR_NONE,
    LIST,
    TEXT,
    YES_OR_NO,
    StateError,
    read_fields,
    write_fields,
)
from daemon.alarms.state_values import AlarmMemory, AlarmState, DesignSuppression, OutOfService, Shelf

_WHAT = "an alarm"
_OBJECT_OR_NONE: tuple[type, ...] = (dict, type(None))
_STATE = {
    "memory": TEXT,
    "in_alarm": YES_OR_NO,
    "known": YES_OR_NO,
    "occurrence": TEXT,
    "version": INTEGER,
    "repeats": INTEGER,
    "hidden": YES_OR_NO,
    "since_ms": INTEGER_OR_NONE,
    "returned_ms": INTEGER_OR_NONE,
    "acknowledged_by": TEXT,
    "realarm_ms": INTEGER_OR_NONE,
    "shelf": _OBJECT_OR_NONE,
    "shelves_in_a_row": INTEGER,
    "shelf_ended_ms": INTEGER_OR_NONE,
    "design": LIST,
    "out": _OBJECT_OR_NONE,
}
_SHELF = {
    "who": TEXT,
    "reason": TEXT,
    "started_ms": INTEGER,
    "until_ms": INTEGER,
    "one_shot": YES_OR_NO,
    "second": TEXT,
}
_DESIGN = {
    "mode": TEXT,
    "name": TEXT,
    "since_ms": INTEGER,
    "hard_end_ms": INTEGER,
    "settle_ms": INTEGER,
    "settling_until_ms": INTEGER_OR_NONE,
    "spent": YES_OR_NO,
}
_OUT = {
    "who": TEXT,
    "reason": TEXT,
    "interim": TEXT,
    "since_ms": INTEGER,
    "review_ms": INTEGER,
    "remind_ms": INTEGER,
}
_ON = (AlarmMemory.UNACKNOWLEDGED, AlarmMemory.ACKNOWLEDGED)


@dataclass(frozen=True, slots=True)
class Restored:
    """A state that was read, and a sentence for each part of its suppression set that could not be."""

    state: AlarmState
    problems: tuple[str, ...]


def to_json(state: AlarmState) -> str:
    """Write one line of JSON; equal states give equal text."""
    return write_fields(asdict(state))


def from_json(text: str) -> AlarmState:
    """Read what `to_json` wrote. Raises StateError, with the reason, where the text is not exactly such a one."""
    found = read_fields(text, _WHAT, _STATE)
    found["shelf"] = _shelf(found["shelf"])
    found["design"] = tuple(_design(each) for each in found["design"])
    found["out"] = _out(found["out"])
    return _checked(found)


def restore(text: str, now_ms: int) -> Restored:
    """Read a state after a restart at `now_ms` (UTC ms). An unreadable suppression ends with the next step.

    Raises StateError where anything but the suppression set cannot be read.
    """
    found = read_fields(text, _WHAT, {**_STATE, "shelf": _ANY, "design": _ANY, "out": _ANY})
    problems: list[str] = []
    stored, found["design"] = found["design"], ()
    for key, read in (("shelf", _shelf), ("out", _out)):
        try:
            found[key] = read(found[key])
        except StateError as error:
            problems.append(str(error))
            found[key] = None
    try:
        found["design"] = tuple(_design(each) for each in (stored if isinstance(stored, list) else [stored]))
    except StateError as error:
        problems.append(str(error))
    if problems and not (found["shelf"] or found["out"]):
        found["shelf"] = Shelf("", "its suppression could not be read", now_ms, now_ms)
    return Restored(_checked(found), tuple(problems))


_ANY: tuple[type, ...] = (object, bool)


def _checked(found: dict[str, Any]) -> AlarmState:
    if found["memory"] not in set(AlarmMemory):
        raise StateError(_WHAT, f"memory is {found['memory']!r}")
    state = AlarmState(**{**found, "memory": AlarmMemory(found["memory"])})
    is_open = state.memory is not AlarmMemory.NORMAL or state.hidden
    wrong = (
        (state.in_alarm, state.memory in _ON or (state.hidden and state.in_alarm), "in_alarm does not fit the memory"),
        (state.hidden, state.hidden and state.memory is AlarmMemory.NORMAL, "hidden does not fit the memory"),
        (state.hidden, state.hidden and state.is_suppressed, "hidden, and not suppressed"),
        (bool(state.occurrence), is_open, "occurrence does not fit the memory"),
        (state.version > 0, is_open, f"version is {state.version}"),
        (state.realarm_ms is not None, state.memory is AlarmMemory.ACKNOWLEDGED, "realarm_ms does not fit the memory"),
    )
    for stored, expected, why in wrong:
        if stored is not expected:
            raise StateError(_WHAT, why)
    return state


def _shelf(stored: Any) -> Shelf | None:
    if stored is None:
        return None
    shelf = Shelf(**_nested(stored, "a shelf", _SHELF))
    if shelf.until_ms < shelf.started_ms:
        raise StateError("a shelf", "it ends before it begins")
    return shelf


def _design(stored: Any) -> DesignSuppression:
    what = "a suppression by design"
    found = _nested(stored, what, _DESIGN)
    if found["mode"] not in set(Mode):
        raise StateError(what, f"mode is {found['mode']!r}")
    return replace(DesignSuppression(**found), mode=Mode(found["mode"]))


def _out(stored: Any) -> OutOfService | None:
    return None if stored is None else OutOfService(**_nested(stored, "an alarm out of service", _OUT))


def _nested(stored: Any, what: str, fields: dict[str, tuple[type, ...]]) -> dict[str, Any]:
    return read_fields(json.dumps(stored), what, fields)
