"""The register in the journal: clutches, where they lay, and who changed what, when and why.

All functions work inside the caller's transaction. Nothing is ever removed; a correction is one more statement.
Whether a place and a species exist is the site's knowledge: see `daemon/clutches/check.py`.
"""

import json
import sqlite3
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace

from config.plain import nearest
from daemon.clock import as_datetime
from daemon.clutches.placements import FOR_EVER_MS, Placement, in_force, next_start_ms, placements_from
from daemon.storage.text import storable

__all__ = ["Clutch", "NewClutch", "Placement", "RegisterError"]

_LONGEST_LABEL = 60
_LONGEST_TEXT = 2000
_PARTS_OF_A_BOX = 3
_COLDEST_C, _WARMEST_C, _LARGEST_U_K = 0.0, 45.0, 10.0


class RegisterError(Exception):
    """The register refuses a change: the reason, and what to do instead."""

    def __init__(self, reason: str, hint: str) -> None:
        super().__init__(reason, hint)
        self.reason = reason
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.reason}. {self.hint}"


@dataclass(frozen=True, slots=True)
class NewClutch:
    """A clutch to be entered: laid between two moments, set up in `place` at `from_ms`. Times are UTC ms.

    `before_c`: how warm the eggs lay until they were set up, degree Celsius, with its standard uncertainty in K; None
    where nobody stated it.
    """

    label: str
    species_id: str
    population: str | None
    laid_from_ms: int
    laid_to_ms: int
    egg_count: int
    note: str
    place: str
    from_ms: int
    before_c: float | None = None
    before_u_k: float | None = None


@dataclass(frozen=True, slots=True)
class Clutch:
    """A clutch on record. `placements` are in order of time; the first is its setting up."""

    clutch_id: int
    label: str
    species_id: str
    population: str | None
    laid_from_ms: int
    laid_to_ms: int
    egg_count: int
    note: str
    closed_at_ms: int | None
    placements: tuple[Placement, ...]
    before_c: float | None = None
    before_u_k: float | None = None


def version(conn: sqlite3.Connection) -> int:
    """Give a number that every change of the register raises, also one made by another process."""
    (number,) = conn.execute("SELECT version FROM register_version").fetchone()
    return int(number)


def clutches(conn: sqlite3.Connection, include_closed: bool = False) -> list[Clutch]:
    """Give the clutches in the order they were entered; without the closed ones unless asked for."""
    said: defaultdict[int, list[Placement]] = defaultdict(list)
    for clutch_id, place, from_ms in conn.execute(
        "SELECT clutch_id, place, from_ms FROM placement ORDER BY placement_id"
    ):
        said[clutch_id].append(Placement(place, from_ms))
    rows = conn.execute("SELECT * FROM clutch WHERE closed_at_ms IS NULL OR ? ORDER BY clutch_id", (include_closed,))
    names = [column[0] for column in rows.description]
    return [Clutch(**dict(zip(names, row, strict=True)), placements=placements_from(said[row[0]])) for row in rows]


def open_clutch(conn: sqlite3.Connection, label: str) -> Clutch:
    """Give the open clutch with this label; capitals do not matter. Raises RegisterError naming the nearest label."""
    open_ones = clutches(conn)
    wanted = label.strip().lower()
    for clutch in open_ones:
        if clutch.label.lower() == wanted:
            return clutch
    hint = nearest(wanted, [clutch.label for clutch in open_ones]) if open_ones else "No clutch is open at present."
    raise RegisterError(f"there is no open clutch {label.strip()!r}", hint)


