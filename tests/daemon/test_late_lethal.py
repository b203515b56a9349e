"""A lethal temperature is told within a stated time, whatever the mix of live and late readings is.

The times are those of `alarms/lateness`, `alarm_late` and `late_gathering`: what goes on at the newest reading is told
after two minutes at most, what is over after a quarter of an hour, and ten minutes after the last reading where that
alone was back inside.
"""

import random
import tempfile
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.words import AlarmKind
from daemon.alarm_late import UNSEEN_MS
from daemon.alarms.delivery import OutgoingMessage
from daemon.alarms.lateness import LONGEST_HOLD_MS
from daemon.late_gathering import LONGEST_MS
from daemon.storage import samples
from daemon.storage.journal import Journal
from sensors.reading import Reading
from tests.daemon.changing import AIR, GOOD_C, LETHAL_C, START_MS, Changing
from tests.support.household import MINUTE_MS

LOOK_MS = 20_000
WARM_C = 31.5
"""A warning, and not lethal."""


@dataclass(frozen=True)
class Coming:
    """A reading and when it arrives, UTC ms."""

    measured_at_ms: int
    received_at_ms: int
    value: float


def coming(seed: int) -> list[Coming]:
    """One probe, a reading a minute: parts of it live, parts kept and handed over in some order, parts lost."""
    chance = random.Random(seed)
    minutes = 20 + chance.randrange(120)
    hot_from = chance.randrange(5, minutes)
    hot = range(hot_from, hot_from + chance.choice([1, 2, 5, 30, 200]))
    warm = range(max(0, hot_from - chance.choice([0, 0, 10, 40])), hot.stop + chance.choice([0, 0, 20]))
    behind_ms = chance.choice([0, 0, 0, 10 * MINUTE_MS, 60 * MINUTE_MS])
    found: list[Coming] = []
    kept: list[tuple[int, float]] = []
    way, left = "live", 0
    for minute in range(1, minutes):
        at_ms = START_MS + minute * MINUTE_MS
        value = LETHAL_C if minute in hot else WARM_C if minute in warm else GOOD_C
        if left == 0:
            way, left = chance.choice(["live", "live", "kept", "mixed", "lost"]), chance.randrange(1, 40)
        left -= 1
        now = chance.choice(["live", "kept"]) if way == "mixed" else way
        if now == "live":
            found.append(Coming(at_ms - behind_ms, at_ms, value))
        elif now == "kept":
            kept.append((at_ms - behind_ms, value))
        if kept and way != "kept" and chance.random() < 0.1:
            found += handed_over(chance, kept, at_ms)
            kept.clear()
    return found + handed_over(chance, kept, START_MS + minutes * MINUTE_MS)


def handed_over(chance: random.Random, kept: list[tuple[int, float]], at_ms: int) -> list[Coming]:
    order = list(kept)
    way = chance.choice(["oldest first", "newest first", "any"])
    if way == "newest first":
        order.reverse()
    elif way == "any":
        chance.shuffle(order)
    apart_ms = chance.choice([0, 20, 1000, 7000])
    return [Coming(measured, at_ms + 1000 + number * apart_ms, value) for number, (measured, value) in enumerate(order)]


def lethal_told(house: Changing) -> bool:
    with house.journal.read() as conn:
        bodies = [OutgoingMessage.from_json(text) for (text,) in conn.execute("SELECT body FROM outbox")]
    return any(each.alarm is AlarmKind.TEMPERATURE_LETHAL_HIGH for each in bodies)


@dataclass
class Held:
    """What is known at a moment, and until when somebody has to be told of it."""

    first_ms: int = 0
    last_ms: int = 0
    newest: tuple[int, float] = (0, GOOD_C)
    goes_on_since_ms: int = 0

    def hear(self, came: list[Coming], now_ms: int) -> None:
        for each in came:
            self.last_ms = each.received_at_ms
            self.newest = max(self.newest, (each.measured_at_ms, each.value))
            if each.value == LETHAL_C:
                self.first_ms = self.first_ms or each.received_at_ms
        is_on = self.newest[1] == LETHAL_C
        self.goes_on_since_ms = (self.goes_on_since_ms or now_ms) if is_on else 0

    def due_ms(self) -> int:
        due_ms = max(self.first_ms + LONGEST_MS, self.last_ms + UNSEEN_MS)
        if self.goes_on_since_ms:
            due_ms = min(due_ms, self.goes_on_since_ms + LONGEST_HOLD_MS)
        return due_ms + 2 * LOOK_MS


def told_in_time(house: Changing, readings: list[Coming], *, restarts: random.Random | None) -> None:
    """Let the readings come, then an hour of nothing; each look is held to the stated times."""
    house.enter()
    waiting, known = sorted(readings, key=lambda each: each.received_at_ms), Held()
    end_ms = max((each.received_at_ms for each in readings), default=house.now_ms) + 60 * MINUTE_MS
    while house.now_ms < end_ms:
        house.now_ms += LOOK_MS
        house.steady_s += LOOK_MS / 1000
        came = [each for each in waiting if each.received_at_ms <= house.now_ms]
        waiting = waiting[len(came) :]
        store(house, came)
        if restarts is not None and restarts.random() < 0.02:
            house.restart()
        house.evaluator.step(lambda: house.now_ms)
        known.hear(came, house.now_ms)
        if known.first_ms and lethal_told(house):
            return
        assert not known.first_ms or house.now_ms <= known.due_ms(), "nobody was told"
    assert not known.first_ms


def store(house: Changing, came: list[Coming]) -> None:
    rows = [Reading(AIR, each.measured_at_ms, each.received_at_ms, each.value, 0) for each in came]
    house.journal.write(lambda conn: samples.append(conn, house.ids, rows))


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_a_lethal_temperature_is_told_in_time_whatever_comes_late(seed: int) -> None:
    readings = coming(seed)
    with tempfile.TemporaryDirectory() as folder, Journal.open(Path(folder) / "journal.sqlite3") as journal:
        house = Changing(journal, Path(folder) / "site")
        told_in_time(house, readings, restarts=random.Random(seed) if seed % 2 else None)


@pytest.mark.parametrize("seed", [23, 106, 147])
def test_those_that_once_were_hidden_are_told(seed: int) -> None:
    """Out of order by a minute; one reading among warm ones that had been told of."""
    test_a_lethal_temperature_is_told_in_time_whatever_comes_late.hypothesis.inner_test(seed)  # type: ignore[attr-defined]
