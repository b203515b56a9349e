"""What people did in a span of time, from the tables that keep it: rounds, and changes of what is stated. UTC ms."""

import sqlite3
from typing import NamedTuple

_ROUNDS = """SELECT incubator, who, started_ms, ended_ms, ended_by, note FROM round
    WHERE started_ms <= :to_ms AND (ended_ms IS NULL OR ended_ms >= :from_ms) ORDER BY round_id"""
# Who signed in is on record too, and changed nothing of the site.
_AUDIT = """SELECT at_ms, who, what, about, why FROM audit_event
    WHERE at_ms BETWEEN :from_ms AND :to_ms AND what IN ('site', 'file changed by hand', 'file taken away', 'invited',
        'role changed', 'account closed', 'key made', 'key withdrawn') ORDER BY event_id"""
_REGISTER = """SELECT r.at_ms, r.who, r.what, c.label, r.why
    FROM register_change AS r JOIN clutch AS c ON c.clutch_id = r.clutch_id
    WHERE r.at_ms BETWEEN :from_ms AND :to_ms ORDER BY change_id"""
_CALIBRATION = """SELECT recorded_at_ms, who, 'recorded', channel, note FROM calibration
    WHERE recorded_at_ms BETWEEN :from_ms AND :to_ms ORDER BY calibration_id"""


class RoundThen(NamedTuple):
    """A round that had a moment in the span; `ended_ms` is None while it goes on."""

    incubator: str
    who: str
    started_ms: int
    ended_ms: int | None
    ended_by: str
    note: str


class ChangeThen(NamedTuple):
    """Somebody changed something: `what` as the table has it, `about` what it was done to."""

    at_ms: int
    who: str
    what: str
    about: str
    why: str


def rounds(conn: sqlite3.Connection, from_ms: int, to_ms: int) -> list[RoundThen]:
    """Give the rounds with a moment in a span, in the order in which they were started."""
    return [RoundThen(*row) for row in conn.execute(_ROUNDS, {"from_ms": from_ms, "to_ms": to_ms})]


def stated(conn: sqlite3.Connection, from_ms: int, to_ms: int) -> list[ChangeThen]:
    """Give the changes of the site, its files, and who may sign in, in a span."""
    return _changes(conn, _AUDIT, from_ms, to_ms)


def registered(conn: sqlite3.Connection, from_ms: int, to_ms: int) -> list[ChangeThen]:
    """Give the changes of the register in a span; `about` is the label of the clutch."""
    return _changes(conn, _REGISTER, from_ms, to_ms)


def calibrated(conn: sqlite3.Connection, from_ms: int, to_ms: int) -> list[ChangeThen]:
    """Give the calibrations that were written down in a span; `about` is the channel."""
    return _changes(conn, _CALIBRATION, from_ms, to_ms)


def _changes(conn: sqlite3.Connection, sql: str, from_ms: int, to_ms: int) -> list[ChangeThen]:
    return [ChangeThen(*row) for row in conn.execute(sql, {"from_ms": from_ms, "to_ms": to_ms})]