def add_clutch(conn: sqlite3.Connection, new: NewClutch, who: str, now_ms: int) -> int:
    """Enter a clutch and give its number. Raises RegisterError with nothing changed."""
    new = replace(new, label=new.label.strip(), note=storable(new.note.strip(), _LONGEST_TEXT))
    _refuse_nobody(who)
    _refuse_unlikely(new, now_ms)
    _refuse_unlikely_warmth(new)
    taken = [clutch for clutch in clutches(conn) if clutch.label.lower() == new.label.lower()]
    if taken:
        raise RegisterError(
            f"the label {new.label!r} is taken by the clutch in {taken[0].placements[-1].place}",
            "Choose another label, or close that clutch first.",
        )
    _refuse_occupied(conn, None, new.place, new.from_ms, FOR_EVER_MS)
    (clutch_id,) = conn.execute(
        "INSERT INTO clutch (label, species_id, population, laid_from_ms, laid_to_ms, egg_count, note, before_c,"
        " before_u_k) VALUES (:label, :species_id, :population, :laid_from_ms, :laid_to_ms, :egg_count, :note,"
        " :before_c, :before_u_k) RETURNING clutch_id",
        asdict(new),
    ).fetchone()
    _place(conn, clutch_id, new.place, new.from_ms, now_ms)
    _audit(conn, clutch_id, "add", who=who, why="", now_ms=now_ms, old={}, new=asdict(new))
    return int(clutch_id)


def move_clutch(
    conn: sqlite3.Connection, clutch_id: int, place: str, from_ms: int, who: str, why: str, now_ms: int
) -> None:
    """Say that a clutch lay in a place from a moment on, until its next known move. The moment may be in the past.

    Said of the moment of an earlier move, it corrects that move. Raises RegisterError with nothing changed.
    """
    clutch = _open_by_number(conn, clutch_id)
    _refuse_nobody(who)
    _refuse_future("move", from_ms, now_ms)
    before = in_force(clutch.placements, from_ms)
    if before is None:
        raise RegisterError(
            f"{clutch.label} cannot move at {_when(from_ms)}: it was set up at {_when(clutch.placements[0].from_ms)}",
            "Give a time after it was set up.",
        )
    if before.place == place:
        raise RegisterError(
            f"{clutch.label} lies in {place} already, since {_when(before.from_ms)}",
            "Nothing to do. Where it came there later than that, first put it back to where it was at that time.",
        )
    _refuse_occupied(conn, clutch_id, place, from_ms, next_start_ms(clutch.placements, from_ms))
    _place(conn, clutch_id, place, from_ms, now_ms)
    after = Placement(place, from_ms)
    _audit(conn, clutch_id, "move", who=who, why=why, now_ms=now_ms, old=before._asdict(), new=after._asdict())


def close_clutch(conn: sqlite3.Connection, clutch_id: int, at_ms: int, who: str, why: str, now_ms: int) -> None:
    """End a clutch: hatched, lost or given away. It stays on record. Raises RegisterError with nothing changed."""
    clutch = _open_by_number(conn, clutch_id)
    _refuse_nobody(who)
    _refuse_future("closing", at_ms, now_ms)
    first, last = clutch.placements[0], clutch.placements[-1]
    if at_ms < last.from_ms:
        event = "it was set up" if first == last else f"it was moved to {last.place}"
        raise RegisterError(
            f"{clutch.label} cannot be closed at {_when(at_ms)}: {event} at {_when(last.from_ms)}",
            "Give a later time, or correct the move first." if first != last else "Give a later time.",
        )
    conn.execute("UPDATE clutch SET closed_at_ms = ? WHERE clutch_id = ?", (at_ms, clutch_id))
    old, new = {"closed_at_ms": None}, {"closed_at_ms": at_ms}
    _audit(conn, clutch_id, "close", who=who, why=why, now_ms=now_ms, old=old, new=new)


def _open_by_number(conn: sqlite3.Connection, clutch_id: int) -> Clutch:
    known = {clutch.clutch_id: clutch for clutch in clutches(conn, include_closed=True)}
    clutch = known.get(clutch_id)
    if clutch is None:
        labels = ", ".join(one.label for one in known.values() if one.closed_at_ms is None)
        raise RegisterError(f"there is no clutch number {clutch_id}", f"Open clutches: {labels or 'none'}.")
    if clutch.closed_at_ms is not None:
        raise RegisterError(
            f"{clutch.label} is closed already, since {_when(clutch.closed_at_ms)}", "A closed clutch does not change."
        )
    return clutch


