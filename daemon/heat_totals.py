"""The stored heat of clutches, summed once and kept while no hour of it changes.

A season has some three thousand hours of each clutch, and pages ask for all of them every few seconds.
"""

import sqlite3
import threading
from collections.abc import Collection

from daemon.storage import heat
from daemon.storage.heat import HeatTotal

HOUR_MS = 3_600_000


class HeatTotals:
    """Of one journal. Safe to use from any thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: dict[int, tuple[int, HeatTotal | None]] = {}

    def read(self, conn: sqlite3.Connection, clutch_ids: Collection[int], until_ms: int) -> dict[int, HeatTotal]:
        """Give the heat of these clutches in their stored hours that are over at a moment, as this connection has it.

        Costs a look-up for each clutch, and a walk through its hours where one of them was written since.
        """
        changes = heat.changes(conn)
        found: dict[int, HeatTotal] = {}
        for clutch_id in clutch_ids:
            total = self._of(conn, clutch_id, changes.get(clutch_id, 0))
            if total is not None and total.last_hour_ms > until_ms - HOUR_MS:
                # Only where the clock was set back: hours that have not begun by it do not count.
                total = heat.totals(conn, until_ms, clutch_id).get(clutch_id)
            if total is not None:
                found[clutch_id] = total
        return found

    def _of(self, conn: sqlite3.Connection, clutch_id: int, change: int) -> HeatTotal | None:
        with self._lock:
            kept = self._kept.get(clutch_id)
        if kept is None or kept[0] != change:
            kept = change, heat.total_of(conn, clutch_id)
            with self._lock:
                self._kept[clutch_id] = kept
        return kept[1]
