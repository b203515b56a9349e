"""What the list and the page of clutches tell besides the climate: how the eggs are, and when they are seen next."""

import sqlite3
from collections.abc import Collection, Sequence

from config.site import Site
from daemon.clutch_record_values import EggsAndCheck
from daemon.clutches.egg_records import egg_counts
from daemon.clutches.register import Clutch
from daemon.rounds_now import due_by


def eggs_and_checks(
    conn: sqlite3.Connection, site: Site, lying: Sequence[Clutch], now_ms: int, of: Collection[int] | None = None
) -> dict[int, EggsAndCheck]:
    """Give both for the clutches `of` these numbers, else for every one on record; `lying` are the open ones.

    Each clutch has a day of its own: a round in which nobody looked at it leaves it due.
    """
    checks = due_by(conn, site, lying, now_ms).clutches_ms
    return {number: EggsAndCheck(eggs, checks.get(number)) for number, eggs in egg_counts(conn, of).items()}
