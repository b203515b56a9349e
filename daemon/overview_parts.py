"""Pure: the parts of the overview, each made from what is stored and stated about one channel, place or clutch."""

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from config.site import Site
from config.words import Quantity
from daemon.alarm_memory import ChannelMemory, State, fresh_memory
from daemon.alarms.definitions import AlarmDefinition, tuned
from daemon.alarms.limits import Limits
from daemon.alarms.probe_kinds import of_probe
from daemon.alarms.silence import SilenceState
from daemon.alarms.wrong import WRONG
from daemon.climate.condensation import Condensation, condensation
from daemon.climate.condensation_risk import lid_in, margin_of
from daemon.climate.cooling import RoomAir
from daemon.climate.psychrometrics import dew_point_c, vapour_pressure_deficit_pa
from daemon.climate.uncertainty import Air, Estimate, of_air, probability_of_water
from daemon.overview import AlarmNow, ChannelNow, ClimateNow
from daemon.standing.reading_trend import ReadingTrend
from daemon.storage.samples import StoredReading
from sensors.calibration import Calibrations, Record
from sensors.reading import ChannelKey

HOUR_MS = 3_600_000
PAIR_MS = 5 * 60_000
"""Readings further apart than this are not of the same air."""


class At(NamedTuple):
    """A place with what is known of its lid: the room around it, measured or stated, and the f of ISO 13788."""

    place: str
    is_box: bool
    room: RoomAir | None
    temperature_factor: float | None


class Heard(NamedTuple):
    """A channel with its newest reading, good or suspect, and how long such a reading counts as fresh.

    A good reading is corrected by `calibration`, and sure within `standard_uncertainty` (k = 1); not that of a contact.
    """

    key: ChannelKey
    old_after_ms: int
    row: StoredReading | None
    standard_uncertainty: float | None = None
    calibration: Record | None = None
    trend: ReadingTrend | None = None


def channel_now(heard: Heard, at: At, limits: Limits) -> ChannelNow:
    """Newest reading and limits of one channel."""
    low, high, lethal_low, lethal_high = _limits(heard.key.quantity, at, limits)
    row = heard.row
    return ChannelNow(
        channel=heard.key.channel,
        probe=heard.key.probe,
        quantity=heard.key.quantity,
        place=at.place,
        value=row.value if row else None,
        measured_at_ms=row.measured_at_ms if row else None,
        quality=row.quality if row else 0,
        low=low,
        high=high,
        lethal_low=lethal_low,
        lethal_high=lethal_high,
        old_after_ms=heard.old_after_ms,
        standard_uncertainty=heard.standard_uncertainty,
        calibrated_ms=heard.calibration.taken_at_ms if heard.calibration else None,
        calibration_due_ms=heard.calibration.due_at_ms if heard.calibration else None,
        trend=heard.trend,
    )


def heard_now(key: ChannelKey, old_after_ms: int, row: StoredReading | None, calibrations: Calibrations) -> Heard:
    """Correct the newest reading of a channel. A suspect one stays as it was said: its value may tell the fault."""
    if row is None:
        return Heard(key, old_after_ms, None)
    if key.quantity.is_contact:
        return Heard(key, old_after_ms, row)
    channel, value, at_ms = key.channel, row.value, row.measured_at_ms
    if row.quality == 0:
        row = row._replace(value=calibrations.corrected(channel, value, at_ms))
    in_force = calibrations.in_force(channel, at_ms)
    return Heard(key, old_after_ms, row, calibrations.standard_uncertainty(channel, value, at_ms), in_force)


def _limits(quantity: Quantity, at: At, limits: Limits) -> tuple[float | None, ...]:
    if quantity is Quantity.AIR_TEMPERATURE:
        return limits.low_c, limits.high_c, limits.lethal_low_c, limits.lethal_high_c
    if quantity is Quantity.RELATIVE_HUMIDITY and at.is_box:
        return limits.humidity_low_pct, limits.humidity_high_pct, None, None
    return None, None, None, None


