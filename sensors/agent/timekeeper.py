"""What moment it was, so and so long after the board started. Pure.

A board without a battery clock starts in the past, and may run for days before a time service reaches it. Until then
what is measured is kept by the time since the start, which nobody can set, and dated once the clock is right. The other
way would be SenML times relative to now (RFC 8428 section 4.5.3). It is not taken: such a time counts from arrival, so
that a message which waited in a broker, or was sent twice, would come to lie at two moments, both wrong.

The clock is right when the kernel says that a time service keeps it (`synchronised`). With `own` it is what the keeper
states: a battery keeps it. It then must not stand before what was dated last, or only for ten minutes, since a reading
that was dated by a clock that was ahead must not hold up all later ones for ever.

Once it was right, the time since the start carries on from there. A clock that is set later is followed where it is
right by the same rule; a clock that is set by hand is no longer kept by a time service, and is not followed.
"""

import threading
from collections.abc import Mapping
from typing import NamedTuple

from sensors.arrival import EARLIEST_MS

STEP_MS = 500
"""Below this a difference between the clocks is the work of a time service."""
BEHIND_MS = 120_000
DOUBT_MS = 600_000
MOST_STARTS = 64
"""So many starts of the board are remembered; far more than a spool of days holds."""


class Offset(NamedTuple):
    """Moment less time since the start, ms: as it first was right, and as it was last.

    What was measured before is dated by the first, always the same, so that a message sent twice has one time.
    """

    first_ms: int
    latest_ms: int


class Timekeeper:
    """For one start of the board, called `boot`; may be asked by many threads.

    `known` is what was kept of this and earlier starts, `newest_ms` the newest moment that was ever given.
    """

    def __init__(self, boot: str, known: Mapping[str, Offset], newest_ms: int, *, own: bool) -> None:
        self.boot = boot
        self._known = dict(known)
        self._newest_ms = newest_ms
        self._own = own
        self._doubted: tuple[int, int] | None = None
        self._lock = threading.Lock()

    def look(self, steady_ms: int, wall_ms: int, synchronised: bool) -> int | None:
        """Compare the clocks. Gives by how much the clock was set, ms, 0 for the first time; None for no change."""
        with self._lock:
            offset_ms = wall_ms - steady_ms
            before = self._known.get(self.boot)
            if before is not None and abs(offset_ms - before.latest_ms) < STEP_MS:
                self._doubted = None
                return None
            if not self._is_right(offset_ms, steady_ms, wall_ms, synchronised):
                return None
            self._doubted = None
            first_ms = offset_ms if before is None else before.first_ms
            self._known.pop(self.boot, None)
            self._known[self.boot] = Offset(first_ms, offset_ms)
            return 0 if before is None else offset_ms - before.latest_ms

    def moment(self, steady_ms: int) -> int | None:
        """Date something of now, UTC milliseconds since the epoch; None as long as the clock is not right."""
        with self._lock:
            offset = self._known.get(self.boot)
            if offset is None:
                return None
            moment_ms = steady_ms + offset.latest_ms
            self._newest_ms = max(self._newest_ms, moment_ms)
            return moment_ms

    def placed(self, boot: str, steady_ms: int) -> int | None:
        """Date something that was measured before the clock was right; None where that cannot be known (yet)."""
        with self._lock:
            offset = self._known.get(boot)
            return None if offset is None else steady_ms + offset.first_ms

    def to_keep(self) -> tuple[dict[str, Offset], int]:
        """What the next start needs: the offsets of the last starts, and the newest moment given."""
        with self._lock:
            kept = list(self._known.items())[-MOST_STARTS:]
            return dict(kept), self._newest_ms

    def _is_right(self, offset_ms: int, steady_ms: int, wall_ms: int, synchronised: bool) -> bool:
        if wall_ms < EARLIEST_MS:
            return False
        if synchronised:
            return True
        if not self._own:
            return False
        if wall_ms >= self._newest_ms - BEHIND_MS:
            return True
        if self._doubted is None or abs(offset_ms - self._doubted[1]) >= STEP_MS:
            self._doubted = (steady_ms, offset_ms)
        return steady_ms - self._doubted[0] >= DOUBT_MS
