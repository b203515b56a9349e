"""The room around an incubator: measured before stated, and only where the measurement is of that time."""

import pytest

from daemon.climate.cooling import RoomAir
from daemon.climate.room_air import RoomReadings, room_at, room_meanwhile, stated_room

MINUTE_MS = 60_000
STATED = RoomAir(21.0, 3.0, measured=False)
MEASURED = RoomReadings([at * MINUTE_MS for at in (0, 10, 20)], [18.0, 19.0, 20.0], 0.3)


def test_the_newest_reading_up_to_the_moment_counts() -> None:
    assert room_at(MEASURED, STATED, 15 * MINUTE_MS) == RoomAir(19.0, 0.3, measured=True)
    assert room_at(MEASURED, STATED, 50 * MINUTE_MS) == RoomAir(20.0, 0.3, measured=True)


@pytest.mark.parametrize("at_ms", [-1, 50 * MINUTE_MS + 1])
def test_without_a_fresh_reading_the_stated_room_counts(at_ms: int) -> None:
    assert room_at(MEASURED, STATED, at_ms) == STATED
    assert room_at(MEASURED, None, at_ms) is None
    assert room_at(None, STATED, at_ms) == STATED


def test_nothing_stated_is_no_room() -> None:
    assert stated_room(None, 3.0) is None
    assert stated_room(21.0, 3.0) == STATED


def test_over_a_time_the_room_is_its_mean_and_the_swing_around_it() -> None:
    found = room_meanwhile(MEASURED, STATED, [0, 5 * MINUTE_MS, 10 * MINUTE_MS])
    assert found is not None
    assert found.air == RoomAir(18.5, 0.3, measured=True)
    assert list(found.swing_k) == [-0.5, 0.0, 0.5]


def test_a_measurement_with_a_hole_in_it_does_not_count() -> None:
    late = RoomReadings([0, 120 * MINUTE_MS], [18.0, 18.0], 0.3)
    found = room_meanwhile(late, STATED, [0, 60 * MINUTE_MS])
    assert found is not None
    assert (found.air, list(found.swing_k)) == (STATED, [])
    assert room_meanwhile(late, None, [0, 60 * MINUTE_MS]) is None
    assert room_meanwhile(None, None, [0]) is None
