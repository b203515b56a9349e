"""The overview as JSON: the same values, each with its unit in its name. Always °C, whatever the page shows."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from config.words import CONTACT_WORDS, AlarmKind, Quantity
from daemon.overview import AlarmNow, ChannelNow, ClimateNow, ClutchNow, IncubatorNow, Overview
from sensors.reading import Quality


class _Json(BaseModel):
    model_config = ConfigDict(frozen=True, from_attributes=True)


class TemperatureJson(_Json):
    """A temperature channel. Moments are UTC milliseconds since the epoch, here and everywhere."""

    channel: str
    probe: str
    place: str
    quantity: Literal[Quantity.AIR_TEMPERATURE, Quantity.SURFACE_TEMPERATURE]
    temperature_c: float | None
    measured_at_ms: int | None
    suspect: list[str]
    low_c: float | None
    high_c: float | None
    lethal_low_c: float | None
    lethal_high_c: float | None
    old_after_ms: int
    standard_uncertainty_k: float | None
    calibrated_ms: int | None
    calibration_due_ms: int | None


class HumidityJson(_Json):
    """A humidity channel."""

    channel: str
    probe: str
    place: str
    quantity: Literal[Quantity.RELATIVE_HUMIDITY]
    relative_humidity_pct: float | None
    measured_at_ms: int | None
    suspect: list[str]
    low_pct: float | None
    high_pct: float | None
    old_after_ms: int
    standard_uncertainty_pct: float | None
    calibrated_ms: int | None
    calibration_due_ms: int | None


class ContactJson(_Json):
    """A contact: `state` is present or absent of the mains, open or closed of a door; null without a reading."""

    channel: str
    probe: str
    place: str
    quantity: Literal[Quantity.MAINS, Quantity.DOOR]
    state: str | None
    measured_at_ms: int | None
    suspect: list[str]
    old_after_ms: int


class ClimateJson(_Json):
    """Dew point and margin at a place."""

    place: str
    measured_at_ms: int
    air_temperature_c: float
    relative_humidity_pct: float
    dew_point_c: float
    surface_temperature_c: float | None
    margin_k: float | None
    reason: str
    old_after_ms: int
    dew_point_u_k: float | None
    vpd_pa: float | None
    surface_humidity_pct: float | None
    condensation_probability: float | None
    condensation_hours_24h: float | None
    hours_unread_24h: float | None
    condensation_hours_mean_day: float | None
    stays_wet: bool
    dry_out: str
    condensation_range_24h: tuple[float, float] | None


class WindowJson(_Json):
    """When a clutch will hatch: a window that holds the day in 90 of 100 cases."""

    earliest_ms: int
    likely_ms: int
    latest_ms: int
    sd_days: float
    share: float
    parts_sd_days: list[tuple[str, float]] = Field(validation_alias="parts")
    kind: str
    reason: str
    standing: str


class NoWindowJson(_Json):
    """No date, and why."""

    reason: str


class ClutchJson(_Json):
    """A clutch, its heat from laying as an interval, and its window."""

    clutch_id: int
    label: str
    species_id: str
    species_name: str
    place: str
    egg_count: int
    laid_from_ms: int
    laid_to_ms: int
    set_up_ms: int
    degree_hours_low_ch: float | None
    degree_hours_ch: float | None
    degree_hours_high_ch: float | None
    thermal_constant_ch: float | None
    share: float | None
    rate_now_k: float | None
    recent_rate_k: float | None
    recent_mean_c: float | None
    hours_missing: float
    hours_above_cap: float
    hours_below_zero: float
    window: WindowJson | NoWindowJson
    reason: str
    counted: str
    caution: str
    stage: str
    sex: str
    exposure_limits: list[str]


class AlarmJson(_Json):
    """An alarm that is not in the normal state; priority 1 is the most urgent, `body` says what to do first."""

    kind: AlarmKind
    priority: int
    place: str
    channel: str
    state: str
    since_ms: int
    headline: str
    body: str
    background: str
    key: str
    occurrence: str
    version: int
    waits: bool
    is_on: bool
    acknowledged_by: str
    shelved_until_ms: int | None


class IncubatorJson(_Json):
    """An incubator with what is in it."""

    incubator_id: str
    name: str
    channels: list[TemperatureJson | HumidityJson | ContactJson]
    climates: list[ClimateJson]
    clutches: list[ClutchJson]
    alarms: list[AlarmJson]
    place_names: dict[str, str]
    conflicts: list[str]


class RoomJson(_Json):
    """The air around the incubators, as a probe there measures it."""

    channels: list[TemperatureJson | HumidityJson | ContactJson]
    alarms: list[AlarmJson]


class OverviewJson(_Json):
    """Everything on the status page at one moment; `troubles` are those of the service itself.

    `room` is null where no probe measures it.
    """

    site_name: str
    time_zone: str
    now_ms: int
    clock_rate: float
    broker_connected: bool
    broker_detail: str
    incubators: list[IncubatorJson]
    room: RoomJson | None
    alerts_delivered: int
    alerts_waiting: int
    samples_stored: int
    troubles: list[str]


class HealthJson(_Json):
    """Whether the watch works; `reasons` says why not, and is empty where it does."""

    healthy: bool
    reasons: list[str]
    broker_connected: bool
    newest_reading_age_s: float | None


def overview_json(overview: Overview) -> OverviewJson:
    """Give the overview its JSON form."""
    return OverviewJson(
        site_name=overview.site_name,
        time_zone=overview.time_zone,
        now_ms=overview.now_ms,
        clock_rate=overview.clock_rate,
        broker_connected=overview.broker_connected,
        broker_detail=overview.broker_detail,
        incubators=[_incubator(incubator) for incubator in overview.incubators],
        room=None if overview.room is None else _room(overview.room),
        alerts_delivered=overview.alerts_delivered,
        alerts_waiting=overview.alerts_waiting,
        samples_stored=overview.samples_stored,
        troubles=list(overview.troubles),
    )


def _incubator(incubator: IncubatorNow) -> IncubatorJson:
    climates: tuple[ClimateNow, ...] = incubator.climates
    clutches: tuple[ClutchNow, ...] = incubator.clutches
    alarms: tuple[AlarmNow, ...] = incubator.alarms
    return IncubatorJson(
        incubator_id=incubator.incubator_id,
        name=incubator.name,
        channels=[_channel(channel) for channel in incubator.channels],
        climates=[ClimateJson.model_validate(climate) for climate in climates],
        clutches=[ClutchJson.model_validate(clutch) for clutch in clutches],
        alarms=[AlarmJson.model_validate(alarm) for alarm in alarms],
        place_names=dict(incubator.place_names),
        conflicts=list(incubator.conflicts),
    )


def _room(room: IncubatorNow) -> RoomJson:
    return RoomJson(
        channels=[_channel(channel) for channel in room.channels],
        alarms=[AlarmJson.model_validate(alarm) for alarm in room.alarms],
    )


def _channel(channel: ChannelNow) -> TemperatureJson | HumidityJson | ContactJson:
    suspect = [(flag.name or "").lower() for flag in Quality(channel.quality)]
    if channel.quantity is Quantity.MAINS or channel.quantity is Quantity.DOOR:
        return ContactJson(
            channel=channel.channel,
            probe=channel.probe,
            place=channel.place,
            quantity=channel.quantity,
            state=None if channel.value is None else CONTACT_WORDS[channel.quantity][channel.value != 0],
            measured_at_ms=channel.measured_at_ms,
            suspect=suspect,
            old_after_ms=channel.old_after_ms,
        )
    if channel.quantity is Quantity.RELATIVE_HUMIDITY:
        return HumidityJson(
            channel=channel.channel,
            probe=channel.probe,
            place=channel.place,
            quantity=channel.quantity,
            relative_humidity_pct=channel.value,
            measured_at_ms=channel.measured_at_ms,
            suspect=suspect,
            low_pct=channel.low,
            high_pct=channel.high,
            old_after_ms=channel.old_after_ms,
            standard_uncertainty_pct=channel.standard_uncertainty,
            calibrated_ms=channel.calibrated_ms,
            calibration_due_ms=channel.calibration_due_ms,
        )
    return TemperatureJson(
        channel=channel.channel,
        probe=channel.probe,
        place=channel.place,
        quantity=channel.quantity,
        temperature_c=channel.value,
        measured_at_ms=channel.measured_at_ms,
        suspect=suspect,
        low_c=channel.low,
        high_c=channel.high,
        lethal_low_c=channel.lethal_low,
        lethal_high_c=channel.lethal_high,
        old_after_ms=channel.old_after_ms,
        standard_uncertainty_k=channel.standard_uncertainty,
        calibrated_ms=channel.calibrated_ms,
        calibration_due_ms=channel.calibration_due_ms,
    )
