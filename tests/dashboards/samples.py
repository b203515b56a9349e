"""A made-up site for the tests of the pages: literal values, nothing computed by the program."""

from dataclasses import replace
from datetime import UTC, datetime

from config.words import AlarmKind, Priority, Quantity
from daemon.clock import as_ms
from daemon.development.window import HatchWindow, NoWindow
from daemon.overview import AlarmNow, ChannelNow, ClimateNow, ClutchNow, IncubatorNow, Messages, Overview
from daemon.storage.messages import KeptMessage
from sensors.reading import Outcome

NOW_MS = as_ms(datetime(2026, 6, 3, 12, 2, tzinfo=UTC))
MINUTE_MS = 60_000
DAY_MS = 86_400_000
OLD_AFTER_MS = 3 * MINUTE_MS
PLACE_NAMES = {
    "north": "whole incubator",
    "north/upper": "upper shelf",
    "north/upper/N1": "upper shelf, box N1",
}
CONFLICT = "The gecko clutch A wants 22.0 to 25.0 °C, the python clutch B wants 30.0 to 32.0 °C. Move one of them."
DISK_FULL = "Readings are stored but not evaluated: the disk is full."


def temperature(value: float | None = 28.4, age_ms: int = 20_000, quality: int = 0) -> ChannelNow:
    return ChannelNow(
        channel="north-air/t",
        probe="north-air",
        quantity=Quantity.AIR_TEMPERATURE,
        place="north/upper",
        value=value,
        measured_at_ms=None if value is None else NOW_MS - age_ms,
        quality=quality,
        low=26.0,
        high=30.0,
        lethal_low=10.0,
        lethal_high=34.0,
        old_after_ms=OLD_AFTER_MS,
        standard_uncertainty=0.15,
        calibrated_ms=NOW_MS - 100 * DAY_MS,
        calibration_due_ms=NOW_MS + 265 * DAY_MS,
    )


def humidity(value: float | None = 84.0) -> ChannelNow:
    return replace(
        temperature(value),
        channel="north-air/rh",
        quantity=Quantity.RELATIVE_HUMIDITY,
        low=75.0,
        high=95.0,
        lethal_low=None,
        lethal_high=None,
        standard_uncertainty=1.73,
        calibrated_ms=None,
        calibration_due_ms=None,
    )


def climate(margin_k: float | None = 1.4, probability: float | None = 0.006) -> ClimateNow:
    """Make the climate of a place; for other margins the tests give the probability with it."""
    reason = "Surface temperature unknown: there is no surface probe." if margin_k is None else "Measured on the lid."
    return ClimateNow(
        place="north/upper",
        measured_at_ms=NOW_MS - 20_000,
        air_temperature_c=28.4,
        relative_humidity_pct=84.0,
        dew_point_c=25.4,
        surface_temperature_c=None if margin_k is None else 25.4 + margin_k,
        margin_k=margin_k,
        reason=reason,
        old_after_ms=OLD_AFTER_MS,
        dew_point_u_k=0.39,
        vpd_pa=619.0,
        surface_humidity_pct=None if margin_k is None else 92.0,
        condensation_probability=None if margin_k is None else probability,
        condensation_hours_24h=None if margin_k is None else 3.24,
        hours_unread_24h=None if margin_k is None else 5.0,
        condensation_hours_mean_day=None if margin_k is None else 0.04,
        dry_out="Add water by Friday (between Thursday and Sunday)",
    )


WINDOW = HatchWindow(
    earliest_ms=NOW_MS + 30 * DAY_MS,
    likely_ms=NOW_MS + 36 * DAY_MS,
    latest_ms=NOW_MS + 42 * DAY_MS,
    sd_days=3.6,
    share=0.28,
    parts=(("how much clutches differ", 3.1), ("the line itself", 1.4), ("the probe", 0.02)),
    kind="fit",
    reason="From a line through published durations. Most of its width is how much clutches differ.",
    standing="ahead",
)


def clutch(label: str = "Ada 2026-1") -> ClutchNow:
    return ClutchNow(
        clutch_id=1,
        label=label,
        species_id="correlophus-ciliatus",
        species_name="Correlophus ciliatus",
        place="north/upper/N1",
        egg_count=2,
        laid_from_ms=NOW_MS - 26 * DAY_MS,
        laid_to_ms=NOW_MS - 25 * DAY_MS,
        set_up_ms=NOW_MS - 24 * DAY_MS,
        degree_hours_low_ch=4_890.2,
        degree_hours_ch=5_012.4,
        degree_hours_high_ch=5_130.9,
        thermal_constant_ch=17_900.0,
        share=0.28,
        rate_now_k=15.3,
        recent_rate_k=15.02,
        recent_mean_c=28.2,
        hours_missing=0.0,
        hours_above_cap=0.0,
        hours_below_zero=0.0,
        window=WINDOW,
        reason="",
        counted="Heat counts above 13.2 °C, and above 30 °C no faster. From a line through published durations.",
        caution="",
    )


def heat_only_clutch() -> ClutchNow:
    """Make a clutch whose development pauses: there is a constant, but no share of it."""
    return replace(
        clutch("Second clutch of the pale female from the far shelf, laid while nobody looked"),
        clutch_id=2,
        share=None,
        window=NoWindow("Development pauses. No date."),
        hours_missing=3.5,
        reason="Development pauses: heat, but no share.",
    )


