"""Entries of rounds in the journal: append-only rows. All functions work inside the caller's transaction."""

import json
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import asdict, replace
from typing import Any

from daemon.clutches.eggs import EggState, Reason, Stated
from daemon.rounds.values import Clock, EggsDone, EggsSeen, Entry, Finding, Lid, Medium, Where
from daemon.storage.text import storable

_LONGEST = 2_000
_FLAGS = ("wiped", "looked_at_eggs", "all_well", "through_lid", "trained_handler")
_COLUMNS = (
    "finding_id, round_id, clutch_id, at_ms, received_ms, late, clock, eggs, entry_id, box, who, device, seq, made_ms,"
    " medium, lid, wiped, water_ml, water_where, looked_at_eggs, treated, remark, skipped, all_well, through_lid,"
    " trained_handler, corrects"
)
_READ = f"SELECT {_COLUMNS} FROM box_finding"  # noqa: S608 - a constant
_INSERT = """INSERT INTO box_finding (entry_id, round_id, box, clutch_id, who, device, seq, made_ms, at_ms, received_ms,
    late, clock, medium, lid, wiped, water_ml, water_where, looked_at_eggs, eggs, treated, remark, skipped, all_well,
    through_lid, trained_handler, corrects) VALUES (:entry_id, :round_id, :box, :clutch_id, :who, :device, :seq,
    :made_ms, :at_ms, :received_ms, :late, :clock, :medium, :lid, :wiped, :water_ml, :water_where, :looked_at_eggs,
    :eggs, :treated, :remark, :skipped, :all_well, :through_lid, :trained_handler, :corrects) RETURNING finding_id"""
_MOST_BACK = 5
"""Rounds that are looked back through for one in which something of a box still stands."""


def as_kept(entry: Entry) -> Entry:
    """Give an entry as it is stored, so that a repeat is equal to what is on record."""
    eggs = tuple(
        EggsSeen(
            replace(seen.stated, note=storable(seen.stated.note.strip(), _LONGEST)),
            seen.which if isinstance(seen.which, int) else tuple(storable(each.strip(), 100) for each in seen.which),
        )
        for seen in entry.eggs
    )
    water_ml = None if entry.water_ml is None else float(entry.water_ml)
    return replace(
        entry,
        eggs=eggs,
        water_ml=water_ml,
        who=_trimmed(entry.who),
        device=_trimmed(entry.device),
        treated=_trimmed(entry.treated),
        remark=_trimmed(entry.remark),
        skipped=_trimmed(entry.skipped),
    )


def _trimmed(text: str) -> str:
    # One letter more than is ever allowed: what is too long is refused later, and not cut here.
    return storable(text.strip(), _LONGEST + 1)


def append(conn: sqlite3.Connection, found: Finding) -> Finding:
    """Store an entry, and give it with its number. Its id must not be on record yet."""
    entry = found.entry
    row: dict[str, Any] = {
        **{name: value for name, value in asdict(entry).items() if name != "eggs"},
        **{name: int(getattr(entry, name)) for name in _FLAGS},
        "round_id": found.round_number,
        "clutch_id": found.clutch_id,
        "at_ms": found.at_ms,
        "received_ms": found.received_ms,
        "late": int(found.late),
        "clock": found.clock,
        "eggs": json.dumps([_eggs_row(each) for each in found.eggs], ensure_ascii=False),
    }
    (number,) = conn.execute(_INSERT, row).fetchone()
    return replace(found, number=int(number))


def with_entry_id(conn: sqlite3.Connection, entry_id: str) -> Finding | None:
    """Give the entry with this id; None where there is none."""
    row = conn.execute(f"{_READ} WHERE entry_id = ?", (entry_id,)).fetchone()
    return None if row is None else _finding(row)


def is_corrected(conn: sqlite3.Connection, entry_id: str) -> bool:
    """Tell whether an entry on record corrects this one, also where that one came first."""
    return conn.execute("SELECT 1 FROM box_finding WHERE corrects = ?", (entry_id,)).fetchone() is not None


def of_round(conn: sqlite3.Connection, round_number: int) -> dict[str, list[Finding]]:
    """Give the entries of a round by box."""
    found: dict[str, list[Finding]] = {}
    for row in conn.execute(f"{_READ} WHERE round_id = ? ORDER BY finding_id", (round_number,)):
        each = _finding(row)
        found.setdefault(each.entry.box, []).append(each)
    return found


def newest(conn: sqlite3.Connection, round_numbers: Collection[int]) -> int:
    """Give the number of the newest entry of these rounds; 0 where there is none."""
    sql = "SELECT coalesce(max(finding_id), 0) FROM box_finding WHERE round_id = ?"
    return max((int(conn.execute(sql, (each,)).fetchone()[0]) for each in round_numbers), default=0)


