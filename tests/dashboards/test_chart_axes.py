"""Marks of axes: round, few, and on the clock of the site."""

from datetime import UTC, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.clock import as_ms
from dashboards.chart_axes import time_ticks, value_ticks

BERLIN = ZoneInfo("Europe/Berlin")
HOUR_MS = 3_600_000


def ms(text: str, zone: ZoneInfo = BERLIN) -> int:
    return as_ms(datetime.fromisoformat(text).replace(tzinfo=zone))


def texts(start: str, end: str, zone: ZoneInfo = BERLIN) -> list[str]:
    return [text.replace("\N{NO-BREAK SPACE}", " ") for _, text in time_ticks(ms(start, zone), ms(end, zone), zone)]


# By hand: the smallest of 1, 2, 5 times a power of ten that leaves no more than five steps.
@pytest.mark.parametrize(
    ("least", "most", "expected", "decimals"),
    [
        (27.0, 31.0, [27, 28, 29, 30, 31], 0),
        (27.4, 29.3, [27.5, 28.0, 28.5, 29.0], 1),
        (-3.0, 41.0, [0, 10, 20, 30, 40], 0),
        (81.02, 81.07, [81.02, 81.03, 81.04, 81.05, 81.06, 81.07], 2),
    ],
)
def test_values_are_round(least: float, most: float, expected: list[float], decimals: int) -> None:
    found, digits = value_ticks(least, most)
    assert found == pytest.approx(expected)
    assert digits == decimals


@given(st.floats(-100, 100), st.floats(0.01, 1000))
def test_values_lie_between_the_ends_and_are_few(least: float, span: float) -> None:
    found, _ = value_ticks(least, least + span)
    assert 2 <= len(found) <= 6
    assert all(least - span * 1e-6 <= value <= least + span * (1 + 1e-6) for value in found)


def test_hours_and_midnights_are_those_of_the_site() -> None:
    assert texts("2026-06-30T14:00", "2026-07-01T14:00") == ["18:00", "1 Jul", "06:00", "12:00"]
    assert texts("2026-06-30T13:50", "2026-06-30T14:50") == ["14:00", "14:20", "14:40"]
    assert texts("2026-06-30T14:00", "2026-06-30T14:00:10") == ["14:00:00", "14:00:05"]


def test_after_a_change_to_summer_time_the_hours_are_still_round() -> None:
    # 29 March 2026: 02:00 became 03:00 in Berlin, so midnight to 06:00 is five hours.
    found = time_ticks(ms("2026-03-29T00:00"), ms("2026-03-29T12:00"), BERLIN)
    assert [text.replace("\N{NO-BREAK SPACE}", " ") for _, text in found] == ["29 Mar", "03:00", "06:00", "09:00"]
    assert [after - before for (before, _), (after, _) in pairwise(found)] == [
        2 * HOUR_MS,
        3 * HOUR_MS,
        3 * HOUR_MS,
    ]
    # 02:00 itself was not there.
    assert "02:00" not in texts("2026-03-29T00:00", "2026-03-29T05:00")


def test_months_of_a_year_are_few_and_say_the_year() -> None:
    found = texts("2025-07-01T00:00", "2026-07-01T00:00")
    assert 2 <= len(found) <= 5
    assert all(text[-4:] in ("2025", "2026") for text in found)


@given(st.datetimes(datetime(2020, 1, 1), datetime(2030, 1, 1)), st.integers(1000, 20 * 366 * 24 * HOUR_MS))  # noqa: DTZ001 - hypothesis takes them without
def test_moments_lie_in_the_period_in_order(start: datetime, length_ms: int) -> None:
    from_ms = as_ms(start.replace(tzinfo=UTC))
    found = [at for at, _ in time_ticks(from_ms, from_ms + length_ms, BERLIN)]
    assert found == sorted(set(found))
    assert all(from_ms <= at < from_ms + length_ms for at in found)
    assert len(found) <= 6
