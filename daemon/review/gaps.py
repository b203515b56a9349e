"""Pure: gaps, in which a channel or the whole site said nothing. Times are UTC ms.

Heard is a reading of any quality that arrived in time: a probe that measures nonsense proves that power and network
are there. One that came late (`daemon/alarms/lateness.py`) was not heard when it was measured; it fills a gap
afterwards, and the gap stays one in which nobody could be called.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from daemon.alarms.lateness import late_after_ms
from daemon.alarms.silence import window_ms
from daemon.review.values import Span

TOGETHER_MS = 30 * 60_000
"""A probe that had been silent for longer when the others stopped says nothing of the site. Project choice."""
SHORTEST_SITE_MS = 2 * 60_000
"""Two probes that each miss a few messages are silent together for some seconds by chance. Project choice."""


class Late(NamedTuple):
    """Readings of a gap that came afterwards. `came_ms`: the last of them; `whole`: they leave no hole in it."""

    readings: int
    came_ms: int
    whole: bool


@dataclass(frozen=True, slots=True)
class Gap:
    """A channel said nothing from the last reading that was heard to the next one."""

    channel: str
    probe: str
    place: str
    span: Span
    late: Late | None = None


def gaps(times_ms: Sequence[int], interval_s: float) -> list[Span]:
    """Give the steps between readings, in order of time, that are longer than the channel may be silent."""
    longest_ms = window_ms(interval_s)
    return [Span(before, at) for before, at in pairwise(times_ms) if at - before > longest_ms]


def is_certain(span: Span, interval_s: float, now_ms: int) -> bool:
    """Tell whether no reading that is still on its way can make a gap none: it would come late by now.

    Readings on their way may still bring its end forward, so it is to be looked at again for a while.
    """
    return now_ms > span.from_ms + window_ms(interval_s) + late_after_ms(interval_s)


def overlaps(one: Span, other: Span) -> bool:
    """Tell whether two stretches have a moment in common, be it that where one ends and the other begins."""
    return (other.to_ms is None or one.from_ms <= other.to_ms) and (one.to_ms is None or other.from_ms <= one.to_ms)


def site_gaps(by_probe: Mapping[str, Sequence[Sequence[Span]]], now_ms: int) -> list[Span]:
    """Give when nothing was heard of a whole site: for each probe that was ever heard, the gaps of its channels.

    Together takes two probes that stopped within half an hour. What had been dead for longer does not count, but its
    first word ends the gap like that of any other.
    """
    silent = {probe: common(channels) for probe, channels in by_probe.items()}
    found: set[Span] = set()
    for last in {span.from_ms for spans in silent.values() for span in spans}:
        present: list[Span] = []
        for spans in silent.values():
            covering = _covering(spans, last)
            if covering is None:
                break
            present.append(covering)
        if len(present) < len(silent):
            continue
        together = [span for span in present if span.from_ms >= last - TOGETHER_MS]
        end_ms = min((span.to_ms for span in present if span.to_ms is not None), default=None)
        if len(together) > 1 and Span(last, end_ms).until(now_ms) - last >= SHORTEST_SITE_MS:
            found.add(Span(last, end_ms))
    return sorted(found, key=lambda span: span.from_ms)


def common(every: Sequence[Iterable[Span]]) -> list[Span]:
    """Give the stretches that lie in one span of each of these; nothing for nothing. Spans of one do not overlap."""
    if not every:
        return []
    found = sorted(every[0], key=_begin)
    for spans in every[1:]:
        others = sorted(spans, key=_begin)
        found = [both for one in found for other in _meeting(others, one) if (both := _both(one, other)) is not None]
    return sorted(found, key=_begin)


def _begin(span: Span) -> int:
    return span.from_ms


def _meeting(spans: Sequence[Span], one: Span) -> Sequence[Span]:
    """Those of the spans, in order of time and none over another, that may have more than a moment with one."""
    first = max(bisect_right(spans, one.from_ms, key=_begin) - 1, 0)
    last = len(spans) if one.to_ms is None else bisect_left(spans, one.to_ms, key=_begin)
    return spans[first:last]


def _both(one: Span, other: Span) -> Span | None:
    start_ms = max(one.from_ms, other.from_ms)
    ends = [end for end in (one.to_ms, other.to_ms) if end is not None]
    if ends and min(ends) <= start_ms:
        return None
    return Span(start_ms, min(ends, default=None))


def _covering(spans: Sequence[Span], moment_ms: int) -> Span | None:
    """The one of these, in order of time and none over another, in which a moment lies; its end is not part of it."""
    index = bisect_right(spans, moment_ms, key=_begin) - 1
    span = spans[index] if index >= 0 else None
    return span if span is not None and (span.to_ms is None or moment_ms < span.to_ms) else None
