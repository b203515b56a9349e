"""Mending the register: what was entered wrongly, closed or entered by mistake, and two clutches that swapped places.

All functions work inside the caller's transaction and refuse with RegisterError and nothing changed. The old value
stays on record with who corrected it.
"""

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from daemon.clutches.boxes import refuse_occupied, spans
from daemon.clutches.egg_changes import take_back
from daemon.clutches.egg_records import events, marks
from daemon.clutches.eggs import EggEvent
from daemon.clutches.errors import At, RegisterError
from daemon.clutches.placements import Placement, next_start_ms, placements_from
from daemon.clutches.register import refuse_taken, where_it_lay
from daemon.clutches.remarks import measures
from daemon.clutches.rows import audit, by_number, known, put_placement, rivals_in, still_open
from daemon.clutches.rules import (
    LONGEST_NAME,
    LONGEST_TEXT,
    label_of,
    refuse_dates,
    refuse_egg_count,
    refuse_future,
    refuse_long_ago,
    refuse_nobody,
    refuse_warmth,
    tags_of,
    text_of,
)
from daemon.clutches.values import Clutch

_TEXTS = {"note": LONGEST_TEXT, "dam": LONGEST_NAME, "sire": LONGEST_NAME, "protected": LONGEST_TEXT}
EDITABLE = frozenset(
    {"label", "species_id", "population", "laid_from_ms", "laid_to_ms", "found_ms", "egg_count", "tags", "venomous"}
    | {"before_c", "before_u_k", "set_up_ms", *_TEXTS}
)
"""What `edit_clutch` takes: fields of a clutch, and `set_up_ms`."""
_NOWHERE = ""
"""Said of the moment of a set-up that was not then: the clutch lay in no place yet."""


def edit_clutch(
    conn: sqlite3.Connection, clutch_id: int, changes: Mapping[str, Any], who: str, why: str, now_ms: int
) -> dict[str, tuple[Any, Any]]:
    """Correct fields of a clutch, open or closed. Gives what changed: the old value and the new one of each field."""
    clutch = known(conn, clutch_id)
    refuse_nobody(who)
    if unknown := set(changes) - EDITABLE:
        raise RegisterError(f"{', '.join(sorted(unknown))} of a clutch cannot be edited", "Move or close it instead.")
    wanted = {field: _as_kept(field, value) for field, value in changes.items()}
    found = {field: (getattr(clutch, field), value) for field, value in wanted.items()}
    changed = {field: pair for field, pair in found.items() if pair[0] != pair[1]}
    set_up_ms = wanted.pop("set_up_ms", clutch.set_up_ms)
    after = replace(clutch, **wanted)
    if "label" in changed and clutch.is_open:
        refuse_taken(conn, after.label, clutch_id)
    if "egg_count" in changed:
        _refuse_fewer_eggs(conn, clutch, after.egg_count)
    refuse_dates(after.label, (after.laid_from_ms, after.laid_to_ms), after.found_ms, set_up_ms, now_ms)
    if changed.keys() & {"laid_from_ms", "set_up_ms"}:
        refuse_long_ago(after.label, min(after.laid_from_ms, set_up_ms), now_ms, clutch.closed_at_ms)
    _refuse_after_events(after, events(conn, clutch_id))
    refuse_warmth(after.label, after.before_c, after.before_u_k)
    if "set_up_ms" in changed:
        _set_up_at(conn, clutch, set_up_ms, now_ms)
    columns = sorted(set(changed) - {"set_up_ms"})
    if columns:
        marks_ = ", ".join(f"{column} = ?" for column in columns)
        values = [_stored(column, getattr(after, column)) for column in columns]
        conn.execute(f"UPDATE clutch SET {marks_} WHERE clutch_id = ?", (*values, clutch_id))  # noqa: S608 - our names
    if changed:
        old, new = ({field: pair[side] for field, pair in changed.items()} for side in (0, 1))
        audit(conn, clutch_id, "edit", who=who, why=why, now_ms=now_ms, old=old, new=new)
    return changed


