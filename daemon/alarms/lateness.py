"""Readings that came long after they were measured: what counts as late, and how long an alarm by them is held. Pure.

A broker or a probe that kept readings hands them over at once when it can. An excursion that lies wholly in them and is
over is no reason to call anybody, but its end stands some readings behind its beginning. So an alarm that a late
reading raises is held for as long as more of the channel come in, and is told as any other one

- at the first fresh reading that shows it to go on,
- `QUIET_MS` after the last late reading of the channel: the newest one there is shows it to go on,
- `LONGEST_HOLD_MS` after the reading that raised it, whatever still comes.

All of it goes by when readings arrived, so a replay holds and tells the same. Of a probe whose clock is behind all
readings are late; its alarms are told some seconds later than those of others, and never left out.
"""

from typing import NamedTuple

from daemon.alarms.silence import window_ms

LATE_MS = 5 * 60_000
"""A reading is late that came so long, or three intervals of its probe if that is longer, after it was measured.

Project choice: a probe that sends every ten minutes and misses two of them is not late; the usual lag of a broker that
was started anew, or of a probe that sends some readings together, is below it.
"""
QUIET_MS = 5_000
"""Project choice: what was kept comes without such a pause, and an alarm that is due waits no longer."""
LONGEST_HOLD_MS = 120_000
"""Project choice: by then a night of one reading a second has come over a slow connection."""


class Held(NamedTuple):
    """An alarm that a late reading raised and nobody was told of. Moments of arrival, UTC ms; the limit in its unit."""

    began_ms: int
    last_ms: int
    limit: float | None

    @property
    def until_ms(self) -> int:
        """When it is told, if it goes on and no other late reading comes before."""
        return min(self.last_ms + QUIET_MS, self.began_ms + LONGEST_HOLD_MS)

    def heard(self, received_at_ms: int) -> "Held":
        """Give it after another late reading of the channel."""
        return self._replace(last_ms=max(self.last_ms, received_at_ms))

    def at_latest(self, now_ms: int) -> "Held":
        """Give it with no moment after `now_ms`: the clock was set back."""
        return self._replace(began_ms=min(self.began_ms, now_ms), last_ms=min(self.last_ms, now_ms))


def late_after_ms(interval_s: float) -> int:
    """Give how long after it was measured a reading of a probe with this interval comes late."""
    return max(window_ms(interval_s), LATE_MS)


def is_late(measured_at_ms: int, received_at_ms: int, interval_s: float) -> bool:
    """Tell whether a reading came late."""
    return received_at_ms - measured_at_ms > late_after_ms(interval_s)
