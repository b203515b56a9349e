"""Warnings watch the damped temperature of their zone, lethal limits the reading: in the watch over all channels.

The clutch of the test household wants 24 to 30 °C, with a lethal limit at 34 °C.
"""

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.words import AlarmKind
from daemon.alarm_transition import Transition
from daemon.alarm_watch import AlarmWatch
from daemon.occupancy import Occupancy
from daemon.storage.samples import StoredReading
from sensors.reading import Quality
from tests.daemon.watched import AIR, START_MS, Watched, told
from tests.support.household import MINUTE_MS


def say_all(watched: Watched, start: int, values: list[float]) -> list[Transition]:
    return [change for n, value in enumerate(values, start) for change in watched.say(n, value)]


def stored(watched: Watched) -> dict[str, object]:
    found: dict[str, object] = json.loads(watched.watch.take_changed()[AIR])
    return found


def test_an_opened_lid_calls_nobody_and_where_nothing_is_damped_a_long_look_does(tmp_path: Path) -> None:
    """Twenty minutes at 22 °C: beyond the delay of 15 min; the damped one passes 24 °C after 11 and has 9 left."""
    look = [28.0] * 30 + [22.0] * 20 + [28.0] * 60
    assert told(say_all(Watched(tmp_path / "ten"), 0, look)) == []
    found = told(say_all(Watched(tmp_path / "none", damping_min=0), 0, look))
    assert found == ["temperature-low north-air/air raised", "temperature-low north-air/air cleared"]


def test_a_lethal_limit_is_told_by_the_reading_while_the_damped_one_is_still_inside(tmp_path: Path) -> None:
    watched = Watched(tmp_path)
    say_all(watched, 0, [28.0] * 30)
    found = watched.say(30, 36.0)
    assert told(found) == ["temperature-lethal-high north-air/air raised"]
    assert found[0].value == 36.0
    assert stored(watched)["damping"]["damped_c"] < 30  # type: ignore[index]


def test_what_people_are_told_of_a_warning_is_the_reading_and_its_limit(tmp_path: Path) -> None:
    watched = Watched(tmp_path)
    said = say_all(watched, 0, [28.0] * 30 + [32.0] * 10 + [31.5] * 10)
    found = [one for one in said if one.subject == AIR]
    assert [(one.kind, one.value, one.limit, one.peak) for one in found] == [
        (AlarmKind.TEMPERATURE_HIGH, 31.5, 30.0, 32.0)
    ]
    # From 29 to 30 minutes the air rose from 28 to 32 °C, so the reading at 30 is the first beyond.
    assert found[0].since_ms == START_MS + 30 * MINUTE_MS


def test_the_end_of_a_lethal_alarm_names_the_warning_that_goes_on(tmp_path: Path) -> None:
    """A short peak raises the damped one late; below a lethal alarm the warning does not wait for it."""
    watched = Watched(tmp_path)
    found = say_all(watched, 0, [28.0] * 30 + [36.0] * 2 + [31.0] * 20)
    ended = [one for one in found if one.change == "cleared" and one.kind is AlarmKind.TEMPERATURE_LETHAL_HIGH]
    assert [one.still for one in ended] == [(AlarmKind.TEMPERATURE_HIGH,)]


def test_suspect_readings_do_not_damp(tmp_path: Path) -> None:
    watched = Watched(tmp_path)
    say_all(watched, 0, [28.0] * 10)
    before = stored(watched)["damping"]
    for minute in range(10, 13):
        watched.say(minute, -127.0, quality=Quality.FAULT_VALUE)
    assert stored(watched)["damping"] == before


def test_after_a_long_gap_it_begins_again_at_the_reading(tmp_path: Path) -> None:
    watched = Watched(tmp_path)
    say_all(watched, 0, [28.0] * 10)
    watched.say(60, 25.0)
    assert stored(watched)["damping"] == {"at_ms": START_MS + 60 * MINUTE_MS, "value_c": 25.0, "damped_c": 25.0}


def test_states_from_before_there_was_damping_are_read_and_go_on(tmp_path: Path) -> None:
    watched = Watched(tmp_path)
    say_all(watched, 0, [31.0] * 10)
    older = stored(watched)
    del older["damping"]
    for each in older.values():
        each.pop("readings", None)  # type: ignore[attr-defined]
    again = watched.fresh_watch()
    assert again.restore({AIR: json.dumps(older)}, START_MS) == []
    watched.watch = again
    assert told(say_all(watched, 10, [28.0] * 20)) == ["temperature-high north-air/air cleared"]


