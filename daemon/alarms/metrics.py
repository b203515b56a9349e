"""How well the alarms do their work: `measure(rows, window, zone) -> Metrics`. Pure. UTC ms.

The measures are those of ISA-18.2-2016, section 16.4, and ISA-TR18.2.5. Their published targets are for the full-time
operator of a plant; the targets here are this project's own for one or two people. A rate from less than 30 days says
nothing, and is not given. Percentiles are by nearest rank.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import time, timedelta, tzinfo
from statistics import median

from config.words import Priority
from daemon.alarms.classes import DAY_MS, HOUR_MS, MINUTE_MS
from daemon.alarms.metrics_floods import BIN_MS, OWN_FLOOD, PLANT_FLOOD, Flood, floods
from daemon.alarms.metrics_rows import (
    AlarmRow,
    Handling,
    Stretch,
    actual_rows,
    handlings,
    local_days,
    local_ms,
    most_at_once,
    shelved_ms,
    stretches,
)

LEAST_DAYS = 30
LEAST_FOR_SPLIT = 100
"""fewer annunciations than these say nothing about their split by priority"""
STALE_MS = DAY_MS
CHATTERING = 3
CHATTERING_SPAN_MS = HOUR_MS
"""An alarm goes on this often within this time. The published span of a minute could not be seen in samples a minute
apart."""
MANY_PER_HOUR = 30
NIGHT = (time(22), time(6))
HANDOVER = time(7)


@dataclass(frozen=True, slots=True)
class Answered:
    """Time from the first call to the acknowledgement, minutes. None where nothing was acknowledged."""

    count: int
    median_min: float | None
    p95_min: float | None
    open: int
    """called and not acknowledged"""


@dataclass(frozen=True, slots=True)
class Performance:
    """What is held against a target. A rate or split is None where there is too little data; `too_little` says why."""

    days: float
    annunciations: int
    too_little: str
    per_day: float | None
    urgent_per_week: float | None
    """priorities 1 and 2"""
    most_per_10_min: int
    share_of_10_min_above_10: float
    share_of_hours_above_30: float
    floods: tuple[Flood, ...]
    own_floods: tuple[Flood, ...]
    by_priority: Mapping[Priority, int]
    split: Mapping[Priority, float] | None
    most_per_night: int
    share_of_quiet_nights: float
    answered: Mapping[Priority, Answered]


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Which alarms to look at."""

    most_frequent: tuple[tuple[str, int], ...]
    share_of_top_3: float | None
    chattering: tuple[str, ...]
    fleeting: tuple[str, ...]
    """occurrences"""
    stale: tuple[str, ...]
    standing_at_handover: int
    """the most on any day at 07:00 local"""
    most_shelved_at_once: int
    shelved_h: Mapping[str, float]
    longest_on_h: float
    longest_unacknowledged_h: float


@dataclass(frozen=True, slots=True)
class Metrics:
    """Both views of one window. ISA-TR18.2.5 keeps them apart, for different readers."""

    performance: Performance
    diagnosis: Diagnosis


def measure(rows: Iterable[AlarmRow], from_ms: int, to_ms: int, zone: tzinfo, fleeting_ms: int) -> Metrics:
    """Measure the window [from_ms, to_ms).

    `fleeting_ms`: an alarm that was on no longer than this, with nobody acting, was fleeting; two sample intervals.
    Raises ValueError for a window that is empty.
    """
    if to_ms <= from_ms:
        raise ValueError("the window ends before it begins; give an end after the start")
    history = [each for each in actual_rows(rows) if each.t_ms < to_ms]
    kept = [each for each in history if each.t_ms >= from_ms]
    # what was on at the beginning of the window went on before it
    on = [each for each in stretches(history, to_ms) if each.off_ms > from_ms]
    shelved = {
        alarm: [(max(start, from_ms), end) for start, end in each if end > from_ms]
        for alarm, each in shelved_ms(history, to_ms).items()
    }
    diagnosis = _diagnosis(kept, on, shelved, (from_ms, to_ms), zone, fleeting_ms)
    aside = {each.occurrence for each in on if each.length_ms > STALE_MS} | set(diagnosis.fleeting)
    return Metrics(_performance(kept, from_ms, to_ms, zone, aside), diagnosis)


def after_upsets(rows: Iterable[AlarmRow], causes: frozenset[str]) -> tuple[tuple[int, int], ...]:
    """Give, for each annunciation of one of the alarms `causes`, how many follow it within ten minutes."""
    called = [each for each in actual_rows(rows) if each.annunciated]
    return tuple(
        (upset.t_ms, sum(upset.t_ms <= each.t_ms < upset.t_ms + BIN_MS for each in called if each is not upset))
        for upset in called
        if upset.alarm in causes
    )


def _performance(kept: Sequence[AlarmRow], from_ms: int, to_ms: int, zone: tzinfo, aside: set[str]) -> Performance:
    called, handled = [each for each in kept if each.annunciated], handlings(kept)
    days = (to_ms - from_ms) / DAY_MS
    enough = days >= LEAST_DAYS
    bins, hours = _counted(called, BIN_MS), _counted(called, HOUR_MS)
    by_priority = {priority: sum(each.priority is priority for each in called) for priority in Priority}
    urgent = by_priority[Priority.CRITICAL] + by_priority[Priority.HIGH]
    nights = _nights(called, from_ms, to_ms, zone)
    return Performance(
        days=days,
        annunciations=len(called),
        too_little="" if enough else f"too little data: {math.floor(days * 10) / 10:g} days of {LEAST_DAYS}",
        per_day=len(called) / days if enough else None,
        urgent_per_week=urgent * 7 / days if enough else None,
        most_per_10_min=max(bins.values(), default=0),
        share_of_10_min_above_10=_share_above(bins, PLANT_FLOOD[0], math.ceil((to_ms - from_ms) / BIN_MS)),
        share_of_hours_above_30=_share_above(hours, MANY_PER_HOUR, math.ceil((to_ms - from_ms) / HOUR_MS)),
        floods=floods(bins, *PLANT_FLOOD),
        own_floods=floods(bins, *OWN_FLOOD),
        by_priority=by_priority,
        split=_split(by_priority, len(called)),
        most_per_night=max(nights, default=0),
        share_of_quiet_nights=sum(count == 0 for count in nights) / len(nights) if nights else 1.0,
        answered={priority: _answered(handled, priority, aside) for priority in Priority},
    )


