"""Probe fault from suspect readings."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.alarms.conditions import Change
from daemon.alarms.faults import FaultState, FaultStep, flag_words, on_reading
from daemon.alarms.state_json import StateError
from sensors.reading import Quality
from tests.alarms.steady import steady

ON_DELAY_S = 600
MINUTE = 60_000
BAD = int(Quality.FAULT_VALUE)


def play(qualities: list[int], state: FaultState | None = None, *, restart: bool = False) -> list[FaultStep]:
    """One reading a minute."""
    steps, state = [], state or FaultState()
    start_ms = 0 if state.newest_ms is None else state.newest_ms + MINUTE
    for number, quality in enumerate(qualities):
        if restart:
            state = FaultState.from_json(state.to_json())
        steps.append(on_reading(state, ON_DELAY_S, quality, start_ms + number * MINUTE))
        state = steps[-1].state
    return steps


def changes(steps: list[FaultStep]) -> list[tuple[int, Change]]:
    return [(number, each.change) for number, each in enumerate(steps) if each.change]


def test_a_run_of_suspect_readings_is_a_fault_when_it_spans_the_delay() -> None:
    steps = play([0, 0, *[BAD] * 12])
    assert changes(steps) == [(12, Change.RAISED)]
    assert steps[12].state.since_ms == 2 * MINUTE


def test_a_run_one_reading_short_of_the_delay_is_none() -> None:
    assert changes(play([0, *[BAD] * 10])) == []
    assert changes(play([0, *[BAD] * 9, 0, 0, 0])) == []


def test_a_probe_that_speaks_rarely_needs_three_suspect_readings() -> None:
    state, found = FaultState(), []
    for number in range(4):
        after = on_reading(state, ON_DELAY_S, BAD, number * 30 * MINUTE)
        state = after.state
        found.append(after.change)
    assert found == [None, None, Change.RAISED, None]


def test_a_loose_wire_is_a_fault_although_no_run_is_long() -> None:
    steps = play([BAD, 0] * 15)
    tenth_suspect = 18
    assert changes(steps) == [(tenth_suspect, Change.RAISED)]
    assert "10 of 20 readings are suspect" in steps[tenth_suspect].reason


def test_nine_of_twenty_are_not_a_fault() -> None:
    assert changes(play([*[BAD, 0] * 9, 0, 0, 0, 0])) == []


def test_three_good_readings_in_a_row_end_a_fault() -> None:
    steps = play([*[BAD] * 11, 0, 0, BAD, 0, 0, 0])
    assert changes(steps) == [(10, Change.RAISED), (16, Change.CLEARED)]


def test_what_raised_a_fault_does_not_raise_it_again_after_its_end() -> None:
    steps = play([*[BAD] * 11, 0, 0, 0, *[BAD, 0] * 5])
    assert changes(steps) == [(10, Change.RAISED), (13, Change.CLEARED)]


def test_a_fault_names_what_is_wrong_each_thing_once() -> None:
    mixed = [int(Quality.STUCK), int(Quality.FAULT_VALUE | Quality.TOO_FAST), *[BAD] * 9]
    assert play(mixed)[-1].reason == (
        "the newest 11 readings in a row are suspect: "
        "a value of a broken or unplugged probe, changing too fast, never changing"
    )


@pytest.mark.parametrize("flag", list(Quality))
def test_every_flag_has_words(flag: Quality) -> None:
    assert bool(flag_words((int(flag),))) is (flag is not Quality.GOOD)


def test_every_single_flag_has_words_of_its_own() -> None:
    flags = [each for each in Quality if each is not Quality.GOOD]
    assert len({flag_words((int(each),)) for each in flags}) == len(flags)


@pytest.mark.parametrize("measured_at_ms", [-1, 0])
@pytest.mark.parametrize("quality", [0, BAD])
def test_a_late_reading_changes_nothing(measured_at_ms: int, quality: int) -> None:
    state = play([BAD])[-1].state
    after = on_reading(state, 0, quality, measured_at_ms)
    assert (after.state, after.change) == (state, None)


qualities = st.lists(st.sampled_from([0, 0, BAD, int(Quality.STUCK)]), max_size=80)


@steady
@given(qualities)
def test_a_restart_at_any_point_changes_nothing_and_raised_comes_first(stream: list[int]) -> None:
    told = changes(play(stream, restart=True))
    assert told == changes(play(stream))
    assert all(change is (Change.CLEARED if number % 2 else Change.RAISED) for number, (_, change) in enumerate(told))


@steady
@given(qualities)
def test_a_fault_ends_only_on_the_third_good_reading_in_a_row(stream: list[int]) -> None:
    for number, change in changes(play(stream)):
        if change is Change.CLEARED:
            assert stream[number - 2 : number + 1] == [0, 0, 0]
        else:
            assert stream[number] != 0 or sum(each != 0 for each in stream[max(number - 19, 0) : number + 1]) >= 10


@pytest.mark.parametrize(
    "text",
    [
        FaultState().to_json().replace("[]", "[-1]"),
        FaultState().to_json().replace("[]", "[true]"),
        FaultState().to_json().replace("[]", "[" + ",".join(["0"] * 21) + "]"),
        FaultState().to_json().replace('"recent":[],', ""),
        FaultState().to_json().replace("[]", "null"),
    ],
)
def test_a_state_of_another_form_is_refused_and_not_guessed(text: str) -> None:
    with pytest.raises(StateError, match="probe-fault alarm"):
        FaultState.from_json(text)
