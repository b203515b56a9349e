"""A table of clutches into the journal: row by row, and in the end all of it or nothing.

Each row is tried in a savepoint, so that one refusal does not hide the next. Where `RowSaid` tells of a refused one,
the caller rolls its transaction back, and nothing of the table is kept.

Which clutch a row is about: of those with its label the one with its set-up; else, where the row does not say that it
is closed, the open one; else it is a new clutch. An empty cell leaves alone what is on record.
"""

import sqlite3
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.plain import nearest
from daemon.clutches import sheet_read
from daemon.clutches.corrections import edit_clutch
from daemon.clutches.egg_records import egg_counts
from daemon.clutches.errors import RegisterError
from daemon.clutches.placements import in_force
from daemon.clutches.register import add_clutch, close_clutch, move_clutch
from daemon.clutches.rows import known, with_label
from daemon.clutches.rules import label_key
from daemon.clutches.sheet_cells import KINDS, Row, moves_of
from daemon.clutches.sheet_eggs import ADDED, SAME, EggLines
from daemon.clutches.values import Clutch

CHANGED, REFUSED = "changed", "refused"
_WHY = "by a table"


@dataclass(frozen=True, slots=True)
class RowSaid:
    """What a row of the table does: `what` is one of ADDED, CHANGED, SAME and REFUSED; `detail` is for people."""

    line: int
    label: str
    kind: str
    what: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Known:
    """What the site has: places and species of open clutches must be among them; and its zone."""

    places: Collection[str]
    species: Collection[str]
    zone: ZoneInfo


