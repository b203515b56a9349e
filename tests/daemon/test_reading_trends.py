"""The trend of each channel on the first page, from a real journal, corrected, and kept for a minute."""

import pytest

from config.words import Quantity
from daemon.reading_trends import CELL_MS, ReadingTrends
from daemon.standing.reading_trend import Way
from daemon.storage import calibrations
from sensors.reading import ChannelKey, Reading
from tests.daemon.kept import AIR, HOUR_MS, START_MS, Kept
from tests.support.household import MINUTE_MS

AIR_KEY = ChannelKey(AIR, "north-air", "air", Quantity.AIR_TEMPERATURE)


def drift(per_h: float, until_ms: int, every_ms: int = MINUTE_MS) -> list[Reading]:
    """An hour of readings that move by so much."""
    moments = range(until_ms - HOUR_MS, until_ms, every_ms)
    return [Reading(AIR, at, at, 28 + per_h * (at - moments[0]) / HOUR_MS, 0) for at in moments]


def test_the_first_page_has_the_trend_of_a_channel(kept: Kept) -> None:
    kept.put(drift(1.2, START_MS))
    trend = kept.channels(START_MS)[AIR].trend
    assert trend is not None
    assert trend.way is Way.RISING
    assert trend.per_h == pytest.approx(1.2)


def test_it_is_read_again_after_a_minute_and_not_before(kept: Kept) -> None:
    kept.put(drift(1.2, START_MS))
    trends, key = ReadingTrends(), AIR_KEY
    minute_ms = START_MS // MINUTE_MS * MINUTE_MS

    def way(now_ms: int) -> Way:
        with kept.journal.read() as conn:
            found = trends.of(conn, key, calibrations.load(conn, kept.site), now_ms)
        assert found is not None
        return found.way

    assert way(minute_ms) is Way.RISING
    kept.put(drift(-3.0, START_MS + HOUR_MS))
    assert way(minute_ms + MINUTE_MS - 1) is Way.RISING
    assert way(START_MS + HOUR_MS) is Way.FALLING


def test_a_probe_that_sends_every_second_costs_as_many_readings_as_one_that_sends_every_minute(kept: Kept) -> None:
    kept.put(drift(1.2, START_MS, 1000))
    taken: list[str] = []
    with kept.journal.read() as conn:
        conn.set_progress_handler(lambda: taken.append(""), 100)
        ReadingTrends().of(conn, AIR_KEY, calibrations.load(conn, kept.site), START_MS)
        conn.set_progress_handler(None, 0)
    # By hand: 20 cells of three minutes, each less than a hundred steps of SQLite's machine; 3,600 readings are more.
    assert len(taken) * 100 < 20 * 100 + 1000
    assert CELL_MS == 3 * MINUTE_MS
