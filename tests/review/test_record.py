"""A place over a period from several channels, and what a limit makes of it."""

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.review.course import GapCourse, GapKind
from daemon.review.estimate import gap_course
from daemon.review.gap_values import Around, Known
from daemon.review.passive import Passive
from daemon.review.place import LimitInForce, LimitKind, LimitReview
from daemon.review.record import Open, PlaceRecord, Series, place_record
from daemon.review.values import Bounds, Span, Verdict
from daemon.review.verdict import added, judge, verdict_of

H = 3_600_000
BRIDGE_MS = H // 2
ROOM = Passive((18, 20, 22), (3, 4, 5))


def series(*points: tuple[float, float], off_by: float = 0.0, channel: str = "probe/t") -> Series:
    """Readings by hours and values."""
    at, value = np.array(points, dtype=float).reshape(-1, 2).T
    return Series(channel, at * H, value, off_by)


def every_quarter(from_h: float, to_h: float, value: float) -> list[tuple[float, float]]:
    return [(from_h + step / 4, value) for step in range(round((to_h - from_h) * 4) + 1)]


def estimate(gap: Open) -> GapCourse:
    begin = gap.from_ms if gap.before is None else gap.before.at_ms
    end = gap.to_ms if gap.after is None else gap.after.at_ms
    return gap_course(Around(begin, end, gap.before, gap.after), ROOM, None, None)


def record_of(channels: Sequence[Series], hours: float = 8) -> PlaceRecord:
    return place_record(channels, 0, round(hours * H), BRIDGE_MS, estimate)


def judged(kind: LimitKind, value: float, record: PlaceRecord) -> LimitReview:
    return judge(kind, [LimitInForce(record.span, value)], record)


OWN = series(*every_quarter(0, 2, 28), *every_quarter(6, 8, 28))


def test_what_is_measured_is_exact() -> None:
    """28 °C but for an hour's dip of straight lines to 24: below 26 for half of it, by 2 K at most, 0.5 * 2 / 2 K h."""
    dip = series((0, 28), (0.5, 28), (1.0, 24), (1.5, 28), (2, 28))
    review = judged(LimitKind.LOW, 26, record_of([dip], 2))
    assert review.verdict is Verdict.OUT
    assert review.outside_ms == pytest.approx(Bounds(*[0.5 * H] * 3))
    assert review.degree_hours == pytest.approx(Bounds(0.5, 0.5, 0.5))
    assert (review.first_out_ms, review.last_out_ms) == (0.75 * H, 1.25 * H)
    assert review.longest_run_ms.low == pytest.approx(0.5 * H)
    assert review.reason == "Outside for 30 min, all of it measured."


def test_a_gap_has_the_readings_around_it_and_leaves_the_verdict_open() -> None:
    record = record_of([OWN])
    (gap,) = record.gaps
    assert (gap.span, gap.before, gap.after) == (Span(2 * H, 6 * H), Known(2 * H, 28.0), Known(6 * H, 28.0))
    assert (record.own_ms, record.other_ms) == (4 * H, 0)
    low = judged(LimitKind.LOW, 26, record)
    assert (low.verdict, low.outside_ms.low, low.outside_ms.best) == (Verdict.UNKNOWN, 0, 0)
    assert 3 * H < low.outside_ms.high <= 4 * H
    assert "where nobody measured" in low.reason


def test_a_limit_that_lies_beyond_what_physics_allows_was_kept() -> None:
    """No colder than the coldest credible room: 18 °C."""
    assert judged(LimitKind.LETHAL_LOW, 15, record_of([OWN])).verdict is Verdict.IN


def test_a_gap_in_the_best_channel_is_asked_of_the_next_one() -> None:
    around = series(*every_quarter(0, 4, 27), off_by=1.0, channel="zone/t")
    record = record_of([OWN, around])
    other, gap = record.gaps
    assert (other.kind, other.span, other.before, other.after) == (
        GapKind.OTHER_PROBE,
        Span(2 * H, 4 * H),
        Known(2 * H, 28.0),
        Known(6 * H, 28.0),
    )
    assert gap.span == Span(4 * H, 6 * H)
    assert (record.own_ms, record.other_ms) == (4 * H, 2 * H)
    assert (other.low_c == 26).all()
    assert (other.high_c == 28).all()


@pytest.mark.parametrize(("limit_c", "verdict"), [(25.5, Verdict.IN), (27.5, Verdict.UNKNOWN), (28.5, Verdict.OUT)])
def test_another_places_probe_decides_only_what_is_clear(limit_c: float, verdict: Verdict) -> None:
    """A probe of the zone at 27 °C, give or take 1 K."""
    zone = series(*every_quarter(0, 8, 27), off_by=1.0)
    assert judged(LimitKind.LOW, limit_c, record_of([zone])).verdict is verdict


