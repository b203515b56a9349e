"""What is known of the daemon itself beside the overview: messages, alerts, evaluation, journal and disk."""

import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from daemon.standing.machine import DiskRoom
from daemon.storage import heat, messages, outbox, samples
from daemon.storage.journal import Journal
from sensors.reading import Outcome


@dataclass(frozen=True, slots=True)
class Inside:
    """The daemon at one moment.

    `alerts`: messages to people by what became of them (waiting, delivered, abandoned, superseded), since the journal
    began; `messages` those of the probes. `unevaluated` readings are stored and not evaluated yet, the oldest since
    `evaluation_lag_s` (0 where there is none). `disk_free_bytes` is None where nothing is known of the disk now.
    """

    version: str
    messages: Mapping[Outcome, int]
    alerts: Mapping[str, int]
    unevaluated: int
    evaluation_lag_s: float
    journal_bytes: int
    disk_free_bytes: int | None


class InsideReader:
    """Looks into one daemon. Safe to use from any thread; `disk` gives what was last seen of the journal's disk."""

    def __init__(
        self, journal: Journal, version: str, now_ms: Callable[[], int], disk: Callable[[], DiskRoom | None]
    ) -> None:
        self._journal = journal
        self._version = version
        self._now_ms = now_ms
        self._disk = disk

    def look(self) -> Inside:
        """Read what holds now. Raises JournalError."""
        disk = self._disk()
        with self._journal.read() as conn:
            done = heat.get_cursor(conn)
            waiting = samples.after(conn, done, 1)
            lag_ms = max(self._now_ms() - waiting[0].received_at_ms, 0) if waiting else 0
            return Inside(
                version=self._version,
                messages=messages.outcome_counts(conn),
                alerts=outbox.totals(conn),
                unevaluated=max(samples.count(conn) - done, 0),
                evaluation_lag_s=lag_ms / 1000,
                journal_bytes=_bytes(conn),
                disk_free_bytes=None if disk is None else disk.free_bytes,
            )


def _bytes(conn: sqlite3.Connection) -> int:
    """The size of the journal by its own account, with what is not merged into its file yet. It asks no file system."""
    (pages,) = conn.execute("PRAGMA page_count").fetchone()
    (size,) = conn.execute("PRAGMA page_size").fetchone()
    return int(pages) * int(size)
