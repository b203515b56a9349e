"""Reads when clutches were last seen in a round. All functions work inside the caller's transaction; UTC ms."""

import sqlite3
from collections.abc import Iterable, Mapping, Sequence

from config.site import Site
from daemon.clutches.values import Clutch
from daemon.rounds.state import says_anything, state_of
from daemon.standing.last_seen import LastSeen, last_seen
from daemon.storage import findings


def seen_by_incubator(
    conn: sqlite3.Connection,
    site: Site,
    lying: Sequence[Clutch],
    now_ms: int,
    ending: Mapping[int, int] | None = None,
) -> dict[str, tuple[LastSeen, ...]]:
    """Give when each of the open clutches was last seen, by incubator; without incubators in which none lies.

    `ending`: rounds that go on and count as ended at a moment, by number. About 50 µs a clutch, however much was ever
    found: the newest round about it, by an index, and its entries in it.
    """
    ended_ms = _ended_ms(conn, (each.clutch_id for each in lying), ending or {})
    found = {each.id: last_seen(lying, each.id, ended_ms, now_ms) for each in site.incubators}
    return {incubator: seen for incubator, seen in found.items() if seen}


def _ended_ms(conn: sqlite3.Connection, clutches: Iterable[int], ending: Mapping[int, int]) -> dict[int, int]:
    found = {}
    for clutch_id in clutches:
        for number, ended_ms in findings.rounds_about(conn, clutch_id):
            at_ms = ending.get(number) if ended_ms is None else ended_ms
            # Of a round in which everything was taken back nothing stands.
            if at_ms is not None and says_anything(findings.about_clutch(conn, number, clutch_id)):
                found[clutch_id] = at_ms
                break
    return found


def last_look(conn: sqlite3.Connection, clutch_id: int) -> int | None:
    """Give the number of the last ended round in which somebody looked at a clutch; left out is not looked at."""
    for number, ended_ms in findings.rounds_about(conn, clutch_id):
        if ended_ms is not None and state_of("", findings.about_clutch(conn, number, clutch_id)).is_seen:
            return number
    return None
