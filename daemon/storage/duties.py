"""The duty rota in the journal: what was planned, accepted and cancelled. Appended, never changed. Times are UTC ms.

All functions work inside the caller's transaction. Whether a change makes sense is decided elsewhere.
"""

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from daemon.alarms.hand_over import Planned, Step
from daemon.alarms.people import Absence, Duty
from daemon.storage.text import storable

_LONGEST_TEXT = 2000


@dataclass(frozen=True, slots=True)
class NewEntry:
    """A duty, or an absence where `is_absence`; who entered it, when and why."""

    person: str
    start_ms: int
    end_ms: int | None
    planned_ms: int
    who: str
    why: str = ""
    second: str = ""
    is_absence: bool = False


@dataclass(frozen=True, slots=True)
class PlannedAbsence:
    """An absence under its number."""

    number: int
    absence: Absence
    cancelled: bool
    why: str = ""


class Entries(NamedTuple):
    """All that was ever planned, in the order in which it was."""

    duties: tuple[Planned, ...]
    absences: tuple[PlannedAbsence, ...]


def version(conn: sqlite3.Connection) -> tuple[int, int]:
    """Give two numbers of which every change raises one, also one made by another process."""
    found = conn.execute(
        "SELECT (SELECT coalesce(max(entry_id), 0) FROM rota_entry),"
        " (SELECT coalesce(max(change_id), 0) FROM rota_change)"
    ).fetchone()
    return (int(found[0]), int(found[1]))


def add(conn: sqlite3.Connection, new: NewEntry) -> int:
    """Plan a duty or an absence, and give its number."""
    (number,) = conn.execute(
        "INSERT INTO rota_entry (kind, person, second, start_ms, end_ms, planned_ms, who, why)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING entry_id",
        (
            "absence" if new.is_absence else "duty",
            new.person,
            new.second,
            new.start_ms,
            new.end_ms,
            new.planned_ms,
            storable(new.who, _LONGEST_TEXT),
            storable(new.why, _LONGEST_TEXT),
        ),
    ).fetchone()
    return int(number)


def accepted(conn: sqlite3.Connection, number: int, at_ms: int, who: str, why: str) -> None:
    """Write down that a duty was accepted."""
    _change(conn, number, "accepted", at_ms, who, why)


def cancelled(conn: sqlite3.Connection, number: int, at_ms: int, who: str, why: str) -> None:
    """Write down that a duty or an absence was cancelled."""
    _change(conn, number, "cancelled", at_ms, who, why)


def _change(conn: sqlite3.Connection, number: int, what: str, at_ms: int, who: str, why: str) -> None:
    conn.execute(
        "INSERT INTO rota_change (entry_id, what, at_ms, who, why) VALUES (?, ?, ?, ?, ?)",
        (number, what, at_ms, storable(who, _LONGEST_TEXT), storable(why, _LONGEST_TEXT)),
    )


def entries(conn: sqlite3.Connection) -> Entries:
    """Give everything, also what is past or cancelled."""
    duties: list[Planned] = []
    absences: list[PlannedAbsence] = []
    rows = conn.execute(
        "SELECT rota_entry.entry_id, kind, person, second, start_ms, end_ms, planned_ms, rota_entry.why,"
        " a.at_ms, c.at_ms FROM rota_entry"
        " LEFT JOIN rota_change AS a ON a.entry_id = rota_entry.entry_id AND a.what = 'accepted'"
        " LEFT JOIN rota_change AS c ON c.entry_id = rota_entry.entry_id AND c.what = 'cancelled'"
        " ORDER BY rota_entry.entry_id"
    )
    for number, kind, person, second, start_ms, end_ms, planned_ms, why, accepted_ms, cancelled_ms in rows:
        if kind == "absence":
            absences.append(PlannedAbsence(number, Absence(person, start_ms, end_ms), cancelled_ms is not None, why))
        else:
            duty = Duty(person, start_ms, end_ms, second, accepted_ms)
            duties.append(Planned(number, duty, planned_ms, cancelled_ms is not None, why))
    return Entries(tuple(duties), tuple(absences))


def told(conn: sqlite3.Connection, numbers: Iterable[int]) -> dict[tuple[int, Step], int]:
    """Give when people were told what of these hand-overs."""
    found: dict[tuple[int, Step], int] = {}
    for number in numbers:
        rows = conn.execute("SELECT what, at_ms FROM rota_told WHERE entry_id = ?", (number,))
        found |= {(number, Step(what)): at_ms for what, at_ms in rows}
    return found


def tell(conn: sqlite3.Connection, number: int, step: Step, at_ms: int) -> bool:
    """Write down that people are told now; False where they were before."""
    done = conn.execute(
        "INSERT INTO rota_told (entry_id, what, at_ms) VALUES (?, ?, ?) ON CONFLICT DO NOTHING", (number, step, at_ms)
    )
    return done.rowcount == 1
