"""Where the daemon's `now` comes from. Rules take `now` as an argument; only the edge asks a clock."""

import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Tells the time in UTC milliseconds since the epoch."""

    @property
    def rate(self) -> float:
        """Seconds of this clock in one real second; 1 outside a demo."""

    def now_ms(self) -> int:
        """The present moment."""


class SystemClock:
    """The machine's own clock."""

    rate = 1.0

    def now_ms(self) -> int:
        """The present moment, UTC milliseconds since the epoch."""
        return time.time_ns() // 1_000_000


class AcceleratedClock:
    """A clock that starts at a stated moment and runs `rate` times as fast as the machine's. For the demo.

    Its pace may be changed at any time, by any thread; it never goes back or jumps.
    """

    def __init__(self, start_ms: int, rate: float) -> None:
        self._since = (start_ms, time.monotonic(), rate)

    @property
    def rate(self) -> float:
        """Seconds of this clock in one real second, at present."""
        return self._since[2]

    def run_at(self, rate: float) -> None:
        """Go on from the present moment at another pace."""
        start_ms, began, before = self._since
        if rate != before:
            now = time.monotonic()
            self._since = (start_ms + int((now - began) * 1000 * before), now, rate)

    def now_ms(self) -> int:
        """The present moment on this clock, UTC milliseconds since the epoch."""
        start_ms, began, rate = self._since
        return start_ms + int((time.monotonic() - began) * 1000 * rate)


def as_datetime(moment_ms: int) -> datetime:
    """An aware UTC datetime from milliseconds since the epoch."""
    return datetime.fromtimestamp(moment_ms / 1000, UTC)


def as_ms(moment: datetime) -> int:
    """Milliseconds since the epoch from an aware datetime.

    Raises ValueError for a naive datetime: a time without a zone is a different moment for each reader.
    """
    if moment.tzinfo is None:
        raise ValueError(f"{moment.isoformat()} has no time zone; add one, for example +00:00")
    return round(moment.timestamp() * 1000)
