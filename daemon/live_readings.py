"""Readings that alarms are raised by, as calibrated. An import tells of the past: heat alone."""

import sqlite3
from collections.abc import Sequence

from daemon.storage import imports
from daemon.storage.samples import StoredReading
from sensors.calibration import Calibrations


def live(
    conn: sqlite3.Connection, rows: Sequence[StoredReading], calibrations: Calibrations
) -> Sequence[StoredReading]:
    """Leave out what was imported, and correct what is good."""
    past = imports.marked(conn, rows[0].seq) if rows else []
    now = [row for row in rows if not any(row.seq in each for each in past)] if past else rows
    if not calibrations.any:
        return now
    return [
        row._replace(value=calibrations.corrected(row.channel, row.value, row.measured_at_ms))
        if not row.quality
        else row
        for row in now
    ]
