"""Calibrations in the journal: appended, never changed. Of rows with the same channel and start the newest counts."""

import json
import sqlite3
from typing import Any

from config.site import Site
from daemon.storage.text import storable
from sensors.calibration import Calibrations, Record, stated_of
from sensors.calibration_line import Line, Point

_LONGEST_TEXT = 2000
_COLUMNS = "channel, valid_from_ms, gain, shift, method, points, due_at_ms, recorded_at_ms, who, note"


def append(conn: sqlite3.Connection, record: Record) -> int:
    """Store a calibration and give its number."""
    (number,) = conn.execute(
        f"INSERT INTO calibration ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING calibration_id",  # noqa: S608 - a constant
        (
            record.channel,
            record.valid_from_ms,
            record.line.gain,
            record.line.shift,
            record.method,
            _points_json(record),
            record.due_at_ms,
            record.recorded_at_ms,
            storable(record.who, _LONGEST_TEXT),
            storable(record.note, _LONGEST_TEXT),
        ),
    ).fetchone()
    return int(number)


def version(conn: sqlite3.Connection) -> int:
    """Give a number that every new calibration raises, also one entered by another process."""
    (number,) = conn.execute("SELECT count(*) FROM calibration").fetchone()
    return int(number)


def history(conn: sqlite3.Connection, channel: str | None = None) -> list[Record]:
    """Give the calibrations of a channel, or of all, in the order in which they were recorded."""
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM calibration WHERE :channel IS NULL OR channel = :channel ORDER BY calibration_id",  # noqa: S608 - a constant
        {"channel": channel},
    )
    return [_record(*row) for row in rows]


def load(conn: sqlite3.Connection, site: Site) -> Calibrations:
    """Give the corrections of all channels of a site."""
    return Calibrations(history(conn), stated_of(site))


def _points_json(record: Record) -> str:
    line = record.line
    return json.dumps(
        {
            "taken_at_ms": record.taken_at_ms,
            "points": [{name: getattr(point, name) for name in Point.__dataclass_fields__} for point in line.points],
            "repeatability_u": line.repeatability_u,
            "drift_per_year": line.drift_per_year,
            "slope_u": line.slope_u,
            "one_reference": line.one_reference,
        }
    )


def _record(
    channel: str,
    valid_from_ms: int,
    gain: float,
    shift: float,
    method: str,
    points: str,
    due_at_ms: int | None,
    recorded_at_ms: int,
    who: str,
    note: str,
) -> Record:
    kept: dict[str, Any] = json.loads(points)
    line = Line(
        gain,
        shift,
        tuple(Point(**point) for point in kept["points"]),
        kept["repeatability_u"],
        kept["drift_per_year"],
        kept["slope_u"],
        kept["one_reference"],
    )
    return Record(channel, valid_from_ms, line, method, kept["taken_at_ms"], due_at_ms, recorded_at_ms, who, note)
