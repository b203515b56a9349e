"""Broker, clock and disk: what holds, what does not, and of what nothing can be said."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import AlarmKind
from daemon.arrival import BrokerState
from daemon.standing.machine import (
    CLOCK_HOLD_MS,
    ClockSet,
    DiskRoom,
    broker_lost,
    bytes_text,
    clock_stepped,
    disk_low,
    fill_rate_bytes_per_h,
    least_free_bytes,
)

MADRID = ZoneInfo("Europe/Madrid")
THREE_MS = int(datetime(2026, 11, 1, 2, tzinfo=UTC).timestamp()) * 1000
"""03:00 in Madrid: winter time, an hour ahead of UTC, since 25 October 2026."""
GB = 1_000_000_000
HOUR_MS = 3_600_000
LONG_MS = 10 * HOUR_MS


def test_a_connected_broker_is_no_alarm_and_a_lost_one_says_since_when_and_why() -> None:
    assert broker_lost(BrokerState(True, "connected to a:1883", 7), starting=False) is None
    found = broker_lost(BrokerState(False, "cannot reach a:1883 (connection refused). ", 7), starting=False)
    assert found is not None
    assert (found.kind, found.subject, found.since_ms, found.known) == (AlarmKind.BROKER_LOST, "broker", 7, True)
    assert found.reason == "cannot reach a:1883 (connection refused)"


def test_while_the_daemon_starts_nothing_can_be_said_of_a_broker_that_has_not_answered() -> None:
    found = broker_lost(BrokerState(False, "not connected yet", 7), starting=True)
    assert found is not None
    assert not found.known


@pytest.mark.parametrize(
    ("by_ms", "said"),
    [
        (-HOUR_MS, "clock moved back by 1 h at 03:00"),
        (HOUR_MS + 300_000, "clock moved forward by 1 h 5 min at 03:00"),
    ],
)
def test_a_clock_that_was_set_is_told_in_local_time(by_ms: int, said: str) -> None:
    found = clock_stepped([ClockSet(by_ms, THREE_MS, 60_000)], LONG_MS, THREE_MS + 60_000, MADRID, on=False)
    assert found is not None
    assert (found.kind, found.subject, found.reason) == (AlarmKind.CLOCK_STEPPED, "clock", said)


def test_it_is_over_a_quarter_of_an_hour_later() -> None:
    def on_after(ago_ms: int) -> bool:
        return clock_stepped([ClockSet(60_000, 0, ago_ms)], LONG_MS, ago_ms, MADRID, on=True) is not None

    assert on_after(15 * 60_000 - 1)
    assert not on_after(15 * 60_000)


def test_of_several_the_largest_is_told_and_their_number() -> None:
    sets = [ClockSet(90_000, THREE_MS, 9000), ClockSet(-HOUR_MS, THREE_MS, 6000), ClockSet(61_000, THREE_MS, 3000)]
    found = clock_stepped(sets, LONG_MS, THREE_MS, MADRID, on=False)
    assert found is not None
    assert found.reason == "clock moved back by 1 h at 03:00, the largest of 3 times"


def test_after_a_restart_an_alarm_of_the_clock_stays_on_for_as_long_as_it_could_have_been() -> None:
    found = clock_stepped([], CLOCK_HOLD_MS - 1, 0, MADRID, on=True)
    assert found is not None
    assert not found.known
    assert clock_stepped([], CLOCK_HOLD_MS, 0, MADRID, on=True) is None
    assert clock_stepped([], 0, 0, MADRID, on=False) is None


@pytest.mark.parametrize(
    ("total_gb", "least_gb"),
    [(1000, 1.0), (20, 1.0), (8, 0.4), (0.5, 0.025)],  # project choice: 1 GB or 5 %, the smaller
)
def test_the_limit_fits_the_disk_and_the_way_back_is_longer(total_gb: float, least_gb: float) -> None:
    total, least = int(total_gb * GB), int(least_gb * GB)
    assert least_free_bytes(total) == pytest.approx(least)

    def holds(free_bytes: float, *, on: bool) -> bool:
        return disk_low(DiskRoom(int(free_bytes), total, 0.0), on=on) is not None

    assert holds(least * 0.999, on=False)
    assert not holds(least * 1.001, on=False)
    assert holds(least * 1.249, on=True)  # a quarter more, project choice
    assert not holds(least * 1.251, on=True)


def test_it_says_how_much_is_left_and_when_it_is_full() -> None:
    found = disk_low(DiskRoom(412_000_000, 29 * GB, 0.0), on=False)
    assert found is not None
    assert (found.kind, found.subject) == (AlarmKind.DISK_LOW, "disk")
    assert found.reason == "412 MB of 29.0 GB are free"
    # 5 GB at 100 MB an hour: 50 h, which is 2 days and 2 hours.
    found = disk_low(DiskRoom(5 * GB, 29 * GB, 100_000_000.0), on=False)
    assert found is not None
    assert found.reason == "5.0 GB of 29.0 GB are free; at 100 MB an hour it is full in 2 d 2 h"


def test_what_fills_within_three_days_is_told_and_is_over_when_it_takes_well_longer() -> None:
    def holds(hours: float, *, on: bool) -> bool:
        return disk_low(DiskRoom(7 * GB, 30 * GB, 7 * GB / hours), on=on) is not None

    assert holds(71.9, on=False)
    assert not holds(72.1, on=False)
    assert holds(72.0 * 1.24, on=True)
    assert not holds(72.0 * 1.26, on=True)


@pytest.mark.parametrize("disk", [None, DiskRoom(0, 0), DiskRoom(9 * GB, 10 * GB, None)])
def test_where_nothing_is_known_an_alarm_stays_on_and_none_begins(disk: DiskRoom | None) -> None:
    found = disk_low(disk, on=True)
    assert found is not None
    assert not found.known
    assert disk_low(disk, on=False) is None


def test_a_disk_that_is_low_is_told_before_its_trend_is_known() -> None:
    found = disk_low(DiskRoom(1000, 10 * GB, None), on=False)
    assert found is not None
    assert found.known


@given(st.floats(1e3, 1e9), st.integers(61, 360))
def test_a_disk_that_fills_evenly_has_the_rate_at_which_it_fills(per_hour: float, minutes: int) -> None:
    seen = [(60.0 * minute, int(1e12 - per_hour * minute / 60)) for minute in range(minutes)]
    rate = fill_rate_bytes_per_h(seen)
    assert rate == pytest.approx(per_hour, rel=1e-3, abs=10)


@given(st.integers(0, 359), st.floats(0, 1e12))
def test_one_large_file_is_no_trend(minute: int, size: float) -> None:
    seen = [(60.0 * each, int(2e12 - size * (each >= minute))) for each in range(360)]
    assert fill_rate_bytes_per_h(seen) == 0.0


@given(st.lists(st.integers(0, 10**12), min_size=100, max_size=200))
def test_a_rate_is_never_negative(free: list[int]) -> None:
    rate = fill_rate_bytes_per_h([(60.0 * minute, each) for minute, each in enumerate(free)])
    assert rate is not None
    assert rate >= 0


def test_too_short_a_look_or_one_with_a_hole_says_nothing() -> None:
    assert fill_rate_bytes_per_h([]) is None
    assert fill_rate_bytes_per_h([(60.0 * minute, 10**9 - minute) for minute in range(60)]) is None
    assert fill_rate_bytes_per_h([(0.0, 10**9), (20_000.0, 1)]) is None


@pytest.mark.parametrize(
    ("size", "text"), [(1.25e9, "1.2 GB"), (999_999_999, "1000 MB"), (412e6, "412 MB"), (12_345, "12 kB"), (0, "0 kB")]
)
def test_an_amount_is_written_in_a_unit_that_fits(size: float, text: str) -> None:
    assert bytes_text(size) == text
