"""What a look at the chain finds. Days are UTC, as `2026-08-03`; moments are UTC ms."""

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

Advance = Callable[[int], None]
"""Called with how much was looked at since the last call: links, readings, and photos by 100 kB."""
PHOTO_UNIT = 100_000
MOST_FAULTS = 1000
"""More are counted and not kept."""


class Wrong(StrEnum):
    """What is not as it was written."""

    CHANGED = "changed"
    REMOVED = "removed"
    ADDED = "added"
    LINK_CHANGED = "link changed"
    LINKS_MISSING = "links missing"
    READINGS_CHANGED = "readings changed"
    READING_REMOVED = "reading removed"
    READING_ADDED = "reading added"
    DIGEST_MISSING = "digest missing"
    PHOTO_CHANGED = "photo changed"
    PHOTO_MISSING = "photo missing"
    UNREADABLE = "unreadable"
    NOT_IN_CHAIN = "code not in the chain"


class Fault(NamedTuple):
    """One thing that is not as it was written. `day` is empty where none can be said, `row` names it in its table."""

    day: str
    table: str
    row: str
    wrong: Wrong


@dataclass(slots=True)
class Faults:
    """The faults found so far; of many only the first are kept."""

    kept: list[Fault] = field(default_factory=list)
    count: int = 0

    def add(self, day: str, table: str, row: object, wrong: Wrong) -> None:
        """Take one up."""
        self.count += 1
        if len(self.kept) < MOST_FAULTS:
            self.kept.append(Fault(day, table, str(row), wrong))


@dataclass(frozen=True, slots=True)
class Verified:
    """All of a look. `waiting_*` is not covered yet; `code` is that of the newest link, made at `newest_ms`.

    `waiting_days`: the first and the last day of readings that no digest holds yet; both empty where there are none.
    """

    events: int
    readings: int
    days: int
    photos: int
    waiting_events: int
    waiting_readings: int
    waiting_days: tuple[str, str]
    code: str
    newest_ms: int | None
    since: str
    faults: tuple[Fault, ...]
    fault_count: int
    head_found: bool | None
    """whether a code that was given is in the chain; None where none was given"""

    @property
    def first(self) -> Fault | None:
        """The first thing that is broken, by its day."""
        return min(self.faults, key=lambda each: (each.day or "9999", each.table), default=None)
