"""One limit: delays, deadband, gaps. Meaning of the terms: OPC 10000-9 (IEC 62541-9) 5.8.2 and B.1.5, ISA-18.2."""

import math
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import pytest

from daemon.alarms.conditions import Change, ConditionState, Phase, Rule, Side, step, withdraw
from daemon.alarms.state_json import StateError

HIGH = Rule(Side.HIGH, 32.0, 0.2, on_delay_s=300, off_delay_s=600, at_once_beyond=None, longest_gap_s=180)
LOW = Rule(Side.LOW, 26.0, 0.2, on_delay_s=300, off_delay_s=600, at_once_beyond=None, longest_gap_s=180)
LETHAL = Rule(Side.HIGH, 34.0, 0.3, on_delay_s=60, off_delay_s=300, at_once_beyond=1.0, longest_gap_s=180)
TOO_WARM = ConditionState(Phase.ALARM, newest_ms=0, since_ms=0, peak=33.0)

Sample = tuple[float, float]
"""seconds, value"""


def run(
    rule: Rule | None, samples: Iterable[Sample], state: ConditionState | None = None
) -> tuple[ConditionState, list[tuple[float, Change]]]:
    state = state or ConditionState()
    changes = []
    for at_s, value in samples:
        after = step(state, rule, value, suspect=False, measured_at_ms=round(at_s * 1000))
        assert after.reason
        state = after.state
        if after.change:
            changes.append((at_s, after.change))
    return state, changes


def changes(rule: Rule | None, samples: Iterable[Sample], state: ConditionState | None = None) -> list[Change]:
    return [change for _, change in run(rule, samples, state)[1]]


def every(interval_s: float, first_s: float, last_s: float, value: float) -> list[Sample]:
    count = math.floor((last_s - first_s) / interval_s) + 1
    return [(first_s + number * interval_s, value) for number in range(count)]


@pytest.mark.parametrize(
    ("rule", "value", "phase"),
    [
        (HIGH, 31.99, Phase.NORMAL),
        (HIGH, 32.0, Phase.NORMAL),
        (HIGH, 32.01, Phase.PENDING_ON),
        (LOW, 26.01, Phase.NORMAL),
        (LOW, 26.0, Phase.NORMAL),
        (LOW, 25.99, Phase.PENDING_ON),
        # 89.6 °F is 32 °C; the last bits of a conversion are not an excess
        (HIGH, (89.6 - 32) / 1.8, Phase.NORMAL),
    ],
)
def test_exactly_at_the_limit_is_not_beyond_it(rule: Rule, value: float, phase: Phase) -> None:
    assert run(rule, [(0, value)])[0].phase is phase


@pytest.mark.parametrize(("second_s", "raised"), [(299, False), (300, True), (301, True)])
def test_an_alarm_is_raised_when_the_on_delay_has_passed_between_samples(second_s: float, raised: bool) -> None:
    assert (Change.RAISED in changes(HIGH, [(0, 33.0), (second_s, 33.0)])) is raised


@pytest.mark.parametrize(("last_s", "cleared"), [(659, False), (660, True), (661, True)])
def test_an_alarm_is_cleared_when_the_off_delay_has_passed_between_samples(last_s: float, cleared: bool) -> None:
    samples = [*every(60, 60, 600, 31.5), (last_s, 31.5)]
    assert (Change.CLEARED in changes(HIGH, samples, TOO_WARM)) is cleared


@pytest.mark.parametrize(
    ("rule", "value", "phase"),
    [
        (HIGH, 31.81, Phase.ALARM),
        (HIGH, 31.8, Phase.PENDING_OFF),
        (HIGH, 31.79, Phase.PENDING_OFF),
        (LOW, 26.19, Phase.ALARM),
        (LOW, 26.2, Phase.PENDING_OFF),
        (LOW, 26.21, Phase.PENDING_OFF),
    ],
)
def test_an_alarm_starts_to_end_at_the_edge_of_the_deadband(rule: Rule, value: float, phase: Phase) -> None:
    assert run(rule, [(60, value)], TOO_WARM)[0].phase is phase


def test_within_the_deadband_an_alarm_goes_on_for_ever() -> None:
    state, found = run(HIGH, every(60, 60, 86_400, 31.9), TOO_WARM)
    assert (state.phase, found) == (Phase.ALARM, [])


def test_one_spike_shorter_than_the_on_delay_is_no_alarm() -> None:
    """OPC 10000-9, B.1.5: the value has to be above the limit for the duration of the on-delay."""
    assert changes(HIGH, [(0, 31.0), (60, 36.0), (120, 36.0), (180, 31.0), (480, 33.0), (540, 31.0)]) == []


def test_one_reading_is_not_enough_however_long_ago_it_was_normal() -> None:
    assert changes(HIGH, [(0, 31.0), (86_400, 33.0)]) == []


