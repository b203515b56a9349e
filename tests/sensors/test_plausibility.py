"""The judge of single values. Limits of our own choice are tested at their edges."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.words import Quantity
from sensors.plausibility import Memory, judge
from sensors.reading import Quality

AIR, LID, RH = Quantity.AIR_TEMPERATURE, Quantity.SURFACE_TEMPERATURE, Quantity.RELATIVE_HUMIDITY
steady = settings(derandomize=True, deadline=None)
START_MS = 1_780_000_000_000
MINUTE_MS = 60_000
HOUR_MS = 3_600_000


def run(quantity: Quantity, values: list[float], step_ms: int = MINUTE_MS) -> list[Quality]:
    """Judge values one step apart; give the qualities."""
    memory: Memory | None = None
    qualities = []
    for number, value in enumerate(values):
        quality, memory, reason = judge(memory, quantity, value, START_MS + number * step_ms)
        assert bool(reason) == bool(quality), "a reason with every suspicion, and only then"
        qualities.append(quality)
    return qualities


def after(quantity: Quantity, *values: float) -> Memory:
    """Give the memory after values one minute apart; the last is at START_MS."""
    memory: Memory | None = None
    for number, value in enumerate(values, start=1 - len(values)):
        _, memory, _ = judge(memory, quantity, value, START_MS + number * MINUTE_MS)
    assert memory is not None
    return memory


@pytest.mark.parametrize(
    ("quantity", "value", "expected"),
    [
        (AIR, -30.0, Quality.GOOD),
        (AIR, -30.1, Quality.OUT_OF_RANGE),
        (AIR, 60.0, Quality.GOOD),
        (AIR, 60.1, Quality.OUT_OF_RANGE),
        (LID, 28.0, Quality.GOOD),
        (LID, 82.0, Quality.OUT_OF_RANGE),
        (RH, 0.1, Quality.GOOD),
        (RH, 0.0, Quality.GOOD),
        (RH, -0.1, Quality.OUT_OF_RANGE),
        (RH, 100.0, Quality.GOOD),
        (RH, 102.0, Quality.GOOD),
        (RH, 102.1, Quality.OUT_OF_RANGE),
        (AIR, math.nan, Quality.OUT_OF_RANGE),
        (RH, math.inf, Quality.OUT_OF_RANGE),
    ],
)
def test_a_first_value_is_judged_by_what_a_room_can_be(quantity: Quantity, value: float, expected: Quality) -> None:
    assert run(quantity, [value]) == [expected]


FAULTS = [
    (85.0, "DS18B20 data sheet, memory map: power-up content 0550h"),
    (85.0 + 1e-9, "the same after a conversion of units"),
    (127.9375, "07FFh / 16; Linux kernel documentation, w1_therm"),
    (127.937, "the same in whole thousandths, as the kernel's file gives it"),
    (127.94, "Linux kernel documentation, w1_therm"),
    (-127.0, "common practice of microcontroller libraries, from memory"),
]


@pytest.mark.parametrize(("value", "source"), FAULTS)
@pytest.mark.parametrize("quantity", [AIR, LID])
def test_a_known_fault_value_is_named(quantity: Quantity, value: float, source: str) -> None:
    assert run(quantity, [value]) == [Quality.FAULT_VALUE | Quality.OUT_OF_RANGE], source
    assert run(quantity, [28.0, value])[1] == Quality.FAULT_VALUE | Quality.OUT_OF_RANGE, source


def test_a_fault_value_of_thermometers_is_a_plain_humidity() -> None:
    assert run(RH, [85.0]) == [Quality.GOOD]


@pytest.mark.parametrize("value", [84.9375, 85.0625, 127.0, -126.9])
def test_a_neighbour_of_a_fault_value_is_only_out_of_range(value: float) -> None:
    assert run(AIR, [value]) == [Quality.OUT_OF_RANGE]


@pytest.mark.parametrize(
    ("quantity", "before", "expected"),
    [
        (AIR, 28.0, Quality.FAULT_VALUE),
        (AIR, 5.1, Quality.FAULT_VALUE),
        (AIR, 1.5, Quality.GOOD),
        (AIR, -1.5, Quality.GOOD),
        (RH, 80.0, Quality.FAULT_VALUE),
        (RH, 9.0, Quality.GOOD),
    ],
)
def test_exactly_zero_is_a_fault_only_far_from_the_last_good_reading(
    quantity: Quantity, before: float, expected: Quality
) -> None:
    # An all-zero frame passes a CRC-8 that starts from 0 (arithmetic), so a line stuck low reads as a valid 0.0.
    assert run(quantity, [before, 0.0])[1] == expected


def test_a_line_stuck_low_stays_a_fault_however_long() -> None:
    assert set(run(AIR, [28.0, *[0.0] * 50])[1:]) == {Quality.FAULT_VALUE}


def test_a_cold_room_that_passes_zero_stays_good() -> None:
    assert set(run(AIR, [1.0, 0.5, 0.0, -0.5, 0.0])) == {Quality.GOOD}


def test_a_fahrenheit_number_is_kept_and_called_by_its_name() -> None:
    quality, _, reason = judge(None, AIR, 82.0, START_MS)
    assert quality == Quality.OUT_OF_RANGE
    assert "82 °F is 27.8 °C" in reason  # NIST SP 811 (2008) B.8: (82 - 32)/1.8


def test_a_kelvin_number_is_called_by_its_name() -> None:
    _, _, reason = judge(None, AIR, 303.15, START_MS)
    assert "303.15 K is 30.0 °C" in reason


def test_a_fault_value_says_what_the_probe_suffers_from() -> None:
    _, _, reason = judge(None, AIR, 85.0, START_MS)
    assert "loss of power" in reason


@pytest.mark.parametrize(
    ("quantity", "values", "expected"),
    [
        (AIR, [28.0, 31.0], Quality.GOOD),  # 1 K of noise and 2 K in the minute
        (AIR, [28.0, 31.1], Quality.TOO_FAST),
        (AIR, [28.0, 24.9], Quality.TOO_FAST),
        (RH, [50.0, 90.0], Quality.GOOD),  # 10 % of noise and 30 % in the minute
        (RH, [90.0, 49.9], Quality.TOO_FAST),
    ],
)
def test_a_leap_is_suspect(quantity: Quantity, values: list[float], expected: Quality) -> None:
    assert run(quantity, values)[1] == expected


def test_noise_of_a_quick_probe_is_no_leap() -> None:
    assert set(run(AIR, [28.0, 28.9, 28.1, 28.9, 28.0], step_ms=1000)) == {Quality.GOOD}


def test_speed_is_counted_from_the_last_good_reading() -> None:
    # After a fault value the same climate goes on; the fault must not make the next reading a leap.
    assert run(AIR, [28.0, 85.0, 28.1])[2] == Quality.GOOD


def test_the_allowance_grows_with_the_gap() -> None:
    memory = after(AIR, 28.0)
    assert judge(memory, AIR, 22.0, START_MS + MINUTE_MS)[0] == Quality.TOO_FAST
    assert judge(memory, AIR, 22.0, START_MS + 3 * MINUTE_MS)[0] == Quality.GOOD


def test_three_leaps_that_agree_are_the_new_level() -> None:
    assert run(AIR, [28.0, 40.0, 40.1, 40.2, 40.1], step_ms=10_000) == [
        Quality.GOOD,
        Quality.TOO_FAST,
        Quality.TOO_FAST,
        Quality.GOOD,
        Quality.GOOD,
    ]


def test_leaps_that_disagree_are_not_believed() -> None:
    assert set(run(AIR, [28.0, 40.0, 45.0, 40.0, 50.0, 38.0], step_ms=10_000)[1:]) == {Quality.TOO_FAST}


def test_a_fault_value_breaks_the_row_of_agreeing_leaps() -> None:
    qualities = run(AIR, [28.0, 40.0, 40.0, 85.0, 40.0, 40.0, 40.0], step_ms=5_000)
    assert [bool(quality) for quality in qualities] == [False, True, True, True, True, True, False]


def test_a_return_to_the_old_level_is_good_at_once() -> None:
    assert [bool(quality) for quality in run(AIR, [28.0, 40.0, 28.1, 40.0, 40.0], step_ms=10_000)] == [
        False,
        True,
        False,
        True,
        True,
    ]


def test_a_probe_that_begins_with_a_fault_is_believed_when_it_measures() -> None:
    assert run(AIR, [85.0, 28.0, 28.1])[1:] == [Quality.GOOD, Quality.GOOD]


def test_a_constant_temperature_is_stuck_after_six_hours() -> None:
    qualities = run(AIR, [28.0625] * 400)
    assert qualities.index(Quality.STUCK) == 360
    assert set(qualities[360:]) == {Quality.STUCK}


def test_a_coarse_probe_in_a_steady_box_may_say_the_same_for_a_day() -> None:
    qualities = run(AIR, [28.5] * 1500)
    assert qualities.index(Quality.STUCK) == 1440


def test_few_readings_are_never_stuck() -> None:
    qualities = run(AIR, [28.0625] * 120, step_ms=10 * MINUTE_MS)
    assert qualities.index(Quality.STUCK) == 99  # the hundredth, after 16.5 h


def test_the_smallest_movement_frees_a_stuck_value() -> None:
    values = [28.0625] * 362 + [28.125] + [28.0625] * 10
    assert set(run(AIR, values)[362:]) == {Quality.GOOD}


def test_a_stuck_probe_that_wakes_at_another_level_is_believed() -> None:
    assert run(AIR, [28.0625] * 400 + [33.0])[-1] == Quality.GOOD


def test_a_gap_is_not_counted_as_constancy() -> None:
    memory = after(AIR, *[28.0] * 99)
    quality, _, _ = judge(memory, AIR, 28.0, START_MS + 8 * HOUR_MS)
    assert quality == Quality.GOOD


def test_humidity_in_whole_percents_may_stand_for_a_day() -> None:
    qualities = run(RH, [80.0] * 300, step_ms=5 * MINUTE_MS)
    assert qualities.index(Quality.STUCK) == 288


@pytest.mark.parametrize("value", [99.0, 99.9, 100.0, 101.5])
def test_saturation_may_stand_for_ever(value: float) -> None:
    assert set(run(RH, [value] * 400, step_ms=10 * MINUTE_MS)) == {Quality.GOOD}


@pytest.mark.parametrize("late_ms", [0, 1, HOUR_MS])
def test_a_late_reading_is_judged_by_value_alone_and_leaves_no_trace(late_ms: int) -> None:
    memory = after(AIR, 28.0, 28.1)
    assert judge(memory, AIR, 45.0, START_MS - late_ms) == (Quality.GOOD, memory, "")
    quality, kept, _ = judge(memory, AIR, 85.0, START_MS - late_ms)
    assert quality == Quality.FAULT_VALUE | Quality.OUT_OF_RANGE
    assert kept is memory


MEMORIES = st.none() | st.lists(st.floats(), min_size=1, max_size=5).map(lambda values: after(AIR, *values))


@steady
@given(MEMORIES, st.sampled_from(Quantity), st.sampled_from([math.nan, math.inf, -math.inf]), st.integers(-10, 10))
def test_what_is_not_finite_is_never_good(
    memory: Memory | None, quantity: Quantity, value: float, minutes: int
) -> None:
    assert judge(memory, quantity, value, START_MS + minutes * MINUTE_MS)[0] != Quality.GOOD


@steady
@given(st.lists(st.floats(-200, 200), max_size=40), st.floats(-29, 59))
def test_a_steady_level_is_believed_whatever_came_before(past: list[float], level: float) -> None:
    steady = [level + 0.0625 * (number % 2) + 0.001 for number in range(4)]
    assert run(AIR, [*past, *steady])[-1] == Quality.GOOD
