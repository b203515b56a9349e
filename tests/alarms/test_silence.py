"""No data: raised at the deadline whoever looks when, cleared only by data that is good and fresh."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.alarms.conditions import Change
from daemon.alarms.silence import (
    SilenceState,
    SilenceStep,
    deadline_ms,
    on_reading,
    on_time,
    watch_again,
    window_ms,
)
from daemon.alarms.state_json import StateError
from tests.alarms.steady import steady

MINUTE = 60_000
SILENT = SilenceState(watching_since_ms=0, newest_good_ms=0, silent_since_ms=3 * MINUTE)


def hear(
    state: SilenceState, measured_at_ms: int, received_at_ms: int | None = None, *, bad: bool = False
) -> SilenceStep:
    return on_reading(state, 60, bad, measured_at_ms, measured_at_ms if received_at_ms is None else received_at_ms)


@pytest.mark.parametrize(
    ("interval_s", "expected_ms"), [(60, 180_000), (10, 30_000), (1, 30_000), (600, 1_800_000), (12.5, 37_500)]
)
def test_a_channel_may_miss_three_intervals_and_never_less_than_half_a_minute(
    interval_s: float, expected_ms: int
) -> None:
    assert window_ms(interval_s) == expected_ms


@pytest.mark.parametrize(("now_ms", "raised"), [(179_999, False), (180_000, True), (180_001, True)])
def test_silence_is_an_alarm_from_the_deadline_on(now_ms: int, raised: bool) -> None:
    assert (on_time(SilenceState(0), 60, now_ms).change is Change.RAISED) is raised


@pytest.mark.parametrize("now_ms", [180_000, 181_234, 86_400_000])
def test_the_moment_of_the_alarm_is_the_deadline_whenever_somebody_looks(now_ms: int) -> None:
    after = on_time(SilenceState(0), 60, now_ms)
    assert (after.at_ms, after.state.silent_since_ms) == (180_000, 180_000)


def test_the_alarm_is_raised_once() -> None:
    assert on_time(SILENT, 60, 10 * MINUTE).change is None


def test_a_reading_moves_the_deadline_and_an_older_one_does_not_move_it_back() -> None:
    state = hear(SilenceState(0), 2 * MINUTE).state
    assert deadline_ms(state, 60) == 5 * MINUTE
    assert deadline_ms(hear(state, MINUTE, 2 * MINUTE + 1).state, 60) == 5 * MINUTE


def test_a_clock_that_runs_ahead_does_not_buy_a_probe_more_time() -> None:
    assert deadline_ms(hear(SilenceState(0), 3 * MINUTE, MINUTE).state, 60) == 4 * MINUTE


def test_suspect_readings_hold_the_alarm_off_for_one_interval_and_no_longer() -> None:
    state = SilenceState(0)
    found = []
    for minute in (1, 2, 3, 4):
        after = hear(state, minute * MINUTE, bad=True)
        state = after.state
        found.append((after.change, after.at_ms))
    assert found == [(None, None), (None, None), (None, None), (Change.RAISED, 4 * MINUTE)]


def test_a_jump_that_is_believed_with_the_third_reading_is_no_silence() -> None:
    """Two readings after a fast change are suspect; the third comes when three intervals are just over."""
    state = hear(SilenceState(0), MINUTE).state
    for minute in (2, 3):
        state = hear(state, minute * MINUTE, bad=True).state
    after = hear(state, 4 * MINUTE + 900)
    assert (after.change, after.state.is_silent, after.state.doubted) == (None, False, False)
    assert deadline_ms(after.state, 60) == 7 * MINUTE + 900


def test_a_reading_after_the_deadline_proves_the_silence_first() -> None:
    after = hear(SilenceState(0), 10 * MINUTE)
    assert (after.change, after.at_ms, after.state.back) == (Change.RAISED, 3 * MINUTE, 1)


def test_three_fresh_good_readings_end_the_alarm() -> None:
    state, changes = SILENT, []
    for minute in (10, 11, 12):
        after = hear(state, minute * MINUTE)
        state = after.state
        changes.append((after.change, after.at_ms))
    assert changes == [(None, None), (None, None), (Change.CLEARED, 12 * MINUTE)]
    assert deadline_ms(state, 60) == 15 * MINUTE


@pytest.mark.parametrize(("age_ms", "counts"), [(180_000, True), (180_001, False)])
def test_a_reading_is_fresh_up_to_three_intervals_after_it_was_measured(age_ms: int, counts: bool) -> None:
    assert (hear(SILENT, 10 * MINUTE, 10 * MINUTE + age_ms).state.back == 1) is counts


def test_a_spool_emptied_later_does_not_end_the_alarm() -> None:
    state = SILENT
    for minute in range(4, 100):
        after = hear(state, minute * MINUTE, 200 * MINUTE)
        assert after.change is None
        state = after.state
    assert state.back == 0


def test_a_spool_emptied_up_to_the_present_ends_the_alarm_with_its_last_readings() -> None:
    state, cleared = SILENT, []
    for minute in range(4, 201):
        after = hear(state, minute * MINUTE, 200 * MINUTE)
        state = after.state
        cleared += [minute] if after.change is Change.CLEARED else []
    assert cleared == [199]


def test_suspect_and_repeated_readings_do_not_count_towards_the_end() -> None:
    state = hear(SILENT, 10 * MINUTE).state
    for measured_at_ms, bad in ((11 * MINUTE, True), (10 * MINUTE, False), (9 * MINUTE, False)):
        after = hear(state, measured_at_ms, 11 * MINUTE, bad=bad)
        assert (after.change, after.state.back) == (None, 1)


def test_a_new_gap_starts_the_count_again() -> None:
    state = hear(hear(SILENT, 10 * MINUTE).state, 11 * MINUTE).state
    after = hear(state, 11 * MINUTE + 180_001)
    assert (after.change, after.state.back) == (None, 1)


def test_time_in_which_nobody_watched_is_not_held_against_the_probe() -> None:
    state = watch_again(SilenceState(0, newest_good_ms=MINUTE), 60 * MINUTE)
    assert deadline_ms(state, 60) == 63 * MINUTE
    assert watch_again(state, 5 * MINUTE) == state
    assert watch_again(SILENT, 60 * MINUTE).is_silent


arrivals = st.lists(
    st.tuples(
        st.sampled_from([20, 60, 60, 60, 60, 179, 180, 181, 900]),
        st.sampled_from([0, 0, 0, 5, 180, 181, 3000, -30]),
        st.sampled_from([False, False, False, True]),
    ),
    max_size=40,
)


def play(rows: list[tuple[int, int, bool]], tick_every_ms: int, *, restart: bool) -> list[tuple[Change, int]]:
    """Play readings, with a look at the clock every so often between them; 0 for a replay, in which nobody looks."""
    state, now_ms, told = SilenceState(0), 0, []
    steps: list[SilenceStep]
    for gap_s, age_s, bad in rows:
        then_ms = now_ms + gap_s * 1000
        ticks = range(now_ms + tick_every_ms, then_ms, tick_every_ms) if tick_every_ms else range(0)
        steps = []
        for tick_ms in ticks:
            steps.append(on_time(state, 60, tick_ms))
            state = steps[-1].state
        if restart:
            state = SilenceState.from_json(state.to_json())
        steps.append(on_reading(state, 60, bad, then_ms - age_s * 1000, then_ms))
        state, now_ms = steps[-1].state, then_ms
        told += [(each.change, each.at_ms) for each in steps if each.change and each.at_ms is not None]
    return told


@steady
@given(arrivals, st.sampled_from([1_000, 7_777, 60_000]))
def test_a_replay_without_ticks_gives_the_same_alarms_at_the_same_moments(
    rows: list[tuple[int, int, bool]], tick_every_ms: int
) -> None:
    assert play(rows, tick_every_ms, restart=False) == play(rows, 0, restart=False)


@steady
@given(arrivals)
def test_a_restart_at_any_point_changes_nothing_and_raised_comes_first(rows: list[tuple[int, int, bool]]) -> None:
    told = play(rows, 7_777, restart=True)
    assert told == play(rows, 7_777, restart=False)
    assert all(change is (Change.CLEARED if number % 2 else Change.RAISED) for number, (change, _) in enumerate(told))


@pytest.mark.parametrize("state", [SilenceState(5), SILENT, hear(SILENT, 10 * MINUTE).state])
def test_a_state_comes_back_from_its_text(state: SilenceState) -> None:
    assert SilenceState.from_json(state.to_json()) == state


@pytest.mark.parametrize(
    "text",
    [
        SILENT.to_json().replace('"back":0', '"back":3'),
        SilenceState(0).to_json().replace('"back":0', '"back":1'),
        SILENT.to_json().replace('"back":0', '"back":0,"muted":true'),
        SILENT.to_json().replace('"watching_since_ms":0', '"watching_since_ms":null'),
    ],
)
def test_a_state_of_another_form_is_refused_and_not_guessed(text: str) -> None:
    with pytest.raises(StateError, match="no-data alarm"):
        SilenceState.from_json(text)
