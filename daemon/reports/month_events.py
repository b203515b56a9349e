"""Pure: what people were called for in a month, and the rounds that were due and done. Times are UTC ms."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from daemon.alarms.metrics_rows import Handling
from daemon.storage.alarm_spans import AlarmSpan

MINUTE_MS, DAY_MS = 60_000, 86_400_000


@dataclass(frozen=True, slots=True)
class KindOfAlarm:
    """All alarms of a kind: how often it went on in the span, for how long it was on in it, and how it was answered.

    `median_min` and `longest_min` are from the first call to the acknowledgement, None where nobody acknowledged one.
    """

    kind: str
    raised: int
    on_ms: int
    called: int
    acknowledged: int
    median_min: float | None
    longest_min: float | None


@dataclass(frozen=True, slots=True)
class Rounds:
    """Rounds through one incubator: `due` is how many whole spans between two rounds there were eggs for.

    `late_ms`: the time over which one was due and not done.
    """

    done: int
    due: int
    late_ms: int


def kinds_of(spans: Sequence[AlarmSpan], handled: Sequence[Handling], from_ms: int, until_ms: int) -> list[KindOfAlarm]:
    """Put alarms of a kind together, the most frequent first."""
    found = []
    for kind in sorted({each.kind for each in spans} | {each.alarm.partition(":")[0] for each in handled}):
        mine = [each for each in spans if each.kind == kind]
        answered = [each for each in handled if each.alarm.partition(":")[0] == kind]
        minutes = [
            (each.acknowledged_ms - each.called_ms) / MINUTE_MS for each in answered if each.acknowledged_ms is not None
        ]
        on_ms = sum(
            max(
                min(until_ms if each.cleared_ms is None else each.cleared_ms, until_ms) - max(each.raised_ms, from_ms),
                0,
            )
            for each in mine
        )
        found.append(
            KindOfAlarm(
                kind=kind,
                raised=sum(from_ms <= each.raised_ms < until_ms for each in mine),
                on_ms=on_ms,
                called=len(answered),
                acknowledged=len(minutes),
                median_min=median(minutes) if minutes else None,
                longest_min=max(minutes, default=None),
            )
        )
    return sorted(found, key=lambda each: (-each.raised, each.kind))


def merged(spans: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Join spans that touch, in order of time."""
    found: list[tuple[int, int]] = []
    for begin, end in sorted(spans):
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((begin, end))
    return found


def rounds_in(
    with_eggs: Sequence[tuple[int, int]], ended_ms: Sequence[int], every_days: float, from_ms: int, until_ms: int
) -> Rounds:
    """Count rounds of a span. `with_eggs`: when there were eggs, whole; `ended_ms`: the ends of all rounds until then.

    A round is due so many days after the last one, or after eggs came in where those came later; it is late until
    another one is ended, or until the eggs are gone.
    """
    every_ms = round(every_days * DAY_MS)
    here_ms = late_ms = 0
    for begin, end in merged(with_eggs):
        here_ms += max(min(end, until_ms) - max(begin, from_ms), 0)
        seen = [begin, *(each for each in sorted(ended_ms) if begin < each < end), end]
        for last, following in pairwise(seen):
            late_ms += max(min(following, until_ms) - max(last + every_ms, from_ms), 0)
    done = sum(from_ms <= each < until_ms for each in ended_ms)
    return Rounds(done, here_ms // every_ms if every_ms else 0, late_ms)