def of_clutch(conn: sqlite3.Connection, clutch_id: int, incubator: str, from_ms: int, until_ms: int) -> list[Finding]:
    """Give the entries about a clutch in the rounds of an incubator that touch a span."""
    sql = (
        f"{_READ} WHERE clutch_id = ? AND round_id IN (SELECT round_id FROM round WHERE incubator = ?"  # noqa: S608
        " AND started_ms <= ? AND (ended_ms IS NULL OR ended_ms >= ?)) ORDER BY finding_id"
    )
    return [_finding(row) for row in conn.execute(sql, (clutch_id, incubator, until_ms, from_ms))]


def of_box(conn: sqlite3.Connection, round_number: int, box: str) -> list[Finding]:
    """Give the entries of a round for one box."""
    sql = f"{_READ} WHERE round_id = ? AND box = ? ORDER BY finding_id"
    return [_finding(row) for row in conn.execute(sql, (round_number, box))]


def earlier_rounds(conn: sqlite3.Connection, box: str, clutch_id: int | None, before_ms: int) -> list[int]:
    """Give the last rounds in which somebody looked into a box while this clutch lay there, the newest first."""
    sql = (
        "SELECT round_id FROM box_finding WHERE box = ? AND clutch_id IS ? AND skipped = '' AND at_ms <= ?"
        " GROUP BY round_id ORDER BY max(at_ms) DESC LIMIT ?"
    )
    return [int(number) for (number,) in conn.execute(sql, (box, clutch_id, before_ms, _MOST_BACK))]


def rounds_about(conn: sqlite3.Connection, clutch_id: int) -> Iterator[tuple[int, int | None]]:
    """Give each round in which something was entered of a clutch, the newest first: its number, and when it was ended.

    One by one, by an index, so that whoever needs the newest alone pays for no other.
    """
    # Joined, the whole list would be made and sorted first.
    sql = (
        "SELECT round_id, (SELECT ended_ms FROM round WHERE round.round_id = box_finding.round_id) FROM box_finding"
        " WHERE clutch_id = ? GROUP BY round_id ORDER BY round_id DESC"
    )
    yield from conn.execute(sql, (clutch_id,))


def about_clutch(conn: sqlite3.Connection, round_number: int, clutch_id: int) -> list[Finding]:
    """Give the entries of a round about one clutch."""
    sql = f"{_READ} WHERE clutch_id = ? AND round_id = ? ORDER BY finding_id"
    return [_finding(row) for row in conn.execute(sql, (clutch_id, round_number))]


def _eggs_row(done: EggsDone) -> Mapping[str, object]:
    said = done.seen.stated
    return {
        "state": said.state,
        "reason": said.reason,
        "note": said.note,
        "which": done.seen.which if isinstance(done.seen.which, int) else list(done.seen.which),
        "names": list(done.names),
        "events": list(done.events),
        "refused": done.refused,
    }


def _eggs(text: str) -> Iterable[EggsDone]:
    for row in json.loads(text):
        said = Stated(EggState(row["state"]), None if row["reason"] is None else Reason(row["reason"]), row["note"])
        which = row["which"] if isinstance(row["which"], int) else tuple(row["which"])
        yield EggsDone(EggsSeen(said, which), tuple(row["names"]), tuple(row["events"]), row["refused"])


def _finding(row: tuple[Any, ...]) -> Finding:
    number, round_number, clutch_id, at_ms, received_ms, late, clock, eggs, *sent = row
    done = tuple(_eggs(eggs))
    return Finding(
        number=number,
        round_number=round_number,
        entry=_entry(sent, tuple(each.seen for each in done)),
        clutch_id=clutch_id,
        at_ms=at_ms,
        received_ms=received_ms,
        late=bool(late),
        clock=Clock(clock),
        eggs=done,
    )


def _entry(sent: list[Any], eggs: tuple[EggsSeen, ...]) -> Entry:
    entry_id, box, who, device, seq, made_ms, medium, lid, wiped, water_ml, where, looked, *rest = sent
    treated, remark, skipped, all_well, through_lid, trained_handler, corrects = rest
    return Entry(
        entry_id=entry_id,
        box=box,
        who=who,
        device=device,
        seq=seq,
        made_ms=made_ms,
        medium=None if medium is None else Medium(medium),
        lid=None if lid is None else Lid(lid),
        wiped=bool(wiped),
        water_ml=water_ml,
        water_where=None if where is None else Where(where),
        looked_at_eggs=bool(looked),
        eggs=eggs,
        treated=treated,
        remark=remark,
        skipped=skipped,
        all_well=bool(all_well),
        through_lid=bool(through_lid),
        trained_handler=bool(trained_handler),
        corrects=corrects,
    )
