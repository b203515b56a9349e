"""What a place went through over a period, drawn: measured, estimated where nobody measured, limits, causes. Pure.

What is measured is a line, what is estimated a hatched band with dashes along its middle; a cause is a bar under the
axis with its words beside it. Nothing is told by colour alone, and `label` says the same in a sentence.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple
from zoneinfo import ZoneInfo

from daemon.review.course import GapCourse, GapKind
from daemon.review.place import LimitInForce, LimitKind, LimitReview, PlaceReview
from daemon.review.telling import ABOUT_95, Telling
from daemon.review.values import Fact, FactKind, Span
from daemon.series import Bucket
from dashboards import drawing
from dashboards.chart_svg import runs_of
from dashboards.drawing import LEFT, RIGHT, TOP, WIDTH, Box, Drawing, Scale, Stroke, Words

PLOT = 220
_AXIS, _ROW, _BAR = 34, 28, 8
_ROOM_K = 0.6
_LEAST_SPAN_K = 3.0
_NEAR_K = 4.0
"""A limit farther than this from all that was is not drawn: it would flatten the rest. Project choice."""
_LETTER = 8.0
"""About so wide is a letter in the units of the drawing."""
_MARK = 4.0
_CAUSES = {
    FactKind.MAINS_ABSENT: "no mains",
    FactKind.MACHINE_RESTARTED: "machine and service off",
    FactKind.MACHINE_SLEPT: "machine asleep",
    FactKind.SERVICE_CUT_OFF: "service off",
    FactKind.SERVICE_STOPPED: "service off",
    FactKind.BROKER_LOST: "broker lost",
    FactKind.CLOCK_STEP: "clock wrong",
    FactKind.SITE_GAP: "no probe heard",
    FactKind.PROBE_FAULT: "probe faulty",
}
_LIMITS = {
    LimitKind.LOW: "lower limit",
    LimitKind.HIGH: "upper limit",
    LimitKind.LETHAL_LOW: "lethal",
    LimitKind.LETHAL_HIGH: "lethal",
}


class Cause(NamedTuple):
    """A bar under the axis: what it was, and when."""

    words: str
    spans: tuple[Span, ...]


def causes_of(facts: Iterable[Fact], place: str) -> tuple[Cause, ...]:
    """Give what is drawn under the axis of a place: what held for the whole site, or for its incubator."""
    found: dict[str, list[Span]] = {}
    mine = place.split("/", 1)[0]
    for fact in sorted(facts, key=lambda each: each.span.from_ms):
        words = _CAUSES.get(fact.kind)
        if words is not None and (not fact.place or fact.place.split("/", 1)[0] == mine):
            found.setdefault(words, []).append(fact.span)
    order = list(dict.fromkeys(_CAUSES.values()))
    return tuple(Cause(words, tuple(found[words])) for words in order if words in found)


def course_drawing(
    place: PlaceReview, measured: Sequence[Bucket], causes: Sequence[Cause], telling: Telling, zone: ZoneInfo
) -> Drawing | None:
    """Draw the temperature of a place; None where nothing was measured and nothing can be estimated.

    `measured`: the readings of its channel in stretches of time, in order.
    """
    scale = _scale(place, measured)
    if scale is None:
        return None
    time = Scale(place.span.from_ms, place.span.until(place.span.from_ms + 1), LEFT, WIDTH - RIGHT)
    heat = Scale(*scale, PLOT, TOP)
    boxes, strokes, words = _ground(heat, time, telling, zone)
    for gap in place.gaps:
        strokes += _gap(gap, time, heat)
    strokes += _measured(measured, time, heat)
    for limit in place.limits:
        lines, texts = _limit(limit, time, heat, telling)
        strokes += lines
        words += texts
    for row, cause in enumerate(causes):
        bars, text = _cause(cause, row, time)
        boxes += bars
        words.append(text)
    height = PLOT + _AXIS + _ROW * len(causes) + (6 if causes else 0)
    return Drawing(height, _label(place, causes, telling), tuple(boxes), tuple(strokes), tuple(words))


def _ground(heat: Scale, time: Scale, telling: Telling, zone: ZoneInfo) -> tuple[list[Box], list[Stroke], list[Words]]:
    shown = (_shown(heat.low, telling), _shown(heat.high, telling))
    grid, values = drawing.grid(heat, shown)
    frame, moments = drawing.frame(time, PLOT + drawing.BOTTOM, zone)
    unit = Words(4, 12, "start", "°F" if telling.fahrenheit else "°C")
    return [], [*grid, *frame], [*values, *moments, unit]


def _scale(place: PlaceReview, measured: Sequence[Bucket]) -> tuple[float, float] | None:
    """The least and the most that is drawn, degree Celsius: all that is finite, and the limits that are near."""
    ends = [end for each in measured if each.good for end in (each.least, each.most) if end is not None]
    for gap in place.gaps:
        for curve in (gap.low_c, gap.high_c, gap.best_c):
            ends += [float(each) for each in curve if math.isfinite(each)]
        ends += [known.temperature_c for known in (gap.before, gap.after) if known is not None]
    if not ends:
        return None
    least, most = min(ends), max(ends)
    limits = [each.value for limit in place.limits if not limit.kind.is_humidity for each in limit.in_force]
    near = [value for value in limits if least - _NEAR_K <= value <= most + _NEAR_K]
    least, most = min([least, *near]) - _ROOM_K, max([most, *near]) + _ROOM_K
    wider = max(_LEAST_SPAN_K - (most - least), 0.0) / 2
    return least - wider, most + wider


def _measured(measured: Sequence[Bucket], time: Scale, heat: Scale) -> Iterator[Stroke]:
    """The line, broken where readings are missing, and a band from least to most."""
    for run in runs_of(measured):
        at = [(time.at(((each.first_ms or 0) + (each.last_ms or 0)) / 2), each) for each in run]
        over = [(x, heat.at(each.most or 0.0)) for x, each in at]
        under = [(x, heat.at(each.least or 0.0)) for x, each in at]
        if len(run) > 1:
            yield Stroke("review-range", drawing.area(over, under))
        # A line of no length is drawn as a dot, since its ends are round.
        line = drawing.line((x, heat.at(each.mean or 0.0)) for x, each in at)
        yield Stroke("review-measured", line if len(run) > 1 else f"{line}h0")


def _gap(gap: GapCourse, time: Scale, heat: Scale) -> Iterator[Stroke]:
    """What it can have been, from the coldest to the hottest; beyond the drawing where nothing bounds it."""
    x = [time.at(float(each)) for each in gap.at_ms]
    high = [(at, heat.at(_within(float(value), heat))) for at, value in zip(x, gap.high_c, strict=True)]
    low = [(at, heat.at(_within(float(value), heat))) for at, value in zip(x, gap.low_c, strict=True)]
    is_other = gap.kind is GapKind.OTHER_PROBE
    area = drawing.area(_thinned(high), _thinned(low))
    yield Stroke("review-other" if is_other else "review-gap", area)
    best = [(at, heat.at(float(value))) for at, value in zip(x, gap.best_c, strict=True) if math.isfinite(value)]
    if best:
        yield Stroke("review-best", drawing.line(_thinned(best)))
    for known in () if is_other else (gap.before, gap.after):
        if known is not None and time.low <= known.at_ms <= time.high:
            at, y = time.at(known.at_ms), heat.at(known.temperature_c)
            diamond = f"l{_MARK:g} {-_MARK:g} {_MARK:g} {_MARK:g} {-_MARK:g} {_MARK:g}z"
            yield Stroke("review-reading", f"M{at - _MARK:g} {y:g}{diamond}")


def _within(value: float, heat: Scale) -> float:
    return min(max(value, heat.low), heat.high)


def _thinned(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Leave out what a drawing of this size cannot show: points on the straight way between their neighbours."""
    kept = list(points[:1])
    for before, here, after in zip(points, points[1:], points[2:], strict=False):
        width = after[0] - before[0]
        straight = before[1] + (after[1] - before[1]) * ((here[0] - before[0]) / width if width else 0.0)
        if abs(here[1] - straight) > 0.05 or here[0] - kept[-1][0] > 8.0:  # noqa: PLR2004 - a part of a pixel, some
            kept.append(here)
    return [*kept, *points[1:][-1:]]