def test_nobody_there_leaves_all_open() -> None:
    record = record_of([])
    assert judged(LimitKind.HIGH, 31, record).verdict is Verdict.UNKNOWN
    assert [gap.span for gap in record.gaps] == [Span(0, 8 * H)]


def test_readings_around_the_period_bound_a_gap_over_all_of_it() -> None:
    record = place_record([series((-1, 28), (9, 27))], 0, 8 * H, BRIDGE_MS, estimate)
    (gap,) = record.gaps
    assert (gap.span, gap.before, gap.after) == (Span(0, 8 * H), Known(-H, 28.0), Known(9 * H, 27.0))
    assert np.interp(4 * H, gap.at_ms, gap.best_c) == pytest.approx(27.5)


def test_a_limit_that_changes_is_judged_by_the_figure_of_its_time() -> None:
    """28 °C all the time: above 27 in the first half, and not above 29 in the second."""
    record = record_of([series(*every_quarter(0, 8, 28))])
    in_force = [LimitInForce(Span(0, 4 * H), 27), LimitInForce(Span(4 * H, 8 * H), 29)]
    review = judge(LimitKind.HIGH, in_force, record)
    assert review.outside_ms == pytest.approx(Bounds(*[4 * H] * 3))
    assert review.degree_hours == pytest.approx(Bounds(4, 4, 4))


def test_a_run_that_goes_on_while_the_limit_changes_is_one() -> None:
    record = record_of([series(*every_quarter(0, 8, 28))])
    in_force = [LimitInForce(Span(0, 4 * H), 27), LimitInForce(Span(4 * H, 8 * H), 26)]
    assert judge(LimitKind.HIGH, in_force, record).longest_run_ms == pytest.approx(Bounds(*[8 * H] * 3))


def test_humidity_has_no_degree_hours() -> None:
    assert judged(LimitKind.HUMIDITY_LOW, 80, record_of([series(*every_quarter(0, 8, 70))])).degree_hours is None


def test_a_sum_without_a_best_estimate_has_none() -> None:
    assert added([Bounds(1, 2, 3), Bounds(0, None, 5)]) == Bounds(1, None, 8)
    assert added([]) == Bounds(0, 0, 0)


@pytest.mark.parametrize(
    ("bounds", "verdict"),
    [
        (Bounds(0, 0, 0), Verdict.IN),
        (Bounds(0, None, 5), Verdict.UNKNOWN),
        (Bounds(2, None, 5), Verdict.OUT),
        (Bounds(0, 0, 0.01), Verdict.IN),
    ],
)
def test_the_verdict_follows_from_the_bounds(bounds: Bounds, verdict: Verdict) -> None:
    assert verdict_of(bounds) is verdict


readings = st.lists(st.tuples(st.floats(-2, 12), st.floats(18, 36)), max_size=30, unique_by=lambda one: one[0])
channels = st.lists(readings.map(lambda found: series(*sorted(found))), max_size=2).map(
    lambda found: [
        Series(one.channel, np.round(one.times_ms), one.values, number * 1.0) for number, one in enumerate(found)
    ]
)


@given(channels, st.floats(20, 34), st.sampled_from([LimitKind.LOW, LimitKind.HIGH]))
def test_whatever_was_read_the_answer_is_consistent(found: list[Series], limit_c: float, kind: LimitKind) -> None:
    record = record_of(found)
    review = judged(kind, limit_c, record)
    low, best, high = review.outside_ms
    assert 0 <= low <= (low if best is None else best) <= high <= 8 * H + 1
    assert review.longest_run_ms.low <= low + 1
    assert review.longest_run_ms.high <= high + 1
    assert (review.verdict is Verdict.OUT) == (low >= 1)
    assert (review.verdict is Verdict.IN) == (high < 1)
    lengths = [record.own_ms, *(gap.length_ms for gap in record.gaps)]
    assert sum(lengths) == pytest.approx(8 * H, abs=len(lengths) + 1)


@given(channels, st.floats(20, 34), st.booleans(), st.integers(1, 8 * H - 1))
def test_a_period_that_is_split_adds_up(found: list[Series], limit_c: float, above: bool, middle_ms: int) -> None:
    record = record_of(found)
    whole = record.time_beyond_ms(limit_c, record.span, above=above)
    parts = [record.time_beyond_ms(limit_c, span, above=above) for span in (Span(0, middle_ms), Span(middle_ms, 8 * H))]
    assert sum(part.low for part in parts) == pytest.approx(whole.low, abs=5)
    assert sum(part.high for part in parts) == pytest.approx(whole.high, abs=5)
