"""The overview as JSON values, each with its unit in its name. Always °C, whatever the page shows. Pure."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from config.words import AlarmKind, Quantity


class Json(BaseModel):
    """A value of the API: fixed once made, and made from a plain value with fields of the same names."""

    model_config = ConfigDict(frozen=True, from_attributes=True)


class TemperatureJson(Json):
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


class HumidityJson(Json):
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


class ContactJson(Json):
    """A contact: `state` is present or absent of the mains, open or closed of a door; null without a reading."""

    channel: str
    probe: str
    place: str
    quantity: Literal[Quantity.MAINS, Quantity.DOOR]
    state: str | None
    measured_at_ms: int | None
    suspect: list[str]
    old_after_ms: int


class ClimateJson(Json):
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


class WindowJson(Json):
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


class NoWindowJson(Json):
    """No date, and why."""

    reason: str


class ClutchJson(Json):
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


class AlarmJson(Json):
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
    caution: str


class IncubatorJson(Json):
    """An incubator with what is in it."""

    incubator_id: str
    name: str
    channels: list[TemperatureJson | HumidityJson | ContactJson]
    climates: list[ClimateJson]
    clutches: list[ClutchJson]
    alarms: list[AlarmJson]
    place_names: dict[str, str]
    conflicts: list[str]


class RoomJson(Json):
    """The air around the incubators, as a probe there measures it."""

    channels: list[TemperatureJson | HumidityJson | ContactJson]
    alarms: list[AlarmJson]


class UntoldJson(Json):
    """An alarm that nobody is told of at present, and one reason for that.

    `state` is shelved, suppressed by design or out of service; `until_ms` the end of the shelf, the review date, or
    when it is told at the latest. `mode` is the designed reason, empty where a person (`who`) wanted it.
    """

    key: str
    kind: AlarmKind
    priority: int
    name: str
    state: str
    until_ms: int
    who: str
    why: str
    mode: str


class RoundJson(Json):
    """A round that goes on in an incubator or has just ended; it holds warnings back until `until_ms` at the latest."""

    incubator: str
    who: str
    until_ms: int
    is_ended: bool
    is_overdue: bool


class LastRoundJson(Json):
    """The round that was ended last, or several that were ended together (`numbers`); see /api/rounds.

    `boxes` are places with a clutch, `seen` those of them that somebody looked into. `removed`, `watched`, `pipped` and
    `hatched` count eggs of which it was said in the round. `not_seen`: places that nobody looked at, without a reason.
    """

    numbers: list[int]
    incubators: list[str]
    who: str
    ended_ms: int
    seen: int
    boxes: int
    removed: int
    watched: int
    photos: int
    note: str
    pipped: int
    hatched: int
    not_seen: list[str]


class RoundDueJson(Json):
    """An incubator (`name`) in which a round is due since a moment, and none goes on."""

    incubator: str
    name: str
    since_ms: int


class OverviewJson(Json):
    """Everything on the first page at one moment; `troubles` are those of the service itself.

    `room` is null where no probe measures it. `whole_site_alarms` are about no incubator: mains, broker, disk, people.
    """

    site_name: str
    time_zone: str
    now_ms: int
    clock_rate: float
    broker_connected: bool
    broker_detail: str
    incubators: list[IncubatorJson]
    room: RoomJson | None
    whole_site_alarms: list[AlarmJson]
    untold: list[UntoldJson]
    rounds: list[RoundJson]
    last_round: LastRoundJson | None
    rounds_due: list[RoundDueJson]
    alerts_delivered: int
    alerts_waiting: int
    samples_stored: int
    troubles: list[str]


class HealthJson(Json):
    """Whether the watch works; `reasons` says why not, and is empty where it does.

    `backup`: a line on the newest backup, or that none is configured; it has no part in the judgement. It is left out
    for whoever has not signed in.
    """

    healthy: bool
    reasons: list[str]
    broker_connected: bool
    newest_reading_age_s: float | None
    backup: str | None = None