def reopen_clutch(conn: sqlite3.Connection, clutch_id: int, who: str, why: str, now_ms: int) -> Clutch:
    """Take back a closing or a withdrawal, where label and box are free. Gives the clutch as it is then.

    What closing said of the eggs is taken back with it.
    """
    clutch = by_number(conn, clutch_id) or known(conn, clutch_id)
    refuse_nobody(who)
    if clutch.is_open:
        raise RegisterError(f"{clutch.label} is open", "Nothing to do.")
    if not why.strip():
        raise RegisterError("nothing says why it is opened again", "Say it in a few words.", "why")
    back = replace(clutch, withdrawn_at_ms=None) if clutch.withdrawn_at_ms else replace(clutch, closed_at_ms=None)
    if back.is_open:
        refuse_taken(conn, back.label, clutch_id)
    for stay, left_ms in spans(back.placements, back.end_ms):
        others = [other for other in rivals_in(conn, stay.place) if other.clutch_id != clutch_id]
        refuse_occupied(stay.place, stay.from_ms, left_ms, others)
    conn.execute(
        "UPDATE clutch SET closed_at_ms = ?, withdrawn_at_ms = ? WHERE clutch_id = ?",
        (back.closed_at_ms, back.withdrawn_at_ms, clutch_id),
    )
    if clutch.closed_at_ms is not None and back.closed_at_ms is None:
        _take_back_closing(conn, clutch_id, who, why, now_ms)
    old = {"closed_at_ms": clutch.closed_at_ms, "withdrawn_at_ms": clutch.withdrawn_at_ms}
    new = {"closed_at_ms": back.closed_at_ms, "withdrawn_at_ms": back.withdrawn_at_ms}
    audit(conn, clutch_id, "reopen", who=who, why=why, now_ms=now_ms, old=old, new=new)
    return back


def withdraw_clutch(conn: sqlite3.Connection, clutch_id: int, who: str, why: str, now_ms: int) -> Clutch:
    """Say that a clutch was entered by mistake: it stays on record and frees box and label for all its time."""
    clutch = known(conn, clutch_id)
    refuse_nobody(who)
    conn.execute("UPDATE clutch SET withdrawn_at_ms = ? WHERE clutch_id = ?", (now_ms, clutch_id))
    old, new = {"withdrawn_at_ms": None}, {"withdrawn_at_ms": now_ms}
    audit(conn, clutch_id, "withdraw", who=who, why=why, now_ms=now_ms, old=old, new=new)
    return clutch


def swap_clutches(
    conn: sqlite3.Connection, one_id: int, other_id: int, at_ms: int, who: str, why: str, now_ms: int
) -> tuple[Placement, Placement]:
    """Let two clutches change places at a moment, in one step. Gives where each of them lies from then on."""
    pair = (still_open(conn, one_id), still_open(conn, other_id))
    refuse_nobody(who)
    refuse_future("swap", at_ms, now_ms)
    if one_id == other_id:
        raise RegisterError(f"{pair[0].label} cannot swap places with itself", "Name two clutches.", "other")
    lay = [_lay_at(clutch, at_ms) for clutch in pair]
    if lay[0].place == lay[1].place:
        raise RegisterError(f"both lay in {lay[0].place} then", "Nothing to do.", "at")
    after = (Placement(lay[1].place, at_ms), Placement(lay[0].place, at_ms))
    moved = [
        replace(clutch, placements=placements_from([*clutch.placements, stay]))
        for clutch, stay in zip(pair, after, strict=True)
    ]
    for clutch, swapped, stay in zip(pair, reversed(moved), after, strict=True):
        rest = [each for each in rivals_in(conn, stay.place) if each.clutch_id not in (one_id, other_id)]
        refuse_occupied(stay.place, at_ms, next_start_ms(clutch.placements, at_ms), [*rest, swapped])
    for clutch, before, stay in zip(pair, lay, after, strict=True):
        put_placement(conn, clutch.clutch_id, stay, now_ms)
        old, new = before._asdict(), stay._asdict()
        audit(conn, clutch.clutch_id, "move", who=who, why=why, now_ms=now_ms, old=old, new=new)
    return after


def _lay_at(clutch: Clutch, at_ms: int) -> Placement:
    # A move to nowhere is never where it lay: this gives the stay, or refuses a moment before the set-up.
    return where_it_lay(clutch, "", at_ms)


