"""The spool as what a sender sends: dated, packed, in order."""

from sensors.agent.lines import Line
from sensors.agent.packs import measure_pack
from sensors.agent.spool import Settled, Spool
from sensors.agent.timekeeper import Timekeeper


class SpoolLine:
    """Gives what is in the spool to a sender; see `sensors.sender.Line`.

    What was measured before the clock was right waits, and all after it, until it can be dated. What was measured in an
    earlier start of the board whose clock never was right cannot be dated any more: it is settled as such, and never
    sent with a date that is a guess.
    """

    def __init__(self, spool: Spool, timekeeper: Timekeeper) -> None:
        self._spool = spool
        self._timekeeper = timekeeper
        self._at = 0
        self._waits: Line | None = None

    def rewind(self) -> None:
        """Begin again with the oldest that is not settled."""
        self._at, self._waits = self._spool.acknowledged, None

    def next(self) -> tuple[int, bytes] | None:
        """Give what comes next."""
        while True:
            self._at = max(self._at, self._spool.acknowledged)
            line = self._waits if self._waits is not None and self._waits.number > self._at else None
            line = line or self._spool.next(self._at)
            self._waits = None
            if line is None:
                return None
            moment_ms = line.moment_ms
            if moment_ms is None:
                moment_ms = self._timekeeper.placed(line.boot, line.steady_ms)
            if moment_ms is None and line.boot == self._timekeeper.boot:
                self._waits = line
                return None
            self._at = line.number
            if moment_ms is not None:
                return line.number, measure_pack(line, moment_ms)
            self._spool.settle(line.number, Settled.UNDATED)

    def acknowledge(self, number: int) -> None:
        """The broker has it."""
        self._spool.settle(number, Settled.SENT)

    def told(self) -> str:
        """Say how many wait, as a part of a sentence."""
        counts = self._spool.counts
        lost = sum(counts.values())
        return f"{self._spool.waiting} readings wait, {lost} were lost so far"