def climate_now(at: At, heard: Sequence[Heard]) -> ClimateNow | None:
    """Dew point and margin from good readings of nearly the same time; None without temperature and humidity.

    A site has at most one channel of a quantity at a place.
    """
    rows = {each.key.quantity: each.row for each in heard if each.row is not None}
    air, damp = _good(rows, Quantity.AIR_TEMPERATURE), _good(rows, Quantity.RELATIVE_HUMIDITY)
    if air is None or damp is None or not _together(air, damp):
        return None
    has_probe = any(each.key.quantity is Quantity.SURFACE_TEMPERATURE for each in heard)
    surface = _good(rows, Quantity.SURFACE_TEMPERATURE)
    if surface is not None and not _together(air, damp, surface):
        surface = None
    humidity_pct = min(damp.value, 100.0)
    try:
        found = condensation(
            air.value,
            humidity_pct,
            surface.value if surface else None,
            at.room.temperature_c if at.room else None,
            at.temperature_factor,
        )
    except ValueError:
        return None
    sure = {each.key.quantity: each.standard_uncertainty for each in heard}
    known = _known(air.value, humidity_pct, sure)
    return ClimateNow(
        place=at.place,
        measured_at_ms=min(air.measured_at_ms, damp.measured_at_ms),
        air_temperature_c=air.value,
        relative_humidity_pct=damp.value,
        dew_point_c=found.dew_point_c,
        surface_temperature_c=found.surface_temperature_c,
        margin_k=found.margin_k,
        reason=_surface_reason(found, at.room, is_measured=surface is not None, has_probe=has_probe),
        old_after_ms=min(each.old_after_ms for each in heard if not each.key.quantity.is_contact),
        dew_point_u_k=None if known is None else of_air(dew_point_c, known).standard_uncertainty,
        vpd_pa=vapour_pressure_deficit_pa(air.value, humidity_pct),
        surface_humidity_pct=found.surface_humidity_pct,
        condensation_probability=None if known is None else _chance_of_water(known, surface, sure, at),
    )


_Sure = Mapping[Quantity, float | None]
"""The standard uncertainty of the reading of each quantity at a place."""


def _known(air_c: float, humidity_pct: float, sure: _Sure) -> Air | None:
    """Give the air with its uncertainties; None where that of a probe is not known."""
    air_u_k, humidity_u_pct = sure.get(Quantity.AIR_TEMPERATURE), sure.get(Quantity.RELATIVE_HUMIDITY)
    if air_u_k is None or humidity_u_pct is None:
        return None
    return Air(air_c, humidity_pct, air_u_k, humidity_u_pct)


def _chance_of_water(air: Air, surface: StoredReading | None, sure: _Sure, at: At) -> float | None:
    surface_u_k = sure.get(Quantity.SURFACE_TEMPERATURE)
    measured = None if surface is None or surface_u_k is None else Estimate(surface.value, surface_u_k)
    margin = margin_of(air, measured, lid_in(at.room, at.temperature_factor))
    return None if margin is None else probability_of_water(margin)


def _good(rows: Mapping[Quantity, StoredReading], quantity: Quantity) -> StoredReading | None:
    row = rows.get(quantity)
    return row if row is not None and row.quality == 0 else None


def _together(*rows: StoredReading) -> bool:
    moments = [row.measured_at_ms for row in rows]
    return max(moments) - min(moments) <= PAIR_MS


def _surface_reason(found: Condensation, room: RoomAir | None, *, is_measured: bool, has_probe: bool) -> str:
    """Say where the surface temperature comes from; an estimate names its room, and a silent probe is told."""
    if is_measured:
        return found.reason
    if found.surface_temperature_c is None:
        silent = "Surface temperature unknown: the surface probe has no good reading of this time."
        return silent if has_probe else found.reason
    told = found.reason
    if room is not None:
        told += f" The room around it is {'measured' if room.measured else 'stated'}."
    return f"{told} The surface probe has no good reading of this time." if has_probe else told


def alarms_now(key: ChannelKey, place: str, memory: ChannelMemory, site: Site, now_ms: int) -> Iterator[AlarmNow]:
    """Alarms of a channel that people were told; one that another explains is not told and not shown."""
    for kind, alarm in memory.alarms.items():
        if not alarm.is_alarm or not alarm.told:
            continue
        definition = of_probe(tuned(kind, site.alarms), place, key.quantity)
        yield AlarmNow(
            kind=kind,
            priority=definition.priority,
            place=place,
            channel=key.channel,
            state="unacknowledged",
            since_ms=_since_ms(alarm.state, now_ms),
            headline=WRONG[kind].capitalize(),
            body=definition.first_action,
            background=background(definition),
        )


def background(definition: AlarmDefinition) -> str:
    """What is likely, what happens if nothing is done, and the time left."""
    cause, consequence = (f"{text[:1].lower()}{text[1:]}" for text in (definition.cause, definition.consequence))
    return f"Likely: {cause} If nothing is done: {consequence} Time left: {definition.time_available}."


def _since_ms(state: State, now_ms: int) -> int:
    since = state.silent_since_ms if isinstance(state, SilenceState) else state.since_ms
    return now_ms if since is None else since


def memories(stored: Mapping[str, str], channels: Mapping[str, ChannelKey]) -> dict[str, ChannelMemory]:
    """What the journal remembers of the alarms of each channel."""
    found = {name: fresh_memory(key.quantity, 0) for name, key in channels.items()}
    for name in found.keys() & stored.keys():
        found[name].read_json(stored[name])
    return found
