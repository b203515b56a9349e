"""Heat as it is stored by the hour, against heat from all readings at once."""

import random
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest

from daemon.clutches import register
from daemon.development.degree_hours import season_degree_hours
from daemon.development.heat_interval import HeatPiece
from daemon.heat_now import HeatReader
from daemon.storage import samples
from daemon.storage.journal import Journal
from daemon.thermometers import AirChannels
from sensors.reading import Reading
from tests.daemon.evaluated import AIR, HOUR_MS, START_MS, House, evaluator, house_of
from tests.daemon.watched import damp
from tests.support.household import MINUTE_MS, a_clutch, write_site
from tests.support.journals import new_journal


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> House:
    return house_of(damp(write_site(tmp_path_factory.mktemp("site"), 1883, "http://127.0.0.1:9/phone"), 10))


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with new_journal(tmp_path / "journal.sqlite3") as opened:
        yield opened


def heat_of(house: House, journal: Journal, now_ms: int) -> HeatPiece:
    """All heat of the one clutch since its setting up, as a page gets it."""
    with journal.read() as conn:
        air = AirChannels(house.site)
        air.load(conn)
        reader = HeatReader(conn, house.site, house.profiles, air, 1_800_000, now_ms)
        [clutch] = register.clutches(conn)
        found = reader.since_set_up(clutch)
    assert found is not None
    return found


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
    found = heat_of(house, journal, readings[-1].measured_at_ms)
    assert found.best_ch == pytest.approx(whole_season_ch(readings), abs=1e-6)
    assert found.low_ch == pytest.approx(found.best_ch)
    assert found.high_ch == pytest.approx(found.best_ch)
    assert found.missing_ms == 0


def test_a_move_and_a_correction_of_it_count_heat_where_the_clutch_lay(house: House, journal: Journal) -> None:
    """No probe watches outside the upper shelf: time spent elsewhere is missing, with any heat up to the cap."""
    readings = season(288)
    clutch = journal.write(lambda conn: register.add_clutch(conn, a_clutch(START_MS), "test", START_MS))
    ids = journal.write(lambda conn: samples.channel_ids(conn, house.channels.values()))
    journal.write(lambda conn: samples.append(conn, ids, readings))
    present = evaluator(house, journal)
    end_ms = readings[-1].measured_at_ms
    while present.step(lambda: end_ms)[0]:
        pass
    whole = heat_of(house, journal, end_ms)
    assert whole.best_ch == pytest.approx(whole_season_ch(readings), abs=1e-6)

    left_ms = START_MS + 100 * 5 * MINUTE_MS
    journal.write(lambda conn: register.move_clutch(conn, clutch, "north", left_ms, "test", "", end_ms))
    present.step(lambda: end_ms)
    moved = heat_of(house, journal, end_ms)
    assert (moved.covered_ms, moved.missing_ms) == (left_ms - START_MS, end_ms - left_ms)
    away_h = (end_ms - left_ms) / HOUR_MS
    measured_ch = whole_season_ch(readings[:101])
    # The house states a room of 20 °C, give or take 3 K (k = 1): no colder than 14 °C at the lower bound.
    assert moved.low_ch == pytest.approx(measured_ch + away_h * (14 - 13.2), abs=1e-6)
    assert moved.high_ch == pytest.approx(measured_ch + away_h * (30.5 - 13.2), abs=1e-6)

    journal.write(lambda conn: register.move_clutch(conn, clutch, "north/upper/N1", left_ms, "test", "", end_ms))
    present.step(lambda: end_ms)
    assert heat_of(house, journal, end_ms) == whole


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
    before_ch = heat_of(house, journal, readings[-1].measured_at_ms).best_ch
    assert before_ch == pytest.approx(whole_season_ch(readings), abs=1e-6)

    more = house_of(write_site(tmp_path / "more", 1883, extra=BOX_PROBE))
    present = evaluator(more, journal)
    start_ms = readings[-1].measured_at_ms + 300_000
    later = [Reading("box/t", start_ms + n * 300_000, start_ms + n * 300_000, 28.2, 0) for n in range(13)]
    ids = journal.write(lambda conn: samples.channel_ids(conn, more.channels.values()))
    journal.write(lambda conn: samples.append(conn, ids, later))
    while present.step(lambda: later[-1].measured_at_ms)[0]:
        pass
    found = heat_of(more, journal, later[-1].measured_at_ms)
    # Before the box had a probe the shelf's speaks for it; from the box's first reading on it speaks alone.
    assert found.covered_ms == (287 + 12) * 300_000
    between_ch = found.best_ch - before_ch - 1 * (28.2 - 13.2)
    assert 0 < between_ch <= (30.5 - 13.2) * 300_000 / HOUR_MS + 1e-9


