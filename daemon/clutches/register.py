"""The register in the journal: clutches, where they lay, and who changed what, when and why.

All functions work inside the caller's transaction. Nothing is ever removed; a correction is one more statement. Eggs
are in `egg_records` and `egg_changes`, mending in `corrections`, the end of a clutch with its outcome in `closing`.
Whether a place and a species exist is the site's knowledge: see `check` and `desk`.
"""

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import asdict, replace

from config.plain import nearest
from daemon.clutches.boxes import refuse_occupied, spans
from daemon.clutches.egg_records import events
from daemon.clutches.errors import At, RegisterError
from daemon.clutches.measures import NewMeasure
from daemon.clutches.placements import FOR_EVER_MS, Placement, in_force, next_start_ms, placements_from
from daemon.clutches.remarks import add_measure
from daemon.clutches.rows import (
    audit,
    closed_page,
    clutches,
    last_change,
    put_placement,
    rivals_in,
    still_open,
    with_label,
)
from daemon.clutches.rules import (
    LONGEST_NAME,
    LONGEST_TEXT,
    label_of,
    refuse_future,
    refuse_nobody,
    refuse_unlikely,
    tags_of,
    text_of,
)
from daemon.clutches.values import Clutch, NewClutch

__all__ = [
    "Clutch",
    "NewClutch",
    "Placement",
    "RegisterError",
    "add_clutch",
    "close_clutch",
    "closed_page",
    "clutches",
    "last_change",
    "move_clutch",
    "open_clutch",
    "refuse_end_before_eggs",
    "refuse_taken",
    "version",
    "where_it_lay",
]

_INSERT = """INSERT INTO clutch (label, species_id, population, laid_from_ms, laid_to_ms, egg_count, note, before_c,
    before_u_k, dam, sire, found_ms, tags, venomous, protected) VALUES (:label, :species_id, :population, :laid_from_ms,
    :laid_to_ms, :egg_count, :note, :before_c, :before_u_k, :dam, :sire, :found_ms, :tags, :venomous, :protected)
    RETURNING clutch_id"""


def version(conn: sqlite3.Connection) -> int:
    """Give a number that rises whenever a clutch or where it lay changes, also when another process does it.

    What is said of eggs, notes and measures leaves it alone: nothing that is watched depends on them. `last_change`
    rises with every change.
    """
    (number,) = conn.execute("SELECT version FROM register_version").fetchone()
    return int(number)


def open_clutch(conn: sqlite3.Connection, label: str) -> Clutch:
    """Give the open clutch with this label; capitals do not matter. Raises RegisterError naming the nearest label."""
    for clutch in with_label(conn, label):
        if clutch.is_open:
            return clutch
    wanted, open_ones = label.strip().lower(), clutches(conn)
    hint = nearest(wanted, [clutch.label for clutch in open_ones]) if open_ones else "No clutch is open at present."
    raise RegisterError(f"there is no open clutch {label.strip()!r}", hint, "label")


def add_clutch(
    conn: sqlite3.Connection,
    new: NewClutch,
    who: str,
    now_ms: int,
    moves: Sequence[Placement] = (),
    closed_at_ms: int | None = None,
) -> int:
    """Enter a clutch and give its number; with the moves that it has had, and closed where its time is over.

    Raises RegisterError with nothing changed.
    """
    new = _as_kept(new)
    refuse_nobody(who)
    refuse_unlikely(new, now_ms, closed_at_ms)
    for move in moves:
        _refuse_before_set_up(new, move)
    stays = placements_from([Placement(new.place, new.from_ms), *moves])
    _refuse_history(new.label, stays, closed_at_ms, now_ms)
    if closed_at_ms is None:
        refuse_taken(conn, new.label)
    for stay, left_ms in spans(stays, FOR_EVER_MS if closed_at_ms is None else closed_at_ms):
        refuse_occupied(stay.place, stay.from_ms, left_ms, rivals_in(conn, stay.place))
    row = {**asdict(new), "tags": json.dumps(new.tags)}
    (clutch_id,) = conn.execute(_INSERT, row).fetchone()
    for stay in stays:
        put_placement(conn, clutch_id, stay, now_ms)
    entered = asdict(new) if len(stays) == 1 else {**asdict(new), "moves": [stay._asdict() for stay in stays[1:]]}
    audit(conn, clutch_id, "add", who=who, why="", now_ms=now_ms, old={}, new=entered)
    if new.first_mass_g is not None or new.first_length_mm is not None:
        first = NewMeasure(new.from_ms, mass_g=new.first_mass_g, length_mm=new.first_length_mm, eggs=1)
        add_measure(conn, clutch_id, first, who, now_ms)
    if closed_at_ms is not None:
        close_clutch(conn, clutch_id, closed_at_ms, who, "", now_ms)
    return int(clutch_id)


