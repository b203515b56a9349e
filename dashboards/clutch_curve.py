"""The heat of a clutch from laying to its window, drawn. Pure."""

from zoneinfo import ZoneInfo

from daemon.clutch_record_values import ClutchRecord, HeatPoint
from daemon.development.window import HatchWindow
from dashboards import figures
from dashboards.drawing import (
    BOTTOM,
    LEFT,
    RIGHT,
    TOP,
    WIDTH,
    Box,
    Drawing,
    Scale,
    Stroke,
    Words,
    across,
    area,
    frame,
    grid,
    line,
    upwards,
)

HEIGHT = 300
FOOT = HEIGHT - BOTTOM
_ROOM_ABOVE = 1.06
_LEAST_BAND = 1.5


def heat_drawing(record: ClutchRecord, zone: ZoneInfo) -> Drawing | None:
    """Draw the heat with its interval, the laying, and the way to the window; None where no heat is counted."""
    points = record.heat
    if not points:
        return None
    clutch = record.clutch
    window = clutch.window if isinstance(clutch.window, HatchWindow) else None
    until_ms = max(record.shown_ms, window.latest_ms if window else 0)
    time = across(clutch.laid_from_ms, until_ms)
    most = max(points[-1].high_ch, clutch.thermal_constant_ch or 0.0, 1.0) * _ROOM_ABOVE
    heat = upwards(0.0, most, HEIGHT)
    strokes, words = frame(time, HEIGHT, zone)
    lines, texts = grid(heat, (0.0, most))
    boxes = [_band("curve-laid", time, clutch.laid_from_ms, clutch.laid_to_ms)]
    if window is not None:
        boxes.append(_band("curve-window", time, window.earliest_ms, window.latest_ms))
    ahead = _ahead(record, window, points[-1], time, heat)
    needed, told = _needed(record, heat)
    at = [(time.at(each.at_ms), each) for each in points]
    sure = area([(x, heat.at(each.high_ch)) for x, each in at], [(x, heat.at(each.low_ch)) for x, each in at])
    best = line((x, heat.at(each.best_ch)) for x, each in at)
    shown_x = time.at(record.shown_ms)
    now = Words(shown_x, TOP - 5, _anchor(shown_x), "closed" if record.closed_at_ms is not None else "now")
    drawn = (
        *lines,
        *strokes,
        *ahead,
        Stroke("curve-sure", sure),
        Stroke("curve-best", best),
        *needed,
        Stroke("curve-now", f"M{shown_x:g} {TOP}V{FOOT}"),
    )
    return Drawing(HEIGHT, _label(record, window, zone), tuple(boxes), drawn, (*words, *texts, *told, now))


def _band(style: str, time: Scale, from_ms: int, until_ms: int) -> Box:
    x = time.at(from_ms)
    return Box(style, x, TOP, max(round(time.at(until_ms) - x, 1), _LEAST_BAND), FOOT - TOP)


def _ahead(
    record: ClutchRecord, window: HatchWindow | None, last: HeatPoint, time: Scale, heat: Scale
) -> tuple[Stroke, ...]:
    """The way from now to the window, where it lies ahead: to its likely day, and between its two ends."""
    needed_ch = record.clutch.thermal_constant_ch
    if window is None or needed_ch is None or last.best_ch >= needed_ch:
        return ()
    x, y = time.at(last.at_ms), heat.at(needed_ch)
    early, likely, late = (time.at(each) for each in (window.earliest_ms, window.likely_ms, window.latest_ms))
    between = line([(x, heat.at(last.high_ch)), (early, y), (late, y), (x, heat.at(last.low_ch))]) + "Z"
    return (
        Stroke("curve-ahead", between),
        Stroke("curve-likely", line([(x, heat.at(last.best_ch)), (likely, y)]) + f"V{FOOT}"),
    )


def _needed(record: ClutchRecord, heat: Scale) -> tuple[tuple[Stroke, ...], tuple[Words, ...]]:
    needed_ch = record.clutch.thermal_constant_ch
    if needed_ch is None:
        return (), ()
    y = heat.at(needed_ch)
    text = f"to hatching {figures.heat(needed_ch)}"
    return (Stroke("curve-needed", f"M{LEFT} {y:g}H{WIDTH - RIGHT}"),), (Words(LEFT + 14, y - 4, "start", text),)


def _anchor(x: float) -> str:
    return "end" if x > WIDTH - 40 else "middle"


def _label(record: ClutchRecord, window: HatchWindow | None, zone: ZoneInfo) -> str:
    last = record.heat[-1]
    told = (
        f"Heat from laying: {figures.heat(last.best_ch)}, between {figures.heat(last.low_ch).number} and "
        f"{figures.heat(last.high_ch)}."
    )
    if window is None:
        return f"{told} No date."
    first, latest = (figures.local(each, zone) for each in (window.earliest_ms, window.latest_ms))
    return f"{told} The window of hatching: {figures.date_range(first, latest)}."