def _limit(limit: LimitReview, time: Scale, heat: Scale, telling: Telling) -> tuple[list[Stroke], list[Words]]:
    """A limit as lines over the times in which it held, with its words at the last of them."""
    if limit.kind.is_humidity:
        return [], []
    is_lethal = limit.kind in (LimitKind.LETHAL_LOW, LimitKind.LETHAL_HIGH)
    drawn = [each for each in limit.in_force if heat.low <= each.value <= heat.high]
    strokes = [_limit_line(each, is_lethal, time, heat) for each in drawn]
    if not drawn:
        return strokes, []
    value = drawn[-1].value
    y = heat.at(value)
    text = f"{_LIMITS[limit.kind]} {telling.temperature(value)}"
    return strokes, [Words(WIDTH - RIGHT - 2, y - 4 if limit.kind.is_above else y + 14, "end", text)]


def _limit_line(each: LimitInForce, is_lethal: bool, time: Scale, heat: Scale) -> Stroke:
    x, end, y = time.at(each.span.from_ms), time.at(each.span.until(int(time.high))), heat.at(each.value)
    return Stroke("review-lethal" if is_lethal else "review-limit", f"M{x:g} {y:g}H{end:g}")


def _cause(cause: Cause, row: int, time: Scale) -> tuple[list[Box], Words]:
    """Bars in a row of their own, and the words over the first of them, inside the drawing."""
    top = PLOT + _AXIS + _ROW * row + 14
    bars = []
    for span in cause.spans:
        x, end = time.at(span.from_ms), time.at(span.until(int(time.high)))
        bars.append(Box("review-cause", x, top, max(round(end - x, 1), 2.0), _BAR))
    first = min(bars[0].x, WIDTH - RIGHT - _LETTER * len(cause.words))
    return bars, Words(max(round(first, 1), LEFT), top - 3, "start", cause.words)


def _shown(celsius: float, telling: Telling) -> float:
    return celsius * 9 / 5 + 32 if telling.fahrenheit else celsius


def _label(place: PlaceReview, causes: Sequence[Cause], telling: Telling) -> str:
    told = [f"{place.name}."]
    if place.lowest is not None and place.highest is not None:
        low, high = (telling.temperature(each.temperature_c) for each in (place.lowest, place.highest))
        told.append(f"Measured {low} to {high}.")
    gaps = [gap for gap in place.gaps if gap.kind is not GapKind.OTHER_PROBE]
    for gap in sorted(gaps, key=lambda each: -each.length_ms)[:1]:
        low_c = gap.coldest_c.low
        least = (
            f"{ABOUT_95} not below {telling.temperature(low_c)}" if math.isfinite(low_c) else "nobody knows how cold"
        )
        told.append(f"Nobody measured {telling.span(gap.span)}: {least}.")
    if causes:
        told.append(f"Under the axis: {', '.join(each.words for each in causes)}.")
    return " ".join(told)
