"""Series as JSON and as CSV: always °C and % RH, whatever the pages show, each with its unit. Pure."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict

from config.words import Quantity
from daemon.chart_reader import ChartChannel
from daemon.clock import as_datetime
from daemon.series import Bucket, Series
from daemon.series_columns import Columns

_DIGITS = 6
_DRAWN_DIGITS = 3
_DRAWN = ("least", "mean", "most", "suspect_least", "suspect_most")
_TRANSITION_STEP_MS = 7 * 86_400_000


class ErrorJson(BaseModel):
    """Why there is no answer, in a sentence."""

    model_config = ConfigDict(frozen=True)

    detail: str


class BucketsJson(BaseModel):
    """Stretches of time as columns of equal length; one that has no reading at all is not among them.

    Each is `width_ms` long. `least`, `mean` and `most` are of the `good` readings in it, and null where there is none;
    the first and the last of these are from `first_ms` and `last_ms`. A line must not be drawn over `gap_before`, a
    step before it that is too long to stand for anything; `gap_inside` says that there is such a step within.
    """

    model_config = ConfigDict(frozen=True)

    start_ms: list[int]
    good: list[int]
    least: list[float | None]
    mean: list[float | None]
    most: list[float | None]
    first_ms: list[int | None]
    last_ms: list[int | None]
    suspect: list[int]
    suspect_least: list[float | None]
    suspect_most: list[float | None]
    gap_before: list[bool]
    gap_inside: list[bool]


class ChannelSeriesJson(BaseModel):
    """One channel. `unit` as in SenML (RFC 8428): Cel, %RH, or / for a contact that is 0 or 1."""

    model_config = ConfigDict(frozen=True)

    channel: str
    probe: str
    place: str
    group: str
    name: str
    quantity: Quantity
    unit: str
    width_ms: int
    is_behind: bool
    buckets: BucketsJson


class SeriesJson(BaseModel):
    """Channels over one period. Moments are UTC milliseconds since the epoch.

    `utc_offsets` lists from when on the clock of the site is how far before UTC, as [from_ms, offset_ms]. No line is
    drawn over a step between two good readings that is longer than `bridge_ms`.
    """

    model_config = ConfigDict(frozen=True)

    from_ms: int
    until_ms: int
    time_zone: str
    utc_offsets: list[tuple[int, int]]
    bridge_ms: int
    series: list[ChannelSeriesJson]


UNITS: Mapping[Quantity, str] = {
    quantity: "Cel" if quantity.is_temperature else "/" if quantity.is_contact else "%RH" for quantity in Quantity
}


def series_json(
    read: Sequence[Series],
    channels: Mapping[str, ChartChannel],
    names: Mapping[str, str],
    zone: ZoneInfo,
    bridge_ms: int,
) -> SeriesJson:
    """Give series, at least one and all of one period, their JSON form."""
    from_ms, until_ms = read[0].from_ms, read[0].until_ms
    return SeriesJson(
        from_ms=from_ms,
        until_ms=until_ms,
        time_zone=zone.key,
        utc_offsets=utc_offsets(from_ms, until_ms, zone),
        bridge_ms=bridge_ms,
        series=[_channel(each, channels[each.channel], names[each.channel]) for each in read],
    )


def utc_offsets(from_ms: int, until_ms: int, zone: ZoneInfo) -> list[tuple[int, int]]:
    """Give the offset of a zone at the start, and each other one from the moment on at which it begins."""
    found = [(from_ms, _offset_ms(from_ms, zone))]
    at_ms = from_ms
    while at_ms < until_ms:
        next_ms = min(at_ms + _TRANSITION_STEP_MS, until_ms)
        if _offset_ms(next_ms, zone) != found[-1][1]:
            before_ms, after_ms = at_ms, next_ms
            while after_ms - before_ms > 1:
                middle_ms = (before_ms + after_ms) // 2
                if _offset_ms(middle_ms, zone) == found[-1][1]:
                    before_ms = middle_ms
                else:
                    after_ms = middle_ms
            found.append((after_ms, _offset_ms(after_ms, zone)))
        at_ms = next_ms
    return found


_HEAD = (
    "channel",
    "place",
    "quantity",
    "unit",
    "time_utc",
    "time_local",
    "seconds",
    "readings",
    "least",
    "mean",
    "most",
    "suspect_readings",
    "suspect_least",
    "suspect_most",
)


def series_csv(read: Iterable[Series], channels: Mapping[str, ChartChannel], zone: ZoneInfo) -> str:
    """Give series as CSV (RFC 4180). Where a stretch holds one reading, the row is that reading, with its own time."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(_HEAD)
    for each in read:
        channel = channels[each.channel]
        head = (channel.channel, channel.place, channel.quantity, UNITS[channel.quantity])
        writer.writerows([*head, *_row(bucket, zone)] for bucket in each.buckets)
    return out.getvalue()


def _row(bucket: Bucket, zone: ZoneInfo) -> list[object]:
    single = bucket.good == 1 and not bucket.suspect
    at_ms = bucket.first_ms if single and bucket.first_ms is not None else bucket.start_ms
    moment = as_datetime(at_ms)
    return [
        _time(moment).replace("+00:00", "Z"),
        _time(moment.astimezone(zone)),
        0 if single else (bucket.end_ms - bucket.start_ms) / 1000,
        bucket.good,
        *map(_number, (bucket.least, bucket.mean, bucket.most)),
        bucket.suspect,
        *map(_number, (bucket.suspect_least, bucket.suspect_most)),
    ]


def _time(moment: datetime) -> str:
    return moment.isoformat(timespec="milliseconds")


def _number(value: float | None) -> object:
    return "" if value is None else round(value, _DIGITS)


def _offset_ms(at_ms: int, zone: ZoneInfo) -> int:
    offset = as_datetime(at_ms).astimezone(zone).utcoffset()
    return 0 if offset is None else int(offset.total_seconds() * 1000)


def _channel(read: Series, channel: ChartChannel, name: str) -> ChannelSeriesJson:
    return ChannelSeriesJson(
        channel=channel.channel,
        probe=channel.probe,
        place=channel.place,
        group=channel.group,
        name=name,
        quantity=channel.quantity,
        unit=UNITS[channel.quantity],
        width_ms=read.width_ms,
        is_behind=read.is_behind,
        buckets=_columns(read.columns),
    )


def _columns(found: Columns) -> BucketsJson:
    """One object for each stretch would repeat all names with each. The library need not check what was made here."""
    values: dict[str, Any] = {name: list(each) for name, each in found._asdict().items()}
    values |= {name: _rounded(values[name]) for name in _DRAWN}
    return BucketsJson.model_construct(**values)


def _rounded(values: Sequence[float | None]) -> list[float | None]:
    return [None if value is None else round(value, _DRAWN_DIGITS) for value in values]
