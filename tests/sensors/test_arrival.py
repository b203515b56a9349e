"""Times of a message against its arrival, at the edges."""

import pytest

from config.words import Quantity
from sensors.arrival import Measured, in_order, time_fault
from sensors.reading import ChannelKey, Outcome, Rejection

AIR = ChannelKey("north-air/t", "north-air", "t", Quantity.AIR_TEMPERATURE)
RH = ChannelKey("north-air/rh", "north-air", "rh", Quantity.RELATIVE_HUMIDITY)
NOW_MS = 1_780_000_000_000
YEAR_2000_MS = 946_684_800_000  # 2000-01-01T00:00:00Z by POSIX.1-2017 section 4.16: 30 years with 7 leap days


def fault(*ages_ms: int, retained: bool = False, timed: bool = True) -> Rejection | None:
    """Judge values of these ages, oldest first."""
    values = [Measured(AIR, 30.0, NOW_MS - age, timed) for age in ages_ms]
    return time_fault(values, retained=retained, received_at_ms=NOW_MS, future_tolerance_ms=120_000)


def outcome(rejection: Rejection | None) -> Outcome | None:
    return rejection.outcome if rejection else None


@pytest.mark.parametrize(
    ("age_ms", "expected"),
    [
        (0, None),
        (-120_000, None),
        (-120_001, Outcome.FUTURE_DATED),
        (NOW_MS - YEAR_2000_MS, None),
        (NOW_MS - YEAR_2000_MS + 1, Outcome.MALFORMED),
        (NOW_MS, Outcome.MALFORMED),
    ],
)
def test_a_time_must_be_after_2000_and_not_ahead_of_arrival(age_ms: int, expected: Outcome | None) -> None:
    assert outcome(fault(age_ms)) is expected


@pytest.mark.parametrize(
    ("ahead_ms", "words"), [(121_000, "121 s"), (7_200_000, "2.0 h"), (40 * 86_400_000, "40 days")]
)
def test_a_future_time_is_refused_with_the_amount(ahead_ms: int, words: str) -> None:
    rejection = fault(-ahead_ms)
    assert rejection is not None
    assert f"measured {words} in the future" in rejection.reason


def test_a_future_time_that_counts_from_now_says_so() -> None:
    rejection = fault(-3_600_000, timed=False)
    assert rejection is not None
    assert "counts from now" in rejection.reason


def test_a_clock_that_was_never_set_is_named_as_the_cause() -> None:
    rejection = fault(NOW_MS)
    assert rejection is not None
    assert "clock" in rejection.reason


@pytest.mark.parametrize(
    ("ages_ms", "timed", "expected"),
    [
        ((600_000,), True, None),
        ((600_001,), True, Outcome.RETAINED_STALE),
        ((0,), False, Outcome.RETAINED_STALE),
        ((3_600_000, 5_000), True, None),
        ((7_200_000, 3_600_000), True, Outcome.RETAINED_STALE),
    ],
)
def test_a_retained_message_must_prove_that_it_is_fresh(
    ages_ms: tuple[int, ...], timed: bool, expected: Outcome | None
) -> None:
    assert outcome(fault(*ages_ms, retained=True, timed=timed)) is expected


def test_an_old_value_that_is_not_retained_is_a_late_one_and_welcome() -> None:
    assert fault(14 * 86_400_000) is None


def test_values_come_in_order_of_time() -> None:
    late, early = Measured(AIR, 30.0, NOW_MS, timed=True), Measured(RH, 84.0, NOW_MS - 1, timed=True)
    assert in_order([late, early]) == (early, late)


def test_a_repeated_value_counts_once() -> None:
    one = Measured(AIR, 30.0, NOW_MS, timed=True)
    assert in_order([one, one]) == (one,)


def test_two_values_of_one_channel_at_one_time_spoil_the_message() -> None:
    rejection = in_order([Measured(AIR, 30.0, NOW_MS, timed=True), Measured(AIR, 30.5, NOW_MS, timed=True)])
    assert isinstance(rejection, Rejection)
    assert rejection.outcome is Outcome.MALFORMED
    assert "30" in rejection.reason
    assert "30.5" in rejection.reason


def test_two_channels_may_share_a_time() -> None:
    values = (Measured(AIR, 30.0, NOW_MS, timed=True), Measured(RH, 84.0, NOW_MS, timed=True))
    assert in_order(values) == values
