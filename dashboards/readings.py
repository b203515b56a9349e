"""One reading on a page: its value, how it stands, how sure it is and when its probe was calibrated. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.words import AlarmKind, Quantity
from daemon.alarms.wrong import WRONG
from daemon.overview import ChannelNow, Overview
from daemon.standing.reading_trend import Way
from dashboards import figures
from dashboards.band import Band, band
from dashboards.figures import Figure
from dashboards.standing import ALARM_SHAPES, Mark, Shape, Standing, Tone, standing, standing_mark, suspicion

QUANTITY_WORDS = {
    Quantity.AIR_TEMPERATURE: "Air temperature",
    Quantity.SURFACE_TEMPERATURE: "Surface temperature",
    Quantity.RELATIVE_HUMIDITY: "Relative humidity",
    Quantity.MAINS: "Mains contact",
    Quantity.DOOR: "Door contact",
}
_AS_IT_SHOULD_BE = Mark(Shape.EGG, "as it should be", Tone.WELL)
_CONTACT_MARKS = {
    Quantity.MAINS: (
        Mark(ALARM_SHAPES[AlarmKind.MAINS_LOST], WRONG[AlarmKind.MAINS_LOST], Tone.CRITICAL),
        _AS_IT_SHOULD_BE,
    ),
    Quantity.DOOR: (_AS_IT_SHOULD_BE, Mark(ALARM_SHAPES[AlarmKind.DOOR_OPEN], WRONG[AlarmKind.DOOR_OPEN], Tone.LOW)),
}
"""How a contact stands at 0 and at 1, in the words of its alarm."""
_TREND_MARKS = {
    Way.RISING: Mark(Shape.RISING, Way.RISING.value, Tone.PLAIN),
    Way.FALLING: Mark(Shape.FALLING, Way.FALLING.value, Tone.PLAIN),
    Way.STEADY: Mark(Shape.STEADY, Way.STEADY.value, Tone.PLAIN),
    Way.UNTOLD: Mark(Shape.UNTOLD, Way.UNTOLD.value, Tone.PLAIN),
}
_SAYS_NOTHING = (Standing.NO_READING, Standing.OLD, Standing.SUSPECT)
"""Where the newest reading does not say how it is now, the hour before it does not either."""


@dataclass(frozen=True, slots=True)
class ReadingView:
    """One channel: `value` is None where there is no reading; `doubt` says why a reading is suspect.

    `sure` is how far the value may be off; `calibrated` and `due` say since when the probe is, and is not any more.
    `trend` is where it went in the last hour, None where nothing is told of that; `rate` how fast, where it moves.
    """

    name: str
    probe: str
    value: Figure | None
    sure: str
    mark: Mark
    age: str
    doubt: str
    band: Band | None
    calibrated: str
    due: str
    trend: Mark | None
    rate: str


def reading_view(channel: ChannelNow, overview: Overview, zone: ZoneInfo) -> ReadingView:
    """Everything the page shows of one channel."""
    judged = standing(channel, overview)
    value = None
    if channel.value is not None and channel.measured_at_ms is not None:
        value = figures.quantity_value(channel.quantity, channel.value, overview.fahrenheit)
    is_sure = value is not None and judged is not Standing.SUSPECT
    return ReadingView(
        name=QUANTITY_WORDS[channel.quantity],
        probe=channel.probe,
        value=value,
        sure=figures.sure_within(channel.quantity, channel.standard_uncertainty, overview.fahrenheit)
        if is_sure
        else "",
        mark=_mark(channel, judged),
        age=figures.age(overview.now_ms, channel.measured_at_ms) if channel.measured_at_ms is not None else "never",
        doubt=suspicion(channel.quality) if judged is Standing.SUSPECT else "",
        band=band(channel, judged, overview.fahrenheit),
        calibrated=_calibrated(channel, zone),
        due=_due(channel, overview.now_ms, zone),
        trend=_TREND_MARKS[channel.trend.way] if channel.trend is not None and judged not in _SAYS_NOTHING else None,
        rate=_rate(channel, fahrenheit=overview.fahrenheit) if judged not in _SAYS_NOTHING else "",
    )


def _mark(channel: ChannelNow, judged: Standing) -> Mark:
    if channel.quantity.is_contact and judged is Standing.NO_LIMITS:
        return _CONTACT_MARKS[channel.quantity][channel.value != 0]
    return standing_mark(judged, channel.quantity)


def _rate(channel: ChannelNow, *, fahrenheit: bool) -> str:
    """Write how fast a reading rises or falls, such as `0.8 °C per hour`."""
    trend = channel.trend
    if trend is None or trend.per_h is None or trend.way not in (Way.RISING, Way.FALLING):
        return ""
    per_h = abs(trend.per_h)
    is_temperature = channel.quantity.is_temperature
    figure = figures.temperature_difference(per_h, fahrenheit) if is_temperature else Figure(figures.number(per_h), "%")
    return f"{figure} per hour"


def _calibrated(channel: ChannelNow, zone: ZoneInfo) -> str:
    if channel.calibrated_ms is None:
        return ""
    return f"Calibrated {figures.full_date_text(figures.local(channel.calibrated_ms, zone))}"


def _due(channel: ChannelNow, now_ms: int, zone: ZoneInfo) -> str:
    """Say since when the calibration is no longer to be relied on; with the year where that is not this one."""
    if channel.calibration_due_ms is None or now_ms < channel.calibration_due_ms:
        return ""
    due, today = figures.local(channel.calibration_due_ms, zone), figures.local(now_ms, zone)
    since = figures.date_text(due) if due.year == today.year else figures.full_date_text(due)
    return f"Calibration due since {since}"
