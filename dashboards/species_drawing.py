"""The temperatures of a species by stage, and how long it takes at which warmth, drawn. Pure."""

from collections.abc import Sequence
from typing import NamedTuple

from config.species import SpeciesProfile
from daemon.development.basis import Basis, development_basis, tried_c
from daemon.development.fits import line_days
from daemon.development.stages import stage_name
from dashboards import drawing, figures
from dashboards.chart_axes import value_ticks
from dashboards.drawing import BOTTOM, LEFT, RIGHT, TOP, WIDTH, Box, Drawing, Stroke, Words

_ROW = 46
_BAR = 18
_ROOM_K = 2.0
_STEPS = 40
DAYS_HEIGHT = 260
_CROSS = 5
_LEAST_ABOVE_ZERO_K = 0.5
"""Nearer to its zero a line knows no duration worth drawing."""
_COVERAGE = 2
_LABEL_ROOM = 64


class StageRow(NamedTuple):
    """A stage, and the air that is safe in it, °C."""

    name: str
    low_c: float
    high_c: float


def stage_rows(profile: SpeciesProfile) -> tuple[StageRow, ...]:
    """Give the stages in order; what one of them does not state stays as it was before it."""
    low, high = profile.temperature.low.value, profile.temperature.high.value
    rows = [StageRow("from laying", low, high)]
    for stage in profile.stages:
        if stage.temperature is not None:
            low, high = stage.temperature.low.value, stage.temperature.high.value
        rows.append(StageRow(stage_name(stage), low, high))
    return tuple(rows)


def limits_drawing(profile: SpeciesProfile, *, fahrenheit: bool) -> Drawing:
    """Draw the safe air of every stage, where embryos die, and what they stand for a while."""
    rows, stated = stage_rows(profile), profile.temperature
    exposed = [each for limit in profile.exposure for each in (limit.above_c, limit.below_c) if each is not None]
    cold = [] if stated.lethal_low is None else [stated.lethal_low.value]
    values = [*(each for row in rows for each in row[1:]), stated.lethal_high.value, *exposed, *cold]
    across = drawing.Scale(min(values) - _ROOM_K, max(values) + _ROOM_K, RIGHT, WIDTH - RIGHT)
    height = TOP + _ROW * len(rows) + BOTTOM
    foot = height - BOTTOM
    boxes = [_box("range-lethal", across.at(stated.lethal_high.value), WIDTH - RIGHT, TOP, foot - TOP)]
    if stated.lethal_low is not None:
        boxes.append(_box("range-lethal", RIGHT, across.at(stated.lethal_low.value), TOP, foot - TOP))
    words = []
    for number, row in enumerate(rows):
        y = TOP + _ROW * number
        boxes.append(_box("range-safe", across.at(row.low_c), across.at(row.high_c), y + _ROW - _BAR - 6, _BAR))
        low, high = (figures.temperature(each, fahrenheit) for each in (row.low_c, row.high_c))
        words.append(Words(RIGHT, y + 14, "start", f"{row.name}: {low.number} to {high}"))
    strokes = [Stroke("range-exposure", f"M{across.at(each):g} {TOP}V{foot}") for each in exposed]
    axis, ticks = _temperature_axis(across, height, fahrenheit)
    return Drawing(height, _limits_label(profile, rows, fahrenheit), tuple(boxes), (*strokes, *axis), (*words, *ticks))


