"""The drawing of a place over a period: where lines and bands lie, worked out by hand; 100 minutes, 20 to 30 °C."""

import math
import re
from collections.abc import Sequence
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from daemon.review.course import GapCourse, GapKind
from daemon.review.gap_values import Known
from daemon.review.place import LimitInForce, LimitKind, LimitReview, PlaceReview
from daemon.review.telling import Telling
from daemon.review.values import Bounds, Fact, FactKind, Span, Verdict
from daemon.series import Bucket
from dashboards.drawing import LEFT, RIGHT, TOP, WIDTH, Drawing
from dashboards.review_chart import PLOT, Cause, causes_of, course_drawing

UTC = ZoneInfo("UTC")
TELLING = Telling(UTC)
MINUTE_MS = 60_000
START_MS = 1_780_002_000_000
END_MS = START_MS + 100 * MINUTE_MS
ROOM_K = 0.6
"""So much is left free above and below what is drawn, as the module says."""


def at(minutes: float) -> int:
    return START_MS + round(minutes * MINUTE_MS)


def x(minutes: float) -> float:
    return round(LEFT + (WIDTH - RIGHT - LEFT) * minutes / 100, 1)


def y(value: float, low: float = 20.0 - ROOM_K, high: float = 30.0 + ROOM_K) -> float:
    return round(PLOT - (PLOT - TOP) * (value - low) / (high - low), 1)


def gap(low: Sequence[float], best: Sequence[float], high: Sequence[float]) -> GapCourse:
    """From minute 40 to 60, its moments evenly apart."""
    moments = np.linspace(at(40), at(60), len(low))
    before, after = Known(at(40), 30.0), Known(at(60), 24.0)
    curves = (np.array(low), np.array(best), np.array(high))
    return GapCourse(
        Span(at(40), at(60)),
        GapKind.HEAT_OFF,
        before,
        after,
        moments,
        *curves,
        heat_back_ms=None,
        contradiction=False,
        reason="because",
    )


def limit(kind: LimitKind, value: float) -> LimitReview:
    none = Bounds(0.0, 0.0, 0.0)
    force = (LimitInForce(Span(START_MS, END_MS), value),)
    return LimitReview(kind, force, Verdict.IN, none, none, none, None, None, "")


def place(gaps: Sequence[GapCourse] = (), limits: Sequence[LimitReview] = ()) -> PlaceReview:
    low, high = Known(at(60), 24.0), Known(at(0), 30.0)
    numbers = (80 * MINUTE_MS, 0, 20 * MINUTE_MS, low, high)
    return PlaceReview(
        "north/upper", "Upper <b>shelf</b>", "one/air", True, Span(START_MS, END_MS), *numbers, tuple(gaps),
        tuple(limits), "", None, None, (),
    )  # fmt: skip


def buckets(*parts: tuple[float, float, float, bool]) -> list[Bucket]:
    """One for each (minute, least, most, gap before it)."""
    return [
        Bucket(
            *(at(minute), at(minute + 1), 2, least, (least + most) / 2, most, at(minute), at(minute)),
            *(0, None, None),
            gap_before=hole,
            gap_inside=False,
        )
        for minute, least, most, hole in parts
    ]


def drawn(
    gaps: Sequence[GapCourse] = (),
    measured: Sequence[Bucket] = (),
    limits: Sequence[LimitReview] = (),
    causes: Sequence[Cause] = (),
    telling: Telling = TELLING,
) -> Drawing:
    found = course_drawing(place(gaps, limits), measured, causes, telling, UTC)
    assert found is not None
    return found


def path(drawing: Drawing, style: str) -> list[tuple[float, float]]:
    [stroke] = [each for each in drawing.strokes if each.style == style]
    return [(float(one), float(two)) for one, two in re.findall(r"[ML]([\d.]+) ([\d.]+)", stroke.d)]


COURSE = gap([29.9, 20.0, 23.9], [30.0, 22.0, 24.0], [30.0, 24.0, 24.1])


def test_what_nobody_measured_is_a_band_between_two_curves_with_dashes_in_its_middle() -> None:
    drawing = drawn([COURSE])
    there_and_back = [(40, 30.0), (50, 24.0), (60, 24.1), (60, 23.9), (50, 20.0), (40, 29.9)]
    assert path(drawing, "review-gap") == [(x(minute), y(value)) for minute, value in there_and_back]
    assert path(drawing, "review-best") == [
        (x(minute), y(value)) for minute, value in [(40, 30.0), (50, 22.0), (60, 24.0)]
    ]
    assert len([each for each in drawing.strokes if each.style == "review-reading"]) == 2


