"""What of the journal goes to the mirror, as batches of lines: readings, climate, alarm events, hours of heat."""

import hashlib
import sqlite3
from collections.abc import Iterable, Sequence
from types import MappingProxyType
from typing import NamedTuple

from config.places import Places
from config.site import Site
from daemon.clutches import register
from daemon.clutches.values import Clutch
from daemon.mirror.former import Former, FormerSeries, others, series_at
from daemon.mirror.points import (
    ALARM_EVENT,
    CLIMATE,
    HEAT,
    READING,
    Batch,
    EventRow,
    Origin,
    Point,
    event_point,
    place_tags,
    reading_lines,
)
from daemon.mirror_client import lines_of, series_of
from daemon.mirror_climate import MirrorClimate, SampleRow
from daemon.storage import heat, mirror
from daemon.storage.heat import HeatHour

_HOUR_MS = 3_600_000


class HeatBatch(NamedTuple):
    """Hours of heat of one clutch, and what the target has once it has taken them."""

    clutch_id: int
    through_ms: int
    digest: str
    batch: Batch


class MirrorSource:
    """Makes the batches for one target. Belongs to one thread.

    `former`: under which tags the target has readings, so that what is written once more is not there twice.
    """

    def __init__(self, site: Site, journal: str, former: Former = MappingProxyType({})) -> None:
        self._former = former
        self._elsewhere: dict[int, list[FormerSeries]] = {}
        self._tags: dict[int, dict[str, str]] = {}
        self._origin = Origin(site.name, journal)
        self._places = Places(site)
        self._place_of = {
            f"{probe.id}/{channel.name}": probe.place for probe in site.probes for channel in probe.channels
        }
        self._climate = MirrorClimate(site, self._origin)
        self._series: dict[int, str] = {}
        self._channels: dict[int, str] = {}
        self._heat_changes: dict[int, int] = {}

    def readings(self, conn: sqlite3.Connection, rows: Sequence[SampleRow]) -> Batch:
        """Give the lines of readings."""
        if any(row[1] not in self._series for row in rows):
            self._load_channels(conn)
        lines = self._where_they_are(rows) if self._elsewhere else reading_lines(rows, self._series)
        return Batch(READING, lines, [row[0] for row in rows])

    def climate(self, conn: sqlite3.Connection, rows: Sequence[SampleRow]) -> Batch:
        """Give the lines of the climate that these readings bring or change."""
        here = [row for row in rows if not self._was_elsewhere(row)] if self._elsewhere else rows
        lines = list(self._climate.lines(conn, here, self._channels))
        return Batch(CLIMATE, lines, [0] * len(lines))

    def events(self, rows: Iterable[EventRow]) -> Batch:
        """Give the lines of alarm events."""
        found = list(rows)
        lines = lines_of(event_point(self._origin, self._incubator(row[3]), row) for row in found)
        return Batch(ALARM_EVENT, lines, [row[0] for row in found])

    def heat_due(self, conn: sqlite3.Connection) -> list[Clutch]:
        """Give the clutches whose hours of heat have changed since they were given last, all of them at first."""
        changes = heat.changes(conn)
        return [
            clutch
            for clutch in register.clutches(conn, include_closed=True)
            if changes.get(clutch.clutch_id) != self._heat_changes.get(clutch.clutch_id)
        ]

    def heat(self, conn: sqlite3.Connection, target: str, clutch: Clutch, now_ms: int) -> HeatBatch | None:
        """Give the hours of a clutch that are over and that a target has not, or not like that; None without any.

        Where an hour that was sent has changed since, as by late readings or a calibration, all of them go again.
        """
        changes = heat.changes(conn).get(clutch.clutch_id, 0)
        hours = [one for one in heat.hours(conn, clutch.clutch_id) if one.hour_start_ms + _HOUR_MS <= now_ms]
        self._heat_changes[clutch.clutch_id] = changes
        mark = mirror.heat_marks(conn, target).get(clutch.clutch_id)
        return self._heat_batch(clutch, hours, mark) if hours else None

    def forget_heat(self, clutch: Clutch) -> None:
        """Give the hours of a clutch once more: they did not reach the target."""
        self._heat_changes.pop(clutch.clutch_id, None)

    def _heat_batch(self, clutch: Clutch, hours: Sequence[HeatHour], mark: tuple[int, str] | None) -> HeatBatch | None:
        through_ms = mark[0] if mark is not None else -1
        sent = [one for one in hours if one.hour_start_ms <= through_ms]
        is_as_sent = mark is not None and _digest(sent) == mark[1]
        due = hours[len(sent) :] if is_as_sent else hours
        if not due:
            return None
        lines = lines_of(self._heat_point(clutch, one) for one in due)
        return HeatBatch(
            clutch.clutch_id, hours[-1].hour_start_ms, _digest(hours), Batch(HEAT, lines, [0] * len(lines))
        )

    def _heat_point(self, clutch: Clutch, hour: HeatHour) -> Point:
        piece = hour.piece
        tags = {
            **self._origin.tags(),
            "clutch": clutch.label,
            "clutch_id": str(clutch.clutch_id),
            "species": clutch.species_id,
        }
        fields: dict[str, float | int | str | None] = {
            "degree_hours_ch": piece.best_ch,
            "low_ch": piece.low_ch,
            "high_ch": piece.high_ch,
            "covered_ms": piece.covered_ms,
            "missing_ms": piece.missing_ms,
        }
        return Point(HEAT, tags, fields, hour.hour_start_ms)

    def _load_channels(self, conn: sqlite3.Connection) -> None:
        for number, (channel, probe, quantity) in mirror.channels(conn).items():
            tags = place_tags(self._origin, self._place_of.get(channel, ""))
            series = {**tags, "probe": probe, "channel": channel, "quantity": quantity}
            self._tags[number] = {name: said for name, said in series.items() if said}
            self._series[number] = series_of(READING, series.items())
            self._channels[number] = channel
            elsewhere = [
                # Written out once here: done for each row it is most of the work.
                each._replace(beginning=series_of(READING, each.tags.items()))
                for each in others(self._former.get(channel, ()), self._tags[number])
            ]
            if elsewhere:
                self._elsewhere[number] = elsewhere

    def _where_they_are(self, rows: Sequence[SampleRow]) -> list[str]:
        lines: list[str] = []
        for row in rows:
            then = series_at(self._elsewhere.get(row[1], ()), row[2])
            lines += reading_lines((row,), self._series if then is None else {row[1]: then.beginning})
        return lines

    def _was_elsewhere(self, row: SampleRow) -> bool:
        then = series_at(self._elsewhere.get(row[1], ()), row[2])
        return then is not None and then.tags.get("place") != self._tags[row[1]].get("place")

    def _incubator(self, alarm_key: str) -> str:
        subject = alarm_key.partition(":")[2]
        place = self._place_of.get(subject, subject)
        return self._places.incubator_of(place).id if self._places.exists(place) else ""


def _digest(hours: Sequence[HeatHour]) -> str:
    return hashlib.sha256(repr([tuple(one) for one in hours]).encode()).hexdigest()[:32]
