"""A machine that slept is noticed by its two clocks, written down once, and is an incident with its cause."""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.clock import AcceleratedClock, SystemClock
from daemon.clock_sleeps import SHORTEST_MS, Clocks, Sleeps, sleeps_beside
from daemon.clock_steps import ClockSteps
from daemon.review.values import Cause, FactKind, Span
from daemon.review_keeper import ClockWatch
from daemon.storage import sleeps
from daemon.storage.sleeps import Slept
from tests.review.nights import ALL, EVENING_MS, MINUTE_MS, Night, at
from tests.standing.powered import powered


@pytest.fixture
def night(tmp_path: Path) -> Iterator[Night]:
    with powered(tmp_path) as found:
        yield Night(found)


class Machine:
    """Its clocks; `sleep` lets one of them stand still."""

    def __init__(self) -> None:
        self.all_s, self.awake_s, self.now_ms = 5_000.0, 4_000.0, EVENING_MS

    def clocks(self) -> Clocks:
        return Clocks(self.all_s, self.awake_s)

    def wake(self, seconds: float) -> None:
        self.awake_s += seconds
        self.sleep(seconds)

    def sleep(self, seconds: float) -> None:
        self.all_s += seconds
        self.now_ms += round(seconds * 1000)


def test_sleep_is_told_from_the_last_look_to_the_first_one_after_it() -> None:
    machine = Machine()
    asleep = Sleeps(machine.clocks)
    machine.wake(5)
    assert asleep.look(lambda: machine.now_ms) is None
    asleep.keep()
    machine.wake(3)
    machine.sleep(7200)
    machine.wake(2)
    slept = Slept(EVENING_MS + 5_000, EVENING_MS + 7_210_000, 7_200_000)
    assert asleep.look(lambda: machine.now_ms) == slept
    # What was not stored is told again, and what was kept is not.
    assert asleep.look(lambda: machine.now_ms) == slept
    asleep.keep()
    machine.sleep(SHORTEST_MS / 1000 - 1)
    assert asleep.look(lambda: machine.now_ms) is None


def test_a_clock_that_was_set_when_the_machine_woke_up_moves_the_sleep_with_it() -> None:
    machine = Machine()
    asleep = Sleeps(machine.clocks)
    machine.sleep(600)
    assert asleep.look(lambda: machine.now_ms - 86_400_000) == Slept(
        EVENING_MS - 86_400_000, EVENING_MS - 85_800_000, 600_000
    )


def test_the_clocks_of_this_machine_are_read_and_a_demo_has_none() -> None:
    asleep = sleeps_beside(SystemClock())
    assert asleep is not None
    assert asleep.look(lambda: round(time.time() * 1000)) is None
    assert sleeps_beside(AcceleratedClock(0, 60.0)) is None


def test_an_incident_says_that_the_machine_slept_with_its_evidence_and_what_to_do(night: Night) -> None:
    """The probes were not heard either: nobody listened."""
    machine = Machine()
    night.runs(EVENING_MS, at(6), "a")
    night.all_speak(EVENING_MS, at(1))
    night.all_speak(at(3), at(6))
    watch = ClockWatch(night.journal, ClockSteps(), lambda: machine.now_ms, 1, Sleeps(machine.clocks))
    machine.wake(3 * 3600)
    watch.look()
    machine.sleep(2 * 3600)
    night.then(at(3), watch.look)
    [found] = night.pass_to(at(6), 60 * MINUTE_MS)
    assert found.cause is Cause.MACHINE_SLEPT
    [slept] = [fact for fact in found.facts if fact.kind is FactKind.MACHINE_SLEPT]
    assert slept.span == Span(at(1), at(3))
    assert len([fact for fact in found.facts if fact.kind is FactKind.PROBE_GAP]) == len(ALL)
    said = " ".join(found.evidence)
    assert "suspended for 2 h" in said
    assert "must not sleep" in said
    # Another look writes nothing down again.
    watch.look()
    with night.journal.read() as conn:
        assert sleeps.between(conn, 0, at(6)) == [Slept(at(1), at(3), 7_200_000)]
        assert sleeps.between(conn, at(3) + 1, at(6)) == []