def _diagnosis(
    kept: Sequence[AlarmRow],
    on: Sequence[Stretch],
    shelved: Mapping[str, Sequence[tuple[int, int]]],
    window_ms: tuple[int, int],
    zone: tzinfo,
    fleeting_ms: int,
) -> Diagnosis:
    from_ms, to_ms = window_ms
    counts = Counter(each.alarm for each in kept if each.annunciated)
    top = sum(count for _, count in counts.most_common(3))
    return Diagnosis(
        most_frequent=tuple(sorted(counts.items(), key=lambda each: (-each[1], each[0]))[:5]),
        share_of_top_3=top / counts.total() if counts else None,
        chattering=_chattering(kept),
        fleeting=_fleeting(on, kept, fleeting_ms),
        stale=tuple(sorted({each.alarm for each in on if each.length_ms > STALE_MS})),
        standing_at_handover=_standing(on, from_ms, to_ms, zone),
        most_shelved_at_once=most_at_once(each for intervals in shelved.values() for each in intervals),
        shelved_h={alarm: sum(end - start for start, end in each) / HOUR_MS for alarm, each in shelved.items() if each},
        longest_on_h=max((each.length_ms for each in on), default=0) / HOUR_MS,
        longest_unacknowledged_h=max((_unseen_ms(each, to_ms) for each in handlings(kept)), default=0) / HOUR_MS,
    )


def _counted(called: Sequence[AlarmRow], width_ms: int) -> dict[int, int]:
    """Count by bins that are aligned to the hour of UTC."""
    return dict(Counter(each.t_ms - each.t_ms % width_ms for each in called))


def _share_above(bins: Mapping[int, int], above: int, whole: int) -> float:
    return sum(count > above for count in bins.values()) / whole


def _chattering(rows: Sequence[AlarmRow]) -> tuple[str, ...]:
    """Find alarms that go on again and again by themselves; a re-alarm or the end of a shelf is not a going on."""
    moments: dict[str, list[int]] = defaultdict(list)
    for row in rows:
        if row.event == "on":
            moments[row.alarm].append(row.t_ms)
    return tuple(
        sorted(
            alarm
            for alarm, each in moments.items()
            if any(
                later - first < CHATTERING_SPAN_MS for first, later in zip(each, each[CHATTERING - 1 :], strict=False)
            )
        )
    )


def _fleeting(on: Sequence[Stretch], rows: Sequence[AlarmRow], fleeting_ms: int) -> tuple[str, ...]:
    acted = {each.occurrence for each in rows if each.actor}
    return tuple(
        each.occurrence
        for each in on
        if not each.is_open
        and each.length_ms <= fleeting_ms
        and each.occurrence not in acted
        and not any(
            other is not each and other.alarm == each.alarm and abs(other.on_ms - each.on_ms) <= HOUR_MS for other in on
        )
    )


def _standing(on: Sequence[Stretch], from_ms: int, to_ms: int, zone: tzinfo) -> int:
    moments = (local_ms(day, HANDOVER, zone) for day in local_days(from_ms, to_ms, zone))
    return max(
        (sum(each.on_ms <= moment < each.off_ms for each in on) for moment in moments if from_ms <= moment < to_ms),
        default=0,
    )


def _nights(called: Sequence[AlarmRow], from_ms: int, to_ms: int, zone: tzinfo) -> list[int]:
    """Count, for each night that lies in the window, the urgent occurrences that people were called for."""
    found = []
    for day in local_days(from_ms, to_ms, zone):
        start_ms, end_ms = local_ms(day, NIGHT[0], zone), local_ms(day + timedelta(days=1), NIGHT[1], zone)
        if from_ms <= start_ms and end_ms <= to_ms:
            woken = {
                each.occurrence
                for each in called
                if start_ms <= each.t_ms < end_ms and each.priority is not Priority.LOW
            }
            found.append(len(woken))
    return found


def _split(by_priority: Mapping[Priority, int], called: int) -> dict[Priority, float] | None:
    if called < LEAST_FOR_SPLIT:
        return None
    return {priority: count / called for priority, count in by_priority.items()}


def _answered(handled: Sequence[Handling], priority: Priority, aside: set[str]) -> Answered:
    """Stale and fleeting alarms are left out: they say nothing about how soon people answer."""
    mine = [each for each in handled if each.priority is priority and each.occurrence not in aside]
    minutes = sorted(
        (each.acknowledged_ms - each.called_ms) / MINUTE_MS for each in mine if each.acknowledged_ms is not None
    )
    if not minutes:
        return Answered(0, None, None, len(mine))
    return Answered(
        len(minutes), median(minutes), minutes[math.ceil(0.95 * len(minutes)) - 1], len(mine) - len(minutes)
    )


def _unseen_ms(handling: Handling, to_ms: int) -> int:
    return (to_ms if handling.acknowledged_ms is None else handling.acknowledged_ms) - handling.called_ms