def test_a_stored_damped_temperature_that_cannot_be_read_begins_anew_and_says_so(tmp_path: Path) -> None:
    watched = Watched(tmp_path)
    say_all(watched, 0, [31.0] * 10)
    damaged = {**stored(watched), "damping": {"at_ms": None}}
    [problem] = watched.fresh_watch().restore({AIR: json.dumps(damaged)}, START_MS)
    assert "damped" in problem


def test_a_clock_that_was_set_back_does_not_stop_the_damping(tmp_path: Path) -> None:
    watched, day = Watched(tmp_path), 24 * 60
    say_all(watched, day, [28.0] * 10)
    say_all(watched, 0, [26.0] * 40)
    damping = stored(watched)["damping"]
    assert damping["at_ms"] == START_MS + 39 * MINUTE_MS  # type: ignore[index]
    # From 28 towards 26 °C for 39 minutes: 2 * exp(-3.9) = 0.04 K are left, a minute more or less.
    assert damping["damped_c"] == pytest.approx(26.04, abs=0.01)  # type: ignore[index]


rows = st.lists(
    st.tuples(
        st.sampled_from([1, 20, 60, 60, 60, 200, 2400]),
        st.sampled_from([0, 0, 0, 0, 0, 0, 0, -300, 1200]),
        st.sampled_from([28.0, 28.3, 29.9, 29.99, 29.99, 30.4, 32.0, 35.5, 25.0]),
        st.sampled_from([0, 0, 0, 0, 0, 0, 0, 2]),
    ),
    min_size=20,
    max_size=120,
)


def history(found: list[tuple[int, int, float, int]]) -> list[StoredReading]:
    """Readings in the order of their arrival; some are late, some of a clock that is ahead, some are suspect."""
    received_ms, readings = START_MS, []
    for seq, (step_s, ahead_s, value, quality) in enumerate(found):
        received_ms += step_s * 1000
        readings.append(StoredReading(seq, AIR, received_ms + ahead_s * 1000, received_ms, value, quality))
    return readings


@settings(max_examples=60, deadline=None)
@given(found=rows, cut=st.integers(0, 119))
def test_calm_readings_taken_together_and_a_restart_leave_what_one_by_one_leaves(
    tmp_path_factory: pytest.TempPathFactory, found: list[tuple[int, int, float, int]], cut: int
) -> None:
    watched = Watched(tmp_path_factory.mktemp("house"))
    together, single, broken = watched.watch, watched.fresh_watch(), watched.fresh_watch()
    kept: dict[str, str] = {}
    told_of: dict[str, list[Transition]] = {"together": [], "single": [], "broken": []}
    for index, row in enumerate(history(found)):
        told_of["together"] += together.reading(row, watched.occupancy)
        told_of["single"] += [*single.reading(row, watched.occupancy), *single.settle()]
        if index == cut:
            told_of["broken"] += broken.settle()
            kept |= broken.take_changed()
            broken = watched.fresh_watch()
            assert broken.restore(kept, START_MS) == []
        told_of["broken"] += broken.reading(row, watched.occupancy)
    for name, watch in (("together", together), ("single", single), ("broken", broken)):
        told_of[name] += watch.settle()
    assert told_of["together"] == told_of["single"] == told_of["broken"]
    states = [watch.take_changed().get(AIR) for watch in (together, single, broken)]
    assert states[0] == states[1]
    assert states[2] in (states[0], None)


def test_most_readings_are_taken_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the property above: a watch that steps each reading would prove nothing."""
    watched, plain, applied = Watched(tmp_path), AlarmWatch._apply, [0]

    def counted(watch: AlarmWatch, row: StoredReading, occupancy: Occupancy) -> list[Transition]:
        applied[0] += 1
        return plain(watch, row, occupancy)

    monkeypatch.setattr(AlarmWatch, "_apply", counted)
    for row in history([(1, 0, 28.0 + n % 7 / 100, 0) for n in range(1000)]):
        watched.watch.reading(row, watched.occupancy)
    assert 0 < applied[0] < 20