def _as_kept(field: str, value: Any) -> Any:
    if field in _TEXTS:
        return text_of(value, _TEXTS[field])
    if field == "label":
        return label_of(value)
    if field == "population":
        return text_of(value or "") or None
    return tags_of(value) if field == "tags" else value


def _stored(column: str, value: Any) -> Any:
    return json.dumps(value) if column == "tags" else value


def _set_up_at(conn: sqlite3.Connection, clutch: Clutch, set_up_ms: int, now_ms: int) -> None:
    """State another moment of the set-up, earlier or later. What was said before stays on record."""
    first = clutch.placements[0]
    if clutch.closed_at_ms is not None:
        raise RegisterError(
            (f"{clutch.label} is closed since ", At(clutch.closed_at_ms)), "Open it again first.", "set_up"
        )
    if set_up_ms < first.from_ms:
        others = [other for other in rivals_in(conn, first.place) if other.clutch_id != clutch.clutch_id]
        refuse_occupied(first.place, set_up_ms, first.from_ms, others)
    else:
        _refuse_past_move(clutch, set_up_ms)
        put_placement(conn, clutch.clutch_id, Placement(_NOWHERE, first.from_ms), now_ms)
    put_placement(conn, clutch.clutch_id, Placement(first.place, set_up_ms), now_ms)


def _refuse_past_move(clutch: Clutch, set_up_ms: int) -> None:
    """A clutch cannot have been moved before it was set up."""
    moved = next((stay for stay in clutch.placements[1:] if stay.from_ms <= set_up_ms), None)
    if moved is not None:
        raise RegisterError(
            (f"{clutch.label} was moved to {moved.place} at ", At(moved.from_ms), ", before that set-up"),
            "Check the time. If it was never moved there, take that move back first.",
            "set_up",
        )


def _refuse_fewer_eggs(conn: sqlite3.Connection, clutch: Clutch, egg_count: int) -> None:
    """Eggs that something was said of cannot be counted away, and a closed clutch has its outcome."""
    refuse_egg_count(clutch.label, egg_count)
    if clutch.closed_at_ms is not None:
        raise RegisterError(
            (f"{clutch.label} is closed since ", At(clutch.closed_at_ms), " with all its eggs accounted for"),
            "Open it again first.",
            "egg_count",
        )
    said = {one.egg for one in events(conn, clutch.clutch_id) if not one.withdrawn} | set(marks(conn, clutch.clutch_id))
    sizes = measures(conn, clutch.clutch_id)
    said |= {one.measured.egg for one in sizes if one.measured.egg is not None and not one.withdrawn}
    beyond = sorted(egg for egg in said if egg > egg_count)
    if beyond:
        raise RegisterError(
            f"{clutch.label} cannot have {egg_count} egg{'s' * (egg_count != 1)}: something is on record of egg "
            f"{', '.join(map(str, beyond))}",
            "If those eggs were never there, take back what was said of them first. If they are gone, remove them.",
            "egg_count",
        )
    for egg, mark in marks(conn, clutch.clutch_id).items():
        if mark.isdigit() and int(mark) != egg and int(mark) <= egg_count:
            raise RegisterError(
                f"egg {egg} of {clutch.label} has the mark {mark}, which would be the number of another egg",
                "Give that egg another mark first.",
                "egg_count",
            )


def _refuse_after_events(clutch: Clutch, said: list[EggEvent]) -> None:
    """The day of laying cannot come after what was said of an egg."""
    first = min((one for one in said if not one.withdrawn), key=lambda one: one.at_ms, default=None)
    if first is not None and first.at_ms < clutch.laid_from_ms:
        raise RegisterError(
            (f"{clutch.label}: egg {first.egg} was {first.stated.words} at ", At(first.at_ms), ", before that laying"),
            "Check the date, or take that back first.",
            "laid",
        )


def _take_back_closing(conn: sqlite3.Connection, clutch_id: int, who: str, why: str, now_ms: int) -> None:
    row = conn.execute(
        "SELECT new FROM register_change WHERE clutch_id = ? AND what = 'close' ORDER BY change_id DESC LIMIT 1",
        (clutch_id,),
    ).fetchone()
    numbers = set(json.loads(row[0]).get("egg_events", ())) if row else set()
    for event in events(conn, clutch_id):
        if event.number in numbers and not event.withdrawn:
            take_back(conn, clutch_id, event, who, why, now_ms)
