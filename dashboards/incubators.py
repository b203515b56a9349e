"""One incubator on the page: its readings by place, dew points and clutches, all as texts and positions. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass
from operator import itemgetter
from zoneinfo import ZoneInfo

from config.words import Priority, Quantity
from daemon.climate.condensation_risk import MOULD_HUMIDITY_PCT
from daemon.overview import ClimateNow, IncubatorNow, Overview
from dashboards import figures
from dashboards.alarms import alarm_mark, ranked
from dashboards.clutches import ClutchView, clutch_view
from dashboards.figures import Figure
from dashboards.places import incubator_key, place_key, place_name, sentence_start
from dashboards.readings import ReadingView, reading_view
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
    water_settles,
)

CLOSE_PROBABILITY = 0.05
"""From this probability of water on, a surface is called close to condensation and not dry."""
_LEAST_CHANCE = 0.01
_LEAST_UNREAD_H = 0.5
_DAY_H, _LEAST_READ_H = 24.0, 1.0
"""Of a day of which less than this was read nothing is told. Project choice."""
_FAR_APART_H = 4.0
_SAYS_NOTHING_H = 18.0
"""Bounds of a day that lie as far apart leave open whether it was dry or wet: a project choice."""
_LEAST_TOLD_H = 0.1
_PA_PER_KPA = 1000


@dataclass(frozen=True, slots=True)
class DewView:
    """Dew point and margin to condensation at one place; `key` names it on the page.

    `sure` is how far the dew point may be off. `water` are sentences on the chance of water and its hours; `more` on
    humidity at the surface, deficit and origin.
    """

    key: str
    dew_point: Figure
    sure: str
    mark: Mark
    margin: str
    water: tuple[str, ...]
    more: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlaceView:
    """What is known of one place; `key` names it on the page. `dry_out` says until when to add water; mostly empty."""

    key: str
    heading: str
    dry_out: str
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
        places=_places(incubator, overview, zone),
        clutches=tuple(
            clutch_view(clutch, incubator, overview.now_ms, zone, fahrenheit=overview.fahrenheit)
            for clutch in incubator.clutches
        ),
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


def _places(incubator: IncubatorNow, overview: Overview, zone: ZoneInfo) -> tuple[PlaceView, ...]:
    found = dict.fromkeys([*(c.place for c in incubator.channels), *(c.place for c in incubator.climates)])
    views = []
    for place in found:
        heading = sentence_start(place_name(incubator, place))
        readings = tuple(
            reading_view(channel, overview, zone) for channel in incubator.channels if channel.place == place
        )
        dews = tuple(_dew(c, overview) for c in incubator.climates if c.place == place)
        views.append(PlaceView(place_key(place), heading, _dry_out(place, incubator, overview), readings, dews))
    return tuple(views)


def _dry_out(place: str, incubator: IncubatorNow, overview: Overview) -> str:
    """Give the advice to add water, unless its readings are old."""
    found = (
        climate.dry_out
        for climate in incubator.climates
        if climate.place == place and not is_old(climate.measured_at_ms, climate.old_after_ms, overview.now_ms)
    )
    return next(found, "")


def _dew(climate: ClimateNow, overview: Overview) -> DewView:
    fahrenheit = overview.fahrenheit
    key, dew_point = f"dew-{climate.place}", figures.temperature(climate.dew_point_c, fahrenheit)
    sure = figures.sure_within(Quantity.AIR_TEMPERATURE, climate.dew_point_u_k, fahrenheit)
    if is_old(climate.measured_at_ms, climate.old_after_ms, overview.now_ms):
        return DewView(key, dew_point, sure, standing_mark(Standing.OLD, Quantity.AIR_TEMPERATURE), "", (), ())
    water, more = tuple(_water(climate)), tuple(_more(climate))
    if climate.margin_k is None:
        return DewView(key, dew_point, sure, Mark(Shape.GAP, "margin unknown", Tone.PLAIN), "", water, more)
    gap = figures.temperature_difference(abs(climate.margin_k), fahrenheit)
    if water_settles(climate, overview.now_ms):
        mark = WATER_MARK
    elif climate.condensation_probability is None or climate.condensation_probability >= CLOSE_PROBABILITY:
        mark = Mark(Shape.DROP, "close to condensation", Tone.PLAIN)
    else:
        mark = Mark(Shape.EGG, "dry", Tone.WELL)
    where = f"{gap} {'below' if climate.margin_k <= 0 else 'above'}"
    if gap.number == "0.0":
        # Only a surface that is not above the dew point is called at it.
        where = f"less than 0.1{figures.NBSP}{gap.unit} above" if climate.margin_k > 0 else "at"
    return DewView(key, dew_point, sure, mark, f"Surface {where} the dew point", water, more)


def _water(climate: ClimateNow) -> Iterator[str]:
    """Sentences on water at the surface; each is left out where it is not known."""
    if climate.condensation_probability is not None:
        yield f"Chance of water on the surface: {_chance(climate.condensation_probability)}."
    if climate.condensation_hours_24h is not None and _apart_h(climate.condensation_range_24h) < _SAYS_NOTHING_H:
        yield _hours(climate, climate.condensation_hours_24h)


def _more(climate: ClimateNow) -> Iterator[str]:
    """Where the surface temperature comes from, what grows there, and how the air dries."""
    yield climate.reason
    if climate.surface_humidity_pct is not None and climate.surface_humidity_pct >= MOULD_HUMIDITY_PCT:
        limit = f"{MOULD_HUMIDITY_PCT:.0f}{figures.NBSP}%"
        yield f"Humidity at the surface is above {limit}, from which mould can grow on it (ISO 13788)."
    if climate.vpd_pa is not None:
        kilopascal = figures.number(climate.vpd_pa / _PA_PER_KPA, 2)
        yield f"Vapour pressure deficit: {kilopascal}{figures.NBSP}kPa."


def _chance(probability: float) -> str:
    """In percent, without a 0 or a 100 that the accuracy of probes cannot carry."""
    if probability < _LEAST_CHANCE:
        return f"under 1{figures.NBSP}%"
    return f"over 99{figures.NBSP}%" if probability > 1 - _LEAST_CHANCE else figures.percent(probability)


def _hours(climate: ClimateNow, hours: float) -> str:
    """Hours with water in the last day, what of it is not known, and the mean day of the week."""
    between = _between(climate.condensation_range_24h)
    text = f"Water on the surface in the last 24{figures.NBSP}h: {between or _told_hours(hours)}"
    if climate.hours_unread_24h is not None and climate.hours_unread_24h > _DAY_H - _LEAST_READ_H:
        return f"Water on the surface in the last 24{figures.NBSP}h: not known."
    if climate.hours_unread_24h is not None and climate.hours_unread_24h >= _LEAST_UNREAD_H:
        text += f", with {figures.number(climate.hours_unread_24h)}{figures.NBSP}h unknown"
    if climate.condensation_hours_mean_day is not None and not between:
        text += f"; on a mean day of the week {_told_hours(climate.condensation_hours_mean_day)}"
    return f"{text}."


def _between(range_h: tuple[float, float] | None) -> str:
    """Give hours that are certain and hours that are possible, where they lie far apart: no figure between helps."""
    if range_h is None or _apart_h(range_h) < _FAR_APART_H:
        return ""
    certain, possible = (f"{figures.number(hours)}{figures.NBSP}h" for hours in range_h)
    return f"between {certain} and {possible}, as sure as the probes are"


def _apart_h(range_h: tuple[float, float] | None) -> float:
    return 0.0 if range_h is None else range_h[1] - range_h[0]


def _told_hours(hours: float) -> str:
    if hours < _LEAST_TOLD_H:
        return "none"
    return f"about {figures.number(hours)}{figures.NBSP}h"
