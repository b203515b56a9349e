"""The journal of alarms as the metrics read it: rows, and the stretches in which an alarm was on. Pure. UTC ms."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from config.words import Priority
from daemon.alarms.state_values import AlarmMemory, Shown

_ON = (AlarmMemory.UNACKNOWLEDGED, AlarmMemory.ACKNOWLEDGED)


@dataclass(frozen=True, slots=True)
class AlarmRow:
    """One accepted transition of one alarm. `actual` is False for tests and demonstrations, which count nowhere.

    `alarm` tells one alarm from all others of the site; `event` is the word that the state machine gives its records.
    """

    t_ms: int
    occurrence: str
    alarm: str
    priority: Priority
    before: AlarmMemory
    after: AlarmMemory
    shown: Shown
    event: str
    actor: str = ""
    annunciated: bool = False
    actual: bool = True

    @property
    def begins(self) -> bool:
        """True where the alarm goes on."""
        return self.after in _ON and self.before not in _ON

    @property
    def ends(self) -> bool:
        """True where the alarm goes off."""
        return self.before in _ON and self.after not in _ON


@dataclass(frozen=True, slots=True)
class Stretch:
    """One stretch in which an alarm was on. Where it still is, `is_open` is True and `off_ms` the end of the window."""

    alarm: str
    occurrence: str
    priority: Priority
    on_ms: int
    off_ms: int
    is_open: bool

    @property
    def length_ms(self) -> int:
        """How long it lasted."""
        return self.off_ms - self.on_ms


@dataclass(frozen=True, slots=True)
class Handling:
    """From the first annunciation of an occurrence to its acknowledgement; None where there is none."""

    alarm: str
    occurrence: str
    priority: Priority
    called_ms: int
    acknowledged_ms: int | None


def actual_rows(rows: Iterable[AlarmRow]) -> list[AlarmRow]:
    """Give the rows that count, in the order of time."""
    return sorted((each for each in rows if each.actual), key=lambda each: each.t_ms)


def stretches(rows: Sequence[AlarmRow], to_ms: int) -> list[Stretch]:
    """Pair each going on with its going off."""
    began: dict[str, AlarmRow] = {}
    found: list[Stretch] = []
    for row in rows:
        if row.begins:
            began[row.alarm] = row
        elif row.ends and row.alarm in began:
            start = began.pop(row.alarm)
            found.append(Stretch(row.alarm, start.occurrence, start.priority, start.t_ms, row.t_ms, is_open=False))
    found += [
        Stretch(alarm, start.occurrence, start.priority, start.t_ms, to_ms, is_open=True)
        for alarm, start in began.items()
    ]
    return sorted(found, key=lambda each: (each.on_ms, each.alarm))


def handlings(rows: Sequence[AlarmRow]) -> list[Handling]:
    """Find the first call and the first acknowledgement of each occurrence."""
    calls: dict[str, AlarmRow] = {}
    acknowledged: dict[str, int] = {}
    for row in rows:
        if row.annunciated:
            calls.setdefault(row.occurrence, row)
        if row.event == "acknowledge" and row.occurrence in calls:
            acknowledged.setdefault(row.occurrence, row.t_ms)
    return [
        Handling(call.alarm, name, call.priority, call.t_ms, acknowledged.get(name)) for name, call in calls.items()
    ]


def shelved_ms(rows: Sequence[AlarmRow], to_ms: int) -> dict[str, list[tuple[int, int]]]:
    """Give, for each alarm, when it was shown as shelved."""
    since: dict[str, int] = {}
    found: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for row in rows:
        if row.shown is Shown.SHELVED:
            since.setdefault(row.alarm, row.t_ms)
        elif row.alarm in since:
            found[row.alarm].append((since.pop(row.alarm), row.t_ms))
    for alarm, start_ms in since.items():
        found[alarm].append((start_ms, to_ms))
    return dict(found)


def most_at_once(intervals: Iterable[tuple[int, int]]) -> int:
    """Give the largest number of intervals [start, end) that overlap."""
    edges = sorted((moment, change) for start, end in intervals for moment, change in ((start, 1), (end, -1)))
    largest = present = 0
    for _, change in edges:
        present += change
        largest = max(largest, present)
    return largest


def local_days(from_ms: int, to_ms: int, zone: tzinfo) -> list[date]:
    """Give the local calendar days that a window touches."""
    first, last = (datetime.fromtimestamp(each / 1000, UTC).astimezone(zone).date() for each in (from_ms, to_ms - 1))
    return [first + timedelta(days=number) for number in range((last - first).days + 1)]


def local_ms(day: date, at: time, zone: tzinfo) -> int:
    """Give a local time of day as UTC ms."""
    return round(datetime.combine(day, at, zone).astimezone(UTC).timestamp() * 1000)
