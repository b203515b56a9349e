"""What a calendar shows: windows of hatching, rounds and calibrations that are due, duties. Pure; times are UTC ms.

A calendar program knows an entry by its uid, and takes a newer one by its sequence (RFC 5545, 3.8.4.7 and 3.8.7.4). So
entries are compared with those that were shown before: what moves to another time counts one up, and what is only told
in other words is modified without that.
"""

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date
from enum import StrEnum

LONGEST_TEXT = 1_500


class Kind(StrEnum):
    """What an entry is about; what it is filed under."""

    HATCHING = "hatching"
    ROUND = "round"
    CALIBRATION = "calibration"
    DUTY = "duty"


@dataclass(frozen=True, slots=True)
class Feed:
    """An address at which the calendar can be read. `seen_ms`: when somebody last did."""

    name: str
    made_ms: int
    made_by: str
    seen_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: whole days of the site, both included, or from one moment until another.

    `key` says what it is about and never changes. A duty without an end has only a start. `is_certain` is False where
    somebody has yet to agree.
    """

    key: str
    kind: Kind
    summary: str
    description: str
    first_day: date | None = None
    last_day: date | None = None
    start_ms: int | None = None
    end_ms: int | None = None
    is_certain: bool = True

    @property
    def when(self) -> tuple[object, ...]:
        """What a calendar program has to be told of by a new sequence."""
        return self.first_day, self.last_day, self.start_ms, self.end_ms, self.is_certain


@dataclass(frozen=True, slots=True)
class Kept:
    """An entry as it was shown last. `gone_ms`: since when it is not shown any more."""

    entry: Entry
    uid: str
    sequence: int
    created_ms: int
    modified_ms: int
    gone_ms: int | None = None


def revised(
    before: Mapping[str, Kept], now: Iterable[Entry], now_ms: int, new_uid: Callable[[], str]
) -> tuple[Kept, ...]:
    """Give what has to be stored anew: entries that are new, changed, gone, or back again."""
    found, shown = [], set()
    for entry in now:
        shown.add(entry.key)
        kept = before.get(entry.key)
        if kept is None:
            found.append(Kept(entry, new_uid(), 0, now_ms, now_ms))
        elif kept.gone_ms is not None or kept.entry.when != entry.when:
            found.append(replace(kept, entry=entry, sequence=kept.sequence + 1, modified_ms=now_ms, gone_ms=None))
        elif kept.entry != entry:
            found.append(replace(kept, entry=entry, modified_ms=now_ms))
    gone = (kept for key, kept in before.items() if key not in shown and kept.gone_ms is None)
    return (*found, *(replace(kept, gone_ms=now_ms) for kept in gone))


def entry_to_json(entry: Entry) -> str:
    """Write an entry for the journal."""
    return json.dumps(asdict(entry), default=date.isoformat, ensure_ascii=False)


def entry_from_json(text: str) -> Entry:
    """Read an entry of the journal."""
    values = json.loads(text)
    days = {name: None if values[name] is None else date.fromisoformat(values[name]) for name in _DAYS}
    return Entry(**{**values, "kind": Kind(values["kind"]), **days})


_DAYS = ("first_day", "last_day")
