"""Eggs in the journal: reading what was said of them. All functions work inside the caller's transaction."""

import json
import sqlite3
from collections.abc import Collection

from daemon.clutches.eggs import Egg, EggCounts, EggEvent, EggState, Reason, Stated, counted, eggs_of

_STANDING = "NOT EXISTS (SELECT 1 FROM egg_event later WHERE later.corrects = this.event_id)"
_EVENTS = f"""SELECT event_id, egg, at_ms, what, reason, note, who, by_count, NOT {_STANDING}, recorded_at_ms
    FROM egg_event this WHERE clutch_id = ? AND what NOT IN ('marked', 'withdrawn')
    ORDER BY egg, at_ms, event_id"""  # noqa: S608 - constants
_MARKS = f"""SELECT egg, note FROM egg_event this WHERE clutch_id = ? AND what = 'marked' AND {_STANDING}
    ORDER BY event_id"""  # noqa: S608 - constants
# The last word on each egg: of what stands, nothing of the same egg is later. Read by clutch, from the index of it.
_COUNTS = """SELECT clutch_id, what, reason = 'stuck', count(*) FROM (
        SELECT clutch_id, what, reason,
            lead(event_id) OVER (PARTITION BY clutch_id, egg ORDER BY at_ms, event_id) AS later
        FROM egg_event this WHERE {which} what NOT IN ('marked', 'withdrawn') AND {standing})
    WHERE later IS NULL GROUP BY 1, 2, 3"""
_SOME = "clutch_id IN (SELECT value FROM json_each(:some)) AND"
_COUNTS_OF_ALL, _COUNTS_OF_SOME = (_COUNTS.format(which=each, standing=_STANDING) for each in ("", _SOME))
_TOTALS = "SELECT clutch_id, egg_count FROM clutch WHERE {which} withdrawn_at_ms IS NULL"
_TOTALS_OF_ALL, _TOTALS_OF_SOME = (_TOTALS.format(which=each) for each in ("", _SOME))


def egg_counts(conn: sqlite3.Connection, clutch_ids: Collection[int] | None = None) -> dict[int, EggCounts]:
    """Give how many eggs of these clutches are what; of every clutch on record, open and closed, where none are named.

    Two queries, whatever there is; what it costs follows the eggs of the clutches that are asked for.
    """
    some = None if clutch_ids is None else {"some": json.dumps(sorted(clutch_ids))}
    stated: dict[int, list[tuple[EggState, bool, int]]] = {}
    rows = conn.execute(_COUNTS_OF_ALL) if some is None else conn.execute(_COUNTS_OF_SOME, some)
    for clutch_id, what, is_left, number in rows:
        stated.setdefault(clutch_id, []).append((EggState(what), bool(is_left), number))
    totals = conn.execute(_TOTALS_OF_ALL) if some is None else conn.execute(_TOTALS_OF_SOME, some)
    return {clutch_id: counted(total, stated.get(clutch_id, ())) for clutch_id, total in totals}


def events(conn: sqlite3.Connection, clutch_id: int) -> list[EggEvent]:
    """Give all that was said of the eggs of a clutch, also what was taken back; by egg, in order of time."""
    return [
        EggEvent(
            number=number,
            egg=egg,
            at_ms=at_ms,
            stated=Stated(EggState(what), None if reason is None else Reason(reason), note),
            who=who,
            by_count=bool(by_count),
            withdrawn=bool(withdrawn),
            recorded_ms=recorded_ms,
        )
        for number, egg, at_ms, what, reason, note, who, by_count, withdrawn, recorded_ms in conn.execute(
            _EVENTS, (clutch_id,)
        )
    ]


def marks(conn: sqlite3.Connection, clutch_id: int) -> dict[int, str]:
    """Give what stands on the shell of each egg of a clutch that has a mark."""
    found = dict(conn.execute(_MARKS, (clutch_id,)).fetchall())
    return {egg: mark for egg, mark in found.items() if mark}


def eggs(conn: sqlite3.Connection, clutch_id: int, egg_count: int) -> tuple[Egg, ...]:
    """Give the eggs of a clutch as they are."""
    return eggs_of(egg_count, events(conn, clutch_id), marks(conn, clutch_id))
