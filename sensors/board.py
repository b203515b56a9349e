"""What an agent sends of itself on `<prefix>/<probe>/agent`, understood. Pure.

A SenML pack whose records have names of ours, see `sensors/agent/packs.py`. Names that nobody knows are passed over, so
that an agent may be newer than the service. Bounded in every way: whoever may publish there is not trusted.
"""

from collections.abc import Iterator
from types import MappingProxyType
from typing import Any

from config.unprintable import on_one_line
from sensors.board_state import DISK_WELL, BoardState
from sensors.reading import Outcome, Rejection
from sensors.senml import resolve_pack
from sensors.strict_json import RefusedError, load, quoted

LARGEST_BYTES = 16_384
"""A board of sixteen sensors, all of them faulty, says some 3 kB. Project choice."""
MOST_FAULTS = 32
LONGEST_TEXT = 200
_LARGEST_NUMBER = 2.0**53
_AHEAD_MS = 120_000
_FAULT = "fault/"
_COUNTS = {"waiting": "waiting", "given-up": "given_up", "damaged": "damaged", "undated": "undated", "missed": "missed"}
_NUMBERS = {"full": "full", "oldest": "oldest_s", "certificate-ends": "certificate_ends_s"}
_LATEST_S = 253_370_764_800.0
"""1 January 9999, in seconds since 1970: what lies behind it is no date any more in some time zones."""
_TEXTS = frozenset({"clock", "disk", "version"})


def board_state(payload: bytes, received_at_ms: int) -> BoardState | Rejection:
    """Read it. Never raises."""
    if len(payload) > LARGEST_BYTES:
        reason = f"{len(payload)} bytes, more than the {LARGEST_BYTES} that an agent may say of itself"
        return Rejection(Outcome.OVERSIZED, reason)
    try:
        document = load(payload)
        records = resolve_pack(document, received_at_ms)
        if isinstance(records, Rejection):
            return records
        moments = [record.measured_at_ms for record in records if record.timed]
        said_ms = max(moments, default=None)
        if said_ms is not None and said_ms > received_at_ms + _AHEAD_MS:
            said_ms = None
        return _state(document, said_ms)
    except RefusedError as refused:
        return Rejection(refused.outcome, refused.reason)


def one_line(text: str) -> str:
    """Make a text from outside one line of what can be seen, and cut it."""
    plain = on_one_line(text[: 4 * LONGEST_TEXT])
    return plain if len(plain) <= LONGEST_TEXT else f"{plain[: LONGEST_TEXT - 1]}…"


def _state(document: list[dict[str, Any]], said_ms: int | None) -> BoardState:
    found: dict[str, Any] = {}
    faults: dict[str, str] = {}
    for name, record in _named(document):
        if name in _COUNTS:
            found[_COUNTS[name]] = int(_number(name, record, whole=True))
        elif name in _NUMBERS:
            found[_NUMBERS[name]] = _number(name, record)
        elif name in _TEXTS:
            found[name] = _text(name, record)
        elif name.startswith(_FAULT) and len(faults) < MOST_FAULTS:
            faults[one_line(name.removeprefix(_FAULT))] = _text(name, record)
    if "full" in found:
        found["full"] = min(found["full"], 1.0)
    if "certificate_ends_s" in found:
        found["certificate_ends_s"] = min(found["certificate_ends_s"], _LATEST_S)
    if found.get("disk") == DISK_WELL:
        del found["disk"]
    if not found and not faults:
        raise RefusedError(Outcome.MALFORMED, "nothing in it is what an agent says of itself (waiting, clock, disk …)")
    return BoardState(said_ms=said_ms, faults=MappingProxyType(faults), **found)


def _named(document: list[dict[str, Any]]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Give each record by its name; the pack was resolved already, so it is what a pack has to be."""
    base = ""
    for record in document:
        base = record.get("bn", base)
        if "n" in record:
            yield base + record["n"], record


def _number(name: str, record: dict[str, Any], *, whole: bool = False) -> float:
    value = record.get("v")
    if type(value) is not float or not 0.0 <= value <= _LARGEST_NUMBER or (whole and not value.is_integer()):
        kind = "a whole number" if whole else "a number"
        raise RefusedError(Outcome.MALFORMED, f"{quoted(name)} has to be {kind} from 0 on (v)")
    return value


def _text(name: str, record: dict[str, Any]) -> str:
    value = record.get("vs")
    if type(value) is not str:
        raise RefusedError(Outcome.MALFORMED, f"{quoted(name)} has to be a text (vs)")
    return one_line(value)
