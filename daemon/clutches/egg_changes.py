"""What is said of eggs, written into the journal. All functions work inside the caller's transaction.

Each refuses with RegisterError and nothing changed. Nothing is removed: a mistake is taken back by an event that names
it, and both stay on record.
"""

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from daemon.clutches.egg_records import eggs, events
from daemon.clutches.egg_rules import (
    chosen,
    egg_called,
    mark_of,
    refuse_event,
    refuse_moment,
    refuse_stated,
    standing_event,
)
from daemon.clutches.eggs import Egg, EggEvent, Stated
from daemon.clutches.errors import At, RegisterError
from daemon.clutches.rows import audit, known, still_open
from daemon.clutches.rules import LONGEST_TEXT, refuse_nobody, text_of
from daemon.clutches.values import Clutch

_INSERT = """INSERT INTO egg_event (clutch_id, egg, at_ms, recorded_at_ms, who, what, reason, note, by_count, corrects)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING event_id"""


@dataclass(frozen=True, slots=True)
class EggsSaid:
    """What was written down: which eggs it is about, and the numbers of the events."""

    eggs: tuple[Egg, ...]
    events: tuple[int, ...]
    by_count: bool = False


def say_of_eggs(
    conn: sqlite3.Connection,
    clutch_id: int,
    stated: Stated,
    which: Sequence[str] | int,
    at_ms: int,
    who: str,
    now_ms: int,
) -> EggsSaid:
    """Say what eggs are since a moment: those with these marks or numbers, or so many of them."""
    clutch = _that_lay_there(conn, clutch_id, at_ms)
    refuse_nobody(who)
    refuse_stated(stated)
    refuse_moment(clutch, stated.words, at_ms, now_ms)
    here, said = eggs(conn, clutch_id, clutch.egg_count), events(conn, clutch_id)
    if isinstance(which, int):
        meant = chosen(clutch.label, here, said, stated, which, at_ms)
    else:
        meant = list({egg.number: egg for egg in (egg_called(clutch.label, here, name) for name in which)}.values())
        if not meant:
            raise RegisterError("no egg is named", "Say which, by mark or number, or how many.", "eggs")
        for egg in meant:
            refuse_event(clutch.label, said, egg, stated, at_ms)
    by_count = isinstance(which, int) and which < len(here)
    numbers = [_put(conn, clutch_id, egg.number, stated, at_ms, who, now_ms, by_count) for egg in meant]
    old = {egg.name: egg.stated.words for egg in meant}
    new = {"eggs": [egg.name for egg in meant], "state": stated.words, "at_ms": at_ms, "events": numbers}
    audit(conn, clutch_id, "eggs", who=who, why=stated.note, now_ms=now_ms, old=old, new=new)
    return EggsSaid(tuple(meant), tuple(numbers), by_count)


def copy_event(
    conn: sqlite3.Connection, clutch: Clutch, egg: Egg, said: Sequence[EggEvent], event: EggEvent, now_ms: int
) -> int:
    """Write down an event from another record, by its own date and person; gives the number that it has here.

    `said`: all that is on record of this egg. In the other record it may have been said twice to be the same, where
    what was said in between has been taken back.
    """
    _refuse_after_end(clutch, event.at_ms)
    refuse_nobody(event.who)
    refuse_moment(clutch, event.stated.words, event.at_ms, now_ms)
    refuse_event(clutch.label, said, egg, event.stated, event.at_ms, again=True)
    clutch_id = clutch.clutch_id
    number = _put(conn, clutch_id, egg.number, event.stated, event.at_ms, event.who, now_ms, event.by_count)
    new = {"eggs": [egg.name], "state": event.stated.words, "at_ms": event.at_ms, "events": [number]}
    old = {egg.name: egg.stated.words}
    audit(conn, clutch_id, "eggs", who=event.who, why=event.stated.note, now_ms=now_ms, old=old, new=new)
    return number


def withdraw_event(conn: sqlite3.Connection, clutch_id: int, number: int, who: str, why: str, now_ms: int) -> EggEvent:
    """Take back what was said of an egg; it is again what it was by all that stands. Gives the event."""
    clutch = still_open(conn, clutch_id)
    refuse_nobody(who)
    event = standing_event(clutch.label, events(conn, clutch_id), number)
    take_back(conn, clutch_id, event, who, why, now_ms)
    old = {"egg": event.egg, "state": event.stated.words, "at_ms": event.at_ms, "event": number}
    audit(conn, clutch_id, "eggs-withdrawn", who=who, why=why, now_ms=now_ms, old=old, new={})
    return event


