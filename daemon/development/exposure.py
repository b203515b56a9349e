"""Minutes beyond a temperature within the last 24 or 48 h, added up. Pure.

Between two readings the temperature is a straight line, so the moment at which it passes the figure is known; it is
rounded to the millisecond, so that sums are whole numbers and cannot drift. Where nothing is known, time is counted
apart: between readings too far apart, on either side of a suspect reading, and since the last reading.
"""

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from config.species import ExposureLimit

_MS_PER_MINUTE = 60_000
_MS_PER_HOUR = 3_600_000


@dataclass(frozen=True, slots=True)
class Exposed:
    """Time of one window, milliseconds: beyond the figure, unknown, and watched at all.

    The window begins with the first reading where it is younger than the window is long; `watched_ms` is its length.
    """

    beyond_ms: int
    unknown_ms: int
    watched_ms: int


class Verdict(StrEnum):
    """What can be said of an exposure limit."""

    WITHIN = "within"
    POSSIBLY_PASSED = "possibly passed"
    PASSED = "passed"


@dataclass(frozen=True, slots=True)
class Judged:
    """The verdict and why, in words with the source of the limit."""

    verdict: Verdict
    reason: str


class ExposureWindow:
    """Exposure of one limit, reading by reading; a reading costs the same however long the history is.

    Spans that have left the window are dropped, so that each is added once and dropped once. Neither readings nor the
    moments asked for go back; after a back-filled reading a new window is fed from the journal.
    """

    def __init__(self, limit: ExposureLimit, longest_bridge_ms: int) -> None:
        self._sign, self._figure_c = _figure(limit)
        self._length_ms = limit.within_h * _MS_PER_HOUR
        self._longest_bridge_ms = longest_bridge_ms
        self._beyond, self._unknown = _Spans(), _Spans()
        self._first_ms: int | None = None
        self._last: tuple[int, float | None] = (0, None)
        self._asked_ms: int | None = None

    def add(self, measured_at_ms: int, temperature_c: float | None) -> None:
        """Take a reading, None for a suspect one. Raises ValueError for a reading older than the one before it."""
        if self._first_ms is None:
            self._first_ms = measured_at_ms
        else:
            before_ms, before_c = self._last
            if measured_at_ms < before_ms:
                raise ValueError(f"The reading of {measured_at_ms} ms comes after that of {before_ms} ms; sort them.")
            self._bridge(before_ms, before_c, measured_at_ms, temperature_c)
        self._last = (measured_at_ms, temperature_c)
        oldest_ms = measured_at_ms - self._length_ms
        self._beyond.drop_before(oldest_ms)
        self._unknown.drop_before(oldest_ms)

    def at(self, now_ms: int) -> Exposed:
        """Give the exposure of the window that ends now.

        Raises ValueError for a moment before the last reading, or before one that was asked for.
        """
        if self._first_ms is None:
            return Exposed(0, 0, 0)
        last_ms = self._last[0]
        latest_ms = last_ms if self._asked_ms is None else max(last_ms, self._asked_ms)
        if now_ms < latest_ms:
            raise ValueError(f"The window cannot go back from {latest_ms} ms to {now_ms} ms; feed a new one.")
        self._asked_ms = now_ms
        start_ms = max(self._first_ms, now_ms - self._length_ms)
        since_last_ms = now_ms - max(last_ms, start_ms)
        return Exposed(self._beyond.after(start_ms), self._unknown.after(start_ms) + since_last_ms, now_ms - start_ms)

    def _bridge(self, t0: int, c0: float | None, t1: int, c1: float | None) -> None:
        if c0 is None or c1 is None or t1 - t0 > self._longest_bridge_ms:
            self._unknown.add(t0, t1)
            return
        over0, over1 = self._sign * (c0 - self._figure_c), self._sign * (c1 - self._figure_c)
        if over0 <= 0 and over1 <= 0:
            return
        passes = t0 + round((t1 - t0) * over0 / (over0 - over1)) if over0 * over1 < 0 else None
        begin = t0 if passes is None or over0 > 0 else passes
        end = t1 if passes is None or over1 > 0 else passes
        self._beyond.add(begin, end)


def judge(limit: ExposureLimit, exposed: Exposed) -> Judged:
    """Compare an exposure with its limit. Unknown time never makes a limit passed, and never makes it kept either."""
    side = "below" if limit.above_c is None else "above"
    figure_c = limit.below_c if limit.above_c is None else limit.above_c
    beyond_min, unknown_min = exposed.beyond_ms / _MS_PER_MINUTE, exposed.unknown_ms / _MS_PER_MINUTE
    if beyond_min > limit.minutes:
        verdict = Verdict.PASSED
    elif beyond_min + unknown_min > limit.minutes:
        verdict = Verdict.POSSIBLY_PASSED
    else:
        verdict = Verdict.WITHIN
    watched_h = exposed.watched_ms / _MS_PER_HOUR
    watched = "" if watched_h >= limit.within_h else f", watched for {watched_h:.1f} h of them"
    unknown = f", and nothing is known of {unknown_min:.0f} min" if exposed.unknown_ms else ""
    reason = (
        f"{side} {figure_c:g} °C for {beyond_min:.0f} min in the last {limit.within_h} h{watched}{unknown}; "
        f"the limit is {limit.minutes:g} min ({limit.source})"
    )
    return Judged(verdict, reason)


def judge_course(
    limits: Sequence[ExposureLimit],
    course: Sequence[tuple[int, float | None]],
    longest_bridge_ms: int,
    now_ms: int,
) -> Iterator[tuple[ExposureLimit, Exposed, Judged]]:
    """Give each limit with the exposure of the window that ends now, and what follows.

    `course` is (measured_at_ms, temperature_c) where the eggs lay, in order of time, None for what is not known.
    """
    for limit in limits:
        window = ExposureWindow(limit, longest_bridge_ms)
        for measured_at_ms, temperature_c in course:
            window.add(measured_at_ms, temperature_c)
        exposed = window.at(now_ms)
        yield limit, exposed, judge(limit, exposed)


def _figure(limit: ExposureLimit) -> tuple[int, float]:
    """The direction that counts as beyond, +1 for warmer, and the temperature, °C."""
    if limit.above_c is not None:
        return 1, limit.above_c
    if limit.below_c is not None:
        return -1, limit.below_c
    raise ValueError("An exposure limit without a temperature cannot be watched; give above_c or below_c.")


class _Spans:
    """Spans of time that follow each other, with their sum; touching ones are one."""

    def __init__(self) -> None:
        self._spans: deque[tuple[int, int]] = deque()
        self._sum_ms = 0

    def add(self, begin_ms: int, end_ms: int) -> None:
        if end_ms == begin_ms:
            return
        self._sum_ms += end_ms - begin_ms
        if self._spans and self._spans[-1][1] == begin_ms:
            begin_ms = self._spans.pop()[0]
        self._spans.append((begin_ms, end_ms))

    def drop_before(self, oldest_ms: int) -> None:
        while self._spans and self._spans[0][1] <= oldest_ms:
            begin_ms, end_ms = self._spans.popleft()
            self._sum_ms -= end_ms - begin_ms

    def after(self, start_ms: int) -> int:
        """Sum of the parts after a moment; that moment never goes back, so what lies before it is let go."""
        self.drop_before(start_ms)
        return self._sum_ms - (max(0, start_ms - self._spans[0][0]) if self._spans else 0)
