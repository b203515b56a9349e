"""The overview as JSON: the same values as on the first page. Pure."""

from config.words import CONTACT_WORDS, Quantity
from daemon.overview import AlarmNow, ChannelNow, ClimateNow, ClutchNow, IncubatorNow, Overview
from dashboards.api_values import (
    AlarmJson,
    ClimateJson,
    ClutchJson,
    ContactJson,
    HumidityJson,
    IncubatorJson,
    LastRoundJson,
    OverviewJson,
    RoomJson,
    RoundDueJson,
    RoundJson,
    TemperatureJson,
    UntoldJson,
)
from sensors.reading import Quality


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
        whole_site_alarms=[] if overview.whole_site is None else _alarms(overview.whole_site),
        untold=[UntoldJson.model_validate(each) for each in overview.untold],
        rounds=[RoundJson.model_validate(each) for each in overview.rounds],
        last_round=None if overview.last_round is None else LastRoundJson.model_validate(overview.last_round),
        rounds_due=[RoundDueJson.model_validate(each) for each in overview.rounds_due],
        alerts_delivered=overview.alerts_delivered,
        alerts_waiting=overview.alerts_waiting,
        samples_stored=overview.samples_stored,
        troubles=list(overview.troubles),
    )


def _incubator(incubator: IncubatorNow) -> IncubatorJson:
    climates: tuple[ClimateNow, ...] = incubator.climates
    clutches: tuple[ClutchNow, ...] = incubator.clutches
    return IncubatorJson(
        incubator_id=incubator.incubator_id,
        name=incubator.name,
        channels=[_channel(channel) for channel in incubator.channels],
        climates=[ClimateJson.model_validate(climate) for climate in climates],
        clutches=[ClutchJson.model_validate(clutch) for clutch in clutches],
        alarms=_alarms(incubator),
        place_names=dict(incubator.place_names),
        conflicts=list(incubator.conflicts),
    )


def _room(room: IncubatorNow) -> RoomJson:
    return RoomJson(
        channels=[_channel(channel) for channel in room.channels],
        alarms=_alarms(room),
    )


def _alarms(incubator: IncubatorNow) -> list[AlarmJson]:
    alarms: tuple[AlarmNow, ...] = incubator.alarms
    return [AlarmJson.model_validate(alarm) for alarm in alarms]


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
