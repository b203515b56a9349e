"""Notes and measurements of a clutch in the journal. All functions work inside the caller's transaction.

Both may be written to a closed clutch: what was seen is often written down later.
"""

import sqlite3
from dataclasses import asdict, dataclass

from daemon.clutches.errors import At, RegisterError
from daemon.clutches.measures import Measure, NewMeasure, refuse_measure
from daemon.clutches.rows import audit, known
from daemon.clutches.rules import LONGEST_TEXT, refuse_future, refuse_nobody, text_of
from daemon.clutches.values import Clutch

_NOTES = """SELECT note_id, at_ms, who, text FROM clutch_note this WHERE clutch_id = ? AND text != ''
    AND NOT EXISTS (SELECT 1 FROM clutch_note later WHERE later.corrects = this.note_id) ORDER BY at_ms, note_id"""
_MEASURES = """SELECT measure_id, at_ms, mass_g, length_mm, eggs, egg, note, who,
    EXISTS (SELECT 1 FROM egg_measure later WHERE later.corrects = this.measure_id)
    FROM egg_measure this WHERE clutch_id = ? AND corrects IS NULL ORDER BY at_ms, measure_id"""


@dataclass(frozen=True, slots=True)
class Note:
    """A dated note. `number` is that of its row."""

    number: int
    at_ms: int
    who: str
    text: str


def notes(conn: sqlite3.Connection, clutch_id: int) -> list[Note]:
    """Give the notes that stand, in order of time."""
    return [Note(*row) for row in conn.execute(_NOTES, (clutch_id,))]


def measures(conn: sqlite3.Connection, clutch_id: int) -> list[Measure]:
    """Give all measurements, also those that were taken back, in order of time."""
    return [
        Measure(number, NewMeasure(at_ms, mass_g, length_mm, eggs, egg, note), who, bool(withdrawn))
        for number, at_ms, mass_g, length_mm, eggs, egg, note, who, withdrawn in conn.execute(_MEASURES, (clutch_id,))
    ]


def add_note(
    conn: sqlite3.Connection,
    clutch_id: int,
    at_ms: int,
    text: str,
    who: str,
    now_ms: int,
    corrects: int | None = None,
) -> int:
    """Write a note, and give its number. One that corrects another takes its place; an empty one takes it back.

    Raises RegisterError with nothing changed.
    """
    clutch, text, who = known(conn, clutch_id), text_of(text, LONGEST_TEXT), text_of(who)
    refuse_nobody(who)
    before = _note(conn, clutch, corrects)
    if not text and before is None:
        raise RegisterError("the note is empty", "Write what was seen or done.", "text")
    _refuse_moment(clutch, "note", at_ms, now_ms)
    (number,) = conn.execute(
        "INSERT INTO clutch_note (clutch_id, at_ms, recorded_at_ms, who, text, corrects) VALUES (?, ?, ?, ?, ?, ?)"
        " RETURNING note_id",
        (clutch_id, at_ms, now_ms, who, text, corrects),
    ).fetchone()
    old = {} if before is None else {"at_ms": before.at_ms, "text": before.text}
    audit(conn, clutch_id, "note", who=who, why="", now_ms=now_ms, old=old, new={"at_ms": at_ms, "text": text})
    return int(number)


def add_measure(conn: sqlite3.Connection, clutch_id: int, new: NewMeasure, who: str, now_ms: int) -> int:
    """Write down a size, and give its number. Raises RegisterError with nothing changed."""
    clutch, who, note = known(conn, clutch_id), text_of(who), text_of(new.note, LONGEST_TEXT)
    refuse_nobody(who)
    if new.egg is not None and not 1 <= new.egg <= clutch.egg_count:
        raise RegisterError(
            f"{clutch.label} has no egg {new.egg}", f"Its eggs have the numbers 1 to {clutch.egg_count}.", "egg"
        )
    refuse_measure(new, clutch.egg_count)
    _refuse_moment(clutch, "measuring", new.at_ms, now_ms)
    (number,) = conn.execute(
        "INSERT INTO egg_measure (clutch_id, egg, eggs, at_ms, recorded_at_ms, who, mass_g, length_mm, note)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING measure_id",
        (clutch_id, new.egg, new.eggs, new.at_ms, now_ms, who, new.mass_g, new.length_mm, note),
    ).fetchone()
    audit(conn, clutch_id, "measure", who=who, why="", now_ms=now_ms, old={}, new=asdict(new))
    return int(number)


def withdraw_measure(conn: sqlite3.Connection, clutch_id: int, number: int, who: str, why: str, now_ms: int) -> None:
    """Take a measurement back; it stays on record. Raises RegisterError with nothing changed."""
    clutch, who = known(conn, clutch_id), text_of(who)
    refuse_nobody(who)
    before = next((one for one in measures(conn, clutch_id) if one.number == number and not one.withdrawn), None)
    if before is None:
        raise RegisterError(
            f"{clutch.label} has no measurement number {number}",
            f"Numbers are in: clutchwarden clutch show {clutch.label}",
            "number",
        )
    conn.execute(
        "INSERT INTO egg_measure (clutch_id, egg, eggs, at_ms, recorded_at_ms, who, note, corrects)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (clutch_id, before.measured.egg, 1, now_ms, now_ms, who, text_of(why, LONGEST_TEXT), number),
    )
    old = asdict(before.measured)
    audit(conn, clutch_id, "measure-withdrawn", who=who, why=why, now_ms=now_ms, old=old, new={})


def _note(conn: sqlite3.Connection, clutch: Clutch, number: int | None) -> Note | None:
    if number is None:
        return None
    found = next((one for one in notes(conn, clutch.clutch_id) if one.number == number), None)
    if found is None:
        raise RegisterError(
            f"{clutch.label} has no note number {number}",
            f"Numbers are in: clutchwarden clutch show {clutch.label}",
            "number",
        )
    return found


def _refuse_moment(clutch: Clutch, what: str, at_ms: int, now_ms: int) -> None:
    refuse_future(what, at_ms, now_ms)
    if at_ms < clutch.laid_from_ms:
        raise RegisterError(
            (f"{clutch.label}: the {what} at ", At(at_ms), " is before it can have been laid"),
            "Check the date.",
            "at",
        )