def test_what_is_measured_is_a_line_that_breaks_where_readings_are_missing() -> None:
    measured = buckets((0, 29.0, 31.0, False), (39, 30.0, 30.0, False), (61, 20.0, 20.0, True), (99, 21.0, 23.0, False))
    drawing = drawn(measured=measured)
    scale = (20.0 - ROOM_K, 31.0 + ROOM_K)
    lines = [each.d for each in drawing.strokes if each.style == "review-measured"]
    assert lines == [
        f"M{x(0):g} {y(30.0, *scale):g}L{x(39):g} {y(30.0, *scale):g}",
        f"M{x(61):g} {y(20.0, *scale):g}L{x(99):g} {y(22.0, *scale):g}",
    ]


def test_where_nothing_bounds_it_the_band_reaches_the_edge_and_there_is_no_middle() -> None:
    endless = gap([-math.inf, -math.inf], [math.nan, math.nan], [math.inf, math.inf])
    drawing = drawn([endless])
    ends = {each[1] for each in path(drawing, "review-gap")}
    assert ends == {float(TOP), float(PLOT)}
    assert not [each for each in drawing.strokes if each.style == "review-best"]
    assert "nobody knows how cold" in drawing.label


def test_limits_are_lines_with_their_words_and_one_far_away_is_left_out() -> None:
    limits = [limit(LimitKind.HIGH, 30.0), limit(LimitKind.LOW, 21.0), limit(LimitKind.LETHAL_HIGH, 44.0)]
    drawing = drawn([COURSE], limits=[*limits, limit(LimitKind.HUMIDITY_LOW, 22.0)])
    lines = [each.d for each in drawing.strokes if each.style in ("review-limit", "review-lethal")]
    assert lines == [f"M{x(0):g} {y(value):g}H{x(100):g}" for value in (30.0, 21.0)]
    told = [each.text for each in drawing.words]
    assert "upper limit 30.0 °C" in told
    assert "lower limit 21.0 °C" in told
    assert not any("lethal" in text for text in told)


def test_a_cause_is_a_bar_under_the_axis_with_its_words_at_its_begin() -> None:
    causes = [
        Cause("no mains", (Span(at(30), at(55)), Span(at(90), None))),
        Cause("no probe heard", (Span(at(0), at(1)),)),
    ]
    drawing = drawn([COURSE], causes=causes)
    bars = [box for box in drawing.boxes if box.style == "review-cause"]
    assert [(bar.x, round(bar.x + bar.width, 1)) for bar in bars] == [(x(30), x(55)), (x(90), x(100)), (x(0), x(1))]
    assert bars[0].y == bars[1].y < bars[2].y < drawing.height
    [words] = [each for each in drawing.words if each.text == "no mains"]
    assert words.x == x(30)
    assert words.y < bars[0].y
    assert all(bar.y > PLOT for bar in bars)
    assert "no mains, no probe heard" in drawing.label


def test_in_fahrenheit_the_same_is_drawn_with_other_numbers() -> None:
    celsius, fahrenheit = drawn([COURSE]), drawn([COURSE], telling=Telling(UTC, fahrenheit=True))
    assert path(celsius, "review-gap") == path(fahrenheit, "review-gap")
    assert {each.text for each in celsius.words} >= {"20", "30", "°C"}
    # 20 °C is 68 °F and 30 °C is 86 °F, so 70 and 85 lie between them.
    assert {each.text for each in fahrenheit.words} >= {"70", "85", "°F"}


def test_without_a_reading_and_an_estimate_there_is_nothing_to_draw() -> None:
    assert course_drawing(place(), (), (), TELLING, UTC) is None


def fact(kind: FactKind, where: str, minutes: float = 0) -> Fact:
    return Fact(kind, Span(at(minutes), None), where, "", "words")


def test_of_causes_those_of_the_site_and_of_the_same_incubator_are_drawn() -> None:
    facts = [
        fact(FactKind.SITE_GAP, ""),
        fact(FactKind.MAINS_ABSENT, "warm"),
        fact(FactKind.PROBE_FAULT, "north/lower"),
        fact(FactKind.MAINS_ABSENT, "north", 5),
        fact(FactKind.MAINS_ABSENT, "", 1),
        fact(FactKind.EXCURSION, "north/upper"),
    ]
    found = causes_of(facts, "north/upper")
    assert [each.words for each in found] == ["no mains", "no probe heard", "probe faulty"]
    assert [span.from_ms for span in found[0].spans] == [at(1), at(5)]


@pytest.mark.parametrize("words", ["no mains", "machine and service off"])
def test_words_stay_inside_the_drawing(words: str) -> None:
    drawing = drawn([COURSE], causes=[Cause(words, (Span(at(98), at(100)),))])
    [told] = [each for each in drawing.words if each.text == words]
    assert told.x + 8 * len(words) <= WIDTH
