"""Live run = replay = a run that was cut off in the middle: the property the whole daemon leans on.

And heat kept by the hour equals heat computed from all stored readings at once.
"""

import random
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.check import check_site
from config.settings import Settings
from config.site import Site
from config.species import SpeciesProfile
from daemon.alarm_watch import AlarmWatch
from daemon.clutches import register
from daemon.development.degree_hours import season_degree_hours
from daemon.evaluate import Evaluator
from daemon.storage import alarm_log, heat, outbox, samples
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.reading import ChannelKey, Reading
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch, write_site

START_MS = 1_780_000_000_000
AIR = "north-air/air"
HOUR_MS = 60 * MINUTE_MS


@dataclass(frozen=True, repr=False)
class House:
    site: Site
    settings: Settings
    profiles: dict[str, SpeciesProfile]
    channels: dict[str, ChannelKey]


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> House:
    return house_of(write_site(tmp_path_factory.mktemp("site"), 1883, "http://127.0.0.1:9/phone"))


def house_of(folder: Path) -> House:
    checked = check_site(folder)
    assert checked.site is not None
    assert checked.settings is not None
    return House(checked.site, checked.settings, dict(checked.profiles), dict(Decoder(checked.site).channels))


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with Journal.open(tmp_path / "journal.sqlite3") as opened:
        yield opened


def evaluator(house: House, journal: Journal) -> Evaluator:
    return Evaluator(journal, house.site, house.settings, house.profiles, house.channels, START_MS)


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
    messages: list[str]
    states: dict[str, str]
    hours: list[tuple[int, float, int]]


def result_of(journal: Journal) -> Result:
    with journal.read() as conn:
        events = [
            (event.at_ms, event.alarm_key, event.occurrence, event.event, event.value, event.limit, event.reason)
            for event in reversed(alarm_log.events(conn, 10_000))
        ]
        ids = sorted(row.message_id for row in outbox.due(conn, START_MS + 400 * DAY_MS))
        hours = conn.execute("SELECT hour_start_ms, degree_hours_ch, covered_ms FROM heat_hour ORDER BY 1").fetchall()
        return Result(events, ids, alarm_log.load_states(conn), hours)


def run(house: House, readings: Sequence[Reading], cuts: Sequence[int], *, restart: bool) -> Result:
    """Store and evaluate the readings in the parts between the cuts, with or without a restart at each cut."""
    with tempfile.TemporaryDirectory() as folder, Journal.open(Path(folder) / "journal.sqlite3") as journal:
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
    assert run(house, readings, cuts, restart=False) == replay
    assert run(house, readings, cuts, restart=True) == replay


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
    seen = {(event[1], event[3]) for seed in range(12) for event in run(house, trace(seed), [], restart=False).events}
    for kind in ("temperature-high", "temperature-low", "temperature-lethal-high", "no-data"):
        assert (f"{kind}:{AIR}", "raised") in seen
        assert (f"{kind}:{AIR}", "cleared") in seen


def stored_heat(journal: Journal) -> float:
    with journal.read() as conn:
        return sum(total.degree_hours_ch for total in heat.totals(conn).values())


def season(count: int, step_ms: int = 5 * MINUTE_MS) -> list[Reading]:
    return [
        Reading(AIR, START_MS + n * step_ms, START_MS + n * step_ms, round(28 + 4 * np.sin(n / 40), 3), 0)
        for n in range(count)
    ]


def whole_season_ch(readings: Sequence[Reading]) -> float:
    """The same heat by the bulk function over all readings at once: zero 13.2 and cap 30.5, as in the profile."""
    ordered = sorted((reading.measured_at_ms, reading.value) for reading in readings)
    times_h = np.array([at_ms for at_ms, _ in ordered], dtype=float) / HOUR_MS
    return season_degree_hours(times_h, np.array([value for _, value in ordered]), 13.2, 30.5)


@pytest.mark.parametrize("order", ["in order", "backwards", "shuffled", "a back-filled night"])
def test_heat_by_the_hour_equals_heat_from_all_readings_whatever_their_order(
    house: House, journal: Journal, order: str
) -> None:
    readings = season(700)
    arrived = {
        "in order": readings,
        "backwards": readings[::-1],
        "shuffled": random.Random(7).sample(readings, len(readings)),
        "a back-filled night": readings[:200] + readings[340:] + readings[200:340],
    }[order]
    journal.write(lambda conn: register.add_clutch(conn, a_clutch(START_MS), "test", START_MS))
    ids = journal.write(lambda conn: samples.channel_ids(conn, house.channels.values()))
    present = evaluator(house, journal)
    for start in range(0, len(arrived), 35):
        journal.write(lambda conn, part=arrived[start : start + 35]: samples.append(conn, ids, part))  # type: ignore[misc]
        present.step(lambda: readings[-1].measured_at_ms)
    assert stored_heat(journal) == pytest.approx(whole_season_ch(readings), abs=1e-6)


