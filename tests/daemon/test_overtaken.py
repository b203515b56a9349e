"""People who act while a step of evaluation is made, and a clock that is set while a backlog is read.

A door that stands open is told after 300 s, as in tests/daemon/test_standing.py.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from config.words import AlarmKind
from daemon.alarms.events import Shelve, Unshelve
from daemon.clock_steps import ClockSteps
from daemon.evaluate import LARGEST_STEP, MOST_TIMES_OVERTAKEN, Evaluator
from daemon.standing.found import Found
from daemon.standing_sources.source import Moment
from daemon.storage import alarm_log, heat, samples
from sensors.reading import Reading
from tests.daemon.changing import AIR, HIGH, Changing
from tests.support.household import MINUTE_MS
from tests.support.journals import new_journal

DOOR = "door-open:north"
TOO_WARM_C = 31.0
HOUR_MS = 60 * MINUTE_MS


@dataclass
class OpenDoor:
    """A door that stands open, once it `is_open`; `meanwhile` happens at every look, as by another thread."""

    meanwhile: Callable[[], None] = lambda: None
    is_open: bool = True
    kinds: frozenset[AlarmKind] = field(default=frozenset({AlarmKind.DOOR_OPEN}), init=False)
    every_ms: int = field(default=20_000, init=False)

    def found(self, _moment: Moment) -> Iterator[Found]:
        self.meanwhile()
        if self.is_open:
            yield Found(AlarmKind.DOOR_OPEN, "north", "the door contact says open", "north")


class Watched(Changing):
    """The same house, looked at through one source of the test's own."""

    def watch(self, door: OpenDoor) -> None:
        steps = ClockSteps(lambda: self.steady_s)
        args = (self.journal, self.site, self.settings, self.profiles, self.channels, self.now_ms)
        self.evaluator = Evaluator(*args, sources=[door], clock_steps=steps)

    def after(self, seconds: int) -> tuple[int, bool]:
        """Let so many seconds pass, and look once."""
        self.now_ms += seconds * 1000
        self.steady_s += seconds
        return self.evaluator.step(lambda: self.now_ms)

    def raised(self) -> int:
        """How often people were told of the door."""
        with self.journal.read() as conn:
            return sum(one.alarm_key == DOOR and one.event == "raised" for one in alarm_log.events(conn, 1000))

    def cursor(self) -> int:
        with self.journal.read() as conn:
            return heat.get_cursor(conn)

    def backlog(self) -> None:
        """One step full of good readings, one a second, that came just now."""
        rows = [
            Reading(AIR, self.now_ms - (LARGEST_STEP - n) * 1000, self.now_ms, 27.0, 0) for n in range(LARGEST_STEP)
        ]
        self.journal.write(lambda conn: samples.append(conn, self.ids, rows))


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Watched]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        made = Watched(journal, tmp_path / "site")
        made.enter()
        yield made


@pytest.mark.parametrize("by_ms", [3 * MINUTE_MS, HOUR_MS, -3 * MINUTE_MS, -HOUR_MS])
def test_a_clock_that_is_set_while_a_backlog_is_read_changes_no_delay(house: Watched, by_ms: int) -> None:
    """Nothing is looked at in a full step; the look after it hears of the clock all the same."""
    house.now_ms += 2 * HOUR_MS
    house.watch(OpenDoor())
    for _ in range(5):
        house.after(20)
    house.backlog()
    house.now_ms += by_ms
    assert house.after(10)[0] == LARGEST_STEP
    for _ in range(10):
        house.after(19)
        assert not house.raised()
    house.after(20)
    assert house.raised() == 1


class Person:
    """Puts the high temperature on the shelf and takes it off again, so many times."""

    def __init__(self, house: Watched) -> None:
        self.house = house
        self.times = 0

    def __call__(self) -> None:
        if self.times:
            self.times -= 1
            shelved = self.house.desk().entries[HIGH].state.shelf is not None
            until_ms = self.house.now_ms + HOUR_MS
            event = Unshelve("ana") if shelved else Shelve("ana", "a new thermostat", until_ms, second="ben")
            self.house.journal.write(lambda conn: self.house.work.do(conn, {HIGH: event}, self.house.now_ms))


@pytest.mark.parametrize("times", [1, MOST_TIMES_OVERTAKEN - 1, MOST_TIMES_OVERTAKEN])
def test_people_who_act_again_and_again_hold_an_alarm_up_for_one_step_at_the_most(house: Watched, times: int) -> None:
    house.minutes(15, {AIR: TOO_WARM_C})
    person = Person(house)
    house.watch(OpenDoor(person))
    for _ in range(15):
        house.after(20)
    assert not house.raised()
    house.put({AIR: TOO_WARM_C})
    before = house.cursor()
    person.times = times
    done = house.after(20)
    if times == MOST_TIMES_OVERTAKEN:
        # All of the step or nothing of it, and what people did came first.
        assert done == (0, False)
        assert (house.cursor(), house.raised()) == (before, 0)
        house.after(1)
    assert person.times == 0
    assert house.raised() == 1
    assert house.cursor() > before
    assert (house.desk().entries[HIGH].state.shelf is not None) == bool(times % 2)
    house.after(20)
    assert house.raised() == 1