@pytest.mark.parametrize(("value", "raised"), [(34.99, False), (35.0, True), (35.01, True)])
def test_far_beyond_a_lethal_limit_one_reading_is_enough(value: float, raised: bool) -> None:
    assert (changes(LETHAL, [(0, value)]) == [Change.RAISED]) is raised


def test_without_an_on_delay_one_reading_is_enough() -> None:
    assert changes(replace(HIGH, on_delay_s=0), [(0, 32.1)]) == [Change.RAISED]


def test_without_an_off_delay_one_reading_ends_an_alarm() -> None:
    assert changes(replace(HIGH, off_delay_s=0), [(60, 31.8)], TOO_WARM) == [Change.CLEARED]


@pytest.mark.parametrize("period_s", [90, 600, 3600, 7200])
@pytest.mark.parametrize("offset", [0.0, 0.05, -0.05])
def test_noise_around_the_limit_for_six_hours_is_one_occurrence_at_most(period_s: float, offset: float) -> None:
    """OPC 10000-9, B.1.5: a deadband keeps a noisy signal from activating an alarm again and again."""
    samples = [
        (at_s, 32.0 + offset + 0.15 * math.sin(2 * math.pi * at_s / period_s)) for at_s in range(0, 6 * 3600, 10)
    ]
    assert changes(HIGH, samples).count(Change.RAISED) <= 1
    bare = replace(HIGH, deadband=0.0, on_delay_s=0, off_delay_s=0)
    assert changes(bare, samples).count(Change.RAISED) > 1  # the same signal does chatter without delays and deadband


def test_a_gap_between_two_readings_beyond_the_limit_counts_as_beyond() -> None:
    assert changes(HIGH, [(0, 33.0), (7200, 33.0)]) == [Change.RAISED]


@pytest.mark.parametrize(("gap_s", "cleared"), [(180, True), (181, False)])
def test_a_gap_between_readings_inside_starts_the_off_delay_again(gap_s: float, cleared: bool) -> None:
    before, after = every(60, 60, 360, 31.0), every(60, 360 + gap_s, 660, 31.0)
    assert (Change.CLEARED in changes(HIGH, [*before, *after, (660, 31.0)], TOO_WARM)) is cleared


def test_a_probe_that_speaks_only_rarely_never_clears_an_alarm() -> None:
    assert changes(HIGH, every(181, 60, 86_400, 31.0), TOO_WARM) == []


def test_after_a_gap_the_off_delay_is_served_in_full() -> None:
    samples = [*every(60, 60, 540, 31.0), *every(60, 3600, 4200, 31.0)]
    assert run(HIGH, samples, TOO_WARM)[1] == [(4200, Change.CLEARED)]


def test_one_reading_beyond_breaks_the_way_out() -> None:
    samples = [*every(60, 60, 600, 31.0), (660, 32.5), *every(60, 720, 1320, 31.0)]
    assert run(HIGH, samples, TOO_WARM)[1] == [(1320, Change.CLEARED)]


@pytest.mark.parametrize("state", [ConditionState(), run(HIGH, [(0, 33.0)])[0], run(HIGH, [(60, 31.0)], TOO_WARM)[0]])
@pytest.mark.parametrize("value", [-127.0, 20.0, 33.0, 85.0])
def test_a_suspect_reading_changes_nothing(state: ConditionState, value: float) -> None:
    after = step(state, HIGH, value, suspect=True, measured_at_ms=10_000_000)
    assert (after.state, after.change) == (state, None)
    assert after.reason.startswith("suspect")


def test_a_value_that_is_no_number_changes_nothing() -> None:
    assert step(TOO_WARM, HIGH, math.nan, suspect=False, measured_at_ms=60_000).state == TOO_WARM


@pytest.mark.parametrize("measured_at_ms", [-1, 0])
@pytest.mark.parametrize("rule", [HIGH, LETHAL, None])
def test_a_reading_not_newer_than_the_newest_changes_nothing(rule: Rule | None, measured_at_ms: int) -> None:
    after = step(TOO_WARM, rule, 20.0, suspect=False, measured_at_ms=measured_at_ms)
    assert (after.state, after.change) == (TOO_WARM, None)
    assert after.reason.startswith("late")


def test_suspect_readings_leave_a_gap_that_starts_the_off_delay_again() -> None:
    state, _ = run(HIGH, every(60, 60, 360, 31.0), TOO_WARM)
    for at_s in (420, 480, 540):
        state = step(state, HIGH, 31.0, suspect=True, measured_at_ms=at_s * 1000).state
    assert run(HIGH, [(660, 31.0)], state)[1] == []


@pytest.mark.parametrize(
    ("rule", "values", "worst"), [(HIGH, (32.5, 34.5, 33.0), 34.5), (LOW, (25.5, 21.0, 25.0), 21.0)]
)
def test_the_worst_reading_is_remembered_from_the_first_one_beyond(
    rule: Rule, values: tuple[float, ...], worst: float
) -> None:
    state, _ = run(rule, [(number * 150, value) for number, value in enumerate(values)])
    assert (state.phase, state.peak, state.since_ms) == (Phase.ALARM, worst, 0)


