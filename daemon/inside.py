"""What is known of the daemon itself beside the overview: messages, alerts, evaluation, journal and disk."""

import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from daemon.standing.machine import DiskRoom
from daemon.storage import heat, messages, mirror, outbox, samples
from daemon.storage.journal import Journal
from sensors.board_state import BoardState
from sensors.reading import Outcome


class MirrorNow(NamedTuple):
    """What waits for the mirror, how long the oldest of it has (0 where nothing waits), and what it refused."""

    waiting: int
    lag_s: float
    parked: int


@dataclass(frozen=True, slots=True)
class Inside:
    """The daemon at one moment.

    `alerts`: messages to people by what became of them (waiting, delivered, abandoned, superseded), since the journal
    began; `messages` those of the probes. `unevaluated` readings are stored and not evaluated yet, the oldest since
    `evaluation_lag_s` (0 where there is none). `disk_free_bytes` is None where nothing is known of the disk now,
    `mirror` where the site has none. `boards`: what the board of each probe said last, where one did.
    """

    version: str
    messages: Mapping[Outcome, int]
    alerts: Mapping[str, int]
    unevaluated: int
    evaluation_lag_s: float
    journal_bytes: int
    disk_free_bytes: int | None
    mirror: MirrorNow | None = None
    boards: Mapping[str, BoardState] = field(default_factory=dict)


class InsideReader:
    """Looks into one daemon. Safe to use from any thread; `disk` gives what was last seen of the journal's disk."""

    def __init__(
        self,
        journal: Journal,
        version: str,
        now_ms: Callable[[], int],
        disk: Callable[[], DiskRoom | None],
        mirror_target: str = "",
        boards: Callable[[], Mapping[str, BoardState]] = dict,
    ) -> None:
        self._boards = boards
        self._journal = journal
        self._version = version
        self._now_ms = now_ms
        self._disk = disk
        self._mirror_target = mirror_target

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
                mirror=self._mirror(conn) if self._mirror_target else None,
                boards=self._boards(),
            )

    def _mirror(self, conn: sqlite3.Connection) -> MirrorNow:
        waiting = mirror.backlog(conn, self._mirror_target)
        lag_ms = max(self._now_ms() - waiting.oldest_ms, 0) if waiting.readings else 0
        return MirrorNow(waiting.readings, lag_ms / 1000, mirror.count_parked(conn, self._mirror_target))


def _bytes(conn: sqlite3.Connection) -> int:
    """The size of the journal by its own account, with what is not merged into its file yet. It asks no file system."""
    (pages,) = conn.execute("PRAGMA page_count").fetchone()
    (size,) = conn.execute("PRAGMA page_size").fetchone()
    return int(pages) * int(size)
