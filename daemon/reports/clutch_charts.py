"""Pure: the drawings in the record of a clutch."""

from datetime import tzinfo

from config.words import Quantity
from daemon.alarms.figures import shown, unit_of
from daemon.clutch_record_values import Climate, ClutchRecord
from daemon.development.window import HatchWindow
from daemon.reports.drawing import Chart, Level, Mark, Point, svg_of
from daemon.reports.values import Picture
from daemon.review.telling import Telling


def heat_picture(record: ClutchRecord, zone: tzinfo) -> Picture | None:
    """Draw the heat with its interval; None where none is counted."""
    if not record.heat:
        return None
    clutch = record.clutch
    points = [Point(each.at_ms, each.low_ch, each.best_ch, each.high_ch) for each in record.heat]
    window = clutch.window if isinstance(clutch.window, HatchWindow) else None
    marks = [] if window is None else [Mark(window.earliest_ms, "earliest"), Mark(window.latest_ms, "latest")]
    levels = []
    if clutch.thermal_constant_ch is not None:
        until_ms = max(record.shown_ms, 0 if window is None else window.latest_ms)
        levels.append(Level(points[0].at_ms, until_ms, clutch.thermal_constant_ch, "to hatching"))
    svg = svg_of(Chart("Heat from laying", "°C·h", points, levels, marks), zone)
    return Picture(
        "heat.svg", svg, "Heat from laying as a line, between what it lies in about 95 of 100 cases in grey."
    )


def climate_picture(climate: Climate, record: ClutchRecord, telling: Telling) -> Picture | None:
    """Draw temperature or humidity over its whole time with the limits of each time; None without a reading."""
    if not climate.cells:
        return None
    of, fahrenheit = climate.quantity, record.fahrenheit
    points = []
    for cell in climate.cells:
        low, mean, high = (shown(value, of, fahrenheit) for value in (cell.least, cell.mean, cell.most))
        points.append(Point((cell.start_ms + cell.end_ms) // 2, low, mean, high, not cell.gap_before))
    levels = [
        Level(span.start_ms, span.end_ms, shown(value, of, fahrenheit), name if number == 0 else "")
        for number, span in enumerate(climate.limits)
        for value, name in ((span.low, "lower limit"), (span.high, "upper limit"))
        if value is not None
    ]
    is_air = of is Quantity.AIR_TEMPERATURE
    title, name = ("Air temperature", "temperature.svg") if is_air else ("Humidity", "humidity.svg")
    svg = svg_of(Chart(title, unit_of(of, fahrenheit), points, levels), telling.zone)
    return Picture(name, svg, "Mean as a line, least to most in grey, limits of the time dashed. No line: no readings.")
