"""When to measure: at fixed distances from the first time, whatever a measurement takes. Pure."""


class Beats:
    """A steady beat on a clock that nobody can set. Times are milliseconds of that clock.

    Each beat counts from the first one and not from the last, so that delays do not add up. One that cannot be kept,
    since the one before took too long or the board slept, is missed and not made up for: `missed` counts them.
    """

    def __init__(self, interval_ms: int, first_ms: int) -> None:
        if interval_ms <= 0:
            raise ValueError(f"an interval of {interval_ms} ms has no beats")
        self._interval_ms = interval_ms
        self.due_ms = first_ms
        self.missed = 0

    def advance(self, now_ms: int) -> None:
        """The beat that was due is done; the next is the first one that lies ahead."""
        steps = max(0, now_ms - self.due_ms) // self._interval_ms + 1
        self.missed += steps - 1
        self.due_ms += steps * self._interval_ms
