"""Rows of a table below that of a clutch: marks, what became of eggs, sizes, notes. Inside the caller's transaction.

A row that is on record already changes nothing. Each statement on record stands for one row of the table: two equal
rows are two statements.
"""

import sqlite3
from collections import defaultdict
from dataclasses import replace
from zoneinfo import ZoneInfo

from daemon.clutches import sheet_read
from daemon.clutches.egg_changes import copy_event, mark_egg
from daemon.clutches.egg_records import events, marks
from daemon.clutches.egg_rules import egg_called, stated_as
from daemon.clutches.eggs import EggEvent, egg_of, eggs_of
from daemon.clutches.measures import Measure
from daemon.clutches.remarks import Note, add_measure, add_note, measures, notes
from daemon.clutches.rules import LONGEST_TEXT, text_of
from daemon.clutches.said_by import by_table, named_in_table
from daemon.clutches.sheet_cells import Row, yes_of
from daemon.clutches.values import Clutch

ADDED, SAME = "added", "as on record"
_WAS_ADDED = (ADDED, "")
_WAS_THERE = (SAME, "")


class EggLines:
    """The rows of one import. `who` takes the table in, and answers for every row of it."""

    def __init__(self, conn: sqlite3.Connection, zone: ZoneInfo, who: str, now_ms: int) -> None:
        self._conn = conn
        self._zone = zone
        self._who = who
        self._now_ms = now_ms
        self._met: set[tuple[str, int]] = set()
        self._read: dict[tuple[int, int], _OnRecord] = {}

    def take(self, clutch: Clutch, row: Row) -> tuple[str, str]:
        """Bring one row to the record; gives what that was, and for people what exactly. Raises RegisterError."""
        read = {"mark": self._mark, "egg": self._egg, "size": self._size, "note": self._note}
        return read[row.kind](clutch, row)

    def _mark(self, clutch: Clutch, row: Row) -> tuple[str, str]:
        here = self._here(clutch)
        egg, mark = egg_called(clutch.label, here.eggs, row["egg"]), row["note"].strip()
        if egg.mark == mark:
            return _WAS_THERE
        moment_ms, name, who = self._moment_ms(clutch, row), str(egg.number), self._by(row)
        mark_egg(self._conn, clutch.clutch_id, name, mark, moment_ms, who, self._now_ms, here.eggs)
        here.now(egg.number, mark)
        return ADDED, f"egg {egg.number} marked {mark}" + (f", it was {egg.mark}" if egg.mark else "")

    def _moment_ms(self, clutch: Clutch, row: Row) -> int:
        return sheet_read.at_ms(row, self._zone) if row["at"].strip() else clutch.set_up_ms

    def _egg(self, clutch: Clutch, row: Row) -> tuple[str, str]:
        here = self._here(clutch)
        egg = egg_called(clutch.label, here.eggs, row["egg"])
        stated, said = stated_as(row["state"], text_of(row["note"], LONGEST_TEXT)), here.said[egg.number]
        moment_ms = sheet_read.at_ms(row, self._zone)
        for one in said:
            same = (one.at_ms, one.stated) == (moment_ms, stated)
            if same and not one.withdrawn and self._meet("egg", one.number, one.who, row):
                return _WAS_THERE
        by_count = bool(row["by_count"].strip()) and yes_of(row["by_count"], "by_count")
        new = EggEvent(0, egg.number, moment_ms, stated, text_of(self._by(row)), by_count)
        number = copy_event(self._conn, clutch, egg, said, new, self._now_ms)
        self._met.add(("egg", number))
        said.append(replace(new, number=number))
        here.now(egg.number, egg.mark)
        return ADDED, f"egg {egg.name} {stated.words}"

    def _size(self, clutch: Clutch, row: Row) -> tuple[str, str]:
        here, new = self._here(clutch), sheet_read.size(row, self._zone)
        if row["egg"].strip():
            new = replace(new, egg=egg_called(clutch.label, here.eggs, row["egg"]).number)
        for one in here.sizes[new.at_ms]:
            if one.measured == new and not one.withdrawn and self._meet("size", one.number, one.who, row):
                return _WAS_THERE
        number = add_measure(self._conn, clutch.clutch_id, new, self._by(row), self._now_ms)
        self._met.add(("size", number))
        return _WAS_ADDED

    def _note(self, clutch: Clutch, row: Row) -> tuple[str, str]:
        moment_ms, text = sheet_read.at_ms(row, self._zone), text_of(row["note"], LONGEST_TEXT)
        for one in self._here(clutch).notes[moment_ms]:
            if one.text == text and self._meet("note", one.number, one.who, row):
                return _WAS_THERE
        number = add_note(self._conn, clutch.clutch_id, moment_ms, text, self._by(row), self._now_ms)
        self._met.add(("note", number))
        return _WAS_ADDED

    def _meet(self, kind: str, number: int, who: str, row: Row) -> bool:
        """Take a statement on record for this row, where none was before; a row that names nobody fits any."""
        if (kind, number) in self._met or text_of(row["who"]) not in ("", who, named_in_table(who)):
            return False
        self._met.add((kind, number))
        return True

    def _here(self, clutch: Clutch) -> "_OnRecord":
        """Give what is on record of a clutch, with what this table has added.

        It is read once: a row must not cost more the more eggs there are.
        """
        key = (clutch.clutch_id, clutch.egg_count)
        if key not in self._read:
            self._read[key] = _OnRecord(self._conn, clutch)
        return self._read[key]

    def _by(self, row: Row) -> str:
        return by_table(self._who, row["who"])


class _OnRecord:
    """What is said of the eggs of one clutch: by egg; sizes and notes from before this table, by moment (UTC ms)."""

    def __init__(self, conn: sqlite3.Connection, clutch: Clutch) -> None:
        said = events(conn, clutch.clutch_id)
        self.said: defaultdict[int, list[EggEvent]] = defaultdict(list)
        for event in said:
            self.said[event.egg].append(event)
        self.eggs = list(eggs_of(clutch.egg_count, said, marks(conn, clutch.clutch_id)))
        self.sizes: defaultdict[int, list[Measure]] = defaultdict(list)
        for size in measures(conn, clutch.clutch_id):
            self.sizes[size.measured.at_ms].append(size)
        self.notes: defaultdict[int, list[Note]] = defaultdict(list)
        for note in notes(conn, clutch.clutch_id):
            self.notes[note.at_ms].append(note)

    def now(self, egg: int, mark: str) -> None:
        """Bring one egg up to what is said of it by now."""
        self.eggs[egg - 1] = egg_of(egg, mark, self.said[egg])