def say_which(conn: sqlite3.Connection, clutch_id: int, number: int, name: str, who: str, now_ms: int) -> EggsSaid:
    """Say that an event was about another egg: it is taken back, and said of that one with the same date."""
    clutch = still_open(conn, clutch_id)
    refuse_nobody(who)
    said = events(conn, clutch_id)
    event = standing_event(clutch.label, said, number)
    here = eggs(conn, clutch_id, clutch.egg_count)
    egg = egg_called(clutch.label, here, name)
    if egg.number == event.egg:
        raise RegisterError(f"event {number} is about egg {egg.name} already", "Nothing to do.", "eggs")
    refuse_event(clutch.label, said, egg, event.stated, event.at_ms)
    take_back(conn, clutch_id, event, who, "", now_ms)
    new_number = _put(conn, clutch_id, egg.number, event.stated, event.at_ms, who, now_ms, by_count=False)
    old, new = {"egg": event.egg, "event": number}, {"egg": egg.number, "event": new_number}
    audit(conn, clutch_id, "eggs-named", who=who, why="", now_ms=now_ms, old=old, new=new)
    return EggsSaid((egg,), (new_number,))


def mark_egg(
    conn: sqlite3.Connection,
    clutch_id: int,
    name: str,
    mark: str,
    at_ms: int,
    who: str,
    now_ms: int,
    here: Sequence[Egg] | None = None,
) -> Egg:
    """Say what stands on the shell of an egg; an empty mark forgets it. Gives the egg as it was before.

    `here`: the eggs of the clutch as they are, where the caller has read them already.
    """
    clutch = _that_lay_there(conn, clutch_id, at_ms)
    refuse_nobody(who)
    refuse_moment(clutch, "marked", at_ms, now_ms)
    here = eggs(conn, clutch_id, clutch.egg_count) if here is None else here
    egg = egg_called(clutch.label, here, name)
    _put_mark(conn, clutch, egg, mark_of(clutch.label, here, egg, mark), at_ms, who, now_ms)
    return egg


def mark_eggs(
    conn: sqlite3.Connection, clutch_id: int, marks: Mapping[str, str], at_ms: int, who: str, now_ms: int
) -> list[Egg]:
    """Say what stands on several shells, by number or former mark, in any order: what holds is how it is in the end.

    Gives the eggs as they were before.
    """
    clutch = _that_lay_there(conn, clutch_id, at_ms)
    refuse_nobody(who)
    refuse_moment(clutch, "marked", at_ms, now_ms)
    here = eggs(conn, clutch_id, clutch.egg_count)
    meant = [(egg_called(clutch.label, here, name), mark) for name, mark in marks.items()]
    numbers = [egg.number for egg, _ in meant]
    if twice := [egg for egg, _ in meant if numbers.count(egg.number) > 1]:
        raise RegisterError(f"egg {twice[0].name} of {clutch.label} is given two marks", "Give one.", "mark")
    after = [replace(egg, mark="") if egg.number in numbers else egg for egg in here]
    for egg, text in meant:
        mark = mark_of(clutch.label, after, egg, text)
        after[egg.number - 1] = replace(egg, mark=mark)
        _put_mark(conn, clutch, egg, mark, at_ms, who, now_ms)
    return [egg for egg, _ in meant]


def _put_mark(conn: sqlite3.Connection, clutch: Clutch, egg: Egg, mark: str, at_ms: int, who: str, now_ms: int) -> None:
    row = (clutch.clutch_id, egg.number, at_ms, now_ms, text_of(who), "marked", None, mark, 0, None)
    conn.execute(_INSERT, row)
    old, new = {"egg": egg.number, "mark": egg.mark}, {"egg": egg.number, "mark": mark}
    audit(conn, clutch.clutch_id, "egg-marked", who=who, why="", now_ms=now_ms, old=old, new=new)


def take_back(conn: sqlite3.Connection, clutch_id: int, event: EggEvent, who: str, why: str, now_ms: int) -> None:
    """Write down that an event does not stand any more."""
    why = text_of(why, LONGEST_TEXT)
    conn.execute(_INSERT, (clutch_id, event.egg, now_ms, now_ms, text_of(who), "withdrawn", None, why, 0, event.number))


def _put(
    conn: sqlite3.Connection,
    clutch_id: int,
    egg: int,
    stated: Stated,
    at_ms: int,
    who: str,
    now_ms: int,
    by_count: bool,
) -> int:
    note = text_of(stated.note, LONGEST_TEXT)
    row = (clutch_id, egg, at_ms, now_ms, text_of(who), stated.state, stated.reason, note, by_count, None)
    (number,) = conn.execute(_INSERT, row).fetchone()
    return int(number)


def _that_lay_there(conn: sqlite3.Connection, clutch_id: int, at_ms: int) -> Clutch:
    """Give a clutch that was not closed at a moment: what was seen before may be written down later."""
    clutch = known(conn, clutch_id)
    _refuse_after_end(clutch, at_ms)
    return clutch


def _refuse_after_end(clutch: Clutch, at_ms: int) -> None:
    if clutch.closed_at_ms is not None and at_ms > clutch.closed_at_ms:
        raise RegisterError(
            (f"{clutch.label} is closed already, since ", At(clutch.closed_at_ms)),
            "Give the time at which it was seen. If it was closed by mistake: clutchwarden clutch reopen",
            "at",
        )
