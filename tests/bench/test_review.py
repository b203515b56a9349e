"""The account of a day without readings, on a journal with all clutches and channels and less history.

What it reads is bounded by the day, so that history changes little. Processor time is held to the promise of a second.
"""

from pathlib import Path

from tests.bench import big_site, review

READINGS, DAYS, ALARM_EVENTS = 100_000, 6, 3_000


def test_a_day_without_readings_is_told_within_a_second(tmp_path: Path) -> None:
    big_site.make(tmp_path, READINGS, big_site.CLUTCHES, ALARM_EVENTS, DAYS)
    cost = review.review_cost(tmp_path)
    assert (cost.places, cost.clutches) == (65, big_site.CLUTCHES)
    assert cost.again_s <= 1.0
