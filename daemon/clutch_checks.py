"""What the list and the page of clutches tell besides the climate: how the eggs are, and when they are seen next."""

import sqlite3
from collections.abc import Collection, Sequence

from config.site import Site
from daemon.clutch_record_values import EggsAndCheck
from daemon.clutches.egg_records import egg_counts
from daemon.clutches.register import Clutch
from daemon.rounds_now import rounds_due_ms


def eggs_and_checks(
    conn: sqlite3.Connection, site: Site, lying: Sequence[Clutch], now_ms: int, of: Collection[int] | None = None
) -> dict[int, EggsAndCheck]:
    """Give both for the clutches `of` these numbers, else for every one on record; `lying` are the open ones.

    A clutch is seen with its whole incubator.
    """
    due_ms = rounds_due_ms(conn, site, lying, now_ms)
    checks = {one.clutch_id: due_ms.get(_incubator_of(one, now_ms)) for one in lying}
    return {number: EggsAndCheck(eggs, checks.get(number)) for number, eggs in egg_counts(conn, of).items()}


def _incubator_of(clutch: Clutch, now_ms: int) -> str:
    place = next((one.place for one in reversed(clutch.placements) if one.from_ms <= now_ms), "")
    return place.split("/", 1)[0]