def test_a_move_and_a_correction_of_it_count_heat_where_the_clutch_lay(house: House, journal: Journal) -> None:
    """No probe watches outside the upper shelf, so time spent elsewhere is missing, not heat."""
    readings = season(288)
    clutch = journal.write(lambda conn: register.add_clutch(conn, a_clutch(START_MS), "test", START_MS))
    ids = journal.write(lambda conn: samples.channel_ids(conn, house.channels.values()))
    journal.write(lambda conn: samples.append(conn, ids, readings))
    present = evaluator(house, journal)
    end_ms = readings[-1].measured_at_ms
    while present.step(lambda: end_ms)[0]:
        pass
    whole_ch = stored_heat(journal)
    assert whole_ch == pytest.approx(whole_season_ch(readings), abs=1e-6)

    left_ms = START_MS + 100 * 5 * MINUTE_MS
    journal.write(lambda conn: register.move_clutch(conn, clutch, "north", left_ms, "test", "", end_ms))
    present.step(lambda: end_ms)
    assert stored_heat(journal) == pytest.approx(whole_season_ch(readings[:101]), abs=1e-6)

    journal.write(lambda conn: register.move_clutch(conn, clutch, "north/upper/N1", left_ms, "test", "", end_ms))
    present.step(lambda: end_ms)
    assert stored_heat(journal) == pytest.approx(whole_ch, abs=1e-6)


BOX_PROBE = """
[[probe]]
id = "box"
place = "north/upper/N1"
[[probe.channel]]
name = "t"
quantity = "air_temperature"
"""


def test_a_probe_that_is_added_counts_from_then_and_leaves_the_heat_before_as_it_was(
    house: House, journal: Journal, tmp_path: Path
) -> None:
    readings = season(288)
    journal.write(lambda conn: register.add_clutch(conn, a_clutch(START_MS), "test", START_MS))
    ids = journal.write(lambda conn: samples.channel_ids(conn, house.channels.values()))
    journal.write(lambda conn: samples.append(conn, ids, readings))
    present = evaluator(house, journal)
    while present.step(lambda: readings[-1].measured_at_ms)[0]:
        pass
    before_ch = stored_heat(journal)
    assert before_ch == pytest.approx(whole_season_ch(readings), abs=1e-6)

    more = house_of(write_site(tmp_path / "more", 1883, extra=BOX_PROBE))
    present = evaluator(more, journal)
    start_ms = START_MS + DAY_MS + HOUR_MS
    later = [Reading("box/t", start_ms + n * 300_000, start_ms + n * 300_000, 28.2, 0) for n in range(13)]
    ids = journal.write(lambda conn: samples.channel_ids(conn, more.channels.values()))
    journal.write(lambda conn: samples.append(conn, ids, later))
    while present.step(lambda: later[-1].measured_at_ms)[0]:
        pass
    assert stored_heat(journal) == pytest.approx(before_ch + 1 * (28.2 - 13.2), abs=1e-6)


def test_a_gap_adds_no_heat_and_is_not_covered(house: House, journal: Journal) -> None:
    readings = [reading for reading in season(288) if not 100 < (reading.measured_at_ms - START_MS) / 300_000 < 150]
    journal.write(lambda conn: register.add_clutch(conn, a_clutch(START_MS), "test", START_MS))
    ids = journal.write(lambda conn: samples.channel_ids(conn, house.channels.values()))
    journal.write(lambda conn: samples.append(conn, ids, readings))
    present = evaluator(house, journal)
    while present.step(lambda: readings[-1].measured_at_ms)[0]:
        pass
    expected = whole_season_ch(readings[:101]) + whole_season_ch(readings[101:])
    assert stored_heat(journal) == pytest.approx(expected, abs=1e-6)
    with journal.read() as conn:
        [total] = heat.totals(conn).values()
    assert total.covered_ms == (287 - 50) * 300_000