def days_drawing(profile: SpeciesProfile, *, fahrenheit: bool) -> Drawing | None:
    """Draw the days from laying to hatching over temperature; None where nothing tells them, or development pauses."""
    basis, tried = development_basis(profile), tried_c(profile)
    if basis is None or tried is None or profile.pause != "none":
        return None
    low_c = max(tried[0], basis.zero_c + _LEAST_ABOVE_ZERO_K)
    high_c = max(tried[1], low_c + _LEAST_ABOVE_ZERO_K)
    warmth = [low_c + (high_c - low_c) * step / _STEPS for step in range(_STEPS + 1)]
    days = [line_days(basis.zero_c, basis.constant_ch, min(each, basis.cap_c)) for each in warmth]
    spread = _COVERAGE * basis.scatter_pct / 100
    usual = profile.usual_duration
    seen = [one.days for one in profile.durations] + ([] if usual is None else [usual.days_low, usual.days_high])
    least, most = min(*seen, *days) * (1 - spread), max(*seen, *days) * (1 + spread)
    across = drawing.Scale(low_c - 1, high_c + 1, LEFT, WIDTH - RIGHT)
    up = drawing.upwards(least, most, DAYS_HEIGHT)
    grid, values = drawing.grid(up, (up.low, up.high))
    axis, ticks = _temperature_axis(across, DAYS_HEIGHT, fahrenheit)
    at = list(zip(map(across.at, warmth), days, strict=True))
    band = drawing.area(
        [(x, up.at(each * (1 + spread))) for x, each in at], [(x, up.at(each * (1 - spread))) for x, each in at]
    )
    strokes = [*grid, *axis, Stroke("line-sure", band), Stroke("line-best", drawing.line((x, up.at(d)) for x, d in at))]
    strokes += [_cross(across.at(one.temperature_c), up.at(one.days)) for one in profile.durations]
    boxes = []
    if usual is not None:
        left, right = across.at(usual.temperature_low_c), across.at(usual.temperature_high_c)
        top, bottom = up.at(usual.days_high), up.at(usual.days_low)
        boxes.append(Box("range-safe", left, top, max(round(right - left, 1), 2.0), max(round(bottom - top, 1), 2.0)))
    unit = Words(LEFT, TOP - 5, "start", "days from laying to hatching")
    label = _days_label(basis, (low_c, high_c), fahrenheit)
    return Drawing(DAYS_HEIGHT, label, tuple(boxes), tuple(strokes), (*values, *ticks, unit))


def _box(style: str, left: float, right: float, top: float, height: float) -> Box:
    return Box(style, round(left, 1), top, max(round(right - left, 1), 2.0), height)


def _cross(x: float, y: float) -> Stroke:
    left, step = x - _CROSS, 2 * _CROSS
    return Stroke("line-point", f"M{left:g} {y - _CROSS:g}l{step} {step}M{left:g} {y + _CROSS:g}l{step} -{step}")


def _temperature_axis(across: drawing.Scale, height: int, fahrenheit: bool) -> tuple[list[Stroke], list[Words]]:
    low, high = (each * 9 / 5 + 32 if fahrenheit else each for each in (across.low, across.high))
    shown = drawing.Scale(low, high, across.begin, across.end)
    ticks, decimals = value_ticks(low, high)
    foot = height - BOTTOM
    strokes = [Stroke("axis", f"M{across.begin:g} {foot}H{across.end:g}")]
    words: list[Words] = []
    for value in ticks:
        x = shown.at(value)
        strokes.append(Stroke("axis", f"M{x:g} {foot}v5"))
        unit = "°F" if fahrenheit else "°C"
        text = f"{figures.number(value, decimals)}{f' {unit}' if value == ticks[-1] else ''}"
        is_near_end = x > WIDTH - _LABEL_ROOM
        words.append(Words(min(x, WIDTH - RIGHT), height - 8, "end" if is_near_end else "middle", text))
    return strokes, words


def _limits_label(profile: SpeciesProfile, rows: Sequence[StageRow], fahrenheit: bool) -> str:
    told = []
    for row in rows:
        low, high = (figures.temperature(each, fahrenheit) for each in row[1:])
        told.append(f"{row.name} {low.number} to {high}")
    lethal = figures.temperature(profile.temperature.lethal_high.value, fahrenheit)
    return f"Air around the eggs: {'; '.join(told)}. Embryos die above {lethal}."


def _days_label(basis: Basis, ends_c: tuple[float, float], fahrenheit: bool) -> str:
    told = [
        f"{line_days(basis.zero_c, basis.constant_ch, min(each, basis.cap_c)):.0f} days at "
        f"{figures.temperature(each, fahrenheit)}"
        for each in ends_c
    ]
    return f"Days from laying to hatching: {', '.join(told)}."
