"""Clutches as rows of the journal: reading them, and writing down who changed what.

All functions work inside the caller's transaction.
"""

import json
import sqlite3
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from daemon.clutches.boxes import is_box
from daemon.clutches.errors import At, RegisterError
from daemon.clutches.placements import FOR_EVER_MS, Placement, placements_from
from daemon.clutches.rules import LONGEST_TEXT, label_key, text_of
from daemon.clutches.values import Clutch, labels

_COLUMNS = (
    "clutch_id, label, species_id, population, laid_from_ms, laid_to_ms, egg_count, note, closed_at_ms, before_c, "
    "before_u_k, dam, sire, found_ms, tags, venomous, protected, withdrawn_at_ms"
)
_ALL_OPEN = "closed_at_ms IS NULL AND withdrawn_at_ms IS NULL"


def clutches(conn: sqlite3.Connection, include_closed: bool = False, include_withdrawn: bool = False) -> list[Clutch]:
    """Give the clutches in the order they were entered; without the closed and the withdrawn ones unless asked for."""
    where = "1" if include_closed else "closed_at_ms IS NULL"
    return _read(conn, where if include_withdrawn else f"{where} AND withdrawn_at_ms IS NULL", ())


def closed_page(conn: sqlite3.Connection, before: tuple[int, int] | None, limit: int) -> list[Clutch]:
    """Give the clutches that were closed last, or before one: its moment of closing and its number. The last first."""
    page = (
        "closed_at_ms IS NOT NULL AND withdrawn_at_ms IS NULL AND (closed_at_ms, clutch_id) < (?, ?)"
        " ORDER BY closed_at_ms DESC, clutch_id DESC LIMIT ?"
    )
    given = (*(before or (FOR_EVER_MS, 0)), limit)
    found = _read(conn, f"clutch_id IN (SELECT clutch_id FROM clutch WHERE {page})", given)  # noqa: S608 - a constant
    return sorted(found, key=lambda one: (one.closed_at_ms or 0, one.clutch_id), reverse=True)


def by_number(conn: sqlite3.Connection, clutch_id: int) -> Clutch | None:
    """Give a clutch by its number, also a closed or withdrawn one; None where there is none."""
    return next(iter(_read(conn, "clutch_id = ?", (clutch_id,))), None)


def with_label(conn: sqlite3.Connection, label: str) -> list[Clutch]:
    """Give every clutch that has or had this label, also closed and withdrawn ones; capitals do not matter."""
    wanted = label_key(label)
    if wanted.isascii():
        found = _read(conn, "label = ?", (label.strip(),))
        return [each for each in found if label_key(each.label) == wanted]
    # SQLite knows the capitals of A to Z alone, so a label with others is looked for among all.
    rows = conn.execute("SELECT clutch_id, label FROM clutch ORDER BY clutch_id")
    same = [number for number, each in rows if label_key(each) == wanted]
    return [each for number in same for each in _read(conn, "clutch_id = ?", (number,))]


def ever_in(conn: sqlite3.Connection, place: str) -> list[Clutch]:
    """Give the clutches of which somebody once said that they lay in this very place; without withdrawn ones."""
    where = "withdrawn_at_ms IS NULL AND clutch_id IN (SELECT clutch_id FROM placement WHERE place = ?)"
    return _read(conn, where, (place,))


def rivals_in(conn: sqlite3.Connection, place: str) -> list[Clutch]:
    """Give the clutches that may keep another one out of a place: those that ever lay in this box.

    Any number of clutches may lie on a shelf; nothing is read of those.
    """
    return ever_in(conn, place) if is_box(place) else []


def known(conn: sqlite3.Connection, clutch_id: int) -> Clutch:
    """Give a clutch that has not been withdrawn. Raises RegisterError."""
    clutch = by_number(conn, clutch_id)
    if clutch is None:
        raise RegisterError(
            f"there is no clutch number {clutch_id}", f"Open clutches: {labels(_read(conn, _ALL_OPEN, ()))}."
        )
    if clutch.withdrawn_at_ms is not None:
        raise RegisterError(
            (f"{clutch.label} was withdrawn at ", At(clutch.withdrawn_at_ms), " as entered by mistake"),
            "Nothing is written to it any more. Take the withdrawal back first: clutchwarden clutch reopen",
        )
    return clutch


