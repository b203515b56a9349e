"""What the list and the page of clutches tell besides the climate: how the eggs are, and when they are seen next."""

import sqlite3
from collections.abc import Mapping, Sequence

from config.site import Site
from daemon.clutch_record_values import EggsAndCheck
from daemon.clutches.egg_records import egg_counts
from daemon.clutches.register import Clutch
from daemon.standing import care
from daemon.storage import rounds


def eggs_and_checks(
    conn: sqlite3.Connection, site: Site, lying: Sequence[Clutch], now_ms: int
) -> dict[int, EggsAndCheck]:
    """Give both for every clutch on record; `lying` are the open ones. A clutch is seen with its whole incubator."""
    due_ms = _due_ms(conn, site, lying, now_ms)
    checks = {one.clutch_id: due_ms.get(_incubator_of(one, now_ms)) for one in lying}
    return {number: EggsAndCheck(eggs, checks.get(number)) for number, eggs in egg_counts(conn).items()}


def _due_ms(conn: sqlite3.Connection, site: Site, lying: Sequence[Clutch], now_ms: int) -> Mapping[str, int]:
    """When the next round through each incubator with eggs is due."""
    last_ms = rounds.last_ended_ms(conn)
    every_days = site.care.round_every_days
    return {
        one.id: care.next_round_ms(last_ms.get(one.id), since_ms, every_days)
        for one in site.incubators
        if (since_ms := care.eggs_since_ms(lying, one.id, now_ms)) is not None
    }


def _incubator_of(clutch: Clutch, now_ms: int) -> str:
    place = next((one.place for one in reversed(clutch.placements) if one.from_ms <= now_ms), "")
    return place.split("/", 1)[0]