def move_clutch(
    conn: sqlite3.Connection, clutch_id: int, place: str, from_ms: int, who: str, why: str, now_ms: int
) -> None:
    """Say that a clutch lay in a place from a moment on, until its next known move. The moment may be in the past.

    Said of the moment of an earlier move, it corrects that move. Raises RegisterError with nothing changed.
    """
    clutch = still_open(conn, clutch_id)
    refuse_nobody(who)
    refuse_future("move", from_ms, now_ms)
    before = where_it_lay(clutch, place, from_ms)
    others = [other for other in rivals_in(conn, place) if other.clutch_id != clutch_id]
    refuse_occupied(place, from_ms, next_start_ms(clutch.placements, from_ms), others)
    after = Placement(place, from_ms)
    put_placement(conn, clutch_id, after, now_ms)
    audit(conn, clutch_id, "move", who=who, why=why, now_ms=now_ms, old=before._asdict(), new=after._asdict())


def where_it_lay(clutch: Clutch, place: str, from_ms: int) -> Placement:
    """Give the stay that a move to another place at a moment ends. Raises RegisterError where there is none."""
    before = in_force(clutch.placements, from_ms)
    if before is None:
        raise RegisterError(
            (f"{clutch.label} cannot move at ", At(from_ms), ": it was set up at ", At(clutch.set_up_ms)),
            "Give a time after it was set up.",
            "at",
        )
    if before.place == place:
        raise RegisterError(
            (f"{clutch.label} lies in {place} already, since ", At(before.from_ms)),
            "Nothing to do. Where it came there later than that, first put it back to where it was at that time.",
            "place",
        )
    return before


def close_clutch(
    conn: sqlite3.Connection,
    clutch_id: int,
    at_ms: int,
    who: str,
    why: str,
    now_ms: int,
    egg_events: Sequence[int] = (),
) -> None:
    """End a clutch. It stays on record. `egg_events`: what was said of its eggs by closing it.

    `closing.close` also asks what became of every egg. Raises RegisterError with nothing changed.
    """
    clutch = still_open(conn, clutch_id)
    refuse_nobody(who)
    refuse_future("closing", at_ms, now_ms)
    _refuse_end(clutch.label, clutch.placements, at_ms)
    refuse_end_before_eggs(conn, clutch, at_ms)
    conn.execute("UPDATE clutch SET closed_at_ms = ? WHERE clutch_id = ?", (at_ms, clutch_id))
    old: dict[str, object] = {"closed_at_ms": None}
    new: dict[str, object] = {"closed_at_ms": at_ms}
    if egg_events:
        new["egg_events"] = list(egg_events)
    audit(conn, clutch_id, "close", who=who, why=why, now_ms=now_ms, old=old, new=new)


def refuse_taken(conn: sqlite3.Connection, label: str, mine: int | None = None) -> None:
    """Raise RegisterError where another open clutch has this label."""
    for other in with_label(conn, label):
        if other.is_open and other.clutch_id != mine:
            raise RegisterError(
                f"the label {label!r} is taken by the clutch in {other.placements[-1].place}",
                "Choose another label, or close that clutch first. If that one was entered by mistake, withdraw it.",
                "label",
            )


def refuse_end_before_eggs(conn: sqlite3.Connection, clutch: Clutch, at_ms: int) -> None:
    """Raise RegisterError for an end before the last that was said of an egg."""
    standing = (one for one in events(conn, clutch.clutch_id) if not one.withdrawn)
    last = max(standing, key=lambda one: (one.at_ms, one.number), default=None)
    if last is None or last.at_ms <= at_ms:
        return
    what = f": egg {last.egg} was {last.stated.words} at "
    raise RegisterError(
        (f"{clutch.label} cannot be closed at ", At(at_ms), what, At(last.at_ms)),
        f"Give a later time, or take that back first: event {last.number}.",
        "at",
    )


def _as_kept(new: NewClutch) -> NewClutch:
    return replace(
        new,
        label=label_of(new.label),
        population=text_of(new.population or "") or None,
        note=text_of(new.note, LONGEST_TEXT),
        dam=text_of(new.dam, LONGEST_NAME),
        sire=text_of(new.sire, LONGEST_NAME),
        tags=tags_of(new.tags),
        protected=text_of(new.protected, LONGEST_TEXT),
    )


def _refuse_before_set_up(new: NewClutch, move: Placement) -> None:
    if move.from_ms < new.from_ms:
        raise RegisterError(
            (f"{new.label} cannot move at ", At(move.from_ms), ": it was set up at ", At(new.from_ms)),
            "Check both dates.",
            "moves",
        )


def _refuse_history(label: str, stays: Sequence[Placement], closed_at_ms: int | None, now_ms: int) -> None:
    for stay in stays[1:]:
        refuse_future("move", stay.from_ms, now_ms)
    if closed_at_ms is not None:
        refuse_future("closing", closed_at_ms, now_ms)
        _refuse_end(label, stays, closed_at_ms)


def _refuse_end(label: str, placements: Sequence[Placement], at_ms: int) -> None:
    """Raise RegisterError for an end before the last move."""
    first, last = placements[0], placements[-1]
    if at_ms >= last.from_ms:
        return
    event = "it was set up" if first == last else f"it was moved to {last.place}"
    raise RegisterError(
        (f"{label} cannot be closed at ", At(at_ms), f": {event} at ", At(last.from_ms)),
        "Give a later time, or correct the move first." if first != last else "Give a later time.",
        "at",
    )
