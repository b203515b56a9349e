"""A clock that is set, against one that nobody can set."""

import pytest

from config.words import Priority
from daemon.alarms.rungs import RUNGS
from daemon.clock import AcceleratedClock, SystemClock
from daemon.clock_steps import ClockSteps, steady_beside
from daemon.clutches import register
from daemon.evaluate import Evaluator
from daemon.standing_sources.delivery import DeliverySource
from daemon.standing_sources.silent import Silences
from daemon.storage import alarm_log, deliveries, desk
from tests.daemon.kept import AIR, Kept, at
from tests.support.household import DAY_MS, a_clutch

MINUTE_MS = 60_000


class Clocks:
    """A wall clock that runs `rate` times as fast as the steady one, and can be set."""

    def __init__(self, rate: float = 1.0) -> None:
        self.rate = rate
        self.steady_s = 1000.0
        self.set_by_ms = 0

    def now_ms(self) -> int:
        return 1_780_000_000_000 + round(self.steady_s * 1000 * self.rate) + self.set_by_ms

    def pass_s(self, seconds: float) -> None:
        self.steady_s += seconds


@pytest.mark.parametrize("rate", [1.0, 300.0])
@pytest.mark.parametrize("by_ms", [MINUTE_MS, -MINUTE_MS, 3_600_000, -3_600_000, 40 * 365 * 86_400_000])
def test_by_how_much_it_was_set_does_not_depend_on_the_time_that_passed(rate: float, by_ms: int) -> None:
    clocks = Clocks(rate)
    steps = ClockSteps(lambda: clocks.steady_s, rate)
    assert steps.look(clocks.now_ms)[1] == 0
    steps.keep()
    clocks.pass_s(86_400)
    clocks.set_by_ms = by_ms
    assert steps.look(clocks.now_ms) == (clocks.now_ms(), by_ms)


@pytest.mark.parametrize("by_ms", [MINUTE_MS - 1, 1 - MINUTE_MS, 0])
def test_less_than_a_minute_is_a_time_service_at_its_work(by_ms: int) -> None:
    clocks = Clocks()
    steps = ClockSteps(lambda: clocks.steady_s)
    steps.look(clocks.now_ms)
    steps.keep()
    clocks.set_by_ms = by_ms
    assert steps.look(clocks.now_ms)[1] == 0


def test_a_clock_that_drifts_is_never_called_set() -> None:
    """A fast one, 1 part in 2,000, as a time service slews it at the most: adjtimex(2), 500 ppm."""
    clocks = Clocks(1.0005)
    steps = ClockSteps(lambda: clocks.steady_s)
    for _ in range(10_000):
        assert steps.look(clocks.now_ms)[1] == 0
        steps.keep()
        clocks.pass_s(60)


def test_what_was_not_kept_is_told_again() -> None:
    clocks = Clocks()
    steps = ClockSteps(lambda: clocks.steady_s)
    steps.look(clocks.now_ms)
    steps.keep()
    clocks.set_by_ms = MINUTE_MS
    assert steps.look(clocks.now_ms)[1] == MINUTE_MS
    assert steps.look(clocks.now_ms)[1] == MINUTE_MS
    steps.keep()
    assert steps.look(clocks.now_ms)[1] == 0


def test_a_pause_between_the_two_clocks_is_not_a_clock_that_was_set() -> None:
    """The thread may lose the processor for a moment; at this rate a moment is minutes."""
    clocks = Clocks(300.0)
    steps = ClockSteps(lambda: clocks.steady_s, 300.0)
    steps.look(clocks.now_ms)
    steps.keep()
    pauses = iter([0.7, 0.0, 0.0])

    def now_ms() -> int:
        clocks.pass_s(next(pauses))
        return clocks.now_ms()

    assert steps.look(now_ms)[1] == 0


def test_without_a_steady_clock_only_the_way_back_is_seen() -> None:
    moments = iter([10_000_000, 20_000_000, 5_000_000])
    steps = ClockSteps()
    seen = []
    for _ in range(3):
        seen.append(steps.look(lambda: next(moments))[1])
        steps.keep()
    assert seen == [0, 0, -15_000_000]


def test_only_the_clock_of_the_machine_is_compared_and_the_other_one_does_run() -> None:
    assert steady_beside(AcceleratedClock(0, 300.0)) is None
    steady_s = steady_beside(SystemClock())
    assert steady_s is not None
    before = steady_s()
    assert any(steady_s() > before for _ in range(100_000))


@pytest.mark.parametrize("by_ms", [3_600_000, -3_600_000])
def test_what_was_ahead_at_the_desk_is_as_far_ahead_after_the_clock_was_set(kept: Kept, by_ms: int) -> None:
    """X-10: no delay is lost or doubled, no shelf is extended."""
    clocks = Clocks()
    evaluator = Evaluator(
        kept.journal,
        kept.site,
        kept._settings,
        kept.profiles,
        kept._channels,
        clocks.now_ms(),
        sources=(DeliverySource(kept.site),),
        clock_steps=ClockSteps(lambda: clocks.steady_s),
    )
    kept.journal.write(lambda conn: deliveries.note_failed(conn, "ana/0", clocks.now_ms(), "gone", gone=True))

    def calls() -> list[int]:
        with kept.journal.read() as conn:
            found = conn.execute("SELECT created_at_ms FROM outbox WHERE body LIKE '%delivery-failing%' ORDER BY rowid")
            return [at_ms for (at_ms,) in found]

    evaluator.step(clocks.now_ms)
    assert len(calls()) == 1
    with kept.journal.read() as conn:
        ladder_before = desk.load(conn)
    clocks.set_by_ms = by_ms
    evaluator.step(clocks.now_ms)
    assert len(calls()) == 1
    with kept.journal.read() as conn:
        assert desk.load(conn) != ladder_before
    begun_s = clocks.steady_s
    while len(calls()) == 1 and clocks.steady_s < begun_s + 7200:
        clocks.pass_s(30)
        evaluator.step(clocks.now_ms)
    second = RUNGS[Priority.HIGH][1].after_ms / 1000
    assert clocks.steady_s - begun_s == pytest.approx(second, abs=30)


def test_a_clock_that_is_set_ahead_makes_nobody_silent_and_hides_nobody_who_is(kept: Kept) -> None:
    """X-10: the five minutes that the clock jumped over are no silence; what does not come after them is one."""
    clocks = Clocks()
    kept.journal.write(
        lambda conn: register.add_clutch(conn, a_clutch(clocks.now_ms() - DAY_MS), "test", clocks.now_ms())
    )
    evaluator = Evaluator(
        kept.journal,
        kept.site,
        kept._settings,
        kept.profiles,
        kept._channels,
        clocks.now_ms(),
        sources=(Silences(kept.site),),
        clock_steps=ClockSteps(lambda: clocks.steady_s),
    )

    def raised() -> set[str]:
        with kept.journal.read() as conn:
            return {each.alarm_key for each in alarm_log.events(conn, 100) if each.event.startswith("raised")}

    def quarter_minutes(count: int, *, speaking: bool) -> None:
        for number in range(count):
            clocks.pass_s(15)
            if speaking and number % 4 == 0:
                kept.put(at(clocks.now_ms(), {AIR: 28.5, "north-air/rh": 70.0}))
            evaluator.step(clocks.now_ms)

    quarter_minutes(40, speaking=True)
    clocks.set_by_ms = 5 * MINUTE_MS
    quarter_minutes(8, speaking=False)
    assert raised() == set()
    quarter_minutes(40, speaking=True)
    assert raised() == set()
    quarter_minutes(30, speaking=False)
    assert "no-data:north-air/air" in raised()