def test_the_worst_reading_goes_on_to_be_tracked_in_alarm() -> None:
    assert run(HIGH, [(60, 35.5), (120, 31.0)], TOO_WARM)[0].peak == 35.5


@pytest.mark.parametrize("suspect", [False, True])
def test_a_limit_that_is_removed_ends_an_alarm_with_its_own_reason(suspect: bool) -> None:
    after = step(TOO_WARM, None, 33.0, suspect, 60_000)
    assert (after.change, after.state.phase) == (Change.CLEARED, Phase.NORMAL)
    assert after.reason.startswith("limit removed")
    assert withdraw(TOO_WARM).change is Change.CLEARED


def test_a_limit_that_is_removed_without_an_alarm_tells_nobody() -> None:
    assert changes(None, every(60, 0, 3600, 50.0)) == []
    assert withdraw(run(HIGH, [(0, 33.0)])[0]).change is None


def test_a_raised_limit_starts_the_on_delay_again_for_readings_that_are_inside_it() -> None:
    state, _ = run(HIGH, [(0, 32.5), (200, 33.5)])
    higher = replace(HIGH, limit=33.0)
    assert run(higher, [(400, 33.5), (699, 33.5), (700, 33.5)], state)[1] == [(700, Change.RAISED)]


def test_a_limit_that_moves_under_the_readings_keeps_the_time_already_served() -> None:
    state, _ = run(HIGH, [(0, 32.5)])
    assert run(replace(HIGH, limit=31.0), [(300, 32.5)], state)[1] == [(300, Change.RAISED)]


def test_a_tightened_limit_starts_the_off_delay_again() -> None:
    state, _ = run(HIGH, every(60, 60, 600, 31.5), TOO_WARM)
    tighter = replace(HIGH, limit=31.0)
    assert run(tighter, every(60, 660, 1320, 30.5), state)[1] == [(1260, Change.CLEARED)]


def test_a_tightened_limit_looks_at_the_worst_reading_of_the_way_out() -> None:
    state, _ = run(HIGH, [*every(60, 60, 540, 31.5), (600, 30.5)], TOO_WARM)
    assert run(replace(HIGH, limit=31.0), [(660, 30.5)], state)[1] == []


def test_a_loosened_limit_ends_an_alarm_only_through_the_off_delay() -> None:
    loose = replace(HIGH, limit=35.0)
    assert run(loose, every(60, 60, 660, 33.0), TOO_WARM)[1] == [(660, Change.CLEARED)]


@pytest.mark.parametrize(
    "state",
    [
        ConditionState(),
        run(HIGH, [(0, 31.0)])[0],
        run(HIGH, [(0, 33.0)])[0],
        TOO_WARM,
        run(HIGH, [(60, 31.0)], TOO_WARM)[0],
    ],
)
def test_a_state_comes_back_from_its_text(state: ConditionState) -> None:
    """OPC 10000-9, 5.8.18: after a restart the state of a limit alarm is recovered."""
    assert ConditionState.from_json(state.to_json()) == state


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("{", "not JSON"),
        ("[]", "not a JSON object"),
        ('{"phase":"alarm"}', "missing key"),
        (TOO_WARM.to_json().replace("{", '{"acknowledged":true,'), "unknown key acknowledged"),
        (TOO_WARM.to_json().replace('"alarm"', '"shelved"'), "phase is 'shelved'"),
        (TOO_WARM.to_json().replace("33.0", '"33"'), "peak is '33'"),
        (TOO_WARM.to_json().replace("33.0", "NaN"), "NaN"),
        (TOO_WARM.to_json().replace("33.0", "1e999"), "peak is inf"),
        (TOO_WARM.to_json().replace("33.0", "null"), "do not fit the phase alarm"),
        (TOO_WARM.to_json().replace('"newest_ms":0', '"newest_ms":null'), "do not fit the phase alarm"),
        (TOO_WARM.to_json().replace('"newest_ms":0', '"newest_ms":true'), "newest_ms is True"),
    ],
)
def test_a_state_of_another_form_is_refused_and_not_guessed(text: str, why: str) -> None:
    with pytest.raises(StateError, match=why) as error:
        ConditionState.from_json(text)
    assert "start this alarm anew" in str(error.value)


@pytest.mark.parametrize(
    ("name", "figure"),
    [
        ("limit", math.nan),
        ("deadband", -0.1),
        ("on_delay_s", -1.0),
        ("off_delay_s", math.inf),
        ("longest_gap_s", 0.0),
        ("at_once_beyond", 0.0),
    ],
)
def test_a_rule_that_nothing_can_be_measured_by_is_refused(name: str, figure: float) -> None:
    change: dict[str, Any] = {name: figure}
    with pytest.raises(ValueError, match="must be"):
        replace(HIGH, **change)
