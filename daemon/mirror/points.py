"""What the mirror holds, to the name of each field. Pure. All time stamps are UTC ms, all integers are signed 64 bits.

Every point has the tags `site`, the name of the site by site.toml when the point was written, and `journal`, the
identity of its journal, which stays: it tells two sites of one name apart, and joins what a site wrote under two names.

`reading` (tags incubator, place, probe, channel, quantity; at the time of measuring): `value` as the probe said it, in
the unit of the quantity; `quality` 0 for good; `received_ms`; `seq`, the number in the journal.

`climate` (tags incubator, place; at the start of ten minutes): the first good readings in them, corrected by the
calibrations: `temperature_c`, `relative_humidity_pct`, `dew_point_c`, and where a surface is known `margin_k` (surface
less dew point: water settles at 0 and below).

`heat` (tags clutch, clutch_id, species; at the start of the hour): `degree_hours_ch`, with `low_ch` and `high_ch` as
its bounds; `covered_ms` and `missing_ms` of the hour.

`alarm_event` (tags incubator, kind, alarm, event; when it happened): `number` in the journal, `occurrence`, `reason`,
`recorded_ms`, and `value` and `limit_value` where there are any.

`mirror_check`: `up` is 1; written to see whether a target takes anything at all.

A point is known by measurement, tags and time, so that writing it once more changes nothing. `place` is where the probe
was by site.toml when the point was written first: what is written once more goes there (`former`).
"""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

READING = "reading"
CLIMATE = "climate"
HEAT = "heat"
ALARM_EVENT = "alarm_event"
CHECK = "mirror_check"

Value = float | int | str | None


class Point(NamedTuple):
    """One point. An empty tag and a field that is None are left out."""

    measurement: str
    tags: Mapping[str, str]
    fields: Mapping[str, Value]
    at_ms: int


class Origin(NamedTuple):
    """Whose points they are: the name of the site, and the identity of its journal (empty where there is none yet)."""

    site: str
    journal: str

    def tags(self) -> dict[str, str]:
        """Give the tags that every point begins with."""
        return {"site": self.site, "journal": self.journal}


class Batch(NamedTuple):
    """Lines of one measurement and the numbers of the journal's rows that they stand for; derived ones have 0."""

    measurement: str
    lines: list[str]
    numbers: list[int]


class StoredSample(NamedTuple):
    """A reading as the journal holds it, with the number of its channel."""

    seq: int
    channel_id: int
    measured_at_ms: int
    received_at_ms: int
    value: float
    quality: int


def place_tags(origin: Origin, place: str) -> dict[str, str]:
    """Give the tags of a place such as north/upper/N1."""
    return {**origin.tags(), "incubator": place.partition("/")[0], "place": place}


def reading_lines(rows: Iterable[tuple[int, int, int, int, float, int]], series: Mapping[int, str]) -> list[str]:
    """Give the line of each `StoredSample`, in order; `series` is the beginning of a line by number of the channel.

    Written here and not by a library, since it is done for every reading: fields are in order of their names, and a
    real number is the shortest decimal that gives the same binary64 again.
    """
    return [
        f"{series[channel_id]} quality={quality}i,received_ms={received_ms}i,seq={seq}i,value={value!r} {measured_ms}"
        for seq, channel_id, measured_ms, received_ms, value, quality in rows
    ]


class Climate(NamedTuple):
    """Air and lid of a place: degree Celsius, %, degree Celsius, K; the last is None where no surface is known."""

    temperature_c: float
    relative_humidity_pct: float
    dew_point_c: float
    margin_k: float | None


def climate_line(series: str, climate: Climate, at_ms: int) -> str:
    """Give the line of a climate; `series` is its beginning."""
    margin = "" if climate.margin_k is None else f"margin_k={climate.margin_k!r},"
    return (
        f"{series} dew_point_c={climate.dew_point_c!r},{margin}relative_humidity_pct={climate.relative_humidity_pct!r},"
        f"temperature_c={climate.temperature_c!r} {at_ms}"
    )


EventRow = tuple[int, int, int, str, str, str, float | None, float | None, str]
"""An event as the journal holds it: number, at, recorded (UTC ms), key, occurrence, event, value, limit, reason."""


def event_point(origin: Origin, incubator: str, row: EventRow) -> Point:
    """Give the point of an event; `incubator` is empty for an alarm that is about none."""
    number, at_ms, recorded_ms, key, occurrence, event, value, limit, reason = row
    tags = {**origin.tags(), "incubator": incubator, "kind": key.partition(":")[0], "alarm": key, "event": event}
    fields: dict[str, Value] = {
        "number": number,
        "recorded_ms": recorded_ms,
        "occurrence": occurrence,
        "reason": reason,
        "value": value,
        "limit_value": limit,
    }
    return Point(ALARM_EVENT, tags, fields, at_ms)
