"""Reads the last hour of channels for their trends, and keeps each for a minute: pages ask every few seconds.

Costs some twenty steps through the index for each channel, however often its probe sends and however much history there
is.
"""

import sqlite3
import threading

from daemon.standing.reading_trend import SPAN_MS, ReadingTrend, reading_trend
from daemon.storage.recent import first_good_of_cells
from sensors.calibration import Calibrations
from sensors.reading import ChannelKey

CELL_MS = 3 * 60_000
KEPT_MS = 60_000


class ReadingTrends:
    """Of one journal. Safe to use from any thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: dict[str, tuple[int, ReadingTrend]] = {}

    def of(
        self, conn: sqlite3.Connection, key: ChannelKey, calibrations: Calibrations, now_ms: int
    ) -> ReadingTrend | None:
        """Give the trend of a channel at a moment; None for a contact."""
        if key.quantity.is_contact:
            return None
        turn = now_ms // KEPT_MS
        with self._lock:
            kept = self._kept.get(key.channel)
        if kept is None or kept[0] != turn:
            kept = turn, self._read(conn, key, calibrations, now_ms)
            with self._lock:
                self._kept[key.channel] = kept
        return kept[1]

    @staticmethod
    def _read(conn: sqlite3.Connection, key: ChannelKey, calibrations: Calibrations, now_ms: int) -> ReadingTrend:
        """All of it is corrected by the calibration of now: one that begins in between would look like a change."""
        rows = first_good_of_cells(conn, key.channel, now_ms - SPAN_MS, now_ms + 1, CELL_MS)
        points = [(at_ms, calibrations.corrected(key.channel, value, now_ms)) for at_ms, value in rows]
        return reading_trend(key.quantity, points)
