"""Reads when clutches were last seen in a round. All functions work inside the caller's transaction; UTC ms."""

import sqlite3
from collections.abc import Iterable, Mapping, Sequence

from config.places import Places
from config.site import Site
from daemon.clutches.values import Clutch
from daemon.rounds.state import says_anything, state_of
from daemon.rounds.stops import place_at
from daemon.standing.last_seen import LastSeen, last_seen
from daemon.storage import findings, rounds


def seen_by_incubator(
    conn: sqlite3.Connection,
    site: Site,
    lying: Sequence[Clutch],
    now_ms: int,
    ending: Mapping[int, int] | None = None,
) -> dict[str, tuple[LastSeen, ...]]:
    """Give when each of the open clutches was last seen, by incubator; without incubators in which none lies.

    Without clutches whose place is gone from the site, too: no round comes by there. `ending`: rounds that go on and
    count as ended at a moment, by number. About 50 µs a clutch, however much was ever found: the newest round about it,
    by an index, and its entries in it.
    """
    places = Places(site)
    here = [each for each in lying if (place := place_at(each, now_ms)) is not None and places.exists(place)]
    ended_ms = _ended_ms(conn, (each.clutch_id for each in here), ending or {}, now_ms)
    found = {each.id: last_seen(here, each.id, ended_ms, now_ms) for each in site.incubators}
    return {incubator: seen for incubator, seen in found.items() if seen}


def _ended_ms(
    conn: sqlite3.Connection, clutches: Iterable[int], ending: Mapping[int, int], now_ms: int
) -> dict[int, int]:
    found = {}
    for clutch_id in clutches:
        for number, ended_ms in findings.rounds_about(conn, clutch_id):
            at_ms = ending.get(number) if ended_ms is None else ended_ms
            # What ended later than now was ended by a clock that was ahead. Of a round in which everything was taken
            # back nothing stands.
            if at_ms is not None and at_ms <= now_ms and says_anything(findings.about_clutch(conn, number, clutch_id)):
                found[clutch_id] = at_ms
                break
    return found


def last_look(conn: sqlite3.Connection, clutch_id: int, now_ms: int) -> int | None:
    """Give the number of the ended round in which somebody looked at a clutch last; left out is not looked at.

    Rounds through several incubators go on at the same time: what was moved from one to the other meanwhile was looked
    at last in the one where it was then, whichever has the higher number.
    """
    found: tuple[int, int] | None = None
    begun_ms = 0
    for number, ended_ms in findings.rounds_about(conn, clutch_id):
        if ended_ms is None or ended_ms > now_ms:
            continue
        if found is not None and ended_ms <= begun_ms:
            break
        state = state_of("", findings.about_clutch(conn, number, clutch_id))
        if state.is_seen and (found is None or state.at_ms > found[0]):
            found = state.at_ms, number
            begun = rounds.of_number(conn, number)
            begun_ms = 0 if begun is None else begun.round.started_ms
    return None if found is None else found[1]
