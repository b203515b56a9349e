"""The open incidents of a site as one line of JSON, and back. Pure."""

import json
from dataclasses import asdict
from typing import Any

from daemon.alarms.incident import Incident, IncidentBook
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

_WHAT = "the open incidents"
_BOOK = {
    "incidents": LIST,
    "waiting": LIST,
    "called_ms": INTEGER_OR_NONE,
    "called_critical_ms": INTEGER_OR_NONE,
    "opened": LIST,
}
_INCIDENT = {
    "id": TEXT,
    "opened_ms": INTEGER,
    "leader": TEXT,
    "members": LIST,
    "is_lethal": YES_OR_NO,
    "is_flood": YES_OR_NO,
}


def to_json(book: IncidentBook) -> str:
    """Write one line of JSON; equal books give equal text."""
    return write_fields(asdict(book))


def from_json(text: str) -> IncidentBook:
    """Read what `to_json` wrote. Raises StateError, with the reason, where it is not exactly such a text."""
    found = read_fields(text, _WHAT, _BOOK)
    found["incidents"] = tuple(_incident(each) for each in found["incidents"])
    found["waiting"] = _all(found["waiting"], str, "waiting")
    found["opened"] = _all(found["opened"], int, "opened")
    return IncidentBook(**found)


def _incident(stored: Any) -> Incident:
    found = read_fields(json.dumps(stored), "an incident", _INCIDENT)
    found["members"] = _all(found["members"], str, "members")
    if found["leader"] not in found["members"]:
        raise StateError("an incident", "its leader is not among its members")
    return Incident(**found)


def _all(stored: list[Any], kind: type, key: str) -> tuple[Any, ...]:
    if not all(type(each) is kind for each in stored):
        raise StateError(_WHAT, f"{key} is {stored!r}")
    return tuple(stored)
