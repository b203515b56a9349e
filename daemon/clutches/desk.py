"""The register as commands and pages use it: one transaction for each step, and a refusal in the words of the site.

Every method that changes something gives what was done, or a `Refusal` with nothing changed; all raise JournalError
where the journal cannot be used. A moment that is left out is the present one. Times are UTC ms.
"""

import sqlite3
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from config.places import Places
from config.plain import nearest
from config.site import Site
from config.species import SpeciesProfile
from daemon.clutches import closing, corrections, egg_changes, register, remarks
from daemon.clutches.closing import Closing
from daemon.clutches.egg_changes import EggsSaid
from daemon.clutches.egg_records import egg_counts
from daemon.clutches.egg_rules import egg_called, stated_as
from daemon.clutches.eggs import Egg, EggCounts, EggEvent
from daemon.clutches.errors import Refusal, RegisterError
from daemon.clutches.file import ClutchFile, read_file
from daemon.clutches.measures import NewMeasure
from daemon.clutches.placements import Placement
from daemon.clutches.rows import last_change_of, refuse_changed, with_label, withdrawn
from daemon.clutches.values import Clutch, NewClutch
from daemon.storage.journal import Journal

__all__ = ["Refusal", "RegisterDesk"]

T = TypeVar("T")


class RegisterDesk:
    """Reads and changes the register. Safe to use from any thread."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        now_ms: Callable[[], int],
        seen: tuple[int, int] | None = None,
    ) -> None:
        self._journal = journal
        self._site = site
        self._places = Places(site)
        self._zone = ZoneInfo(site.time_zone)
        self._profiles = profiles
        self._now_ms = now_ms
        self._seen = seen

    def last_change(self, clutch_id: int) -> int:
        """Give the number of the last change of a clutch, for `unchanged_since`; 0 where there is none."""
        with self._journal.read() as conn:
            return last_change_of(conn, clutch_id)

    def unchanged_since(self, clutch_id: int, change: int) -> "RegisterDesk":
        """Give a desk that refuses everything (field `seen`) once this clutch has changed after that change."""
        return RegisterDesk(self._journal, self._site, self._profiles, self._now_ms, (clutch_id, change))

    def withdrawn(self) -> list[Clutch]:
        """Give the clutches that were entered by mistake, in the order they were entered."""
        with self._journal.read() as conn:
            return withdrawn(conn)

    def all(self, include_closed: bool = False) -> list[tuple[Clutch, EggCounts]]:
        """Give the clutches in the order they were entered, each with what its eggs are."""
        with self._journal.read() as conn:
            found = register.clutches(conn, include_closed)
            counts = egg_counts(conn, [each.clutch_id for each in found])
            return [(each, counts[each.clutch_id]) for each in found]

    def file(self, clutch_id: int) -> ClutchFile | None:
        """Give all that is on record of a clutch; None where there is none."""
        with self._journal.read() as conn:
            return read_file(conn, clutch_id)

    def find(self, label: str, include_closed: bool = False) -> Clutch | Refusal:
        """Give the open clutch with a label; if asked for and there is none, the newest closed or withdrawn one."""
        with self._journal.read() as conn:
            same = with_label(conn, label)
            if include_closed and same and not any(each.is_open for each in same):
                return same[-1]
            return self._answered(lambda: register.open_clutch(conn, label))

    def add(self, new: NewClutch, who: str) -> int | Refusal:
        """Enter a clutch; gives its number."""

        def work(conn: sqlite3.Connection, now_ms: int) -> int:
            self._require_place(new.place)
            self._require_species(new.species_id)
            return register.add_clutch(conn, new, who, now_ms)

        return self._write(work)

    def move(self, clutch_id: int, place: str, who: str, why: str = "", at_ms: int | None = None) -> int | Refusal:
        """Put a clutch somewhere else; gives since when."""

        def work(conn: sqlite3.Connection, now_ms: int) -> int:
            self._require_place(place)
            from_ms = now_ms if at_ms is None else at_ms
            register.move_clutch(conn, clutch_id, place, from_ms, who, why, now_ms)
            return from_ms

        return self._write(work)

    def swap(
        self, one_id: int, other_id: int, who: str, why: str = "", at_ms: int | None = None
    ) -> tuple[Placement, Placement] | Refusal:
        """Let two clutches change places; gives where each lies then."""
        return self._write(
            lambda conn, now_ms: corrections.swap_clutches(
                conn, one_id, other_id, now_ms if at_ms is None else at_ms, who, why, now_ms
            )
        )

    def close(self, clutch_id: int, how: Closing, who: str) -> EggCounts | Refusal:
        """End a clutch; gives what became of its eggs."""
        return self._write(lambda conn, now_ms: closing.close(conn, clutch_id, how, who, now_ms))

    def reopen(self, clutch_id: int, who: str, why: str) -> Clutch | Refusal:
        """Take back a closing or a withdrawal; gives the clutch as it is then."""
        return self._write(lambda conn, now_ms: corrections.reopen_clutch(conn, clutch_id, who, why, now_ms))

    def withdraw(self, clutch_id: int, who: str, why: str = "was entered by mistake") -> Clutch | Refusal:
        """Say that a clutch was entered by mistake; gives it as it was."""
        return self._write(lambda conn, now_ms: corrections.withdraw_clutch(conn, clutch_id, who, why, now_ms))

    def edit(
        self, clutch_id: int, changes: Mapping[str, Any], who: str, why: str = ""
    ) -> dict[str, tuple[Any, Any]] | Refusal:
        """Correct fields; gives the old and the new value of each that changed."""

        def work(conn: sqlite3.Connection, now_ms: int) -> dict[str, tuple[Any, Any]]:
            if "species_id" in changes:
                self._require_species(changes["species_id"])
            return corrections.edit_clutch(conn, clutch_id, changes, who, why, now_ms)

        return self._write(work)

    def say_of_eggs(
        self,
        clutch_id: int,
        state: str,
        which: Sequence[str] | int,
        who: str,
        note: str = "",
        at_ms: int | None = None,
    ) -> EggsSaid | Refusal:
        """Say what eggs are: `state` as in `removed:mould`, `which` their marks or numbers, or how many they are."""

        def work(conn: sqlite3.Connection, now_ms: int) -> EggsSaid:
            stated = stated_as(state, note)
            moment_ms = now_ms if at_ms is None else at_ms
            return egg_changes.say_of_eggs(conn, clutch_id, stated, which, moment_ms, who, now_ms)

        return self._write(work)

    def withdraw_event(self, clutch_id: int, number: int, who: str, why: str = "") -> EggEvent | Refusal:
        """Take back what was said of an egg; gives that."""
        return self._write(lambda conn, now_ms: egg_changes.withdraw_event(conn, clutch_id, number, who, why, now_ms))

    def say_which(self, clutch_id: int, number: int, egg: str, who: str) -> EggsSaid | Refusal:
        """Say that an event was about another egg."""
        return self._write(lambda conn, now_ms: egg_changes.say_which(conn, clutch_id, number, egg, who, now_ms))

    def mark(self, clutch_id: int, marks: Mapping[str, str], who: str, at_ms: int | None = None) -> list[Egg] | Refusal:
        """Say what stands on shells, by number or former mark; gives the eggs as they were before."""

        def work(conn: sqlite3.Connection, now_ms: int) -> list[Egg]:
            moment_ms = now_ms if at_ms is None else at_ms
            return egg_changes.mark_eggs(conn, clutch_id, marks, moment_ms, who, now_ms)

        return self._write(work)

    def measure(self, clutch_id: int, new: NewMeasure, who: str, egg: str = "") -> int | Refusal:
        """Write down a size, of the egg with this mark or number where one is named; gives its number."""

        def work(conn: sqlite3.Connection, now_ms: int) -> int:
            return remarks.add_measure(conn, clutch_id, _of_egg(conn, clutch_id, new, egg), who, now_ms)

        return self._write(work)

    def withdraw_measure(self, clutch_id: int, number: int, who: str, why: str = "") -> Refusal | None:
        """Take a size back."""
        return self._write(lambda conn, now_ms: remarks.withdraw_measure(conn, clutch_id, number, who, why, now_ms))

    def note(
        self, clutch_id: int, text: str, who: str, at_ms: int | None = None, corrects: int | None = None
    ) -> int | Refusal:
        """Write a note, or correct one; gives its number."""
        return self._write(
            lambda conn, now_ms: remarks.add_note(
                conn, clutch_id, now_ms if at_ms is None else at_ms, text, who, now_ms, corrects
            )
        )

    def _write(self, work: Callable[[sqlite3.Connection, int], T]) -> T | Refusal:
        def checked(conn: sqlite3.Connection) -> T:
            if self._seen is not None:
                refuse_changed(conn, *self._seen)
            return work(conn, self._now_ms())

        return self._answered(lambda: self._journal.write(checked))

    def _answered(self, ask: Callable[[], T]) -> T | Refusal:
        try:
            return ask()
        except RegisterError as error:
            told = error.told_in(self._zone)
            return Refusal(told.reason, told.hint, told.field)

    def _require_place(self, place: str) -> None:
        _require("place", place, self._places.all, "in site.toml")

    def _require_species(self, species: str) -> None:
        _require("species", species, self._profiles, "among the profiles")


def _require(what: str, word: str, known: Collection[str], where: str) -> None:
    if word not in known:
        raise RegisterError(f"there is no {what} {word!r} {where}", nearest(word, known), what)


def _of_egg(conn: sqlite3.Connection, clutch_id: int, new: NewMeasure, name: str) -> NewMeasure:
    if not name:
        return new
    found = read_file(conn, clutch_id)
    if found is None:
        return new
    egg = egg_called(found.clutch.label, found.eggs, name)
    return NewMeasure(new.at_ms, new.mass_g, new.length_mm, 1, egg.number, new.note)
