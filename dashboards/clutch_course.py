"""Temperature and humidity where a clutch lay, and what happened, drawn over its time. Pure."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from daemon.clutch_record_values import Climate, ClimateCell, ClutchEvent, ClutchRecord, LimitSpan
from dashboards import figures
from dashboards.drawing import (
    LEFT,
    RIGHT,
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

HEIGHT, STRIP_HEIGHT = 230, 142
_ROWS = (("moves", 26), ("rounds", 58), ("alarms", 90))
_ROW_OF = {"set-up": "moves", "move": "moves", "close": "moves", "round": "rounds", "alarm": "alarms"}
"""What was found in a round and said of eggs stands in the list alone: the round is drawn."""
_LEAST_BAR = 3.0
_ROOM_K, _ROOM_PCT = 0.5, 3.0


def time_of(record: ClutchRecord) -> Scale:
    """From the set-up to the moment that is shown."""
    return across(record.clutch.set_up_ms, record.shown_ms)


def climate_drawing(climate: Climate, record: ClutchRecord, zone: ZoneInfo) -> Drawing | None:
    """Draw least to most as a band, the mean as a line and the limits behind; None where nothing was read."""
    if not climate.cells:
        return None
    time, fahrenheit = time_of(record), record.fahrenheit
    low, high = _range(climate)
    values = upwards(low, high, HEIGHT)
    strokes, words = frame(time, HEIGHT, zone)
    in_f = fahrenheit and climate.quantity.is_temperature
    lines, texts = grid(values, (low * 9 / 5 + 32, high * 9 / 5 + 32) if in_f else (low, high))
    boxes = tuple(_safe(span, time, values) for span in climate.limits if span.low is not None or span.high is not None)
    band, mean = [], []
    for run in _runs(climate.cells):
        edges = [(x, cell) for cell in run for x in (time.at(cell.start_ms), time.at(cell.end_ms))]
        band.append(
            area([(x, values.at(cell.most)) for x, cell in edges], [(x, values.at(cell.least)) for x, cell in edges])
        )
        mean.append(line((x, values.at(cell.mean)) for x, cell in _middles(run, time)))
    drawn = [
        *lines,
        *strokes,
        Stroke("course-band", "".join(band)),
        *_limit_lines(climate, time, values),
        Stroke("course-mean", "".join(mean)),
    ]
    unit = "%" if not climate.quantity.is_temperature else str(figures.temperature(0, fahrenheit).unit)
    return Drawing(
        HEIGHT, _label(climate, fahrenheit), boxes, tuple(drawn), (*words, *texts, Words(LEFT - 6, 12, "end", unit))
    )


def event_drawing(record: ClutchRecord, zone: ZoneInfo) -> Drawing:
    """Draw moves, rounds and alarms, each in a row of its own."""
    time = time_of(record)
    strokes, words = frame(time, STRIP_HEIGHT, zone)
    rows = dict(_ROWS)
    for name, y in _ROWS:
        strokes.append(Stroke("grid", f"M{LEFT} {y + 20}H{WIDTH - RIGHT}"))
        words.append(Words(LEFT - 6, y + 13, "end", name))
    boxes = []
    drawn = [each for each in record.events if each.kind in _ROW_OF]
    for event in drawn:
        x, y = time.at(event.at_ms), rows[_ROW_OF[event.kind]]
        if event.kind in ("alarm", "round"):
            end_x = time.at(_end_ms(event, record))
            boxes.append(Box(f"event-{event.kind}", x, y, max(round(end_x - x, 1), _LEAST_BAR), 16))
        else:
            strokes.append(Stroke("event-move", f"M{x:g} {y}l7 8l-7 8l-7-8z"))
    counts = {name: sum(_ROW_OF[each.kind] == name for each in drawn) for name, _ in _ROWS}
    label = f"On the time axis: {', '.join(f'{count} {name}' for name, count in counts.items())}. The list says which."
    return Drawing(STRIP_HEIGHT, label, tuple(boxes), tuple(strokes), tuple(words))


def _end_ms(event: ClutchEvent, record: ClutchRecord) -> int:
    return record.shown_ms if event.end_ms is None else event.end_ms


def _range(climate: Climate) -> tuple[float, float]:
    """What the drawing has to hold: all readings, and the limits; a lethal one only where it is near."""
    room = _ROOM_K if climate.quantity.is_temperature else _ROOM_PCT
    values = [each for cell in climate.cells for each in (cell.least, cell.most)]
    values += [each for span in climate.limits for each in (span.low, span.high) if each is not None]
    return min(values) - room, max(values) + room


def _safe(span: LimitSpan, time: Scale, values: Scale) -> Box:
    x, top = time.at(span.start_ms), values.at(values.high if span.high is None else span.high)
    foot = values.at(values.low if span.low is None else span.low)
    return Box("course-safe", x, top, round(time.at(span.end_ms) - x, 1), round(foot - top, 1))


def _limit_lines(climate: Climate, time: Scale, values: Scale) -> Iterator[Stroke]:
    for style, of in (("limit", (0, 1)), ("lethal", (2, 3))):
        parts = [
            f"M{time.at(span.start_ms):g} {values.at(limit):g}H{time.at(span.end_ms):g}"
            for span in climate.limits
            for number, limit in enumerate((span.low, span.high, span.lethal_low, span.lethal_high))
            if number in of and limit is not None and values.low < limit < values.high
        ]
        if parts:
            yield Stroke(f"course-{style}", "".join(parts))


def _runs(cells: tuple[ClimateCell, ...]) -> Iterator[list[ClimateCell]]:
    """Cells that follow each other without a gap; a gap stays one."""
    run: list[ClimateCell] = []
    for cell in cells:
        if run and (cell.start_ms > run[-1].end_ms or cell.gap_before):
            yield run
            run = []
        run.append(cell)
    yield run


def _middles(run: list[ClimateCell], time: Scale) -> list[tuple[float, ClimateCell]]:
    """Where the mean of each cell is drawn: in its middle; a cell that stands alone has a short line."""
    if len(run) == 1:
        return [(time.at(run[0].start_ms), run[0]), (time.at(run[0].end_ms), run[0])]
    return [(time.at((cell.start_ms + cell.end_ms) // 2), cell) for cell in run]


def _label(climate: Climate, fahrenheit: bool) -> str:
    least = figures.quantity_value(climate.quantity, min(cell.least for cell in climate.cells), fahrenheit)
    most = figures.quantity_value(climate.quantity, max(cell.most for cell in climate.cells), fahrenheit)
    what = "Air temperature" if climate.quantity.is_temperature else "Humidity"
    return f"{what} where this clutch lay, from {least} to {most}."
