"""Live run = replay = a run that was cut off in the middle: the property the whole daemon leans on.

And heat kept by the hour equals heat computed from all stored readings at once.

X-24 of the checks in tests/alarms/README.md.
"""

import random
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.alarm_watch import AlarmWatch
from daemon.clutches import register
from daemon.storage import alarm_log, samples
from daemon.storage.journal import Journal
from sensors.reading import Reading
from tests.daemon.evaluated import AIR, START_MS, House, evaluator, house_of
from tests.daemon.watched import damp
from tests.support.household import DAY_MS, a_clutch, write_site
from tests.support.journals import new_journal


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> House:
    return house_of(damp(write_site(tmp_path_factory.mktemp("site"), 1883, "http://127.0.0.1:9/phone"), 10))


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with new_journal(tmp_path / "journal.sqlite3") as opened:
        yield opened


def trace(seed: int) -> list[Reading]:
    """A night with everything in it: drift, heat, suspect readings, gaps, late and doubled readings."""
    chance = random.Random(seed)
    readings, at_ms, value = [], START_MS, chance.choice([22.0, 28.0, 33.0])
    for _ in range(chance.randint(60, 220)):
        at_ms += chance.choice([60_000] * 12 + [240_000, 1_200_000, 5_400_000])
        value += chance.choice([-0.4, -0.1, 0.0, 0.1, 0.5])
        value = 27.5 if chance.random() < 0.02 else min(max(value, 20.0), 36.0)
        late_ms = chance.choice([0] * 9 + [900_000])
        quality = chance.choice([0] * 15 + [2])
        received_ms = at_ms + chance.randint(0, 2_000)
        readings.append(Reading(AIR, at_ms - late_ms, received_ms, round(value, 2), quality))
        readings.append(Reading("north-air/rh", at_ms - late_ms, received_ms, 70.0, 0))
    return readings


@dataclass(frozen=True)
class Result:
    events: Sequence[tuple[object, ...]]
    states: dict[str, str]
    hours: list[tuple[float, ...]]
    messages: list[str] = field(compare=False)
    """when people are called depends on when somebody looks; so they are compared only between runs that look alike"""


def result_of(journal: Journal) -> Result:
    with journal.read() as conn:
        events = [
            (event.at_ms, event.alarm_key, event.occurrence, event.event, event.value, event.limit, event.reason)
            for event in reversed(alarm_log.events(conn, 10_000))
        ]
        hours = conn.execute("SELECT * FROM heat_hour ORDER BY 1, 2").fetchall()
        ids = sorted(one for (one,) in conn.execute("SELECT message_id FROM outbox").fetchall())
        return Result(events, alarm_log.load_states(conn), hours, ids)


def run(house: House, readings: Sequence[Reading], cuts: Sequence[int], *, restart: bool) -> Result:
    """Store and evaluate the readings in the parts between the cuts, with or without a restart at each cut."""
    with tempfile.TemporaryDirectory() as folder, new_journal(Path(folder) / "journal.sqlite3") as journal:
        journal.write(lambda conn: register.add_clutch(conn, a_clutch(START_MS - DAY_MS), "test", START_MS))
        ids = journal.write(lambda conn: samples.channel_ids(conn, house.channels.values()))
        present = evaluator(house, journal)
        for start, end in zip([0, *cuts], [*cuts, len(readings)], strict=True):
            part = list(readings[start:end])
            journal.write(lambda conn, part=part: samples.append(conn, ids, part))  # type: ignore[misc]
            latest_ms = max((reading.received_at_ms for reading in readings[:end]), default=START_MS)
            if restart:
                present = evaluator(house, journal)
            while present.step(lambda latest_ms=latest_ms: latest_ms)[0]:  # type: ignore[misc]
                pass
        return result_of(journal)


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 10**6), parts=st.integers(1, 12))
def test_a_run_in_parts_and_a_run_cut_off_in_the_middle_end_like_one_replay(
    house: House, seed: int, parts: int
) -> None:
    readings = trace(seed)
    cuts = sorted(random.Random(seed + 1).sample(range(1, len(readings)), parts))
    replay = run(house, readings, [], restart=False)
    in_parts, cut_off = (run(house, readings, cuts, restart=restart) for restart in (False, True))
    assert in_parts == replay
    assert cut_off == replay
    assert cut_off.messages == in_parts.messages


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_readings_taken_together_as_calm_leave_what_one_by_one_leaves(house: House, seed: int) -> None:
    readings = trace(seed)
    together = run(house, readings, [len(readings) // 2], restart=False)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(AlarmWatch, "_note_calm", lambda *_: None)
        assert run(house, readings, [len(readings) // 2], restart=False) == together


def test_the_traces_raise_and_clear_every_kind_of_alarm_that_they_can(house: House) -> None:
    """Guards the property above: a trace in which nothing happens would prove nothing."""
    results = [run(house, trace(seed), [], restart=False) for seed in range(12)]
    assert any(result.messages for result in results)
    seen = {(event[1], event[3]) for result in results for event in result.events}
    for kind in ("temperature-high", "temperature-low", "temperature-lethal-high", "no-data"):
        assert (f"{kind}:{AIR}", "raised") in seen
        assert (f"{kind}:{AIR}", "cleared") in seen
