"""What a calibration does to the readings of a probe, drawn: the correction over the reading, and how sure it is. Pure.

The corrected line itself would hardly leave the diagonal: a probe is off by tenths of a degree over tens of degrees. So
what is drawn is corrected minus raw.
"""

from collections.abc import Callable

from daemon.calibration_text import COVERAGE
from dashboards import drawing, figures
from dashboards.chart_axes import value_ticks
from dashboards.drawing import BOTTOM, LEFT, RIGHT, TOP, WIDTH, Drawing, Stroke, Words
from sensors.calibration import Record, Stated
from sensors.calibration_line import Line
from sensors.calibration_scale import Scale

HEIGHT = 260
FOOT = HEIGHT - BOTTOM
_STEPS = 40
_RANGE = {True: (20.0, 40.0), False: (40.0, 100.0)}
"""What is drawn at least: readings that incubators have, °C and % RH. Project choice."""
_LEAST_HALF = {True: 0.2, False: 1.0}
_ROOM = 1.15
_MARK = 5


def correction_drawing(record: Record | None, stated: Stated, now_ms: int, *, fahrenheit: bool) -> Drawing:
    """Draw the line that counts now; without one what the maker states."""
    scale = Scale(stated.quantity, fahrenheit)
    line = None if record is None else record.line
    age_ms = 0 if record is None else now_ms - record.taken_at_ms
    low, high = _span(line, stated)
    raw = [low + (high - low) * step / _STEPS for step in range(_STEPS + 1)]
    off = (lambda _: 0.0) if line is None else (lambda reading: line.corrected(reading) - reading)
    sure = _spread(line, stated, age_ms)
    half = max(_LEAST_HALF[stated.quantity.is_temperature], *(abs(off(each)) + sure(each) for each in raw)) * _ROOM
    across = drawing.Scale(low, high, LEFT, WIDTH - RIGHT)
    up = drawing.upwards(-half, half, HEIGHT)
    grid, values = drawing.grid(up, (-scale.shown_difference(half), scale.shown_difference(half)))
    axis, readings = _reading_axis(across, scale)
    strokes = [
        *grid,
        *axis,
        Stroke(
            "line-sure",
            drawing.area(
                [(across.at(each), up.at(off(each) + sure(each))) for each in raw],
                [(across.at(each), up.at(off(each) - sure(each))) for each in raw],
            ),
        ),
        Stroke("line-raw", f"M{LEFT} {up.at(0.0):g}H{WIDTH - RIGHT}"),
        Stroke("line-best", drawing.line([(across.at(each), up.at(off(each))) for each in raw])),
        *(() if line is None else _points(line, across, up)),
    ]
    unit = Words(LEFT, TOP - 5, "start", f"what is added to a reading, {scale.difference_unit}")
    return Drawing(HEIGHT, _label(line, stated, off, sure, scale), (), tuple(strokes), (*values, *readings, unit))


def _span(line: Line | None, stated: Stated) -> tuple[float, float]:
    low, high = _RANGE[stated.quantity.is_temperature]
    readings = () if line is None else [point.reading for point in line.points]
    return min(low, *(each - 1 for each in readings), low), max(high, *(each + 1 for each in readings), high)


def _spread(line: Line | None, stated: Stated, age_ms: int) -> Callable[[float], float]:
    if line is None:
        return lambda _: COVERAGE * stated.standard_uncertainty
    return lambda reading: COVERAGE * line.standard_uncertainty(reading, age_ms)


def _points(line: Line, across: drawing.Scale, up: drawing.Scale) -> list[Stroke]:
    """Each reference point as a cross, with how sure the reference is."""
    strokes = []
    for point in line.points:
        x, off = across.at(point.reading), point.reference - point.reading
        high, low = (up.at(off + sign * COVERAGE * point.reference_u) for sign in (1, -1))
        y = up.at(off)
        cross = (
            f"M{x - _MARK:g} {y - _MARK:g}l{2 * _MARK} {2 * _MARK}M{x - _MARK:g} {y + _MARK:g}l{2 * _MARK} -{2 * _MARK}"
        )
        strokes += [Stroke("line-point", f"M{x:g} {high:g}V{low:g}"), Stroke("line-point", cross)]
    return strokes


def _reading_axis(across: drawing.Scale, scale: Scale) -> tuple[list[Stroke], list[Words]]:
    shown = drawing.Scale(scale.shown(across.low), scale.shown(across.high), across.begin, across.end)
    ticks, decimals = value_ticks(shown.low, shown.high)
    strokes, words = [Stroke("axis", f"M{LEFT} {FOOT}H{WIDTH - RIGHT}")], []
    for value in ticks:
        x = shown.at(value)
        strokes.append(Stroke("axis", f"M{x:g} {FOOT}v5"))
        at_end = x > WIDTH - RIGHT - 24
        text = f"{figures.number(value, decimals)}{f' {scale.unit}' if value == ticks[-1] else ''}"
        words.append(Words(WIDTH - RIGHT if at_end else x, HEIGHT - 8, "end" if at_end else "middle", text))
    return strokes, words


def _label(
    line: Line | None, stated: Stated, off: Callable[[float], float], sure: Callable[[float], float], scale: Scale
) -> str:
    if line is None:
        spread = scale.shown_difference(sure(0.0))
        return f"No correction: pages show what the probe says, within ± {spread:.2g} {scale.difference_unit}."
    told = []
    for reading in _RANGE[stated.quantity.is_temperature]:
        by, spread = scale.shown_difference(off(reading)), scale.shown_difference(sure(reading))
        told.append(
            f"at {scale.shown(reading):g} {scale.unit} {figures.number(by, 2)} ± {spread:.2g} {scale.difference_unit}"
        )
    return f"Correction of a reading: {', '.join(told)}."
