"""The clock of the demo: it changes its pace without a jump, and by the rounds that go on."""

import time
from pathlib import Path

from daemon.clock import AcceleratedClock
from daemon.demo.pace import Pace
from daemon.storage import rounds
from tests.support.household import MINUTE_MS
from tests.support.journals import new_journal

START_MS = 1_780_000_000_000


def test_a_clock_that_changes_its_pace_goes_on_from_where_it_was() -> None:
    clock, began = AcceleratedClock(START_MS, 1_000.0), time.monotonic()
    moments = []
    for rate in (1.0, 500.0, 1.0, 1_000.0, 1.0):
        moments.append(clock.now_ms())
        clock.run_at(rate)
        moments.append(clock.now_ms())
        assert clock.rate == rate
    assert moments == sorted(moments)
    # At no moment was it faster than a thousand times.
    assert START_MS <= moments[-1] <= START_MS + (time.monotonic() - began) * 1_000_000 + 1


def test_in_real_time_a_second_is_a_second() -> None:
    clock = AcceleratedClock(START_MS, 300.0)
    clock.run_at(1.0)

    def look() -> tuple[float, int, float]:
        return time.monotonic() * 1000, clock.now_ms(), time.monotonic() * 1000

    first = look()
    while time.monotonic() * 1000 - first[2] < 50:
        pass
    last = look()
    # It was asked between the two looks at the machine's clock, and leaves out parts of a millisecond.
    assert last[0] - first[2] - 1 < last[1] - first[1] < last[2] - first[0] + 1


def test_it_is_slow_from_the_start_of_a_round_to_its_end_and_no_longer_than_its_hard_end(tmp_path: Path) -> None:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        clock = AcceleratedClock(START_MS, 300.0)
        pace = Pace(journal, clock)

        def start(incubator: str) -> None:
            journal.write(lambda conn: rounds.start(conn, incubator, "ana", clock.now_ms(), 30 * MINUTE_MS))

        def end(incubator: str) -> None:
            journal.write(lambda conn: rounds.end(conn, incubator, "ana", "", clock.now_ms()))

        assert (pace.look(), clock.rate) == (False, 300.0)
        start("north")
        start("south")
        assert (pace.look(), pace.look(), clock.rate) == (True, False, 1.0)
        end("north")
        assert (pace.look(), clock.rate) == (False, 1.0)
        end("south")
        assert (pace.look(), pace.is_fast) == (True, True)
        # Begun long ago and never ended: by now it holds nothing back, and the demo does not wait for it.
        begun_ms = clock.now_ms() - 31 * MINUTE_MS
        journal.write(lambda conn: rounds.start(conn, "north", "ana", begun_ms, 30 * MINUTE_MS))
        assert (pace.look(), clock.rate) == (False, 300.0)
