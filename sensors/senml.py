"""SenML packs in JSON (RFC 8428) to resolved records.

One choice that the RFC leaves to us: **one bad record spoils the whole pack.** A message then has exactly one outcome,
a half-stored pack cannot hide a broken probe, and the sender sees its fault the first time. The version and the labels
that end in `_` spoil the pack by the RFC's own word (section 4.4).

A record that holds base fields and nothing else yields no measurement (the RFC's example in 5.1.7 has one).
"""

import math
import re
from collections.abc import Mapping
from operator import attrgetter
from typing import Any, NamedTuple

from sensors.reading import Outcome, Rejection
from sensors.strict_json import RefusedError, load, quoted

ABSOLUTE_FROM_S = 2.0**28
"""A resolved time below this counts from now, from here on it counts from 1970 (RFC 8428 section 4.5.3)."""

_SUPPORTED_VERSION = 10
_LARGEST_TIME_S = 1e15
"""Beyond any calendar; a larger number would only make an integer of hundreds of digits."""

_TYPES: Mapping[str, type[Any]] = {
    **dict.fromkeys(("bt", "bv", "bs", "bver", "v", "s", "t", "ut"), float),
    **dict.fromkeys(("bn", "bu", "n", "u", "vs", "vd"), str),
    "vb": bool,
}
_WORDS: Mapping[type[Any], str] = {float: "number", str: "string", bool: "boolean"}
_BASE = frozenset({"bn", "bt", "bu", "bv", "bs", "bver"})
_REGULAR = frozenset(_TYPES) - _BASE
_OTHER_VALUES = frozenset({"vs", "vb", "vd"})
_MOMENT = attrgetter("measured_at_ms")
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*")


class Record(NamedTuple):
    """One resolved record (RFC 8428 section 4.6).

    `value` is None where the record carries text, data or only a sum. `timed` is False where the probe gave no time of
    its own, that is for a time relative to now.
    """

    name: str
    unit: str | None
    value: float | bool | None
    measured_at_ms: int
    timed: bool


class _Base(NamedTuple):
    """The base fields in force (RFC 8428 section 4.1): each holds until a later record brings the same one."""

    name: str = ""
    time_s: float = 0.0
    unit: str | None = None
    value: float = 0.0
    version: float | None = None


def decode_pack(payload: bytes, now_ms: int) -> tuple[Record, ...] | Rejection:
    """Decode and resolve a pack; records come in order of time, those of one time in the order of the pack.

    `now_ms` is the arrival, UTC milliseconds since the epoch: what relative times count from. Never raises.
    """
    try:
        document = load(payload)
    except RefusedError as refused:
        return Rejection(refused.outcome, refused.reason)
    return resolve_pack(document, now_ms)


def resolve_pack(document: Any, now_ms: int) -> tuple[Record, ...] | Rejection:
    """Resolve what was read from JSON, as `decode_pack` does. Numbers must have been read as floats."""
    try:
        records = _resolve(document, now_ms)
    except RefusedError as refused:
        return Rejection(refused.outcome, refused.reason)
    records.sort(key=_MOMENT)
    return tuple(records)


def _resolve(pack: Any, now_ms: int) -> list[Record]:
    if type(pack) is not list or not pack:
        raise RefusedError(
            Outcome.MALFORMED, "a SenML pack is a JSON array of at least one record (RFC 8428 section 5)"
        )
    base = _Base()
    resolved: list[Record] = []
    for number, members in enumerate(pack, start=1):
        try:
            _check_labels(members)
            has_base = not _BASE.isdisjoint(members)
            if has_base:
                base = _rebased(base, members, first=number == 1)
            if not has_base or not _REGULAR.isdisjoint(members):
                resolved.append(_record(base, members, now_ms))
        except RefusedError as refused:
            raise RefusedError(refused.outcome, f"record {number}: {refused.reason}") from None
    return resolved


def _check_labels(members: Any) -> None:
    """Check each field's type by table 2 of RFC 8428 section 5, and the unknown labels by section 4.4."""
    if type(members) is not dict:
        raise RefusedError(Outcome.MALFORMED, "a record is a JSON object (RFC 8428 section 5)")
    for label, content in members.items():
        expected = _TYPES.get(label)
        if expected is None:
            if label[-1:] == "_":
                reason = f"the label {quoted(label)} must be understood and is not (RFC 8428 section 4.4)"
                raise RefusedError(Outcome.MALFORMED, reason)
        elif type(content) is not expected:
            raise RefusedError(Outcome.MALFORMED, f"{label} must be a {_WORDS[expected]} (RFC 8428 section 5 table 2)")
        elif expected is float and not math.isfinite(content):
            raise RefusedError(Outcome.NOT_A_NUMBER, f"{label} is larger than a double can hold")


def _rebased(base: _Base, members: dict[str, Any], *, first: bool) -> _Base:
    version = base.version
    if "bver" in members:
        version = _version(members["bver"])
        in_force = version if first else base.version or float(_SUPPORTED_VERSION)
        if version != in_force:
            raise RefusedError(Outcome.MALFORMED, "all records of a pack must have one version (RFC 8428 section 4.4)")
    return _Base(
        members.get("bn", base.name),
        members.get("bt", base.time_s),
        members.get("bu", base.unit),
        members.get("bv", base.value),
        version,
    )


def _version(version: float) -> float:
    if version < 1 or not version.is_integer():
        raise RefusedError(Outcome.MALFORMED, "bver must be a positive whole number (RFC 8428 section 4.1)")
    if version > _SUPPORTED_VERSION:
        reason = f"version {version:g} is newer than {_SUPPORTED_VERSION} and must not be used (RFC 8428 section 4.4)"
        raise RefusedError(Outcome.MALFORMED, reason)
    return version


def _record(base: _Base, members: dict[str, Any], now_ms: int) -> Record:
    name = base.name + members.get("n", "")
    if _NAME.fullmatch(name) is None:
        raise RefusedError(Outcome.MALFORMED, f"the name {quoted(name)} is not allowed (RFC 8428 section 4.5.1)")
    value = _value(base, members)
    time_s = base.time_s + members.get("t", 0.0)
    if not abs(time_s) < _LARGEST_TIME_S:
        raise RefusedError(Outcome.MALFORMED, f"{time_s:g} s is no time of any calendar; t and bt are in seconds")
    timed = time_s >= ABSOLUTE_FROM_S
    moment_ms = round(time_s * 1000.0)
    return Record(name, members.get("u", base.unit), value, moment_ms if timed else now_ms + moment_ms, timed)


def _value(base: _Base, members: dict[str, Any]) -> float | bool | None:
    """Take the one value of a record; the base value adds to numbers only (RFC 8428 sections 4.2 and 4.5.4)."""
    if "v" in members and _OTHER_VALUES.isdisjoint(members):
        value: float = members["v"] + base.value
        if not math.isfinite(value):
            raise RefusedError(Outcome.NOT_A_NUMBER, "v and bv add up to more than a double can hold")
        return value
    carried = [label for label in ("v", *_OTHER_VALUES) if label in members]
    if len(carried) > 1:
        reason = f"a record carries one value, this has {' and '.join(sorted(carried))} (RFC 8428 section 4.2)"
        raise RefusedError(Outcome.MALFORMED, reason)
    if not carried and "s" not in members:
        raise RefusedError(Outcome.MALFORMED, "the record has neither a value nor a sum (RFC 8428 section 4.2)")
    return members.get("vb")