@pytest.mark.parametrize("order", ["in order", "backwards", "the box's last", "shuffled"])
def test_a_dead_box_probe_is_stood_in_for_by_that_of_the_shelf(
    house: House, journal: Journal, tmp_path: Path, order: str
) -> None:
    """Design decision 6: the box's probe, else its zone's. Here the box's is silent for six hours."""
    more = house_of(write_site(tmp_path / "more", 1883, extra=BOX_PROBE))
    shelf = [reading._replace(value=24.0) for reading in season(288)]
    box = [reading._replace(channel="box/t", value=28.0) for n, reading in enumerate(season(288)) if not 96 < n < 168]
    mixed = sorted([*shelf, *box], key=lambda reading: reading.measured_at_ms)
    arrived = {
        "in order": mixed,
        "backwards": mixed[::-1],
        "the box's last": [*shelf, *box],
        "shuffled": random.Random(3).sample(mixed, len(mixed)),
    }[order]
    journal.write(lambda conn: register.add_clutch(conn, a_clutch(START_MS), "test", START_MS))
    ids = journal.write(lambda conn: samples.channel_ids(conn, more.channels.values()))
    present = evaluator(more, journal)
    end_ms = mixed[-1].measured_at_ms
    for start in range(0, len(arrived), 23):
        journal.write(lambda conn, part=arrived[start : start + 23]: samples.append(conn, ids, part))  # type: ignore[misc]
        present.step(lambda: end_ms)
    found = heat_of(more, journal, end_ms)
    expected_ch = (287 - 72) / 12 * (28.0 - 13.2) + 72 / 12 * (24.0 - 13.2)
    assert found.best_ch == pytest.approx(expected_ch, abs=1e-6)
    assert (found.covered_ms, found.missing_ms) == (287 * 300_000, 0)


def test_heat_over_a_gap_is_an_interval_between_the_room_and_the_cap(house: House, journal: Journal) -> None:
    readings = [reading for reading in season(288) if not 100 < (reading.measured_at_ms - START_MS) / 300_000 < 150]
    journal.write(lambda conn: register.add_clutch(conn, a_clutch(START_MS), "test", START_MS))
    ids = journal.write(lambda conn: samples.channel_ids(conn, house.channels.values()))
    journal.write(lambda conn: samples.append(conn, ids, readings))
    present = evaluator(house, journal)
    while present.step(lambda: readings[-1].measured_at_ms)[0]:
        pass
    found = heat_of(house, journal, readings[-1].measured_at_ms)
    assert (found.covered_ms, found.missing_ms) == ((287 - 50) * 300_000, 50 * 300_000)
    measured_ch = whole_season_ch(readings[:101]) + whole_season_ch(readings[101:])
    gap_h = 50 / 12
    # No time constant is known yet: 20 °C less two standard uncertainties of 3 K at the least, 30.5 °C at the most.
    assert found.low_ch == pytest.approx(measured_ch + gap_h * (14 - 13.2), abs=1e-6)
    assert found.high_ch == pytest.approx(measured_ch + gap_h * (30.5 - 13.2), abs=1e-6)
    ends = [readings[100].value, readings[101].value]
    assert found.best_ch == pytest.approx(measured_ch + gap_h * (sum(ends) / 2 - 13.2), abs=1e-6)