def _refuse_unlikely(new: NewClutch, now_ms: int) -> None:
    """Raise RegisterError for what cannot be true of a clutch, whatever else is on record."""
    if not new.label or len(new.label) > _LONGEST_LABEL or not new.label.isprintable():
        raise RegisterError(
            "the label is empty, too long or not printable",
            f"Give what stands on the box, up to {_LONGEST_LABEL} letters.",
        )
    if new.egg_count < 1:
        raise RegisterError(
            f"{new.label}: {new.egg_count} eggs are not a clutch", "Give the number of eggs, at least 1."
        )
    if max(new.laid_from_ms, new.laid_to_ms) > now_ms:
        raise RegisterError(
            f"{new.label}: laid at {_when(max(new.laid_from_ms, new.laid_to_ms))} is in the future",
            "Check the date, and the clock of this computer.",
        )
    if new.laid_from_ms > new.laid_to_ms:
        raise RegisterError(
            f"{new.label}: laid between {_when(new.laid_from_ms)} and {_when(new.laid_to_ms)} ends before it begins",
            "Give the earlier date first.",
        )
    _refuse_future("setting up", new.from_ms, now_ms)
    if new.from_ms < new.laid_from_ms:
        raise RegisterError(
            f"{new.label}: set up at {_when(new.from_ms)}, before it can have been laid ({_when(new.laid_from_ms)})",
            "Check both dates.",
        )


def _refuse_unlikely_warmth(new: NewClutch) -> None:
    if new.before_c is not None and not _COLDEST_C <= new.before_c <= _WARMEST_C:
        raise RegisterError(
            f"{new.label}: {new.before_c:.1f} °C before the set-up is not what eggs were kept at",
            f"Give {_COLDEST_C:g} to {_WARMEST_C:g} °C, in the unit of the site.",
        )
    if new.before_u_k is not None and (new.before_c is None or not 0 <= new.before_u_k <= _LARGEST_U_K):
        raise RegisterError(
            f"{new.label}: {new.before_u_k:g} K either way says nothing of how warm the eggs lay",
            f"Give 0 to {_LARGEST_U_K:g} K, together with the temperature.",
        )


def _refuse_nobody(who: str) -> None:
    if not who.strip():
        raise RegisterError("nobody is named for this change", "Say who makes it.")


def _refuse_future(what: str, moment_ms: int, now_ms: int) -> None:
    if moment_ms > now_ms:
        raise RegisterError(
            f"the {what} at {_when(moment_ms)} is in the future", "Enter it when it is done; check the clock as well."
        )


def _refuse_occupied(conn: sqlite3.Connection, mine: int | None, place: str, from_ms: int, until_ms: int) -> None:
    """Raise RegisterError where another clutch lay in this box at any time of the span. A shelf may hold several."""
    if place.count("/") + 1 != _PARTS_OF_A_BOX:
        return
    for other in clutches(conn, include_closed=True):
        end_ms = FOR_EVER_MS if other.closed_at_ms is None else other.closed_at_ms
        for stay in other.placements:
            left_ms = min(next_start_ms(other.placements, stay.from_ms), end_ms)
            lay_there = stay.place == place and stay.from_ms < left_ms
            if other.clutch_id != mine and lay_there and stay.from_ms < until_ms and from_ms < left_ms:
                since = f"since {_when(stay.from_ms)}" if left_ms == FOR_EVER_MS else f"until {_when(left_ms)}"
                raise RegisterError(
                    f"the box {place} holds {other.label} {since}",
                    f"A box holds one clutch. Move or close {other.label} first, or choose another box. To swap two, "
                    "put one of them on a shelf for the time between.",
                )


def _place(conn: sqlite3.Connection, clutch_id: int, place: str, from_ms: int, now_ms: int) -> None:
    conn.execute(
        "INSERT INTO placement (clutch_id, place, from_ms, recorded_at_ms) VALUES (?, ?, ?, ?)",
        (clutch_id, place, from_ms, now_ms),
    )


def _audit(
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
    texts = (storable(who.strip(), _LONGEST_TEXT), what, storable(why.strip(), _LONGEST_TEXT))
    conn.execute(
        "INSERT INTO register_change (clutch_id, at_ms, who, what, why, old, new) VALUES (?, ?, ?, ?, ?, ?, ?)",
        (clutch_id, now_ms, *texts, json.dumps(old), json.dumps(new)),
    )


def _when(moment_ms: int) -> str:
    return as_datetime(moment_ms).strftime("%Y-%m-%d %H:%M UTC")
