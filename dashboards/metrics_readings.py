"""Readings and dew points as families of metrics. Pure.

A value is there while it says how the place is now: good, and not older than its probe may be silent. Its age is there
as soon as anything was heard, so that an alert on silence needs no absent value.
"""

from collections.abc import Iterator

from prometheus_client.core import GaugeMetricFamily, Metric

from config.words import Quantity
from daemon.overview import ChannelNow, Overview
from dashboards.metrics_places import CHANNEL_LABELS, PLACE_LABELS, channel_labels, place_labels
from dashboards.standing import is_old

_NOW = "Newest reading, while it is good and fresh"


def reading_metrics(overview: Overview) -> Iterator[Metric]:
    """Give the readings of all channels, and how old and how good they are."""
    yield from _values(overview)
    age = GaugeMetricFamily(
        "clutchwarden_reading_age_seconds",
        "Age of the newest reading, good or not.",
        labels=CHANNEL_LABELS,
        unit="seconds",
    )
    suspect = GaugeMetricFamily(
        "clutchwarden_reading_suspect", "1 where the newest reading is suspect, else 0.", labels=CHANNEL_LABELS
    )
    for channel in _channels(overview):
        if channel.measured_at_ms is not None:
            labels = channel_labels(overview.site_name, channel)
            age.add_metric(labels, (overview.now_ms - channel.measured_at_ms) / 1000)
            suspect.add_metric(labels, float(channel.quality != 0))
    yield age
    yield suspect


def climate_metrics(overview: Overview) -> Iterator[Metric]:
    """Give the dew points of all places that have one, while both of its readings are fresh."""
    dew = GaugeMetricFamily(
        "clutchwarden_dew_point_celsius", "Dew point of the air.", labels=PLACE_LABELS, unit="celsius"
    )
    margin = GaugeMetricFamily(
        "clutchwarden_dew_point_margin_kelvin",
        "Surface temperature less dew point: water settles at 0 and below.",
        labels=PLACE_LABELS,
        unit="kelvin",
    )
    for incubator in overview.incubators:
        for climate in incubator.climates:
            if not is_old(climate.measured_at_ms, climate.old_after_ms, overview.now_ms):
                labels = place_labels(overview.site_name, climate.place)
                dew.add_metric(labels, climate.dew_point_c)
                if climate.margin_k is not None:
                    margin.add_metric(labels, climate.margin_k)
    yield dew
    yield margin


def _values(overview: Overview) -> Iterator[Metric]:
    celsius = GaugeMetricFamily(
        "clutchwarden_temperature_celsius",
        f"{_NOW}, calibrated; quantity says whether of the air or of a surface.",
        labels=[*CHANNEL_LABELS, "quantity"],
        unit="celsius",
    )
    humidity = GaugeMetricFamily(
        "clutchwarden_relative_humidity_ratio", f"{_NOW}, calibrated; 1 is 100 %.", labels=CHANNEL_LABELS, unit="ratio"
    )
    mains = GaugeMetricFamily(
        "clutchwarden_mains_present", f"{_NOW}: 1 where the mains are present, 0 absent.", labels=CHANNEL_LABELS
    )
    door = GaugeMetricFamily("clutchwarden_door_open", f"{_NOW}: 1 open, 0 closed.", labels=CHANNEL_LABELS)
    for channel in _channels(overview):
        if channel.value is None or not _counts(channel, overview.now_ms):
            continue
        labels = channel_labels(overview.site_name, channel)
        if channel.quantity.is_temperature:
            celsius.add_metric([*labels, channel.quantity.value], channel.value)
        elif channel.quantity is Quantity.RELATIVE_HUMIDITY:
            humidity.add_metric(labels, channel.value / 100)
        elif channel.quantity is Quantity.MAINS:
            mains.add_metric(labels, float(channel.value != 0))
        elif channel.quantity is Quantity.DOOR:
            door.add_metric(labels, float(channel.value != 0))
    yield from (celsius, humidity, mains, door)


def _channels(overview: Overview) -> Iterator[ChannelNow]:
    for each in overview.watched:
        yield from each.channels


def _counts(channel: ChannelNow, now_ms: int) -> bool:
    measured_ms = channel.measured_at_ms
    return channel.quality == 0 and measured_ms is not None and not is_old(measured_ms, channel.old_after_ms, now_ms)
