"""Fills a mirror from the journal in one go, beside the service or without it."""

import sqlite3
import time
from collections.abc import Callable
from typing import NamedTuple

from config.mirror import MirrorSettings
from config.site import Site
from daemon.mirror.backoff import wait_s
from daemon.mirror.errors import MirrorError
from daemon.mirror.former import Former
from daemon.mirror.points import ALARM_EVENT, CLIMATE, HEAT, READING
from daemon.mirror_compare import not_taken
from daemon.mirror_pass import Pass
from daemon.mirror_query import MirrorReader
from daemon.mirror_read import MirrorRead
from daemon.storage import identity, mirror
from daemon.storage.journal import Journal
from daemon.storage.mirror import TargetState

TRIES = 8
"""Tries in a row that fail until it is given up: with the pauses between them some 25 s. Project choice."""


class Filled(NamedTuple):
    """What was written, and how many points the target refused in all."""

    readings: int
    events: int
    parked: int


def fill(
    journal: Journal,
    site: Site,
    settings: MirrorSettings,
    now_ms: Callable[[], int],
    since_ms: int | None,
    started: Callable[[int], Callable[[int], None]],
    sleep: Callable[[float], None] = time.sleep,
) -> Filled:
    """Write all readings that came since a moment, or all, and every alarm event and hour of heat.

    Raises MirrorError where the target takes nothing, and JournalError.
    """
    with journal.read() as conn:
        last_seq, _ = mirror.last_numbers(conn)
        first = 0 if since_ms is None else mirror.first_received_since(conn, since_ms)
        own_id = identity.journal_id(conn)
    with Pass(journal, site, settings, now_ms, (first, 0), _former(settings, site, own_id)) as copying:
        if since_ms is None:
            # Whatever is still refused comes back by itself.
            journal.write(lambda conn: _begin_anew(conn, copying.target))
        advance = started(last_seq - first)
        _copy(copying, advance, sleep)
        with journal.read() as conn:
            follows_on = first <= mirror.cursors(conn, copying.target)[0]

        def keep(conn: sqlite3.Connection) -> None:
            before = mirror.state(conn, copying.target)
            begun_ms = now_ms() if before is None else before.begun_ms
            mirror.raise_cursors(conn, copying.target, copying.done[0] if follows_on else 0, copying.done[1])
            mirror.keep_state(conn, copying.target, TargetState(copying.address, begun_ms, now_ms(), "", None))

        journal.write(keep)
        with journal.read() as conn:
            parked = mirror.count_parked(conn, copying.target)
        return Filled(copying.done[0] - first, copying.done[1], parked)


def _former(settings: MirrorSettings, site: Site, journal: str) -> Former:
    """What the target has already, under the name that the site has now: all is to be there under that in the end.

    Nothing where it cannot be read, as one that only takes points.
    """
    try:
        with MirrorReader(settings) as reader:
            found = MirrorRead(reader, journal).former()
    except MirrorError:
        return {}
    return {
        channel: [each._replace(tags={**each.tags, "site": site.name}) for each in series]
        for channel, series in found.items()
    }


def _begin_anew(conn: sqlite3.Connection, target: str) -> None:
    for source in (READING, CLIMATE, HEAT, ALARM_EVENT):
        mirror.unpark(conn, target, source)
    mirror.unmark_heat(conn, target)


def _copy(copying: Pass, advance: Callable[[int], None], sleep: Callable[[float], None]) -> None:
    failures, more = 0, True
    while more:
        before = copying.done[0]
        answer, more = copying.step()
        advance(copying.done[0] - before)
        failures = 0 if answer is None else failures + 1
        if answer is not None:
            if failures >= TRIES:
                raise not_taken(copying.address, answer)
            sleep(wait_s(failures, answer.asked_s))
            more = True