def still_open(conn: sqlite3.Connection, clutch_id: int) -> Clutch:
    """Give an open clutch. Raises RegisterError."""
    clutch = known(conn, clutch_id)
    if clutch.closed_at_ms is not None:
        raise RegisterError(
            (f"{clutch.label} is closed already, since ", At(clutch.closed_at_ms)),
            "A closed clutch does not change. If it was closed by mistake: clutchwarden clutch reopen",
        )
    return clutch


def last_change(conn: sqlite3.Connection) -> int:
    """Give a number that every change of the register raises, those of eggs, notes and measures as well."""
    (number,) = conn.execute("SELECT coalesce(max(change_id), 0) FROM register_change").fetchone()
    return int(number)


def last_change_of(conn: sqlite3.Connection, clutch_id: int) -> int:
    """Give the number of the last change of one clutch; 0 where there is none."""
    sql = "SELECT coalesce(max(change_id), 0) FROM register_change WHERE clutch_id = ?"
    (number,) = conn.execute(sql, (clutch_id,)).fetchone()
    return int(number)


def refuse_changed(conn: sqlite3.Connection, clutch_id: int, mark: int) -> None:
    """Raise RegisterError where a clutch has changed since the change with this number."""
    sql = "SELECT at_ms, who FROM register_change WHERE clutch_id = ? AND change_id > ? ORDER BY change_id DESC LIMIT 1"
    later = conn.execute(sql, (clutch_id, mark)).fetchone()
    if later is not None:
        at_ms, who = later
        raise RegisterError(
            (f"{who} changed this clutch at ", At(at_ms), ", after this page was made"),
            "Nothing of yours is kept yet. Look at what is on record now, and send it again if it still holds.",
            "seen",
        )


def withdrawn(conn: sqlite3.Connection) -> list[Clutch]:
    """Give the clutches that were entered by mistake."""
    return _read(conn, "withdrawn_at_ms IS NOT NULL", ())


def put_placement(conn: sqlite3.Connection, clutch_id: int, stay: Placement, now_ms: int) -> None:
    """Write down one statement of where a clutch lay."""
    conn.execute(
        "INSERT INTO placement (clutch_id, place, from_ms, recorded_at_ms) VALUES (?, ?, ?, ?)",
        (clutch_id, stay.place, stay.from_ms, now_ms),
    )


def audit(
    conn: sqlite3.Connection,
    clutch_id: int,
    what: str,
    *,
    who: str,
    why: str,
    now_ms: int,
    old: Mapping[str, object],
    new: Mapping[str, object],
) -> None:
    """Write down a change, with what it was before and after."""
    texts = (text_of(who), what, text_of(why, LONGEST_TEXT))
    conn.execute(
        "INSERT INTO register_change (clutch_id, at_ms, who, what, why, old, new) VALUES (?, ?, ?, ?, ?, ?, ?)",
        (clutch_id, now_ms, *texts, json.dumps(old), json.dumps(new)),
    )


def _read(conn: sqlite3.Connection, where: str, given: Sequence[Any]) -> list[Clutch]:
    said: defaultdict[int, list[Placement]] = defaultdict(list)
    for clutch_id, place, from_ms in conn.execute(
        "SELECT clutch_id, place, from_ms FROM placement"  # noqa: S608 - constants of this module
        f" WHERE clutch_id IN (SELECT clutch_id FROM clutch WHERE {where}) ORDER BY placement_id",
        given,
    ):
        said[clutch_id].append(Placement(place, from_ms))
    rows = conn.execute(f"SELECT {_COLUMNS} FROM clutch WHERE {where} ORDER BY clutch_id", given)  # noqa: S608
    return [_clutch(row, placements_from(said[row[0]])) for row in rows]


def _clutch(row: tuple[Any, ...], placements: tuple[Placement, ...]) -> Clutch:
    found = dict(zip(_COLUMNS.split(", "), row, strict=True))
    found["tags"] = tuple(json.loads(found["tags"]))
    found["venomous"] = None if found["venomous"] is None else bool(found["venomous"])
    return Clutch(**found, placements=placements)
