"""One incubator on the page: its readings by place, dew points and clutches, all as texts and positions. Pure."""

from dataclasses import dataclass
from operator import itemgetter
from zoneinfo import ZoneInfo

from config.words import Priority, Quantity
from daemon.overview import ChannelNow, ClimateNow, IncubatorNow, Overview
from dashboards import figures
from dashboards.alarms import alarm_mark, ranked
from dashboards.band import Band, band
from dashboards.clutches import ClutchView, clutch_view
from dashboards.figures import Figure
from dashboards.places import incubator_key, place_key, place_name, sentence_start
from dashboards.standing import (
    CONFLICT_MARK,
    OUTSIDE,
    WATER_MARK,
    Mark,
    Shape,
    Standing,
    Tone,
    is_old,
    standing,
    standing_mark,
    suspicion,
    water_settles,
)

CLOSE_MARGIN_K = 0.6
"""Below this the margin is within what it is known to. GUM (JCGM 100:2008) 5.1.2 equation (10) for 30 °C and 85 %, with
probe limits of ±0.2 °C and ±2 % and ±0.2 °C on the surface, gives an expanded uncertainty (k = 2) of 0.57 K."""

_QUANTITY_WORDS = {
    Quantity.AIR_TEMPERATURE: "Air temperature",
    Quantity.SURFACE_TEMPERATURE: "Surface temperature",
    Quantity.RELATIVE_HUMIDITY: "Relative humidity",
}


@dataclass(frozen=True, slots=True)
class ReadingView:
    """One channel: `value` is None where there is no reading; `doubt` says why a reading is suspect."""

    name: str
    probe: str
    value: Figure | None
    mark: Mark
    age: str
    doubt: str
    band: Band | None


@dataclass(frozen=True, slots=True)
class DewView:
    """Dew point and margin to condensation at one place."""

    dew_point: Figure
    mark: Mark
    margin: str
    reason: str


@dataclass(frozen=True, slots=True)
class PlaceView:
    """What is known of one place; `key` names it on the page."""

    key: str
    heading: str
    readings: tuple[ReadingView, ...]
    dews: tuple[DewView, ...]


@dataclass(frozen=True, slots=True)
class IncubatorView:
    """One incubator; `key` names it on the page. `conflicts` say which clutches in it do not suit each other."""

    key: str
    name: str
    mark: Mark
    conflicts: tuple[str, ...]
    places: tuple[PlaceView, ...]
    clutches: tuple[ClutchView, ...]


def worst_first(overview: Overview) -> tuple[IncubatorNow, ...]:
    """Order incubators by their most urgent alarm, then by other troubles, then as they are stated."""

    def rank(incubator: IncubatorNow) -> tuple[int, int, bool, bool, int]:
        alarmed = min((alarm.priority for alarm in incubator.alarms), default=Priority.LOW + 1)
        worst = max((standing(channel, overview) for channel in incubator.channels), default=Standing.NO_LIMITS)
        outside = worst if worst in OUTSIDE else 0
        untrusted = max(worst, Standing.UNCONFIRMED)
        return alarmed, -outside, not incubator.conflicts, not _is_wet(incubator, overview), -untrusted

    return tuple(sorted(overview.incubators, key=rank))


def incubator_view(incubator: IncubatorNow, overview: Overview, zone: ZoneInfo) -> IncubatorView:
    """Everything the page shows of one incubator."""
    return IncubatorView(
        key=incubator_key(incubator),
        name=incubator.name,
        mark=_incubator_mark(incubator, overview),
        conflicts=incubator.conflicts,
        places=_places(incubator, overview),
        clutches=tuple(clutch_view(clutch, incubator, overview.now_ms, zone) for clutch in incubator.clutches),
    )


def _incubator_mark(incubator: IncubatorNow, overview: Overview) -> Mark:
    """Show the worst alarm, else the worst reading; a conflict or water where that is no worse than in range."""
    alarms = ranked((incubator,))
    if alarms:
        return alarm_mark(alarms[0][1])
    if not incubator.channels:
        return Mark(Shape.RING, "no probe", Tone.PLAIN)
    worst, channel = max(((standing(each, overview), each) for each in incubator.channels), key=itemgetter(0))
    if incubator.conflicts and worst <= Standing.IN_RANGE:
        return CONFLICT_MARK
    if _is_wet(incubator, overview) and worst <= Standing.IN_RANGE:
        return WATER_MARK
    return standing_mark(worst, channel.quantity)


def _is_wet(incubator: IncubatorNow, overview: Overview) -> bool:
    return any(water_settles(climate, overview.now_ms) for climate in incubator.climates)


def _places(incubator: IncubatorNow, overview: Overview) -> tuple[PlaceView, ...]:
    found = dict.fromkeys([*(c.place for c in incubator.channels), *(c.place for c in incubator.climates)])
    views = []
    for place in found:
        heading = sentence_start(place_name(incubator, place))
        readings = tuple(_reading(channel, overview) for channel in incubator.channels if channel.place == place)
        dews = tuple(_dew(c, overview) for c in incubator.climates if c.place == place)
        views.append(PlaceView(place_key(place), heading, readings, dews))
    return tuple(views)


def _reading(channel: ChannelNow, overview: Overview) -> ReadingView:
    judged = standing(channel, overview)
    value = None
    if channel.value is not None and channel.measured_at_ms is not None:
        value = figures.quantity_value(channel.quantity, channel.value, overview.fahrenheit)
    doubt = suspicion(channel.quality) if judged is Standing.SUSPECT else ""
    return ReadingView(
        name=_QUANTITY_WORDS[channel.quantity],
        probe=channel.probe,
        value=value,
        mark=standing_mark(judged, channel.quantity),
        age=figures.age(overview.now_ms, channel.measured_at_ms) if channel.measured_at_ms is not None else "never",
        doubt=doubt,
        band=band(channel, judged, overview.fahrenheit),
    )


def _dew(climate: ClimateNow, overview: Overview) -> DewView:
    fahrenheit = overview.fahrenheit
    dew_point = figures.temperature(climate.dew_point_c, fahrenheit)
    if is_old(climate.measured_at_ms, climate.old_after_ms, overview.now_ms):
        return DewView(dew_point, standing_mark(Standing.OLD, Quantity.AIR_TEMPERATURE), "", "")
    if climate.margin_k is None:
        return DewView(dew_point, Mark(Shape.GAP, "margin unknown", Tone.PLAIN), "", climate.reason)
    gap = figures.temperature_difference(abs(climate.margin_k), fahrenheit)
    if climate.margin_k <= 0:
        mark, side = WATER_MARK, "below"
    elif climate.margin_k < CLOSE_MARGIN_K:
        mark, side = Mark(Shape.DROP, "close to condensation", Tone.PLAIN), "above"
    else:
        mark, side = Mark(Shape.EGG, "dry", Tone.WELL), "above"
    where = f"{gap} {side}"
    if gap.number == "0.0":
        # Only a surface that is not above the dew point is called at it.
        where = f"less than 0.1{figures.NBSP}{gap.unit} above" if climate.margin_k > 0 else "at"
    return DewView(dew_point, mark, f"Surface {where} the dew point", climate.reason)
