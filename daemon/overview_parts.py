"""Pure: the parts of the overview, each made from what is stored and stated about one channel, place or clutch."""

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from config.site import Site
from config.species import DevelopmentFit, SpeciesProfile
from config.words import Quantity
from daemon.alarm_memory import ChannelMemory, State, fresh_memory
from daemon.alarms.definitions import AlarmDefinition, tuned
from daemon.alarms.limits import Limits
from daemon.alarms.silence import SilenceState
from daemon.alarms.wording import WRONG
from daemon.climate.condensation import Condensation, condensation
from daemon.clutches.register import Clutch
from daemon.overview import AlarmNow, ChannelNow, ClimateNow, ClutchNow
from daemon.storage.heat import HeatTotal
from daemon.storage.samples import StoredReading
from sensors.reading import ChannelKey

HOUR_MS = 3_600_000
PAIR_MS = 5 * 60_000
"""Readings further apart than this are not of the same air."""
_FIT_WORDS = {
    "good": "",
    "fair": ": few or scattered temperatures",
    "weak": ": few or scattered temperatures",
    "two-point": ": a line through two temperatures, error unknown",
}
"""what a keeper should know of a fit, by its flag"""


class At(NamedTuple):
    """A place as its probes and its lid are stated; degree Celsius, and the f of ISO 13788."""

    place: str
    is_box: bool
    room_temperature_c: float | None
    temperature_factor: float | None


class Heard(NamedTuple):
    """A channel with its newest reading, good or suspect, and how long such a reading counts as fresh."""

    key: ChannelKey
    old_after_ms: int
    row: StoredReading | None


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
    )


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
    try:
        found = condensation(
            air.value,
            min(damp.value, 100.0),
            surface.value if surface else None,
            at.room_temperature_c,
            at.temperature_factor,
        )
    except ValueError:
        return None
    return ClimateNow(
        place=at.place,
        measured_at_ms=min(air.measured_at_ms, damp.measured_at_ms),
        air_temperature_c=air.value,
        relative_humidity_pct=damp.value,
        dew_point_c=found.dew_point_c,
        surface_temperature_c=found.surface_temperature_c,
        margin_k=found.margin_k,
        reason=_surface_reason(found, has_silent_probe=surface is None and has_probe),
        old_after_ms=min(each.old_after_ms for each in heard),
    )


def _good(rows: Mapping[Quantity, StoredReading], quantity: Quantity) -> StoredReading | None:
    row = rows.get(quantity)
    return row if row is not None and row.quality == 0 else None


def _together(*rows: StoredReading) -> bool:
    moments = [row.measured_at_ms for row in rows]
    return max(moments) - min(moments) <= PAIR_MS


def _surface_reason(found: Condensation, has_silent_probe: bool) -> str:
    if not has_silent_probe:
        return found.reason
    if found.surface_temperature_c is None:
        return "Surface temperature unknown: the surface probe has no good reading of this time."
    return f"{found.reason} The surface probe has no good reading of this time."


def clutch_now(clutch: Clutch, profile: SpeciesProfile | None, total: HeatTotal | None, now_ms: int) -> ClutchNow:
    """Where a clutch lies at `now_ms`, and its heat so far; it must have been set up by then."""
    fit = profile.development if profile else None
    set_up_ms = clutch.placements[0].from_ms
    heat_ch = total.degree_hours_ch if total and fit else None
    has_share = heat_ch is not None and profile is not None and profile.pause == "none"
    missing_ms = now_ms - set_up_ms - (total.covered_ms if total else 0)
    return ClutchNow(
        clutch_id=clutch.clutch_id,
        label=clutch.label,
        species_id=clutch.species_id,
        species_name=profile.common_name if profile else clutch.species_id,
        place=next(lain.place for lain in reversed(clutch.placements) if lain.from_ms <= now_ms),
        egg_count=clutch.egg_count,
        laid_from_ms=clutch.laid_from_ms,
        laid_to_ms=clutch.laid_to_ms,
        set_up_ms=set_up_ms,
        degree_hours_ch=heat_ch,
        thermal_constant_ch=fit.thermal_constant_ch if fit else None,
        share=heat_ch / fit.thermal_constant_ch if has_share and heat_ch is not None and fit else None,
        hours_missing=max(0.0, missing_ms / HOUR_MS) if fit else 0.0,
        reason=_heat_reason(profile, is_counted=heat_ch is not None),
        counted=_counted(fit) if fit else "",
        caution=(profile.caution or "") if profile else "",
    )


def _heat_reason(profile: SpeciesProfile | None, is_counted: bool) -> str:
    """Why a clutch has no heat or no share; empty where it has both."""
    if profile is None:
        return "There is no profile for this species: no limits are watched for it and no heat is counted."
    pauses = profile.pause != "none"
    fit = profile.development
    if fit is None:
        also = f" Its development pauses ({profile.pause})." if pauses else ""
        return f"No published thermal constant for this species: days only.{also}"
    if not is_counted:
        return "No reading counts for this clutch yet."
    if pauses:
        return f"Development of this species pauses ({profile.pause}): heat, but no share and no date."
    return ""


def _counted(fit: DevelopmentFit) -> str:
    """How heat is counted, and what the figures rest on."""
    studies = ", from several studies" if fit.pooled else ""
    return (
        f"Heat counts above {fit.developmental_zero_c:g} °C, and above {fit.cap_c:g} °C no faster. "
        f"Fitted from {fit.fit_low_c:g} to {fit.fit_high_c:g} °C{studies}{_FIT_WORDS[fit.flag]}."
    )


def alarms_now(key: ChannelKey, place: str, memory: ChannelMemory, site: Site, now_ms: int) -> Iterator[AlarmNow]:
    """Alarms of a channel that people were told; one that another explains is not told and not shown."""
    for kind, alarm in memory.alarms.items():
        if not alarm.is_alarm or not alarm.told:
            continue
        definition = tuned(kind, site.alarms)
        yield AlarmNow(
            kind=kind,
            priority=definition.priority,
            place=place,
            channel=key.channel,
            state="unacknowledged",
            since_ms=_since_ms(alarm.state, now_ms),
            headline=WRONG[kind].capitalize(),
            body=definition.first_action,
            background=_background(definition),
        )


def _background(definition: AlarmDefinition) -> str:
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
