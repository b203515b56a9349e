"""Whether a probe has settled over a salt or beside a reference."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.words import Quantity
from sensors.settling import settling

RH, AIR = Quantity.RELATIVE_HUMIDITY, Quantity.AIR_TEMPERATURE
MINUTE_MS = 60_000
SPAN_MS = 15 * MINUTE_MS
END_MS = 1_780_000_000_000


def every_minute(values: list[float], end_ms: int = END_MS) -> list[tuple[int, float]]:
    """One reading a minute, the last at the end."""
    first_ms = end_ms - (len(values) - 1) * MINUTE_MS
    return [(first_ms + number * MINUTE_MS, value) for number, value in enumerate(values)]


def test_a_still_reading_has_settled_at_its_mean() -> None:
    found = settling(RH, every_minute([75.2, 75.4] * 8), SPAN_MS, END_MS)
    assert found.settled, found.reason
    assert found.mean == pytest.approx(75.3)
    assert found.readings == 16
    # By hand: 16 values 0.1 from their mean, divided by 15.
    assert found.scatter == pytest.approx(0.1 * math.sqrt(16 / 15))


def test_a_probe_that_still_approaches_its_end_has_not_settled_and_later_has() -> None:
    """First-order lag of 6 min from 90 % to 75 %: the step response of any such element."""
    values = [75 + 15 * math.exp(-minute / 6) for minute in range(60)]
    early = settling(RH, every_minute(values[:16]), SPAN_MS, END_MS)
    assert not early.settled
    assert early.reason.startswith("It still falls")
    late = settling(RH, every_minute(values[:50]), SPAN_MS, END_MS)
    assert late.settled, late.reason
    assert late.mean == pytest.approx(75.0, abs=0.1)


def test_the_trend_is_that_of_numpy_s_straight_line() -> None:
    draw = np.random.default_rng(7)
    values = (29.0 + draw.normal(0, 0.02, 16) + np.linspace(0, 0.3, 16)).tolist()
    readings = every_minute(values)
    slope = np.polyfit([(at - END_MS) / MINUTE_MS for at, _ in readings], values, 1)[0]
    found = settling(AIR, readings, SPAN_MS, END_MS)
    assert found.trend == pytest.approx(float(slope) * 15, abs=1e-9)
    assert "still rises" in found.reason


def test_a_jumping_reading_has_not_settled() -> None:
    found = settling(RH, every_minute([73.0, 77.0, 77.0, 73.0] * 4), SPAN_MS, END_MS)
    assert not found.settled
    assert "jumps" in found.reason


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ([], "no good reading"),
        (every_minute([75.0]), "Only 1 good reading over 0 min"),
        (every_minute([75.0] * 4), "Only 4 good readings"),
        (every_minute([75.0] * 8), "over 7 min"),
        (every_minute([75.0] * 16, END_MS - 60 * MINUTE_MS), "no good reading"),
    ],
)
def test_too_little_to_judge_is_said(readings: list[tuple[int, float]], words: str) -> None:
    found = settling(RH, readings, SPAN_MS, END_MS)
    assert not found.settled
    assert words in found.reason


def test_only_the_span_counts() -> None:
    found = settling(RH, every_minute([90.0] * 20 + [75.0] * 16), SPAN_MS, END_MS)
    assert found.settled
    assert found.mean == 75.0


@settings(derandomize=True, deadline=None)
@given(values=st.lists(st.floats(0, 100), min_size=1, max_size=16))
def test_the_mean_lies_among_the_readings(values: list[float]) -> None:
    found = settling(RH, every_minute(values), SPAN_MS, END_MS)
    assert found.mean is not None
    assert min(values) - 1e-9 <= found.mean <= max(values) + 1e-9