def days_only_clutch() -> ClutchNow:
    """Make a clutch of a species without a thermal constant."""
    return replace(
        clutch("Third"),
        clutch_id=3,
        degree_hours_low_ch=None,
        degree_hours_ch=None,
        degree_hours_high_ch=None,
        thermal_constant_ch=None,
        share=None,
        rate_now_k=None,
        recent_rate_k=None,
        recent_mean_c=None,
        window=NoWindow("Nothing is known of how long these eggs take. No date."),
        counted="",
        reason="No published thermal constant: days only.",
    )


def alarm(
    kind: AlarmKind = AlarmKind.TEMPERATURE_HIGH,
    priority: Priority = Priority.HIGH,
    headline: str = "Too warm",
    state: str = "unacknowledged",
    channel: str = "north-air/t",
) -> AlarmNow:
    return AlarmNow(
        kind=kind,
        priority=priority,
        place="north/upper",
        channel=channel,
        state=state,
        since_ms=NOW_MS - 12 * MINUTE_MS,
        headline=headline,
        body="Open the door.\nThen look at the thermostat.",
        background="Likely: a warm room. If nothing is done: stress. Time left: unknown.",
    )


def incubator(*channels: ChannelNow, alarms: tuple[AlarmNow, ...] = ()) -> IncubatorNow:
    return IncubatorNow(
        incubator_id="north",
        name="North cabinet",
        channels=channels or (temperature(), humidity()),
        climates=(climate(),),
        clutches=(clutch(), heat_only_clutch()),
        alarms=alarms,
        place_names=PLACE_NAMES,
    )


def south() -> IncubatorNow:
    """A second incubator with a place of its own."""
    here = replace(temperature(23.6), channel="south-air/t", probe="south-air", place="south")
    cooler = replace(here, low=22.0, high=25.0, lethal_low=None, lethal_high=30.0)
    dew = replace(climate(None), place="south", dry_out="")
    return IncubatorNow("south", "South cabinet", (cooler,), (dew,), (), (), {"south": "whole incubator"})


SEX = (
    "Constant temperature equivalent over the sensitive period (33 to 67 %), of which 40 % is done, 28.3 °C "
    "(no pivotal temperature is known). No promise of either sex. Source: Invented 2020, Journal of Examples 1:1-2."
)
STAGE = "Other limits hold now, in its last tenth: 91 % of development is done."
PASSED = "Exposure limit passed: above 33 °C for 75 min in the last 24 h; the limit is 60 min (invented)."
UNSURE = (
    "Exposure limit possibly passed: below 15 °C for 10 min in the last 48 h, and nothing is known of 600 min; "
    "the limit is 120 min (invented)."
)


def telling_clutch() -> ClutchNow:
    """Make a clutch in a stage, whose sex follows temperature, and that was out of its limits."""
    return replace(clutch("Turtle"), clutch_id=4, stage=STAGE, sex=SEX, exposure_limits=(PASSED, UNSURE))


def room(value: float | None = 19.4, age_ms: int = 20_000, alarms: tuple[AlarmNow, ...] = ()) -> IncubatorNow:
    """Make the air around the incubators: no limits are watched there."""
    here = replace(temperature(value, age_ms), channel="room-air/t", probe="room-air", place="room")
    free = replace(here, low=None, high=None, lethal_low=None, lethal_high=None, calibrated_ms=None)
    return IncubatorNow("room", "Room", (free,), (), (), alarms, {"room": "Room"})


def overview(*incubators: IncubatorNow) -> Overview:
    return Overview(
        site_name="Reptile room",
        time_zone="Europe/Berlin",
        fahrenheit=False,
        now_ms=NOW_MS,
        clock_rate=1.0,
        broker_connected=True,
        broker_detail="",
        incubators=incubators or (incubator(), south()),
        alerts_delivered=3,
        alerts_waiting=0,
        samples_stored=123_456,
    )


def with_channels(*channels: ChannelNow, alarms: tuple[AlarmNow, ...] = ()) -> Overview:
    return overview(incubator(*channels, alarms=alarms))


def kept_message(payload: bytes = b'{"t": 85.0}', topic: str = "clutchwarden/north-air/x") -> KeptMessage:
    return KeptMessage(topic, payload, False, NOW_MS, Outcome.UNKNOWN_CHANNEL, "the probe has no channel 'x'")


def messages(*kept: KeptMessage) -> Messages:
    """Counts in another order than that of the outcomes."""
    return Messages("Europe/Berlin", {Outcome.UNKNOWN_CHANNEL: 2, Outcome.STORED: 12_345}, kept or (kept_message(),))


def message_fields() -> dict[str, object]:
    """A webhook message as JSON values."""
    return {
        "format": "clutchwarden-message-1",
        "message_id": "m-1",
        "kind": "alarm",
        "status": "actual",
        "site": "Reptile room",
        "place": "North cabinet, upper shelf",
        "priority": 2,
        "headline": "URGENT North cabinet: 31.2 °C, too warm",
        "body": "Since 13:50 (12 min).\nOpen the door.",
        "alarm": "temperature-high",
        "occurrence": "north/upper#4",
        "value": 31.2,
        "limit": 30.0,
        "started_at": "2026-06-03T11:50:00.000Z",
        "sent_at": "2026-06-03T12:02:00.000Z",
    }