class SheetImport:
    """One import inside the caller's transaction. `who` takes the table in, and answers for every row of it."""

    def __init__(self, conn: sqlite3.Connection, site: Known, who: str, now_ms: int) -> None:
        self._conn = conn
        self._site = site
        self._who = who
        self._now_ms = now_ms
        self._mine: dict[tuple[str, str], int] = {}
        self._taken: set[int] = set()
        self._refused: dict[tuple[str, str], int] = {}
        self._lines = EggLines(conn, site.zone, who, now_ms)

    def run(self, rows: Sequence[Row], tick: Callable[[int], None] = lambda _: None) -> list[RowSaid]:
        """Try every row in turn, and say what each does. `tick` hears how many are done."""
        said = []
        for number, row in enumerate(rows, 1):
            said.append(self._one(row))
            tick(number)
        return said

    def left_open(self) -> list[tuple[str, int]]:
        """Give the clutches of the table that are closed, and of how many of their eggs nobody said what became."""
        counts = egg_counts(self._conn, self._taken)
        mine = [known(self._conn, number) for number in sorted(self._taken)]
        closed = [(each.label, counts[each.clutch_id].open) for each in mine if not each.is_open]
        return [(label, number) for label, number in closed if number]

    def _one(self, row: Row) -> RowSaid:
        label, key = row["label"].strip(), _key(row)
        try:
            with _savepoint(self._conn):
                what, detail = self._clutch(row) if row.kind == "clutch" else self._below(row)
        except RegisterError as error:
            if row.kind == "clutch":
                self._refused[key] = row.line
            what, detail = REFUSED, str(error.told_in(self._site.zone))
        return RowSaid(row.line, label, row.kind, what, detail)

    def _clutch(self, row: Row) -> tuple[str, str]:
        closed_ms = sheet_read.closed_ms(row, self._site.zone)
        found = self._on_record(row, closed_ms)
        if found is None:
            new = sheet_read.new_clutch(row, self._site.zone, self._now_ms)
            moves = moves_of(row["moves"], self._site.zone)
            if closed_ms is None:
                self._require(moves[-1].place if moves else new.place, new.species_id)
            number = add_clutch(self._conn, new, self._who, self._now_ms, moves, closed_ms)
            what, detail = ADDED, f"{new.egg_count} eggs of {new.species_id}"
        else:
            number, detail = found.clutch_id, self._change(found, row, closed_ms)
            what = CHANGED if detail else SAME
        self._mine[_key(row)] = number
        self._taken.add(number)
        return what, detail

    def _on_record(self, row: Row, closed_ms: int | None) -> Clutch | None:
        same = [each for each in with_label(self._conn, row["label"]) if each.withdrawn_at_ms is None]
        same = [each for each in same if each.clutch_id not in self._taken]
        stated = sheet_read.fields_of(row, self._site.zone, self._now_ms).get("set_up_ms")
        by_set_up = [each for each in same if each.set_up_ms == stated]
        still = [each for each in same if each.is_open and closed_ms is None]
        return next(iter((*by_set_up, *still)), None)

    def _change(self, clutch: Clutch, row: Row, closed_ms: int | None) -> str:
        """Bring a clutch to what the row says; gives what changed, for people; empty for nothing."""
        done = []
        wanted = sheet_read.differences(row, clutch, self._site.zone, self._now_ms)
        if wanted:
            if "species_id" in wanted:
                self._require(clutch.placements[-1].place, wanted["species_id"])
            changed = edit_clutch(self._conn, clutch.clutch_id, wanted, self._who, _WHY, self._now_ms)
            done += [f"{field} was {old!r}" for field, (old, _) in changed.items()]
        for stay in moves_of(row["moves"], self._site.zone):
            held = in_force(known(self._conn, clutch.clutch_id).placements, stay.from_ms)
            if held is None or held.place != stay.place:
                self._require(stay.place, clutch.species_id)
                args = (stay.place, stay.from_ms, self._who, _WHY, self._now_ms)
                move_clutch(self._conn, clutch.clutch_id, *args)
                done.append(f"moved to {stay.place}")
        if row["place"].strip() not in ("", clutch.placements[0].place):
            raise RegisterError(
                f"{clutch.label} was set up in {clutch.placements[0].place}, not in {row['place'].strip()}",
                "Where it lies now goes into moves. A wrong place of the set-up is corrected by: clutch move --at",
                "place",
            )
        done += self._closed(clutch, closed_ms)
        return ", ".join(done)

    def _closed(self, clutch: Clutch, closed_ms: int | None) -> Iterator[str]:
        if closed_ms is None or closed_ms == clutch.closed_at_ms:
            return
        if clutch.closed_at_ms is not None:
            raise RegisterError(
                f"{clutch.label} was closed at another time", "Open it again first, with clutch reopen.", "closed"
            )
        close_clutch(self._conn, clutch.clutch_id, closed_ms, self._who, _WHY, self._now_ms)
        yield "closed"

    def _below(self, row: Row) -> tuple[str, str]:
        """A row about the eggs of a clutch that stands above it, or on record."""
        if row.kind not in KINDS:
            raise RegisterError(f"{row.kind!r} is nothing that a row can be about", nearest(row.kind, KINDS), "row")
        if _key(row) in self._refused:
            raise RegisterError(f"its clutch is refused, in line {self._refused[_key(row)]}", "Mend that first.")
        number = self._mine.get(_key(row))
        if number is None:
            found = self._on_record(row, None)
            if found is None:
                raise RegisterError(
                    f"there is no clutch {row['label'].strip()!r} with this set-up",
                    "Check label and set_up, or give the row of the clutch above this one.",
                    "label",
                )
            number = found.clutch_id
        return self._lines.take(known(self._conn, number), row)

    def _require(self, place: str, species: str) -> None:
        if place not in self._site.places:
            raise RegisterError(f"there is no place {place!r} in site.toml", nearest(place, self._site.places), "place")
        if species not in self._site.species:
            raise RegisterError(
                f"there is no species {species!r} among the profiles", nearest(species, self._site.species), "species"
            )


def _key(row: Row) -> tuple[str, str]:
    return label_key(row["label"]), row["set_up"].strip()


@contextmanager
def _savepoint(conn: sqlite3.Connection) -> Iterator[None]:
    conn.execute("SAVEPOINT row")
    try:
        yield
    except BaseException:
        conn.execute("ROLLBACK TO row")
        conn.execute("RELEASE row")
        raise
    conn.execute("RELEASE row")
