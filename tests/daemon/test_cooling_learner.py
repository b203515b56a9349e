"""What the learner finds in a journal: the cabinet's time constant, the same by every way of getting there."""

import logging
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from daemon.climate.cooling_curves import CoolingCurve
from daemon.storage import calibrations, cooling
from daemon.storage.journal import Journal
from sensors.calibration import Record
from sensors.calibration_line import Line, Point
from tests.daemon.cooled import AIR, ROOM, ROOM_PROBE, START_MS, Cooled
from tests.support.cabinet import Night, cabinet, outages, watched
from tests.support.household import DAY_MS
from tests.support.journals import new_journal

DAYS = 5
HOUR_MS = 3_600_000


@cache
def night() -> Night:
    """Five days with an outage of four hours each, in a room that swings and wanders."""
    of = cabinet(2, swing_k=1.0, wander_k=0.4)
    return watched(of, 2, outages(4.0, DAYS, 2), DAYS * 24)


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with new_journal(tmp_path / "journal.sqlite3") as opened:
        yield opened


@pytest.fixture
def house(journal: Journal, tmp_path: Path) -> Cooled:
    return Cooled(journal, tmp_path / "site")


def test_the_time_constant_of_a_simulated_cabinet_is_learned_within_its_stated_uncertainty(house: Cooled) -> None:
    house.put_night(night(), (0, DAYS * 24))
    house.learner.run()
    learned = house.constant
    assert learned is not None
    assert learned.curves >= 3
    assert abs(learned.hours - night().time_constant_h) <= 2 * learned.u_hours
    assert all(curve.room_measured for curve in house.curves)


def test_before_three_coolings_nothing_is_said(house: Cooled) -> None:
    house.put_night(night(), (0, 30))
    house.learner.run()
    assert 1 <= len(house.curves) <= 2
    assert house.constant is None


def test_learning_by_the_hour_ends_in_the_same_curves_as_learning_at_once(house: Cooled, tmp_path: Path) -> None:
    for hour in range(72):
        house.put_night(night(), (hour, hour + 1))
        house.learner.run()
    with new_journal(tmp_path / "other.sqlite3") as other:
        at_once = Cooled(other, tmp_path / "other")
        at_once.put_night(night(), (0, 72))
        at_once.learner.run()
        assert house.curves == at_once.curves
        assert len(house.curves) >= 2


def test_readings_that_come_late_are_looked_at_again(house: Cooled) -> None:
    """A gateway that was down as long as the mains, and hands over afterwards."""
    house.put_night(night(), (0, 11))
    house.put_night(night(), (26, 72))
    house.learner.run()
    before = house.curves
    house.put_night(night(), (11, 26))
    house.learner.run()
    assert [curve for curve in house.curves if curve.started_at_ms < START_MS + 26 * HOUR_MS]
    assert len(house.curves) > len(before)


def test_a_room_that_is_only_stated_is_used_and_leaves_more_open(journal: Journal, tmp_path: Path) -> None:
    stated = Cooled(journal, tmp_path / "site", "")
    stated.put_night(night(), (0, DAYS * 24), room=False)
    stated.learner.run()
    with new_journal(tmp_path / "other.sqlite3") as other:
        measured = Cooled(other, tmp_path / "other")
        measured.put_night(night(), (0, DAYS * 24))
        measured.learner.run()
        assert measured.curves
        sure_h = max(curve.u_hours for curve in measured.curves)
    assert stated.curves
    assert not any(curve.room_measured for curve in stated.curves)
    assert min(curve.u_hours for curve in stated.curves) > 2 * sure_h


def test_with_no_room_at_all_nothing_is_learned(journal: Journal, tmp_path: Path) -> None:
    house = Cooled(journal, tmp_path / "site", "")
    blind = house.site.model_copy(
        update={"incubators": (house.site.incubators[0].model_copy(update={"room_temperature_c": None}),)}
    )
    house.put_night(night(), (0, 48), room=False)
    type(house.learner)(journal, blind, lambda: house.now_ms).run()
    assert house.curves == []


def test_suspect_readings_teach_nothing(house: Cooled) -> None:
    times = [START_MS + at_ms for at_ms in night().times_ms]
    house.put(AIR, list(zip(times, night().air_c, strict=True)), quality=2)
    house.put(ROOM, list(zip(times, night().room_c, strict=True)))
    house.learner.run()
    assert house.curves == []


def test_a_calibration_is_used_and_a_back_dated_one_makes_it_look_again(house: Cooled) -> None:
    house.put_night(night(), (0, DAYS * 24))
    house.learner.run()
    before = house.constant
    line = Line(1.0, -0.5, (Point(20.0, 20.5, 0.05, 0.05, "a test"),), 0.05, 0.0)
    record = Record(ROOM, START_MS - DAY_MS, line, "test", START_MS, None, START_MS, "test", "")
    house.journal.write(lambda conn: calibrations.append(conn, record))
    house.learner.run()
    after = house.constant
    assert before is not None
    assert after is not None
    # A room that is really colder makes the same curve one of a longer time constant.
    assert after.hours > 1.03 * before.hours


def test_nothing_new_costs_nothing_and_changes_nothing(house: Cooled) -> None:
    house.put_night(night(), (0, 48))
    house.learner.run()
    before = house.curves
    with house.journal.read() as conn:
        version = conn.execute("PRAGMA data_version").fetchone()
    house.learner.run()
    with house.journal.read() as conn:
        assert conn.execute("PRAGMA data_version").fetchone() == version
    assert house.curves == before


def test_an_error_is_logged_and_never_raised(house: Cooled, caplog: pytest.LogCaptureFixture) -> None:
    house.put_night(night(), (0, 2))
    house.journal.close()
    with caplog.at_level(logging.WARNING, "clutchwarden.cooling"):
        house.learner.run()
    assert "Cooling curves are not learned this time" in caplog.text


def test_only_curves_that_ended_by_a_moment_count_for_it(house: Cooled) -> None:
    house.know(6.0, 0.3, count=4)
    with house.journal.read() as conn:
        assert cooling.time_constants(conn)["north"].curves == 4
        assert cooling.time_constants(conn, START_MS - DAY_MS // 2)["north"].curves == 4
        assert cooling.time_constants(conn, START_MS - 2 * DAY_MS + HOUR_MS)["north"].curves == 3
        assert cooling.time_constants(conn, START_MS - 3 * DAY_MS) == {}


def test_curves_are_replaced_within_a_span_and_kept_outside_it(house: Cooled) -> None:
    house.know(6.0, 0.3, count=3)
    new = CoolingCurve(START_MS - 2 * DAY_MS + 5, START_MS - DAY_MS, 9.0, 0.5, 18.0, room_measured=False)
    span = (START_MS - 2 * DAY_MS, START_MS - 2 * DAY_MS + 10)
    house.journal.write(lambda conn: cooling.replace_curves(conn, "north", AIR, span, [new]))
    assert [curve.time_constant_h for curve in house.curves] == [6.0, 9.0, 6.0]
    assert new in house.curves


def test_the_probe_of_a_box_is_not_learned_from(journal: Journal, tmp_path: Path) -> None:
    box = ROOM_PROBE + ROOM_PROBE.replace("room-air", "box-n1").replace('"room"', '"north/upper/N1"')
    house = Cooled(journal, tmp_path / "site", box)
    times = [START_MS + at_ms for at_ms in night().times_ms]
    house.put("box-n1/t", list(zip(times, night().air_c, strict=True)))
    house.put(ROOM, list(zip(times, night().room_c, strict=True)))
    house.learner.run()
    assert house.curves == []
