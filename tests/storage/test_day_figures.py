"""Least, mean and most of a span, against numpy on the same readings."""

from dataclasses import replace
from itertools import count

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from config.words import Quantity
from daemon.storage import day_figures, samples
from daemon.storage.day_figures import Figures
from daemon.storage.journal import Journal
from sensors.calibration import FROM_EVER_MS, Piece
from sensors.reading import ChannelKey, Reading

KEY = ChannelKey("north/t", "north", "t", Quantity.AIR_TEMPERATURE)
RAW = (Piece(FROM_EVER_MS, 1.0, 0.0, 0.1),)
DAY_MS = 86_400_000
BRIDGE_MS = 1_800_000
START_MS = 1_780_000_000_000
series = st.lists(
    st.tuples(st.integers(1, 3 * BRIDGE_MS), st.floats(-40, 80, allow_nan=False)), min_size=1, max_size=60
)
_turn = count()


def put(journal: Journal, times_ms: list[int], values: list[float], key: ChannelKey = KEY, quality: int = 0) -> None:
    rows = [Reading(key.channel, at, at, value, quality) for at, value in zip(times_ms, values, strict=True)]
    journal.write(lambda conn: samples.append(conn, samples.channel_ids(conn, [key]), rows))


def read(journal: Journal, pieces: tuple[Piece, ...] = RAW, key: ChannelKey = KEY, end_ms: int = DAY_MS) -> Figures:
    with journal.read() as conn:
        return day_figures.figures(conn, key.channel, pieces, START_MS, START_MS + end_ms, BRIDGE_MS)


def by_numpy(times_ms: np.ndarray, values: np.ndarray) -> tuple[float, float | None, float, int]:
    """The trapezoid of every step that is no gap, over the time of these steps."""
    steps = np.diff(times_ms)
    near = steps <= BRIDGE_MS
    middles = (values[1:] + values[:-1]) / 2
    covered = int(steps[near].sum())
    return values.min(), float(np.dot(steps[near], middles[near]) / covered) if covered else None, values.max(), covered


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(series, st.floats(0.9, 1.1), st.floats(-3, 3))
def test_irregular_readings_with_gaps_give_what_numpy_gives(
    journal: Journal, steps: list[tuple[int, float]], gain: float, shift: float
) -> None:
    key = replace(KEY, channel=f"probe-{next(_turn)}/t")
    times = START_MS + np.cumsum([step for step, _ in steps])
    values = np.array([value for _, value in steps])
    inside = times < START_MS + DAY_MS
    put(journal, times.tolist(), values.tolist(), key)
    found = read(journal, (Piece(FROM_EVER_MS, gain, shift, 0.1),), key)
    least, mean, most, covered_ms = by_numpy(times[inside], gain * values[inside] + shift)
    assert found.covered_ms == covered_ms
    assert found.least == pytest.approx(least)
    assert found.most == pytest.approx(most)
    assert (found.mean is None) == (mean is None)
    if mean is not None and found.mean is not None:
        assert found.mean == pytest.approx(mean, abs=1e-6)
        assert least - 1e-9 <= found.mean <= most + 1e-9


def test_by_hand_two_lines_and_a_gap(journal: Journal) -> None:
    """20 to 30 in 20 min, 30 to 30 in 10 min: (25 * 20 + 30 * 10) / 30; then an hour of which nothing is known."""
    minutes = [0, 20, 30, 90]
    put(journal, [START_MS + minute * 60_000 for minute in minutes], [20.0, 30.0, 30.0, 99.0])
    least, mean, most, covered_ms = read(journal)
    assert (least, most, covered_ms) == (20.0, 99.0, 30 * 60_000)
    assert mean == pytest.approx(800 / 30)


def test_what_is_suspect_or_outside_of_the_span_does_not_count(journal: Journal) -> None:
    put(journal, [START_MS - 1, START_MS, START_MS + 60_000, START_MS + DAY_MS], [1.0, 20.0, 22.0, 99.0])
    put(journal, [START_MS + 30_000], [85.0], quality=1)
    assert read(journal) == Figures(20.0, 21.0, 22.0, 60_000)


def test_without_readings_there_are_no_figures_and_of_lone_ones_no_mean(journal: Journal) -> None:
    assert read(journal) == Figures(None, None, None, 0)
    put(journal, [START_MS, START_MS + BRIDGE_MS + 1], [20.0, 24.0])
    assert read(journal) == Figures(20.0, None, 24.0, 0)


def test_each_reading_is_corrected_by_the_calibration_of_its_time(journal: Journal) -> None:
    """From minute 30 on half a degree is added; the minute over which it changes counts as a gap."""
    put(journal, [START_MS + minute * 60_000 for minute in range(61)], [20.0] * 61)
    change_ms = START_MS + 30 * 60_000
    found = read(journal, (*RAW, Piece(change_ms, 1.0, 0.5, 0.1), Piece(change_ms + DAY_MS, 1.0, 9.0, 0.1)))
    assert (found.least, found.most, found.covered_ms) == (20.0, 20.5, 59 * 60_000)
    assert found.mean == pytest.approx((29 * 20.0 + 30 * 20.5) / 59)
