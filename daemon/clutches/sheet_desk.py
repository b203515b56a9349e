"""A CSV table of the register as commands and pages take it in and give it out: all of it, or nothing."""

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from daemon.clutches import register
from daemon.clutches.desk import Refusal
from daemon.clutches.errors import RegisterError
from daemon.clutches.file import read_file
from daemon.clutches.rows import last_change
from daemon.clutches.sheet_cells import Row, rows_of
from daemon.clutches.sheet_export import sheet
from daemon.clutches.sheet_import import REFUSED, Known, RowSaid, SheetImport
from daemon.storage.journal import Journal
from daemon.storage.register_copy import register_copy

_TRIES = 2
"""Where the register changed while a table was kept, it is tried once more, to say what it would do now."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What a table does, or would do: row by row; closed clutches with eggs of which nobody said what became.

    `kept`: all of it is on record now; else nothing is. `mark`: the last change of the register that it was tried on.
    """

    said: tuple[RowSaid, ...]
    left_open: tuple[tuple[str, int], ...]
    kept: bool
    mark: int

    @property
    def refused(self) -> bool:
        """True where a row is refused, so that nothing of the table can be kept."""
        return any(each.what == REFUSED for each in self.said)


def try_sheet(
    journal: Journal,
    site: Known,
    rows: Sequence[Row],
    who: str,
    now_ms: int,
    keep: Callable[[int], bool],
    tick: Callable[[int], None] = lambda _: None,
) -> Tried:
    """Say what a table does, and keep it where no row is refused and `keep` says so of the mark that it was tried on.

    It is tried on a copy, however long that takes: readings are stored meanwhile. To keep it is one short transaction,
    which is given up where the register has changed since. Raises JournalError.
    """
    with ExitStack() as still_open:
        with journal.read() as conn:
            copy = still_open.enter_context(register_copy(conn))
        mark = last_change(copy.conn)
        copy.conn.execute("BEGIN")
        at_work = SheetImport(copy.conn, site, who, now_ms)
        said = tuple(at_work.run(rows, tick))
        tried = Tried(said, tuple(at_work.left_open()), kept=False, mark=mark)
        if tried.refused or not keep(mark):
            return tried

        def bring_back(conn: sqlite3.Connection) -> bool:
            if last_change(conn) != mark:
                return False
            copy.bring_back(conn)
            return True

        return replace(tried, kept=journal.write(bring_back))


class SheetDesk:
    """Tables in and out for pages. Safe to use from any thread; raises JournalError."""

    def __init__(
        self, journal: Journal, site: Site, profiles: Mapping[str, SpeciesProfile], now_ms: Callable[[], int]
    ) -> None:
        self._journal = journal
        self._zone = ZoneInfo(site.time_zone)
        self._known = Known(Places(site).all, profiles, self._zone)
        self._now_ms = now_ms

    def text(self, with_eggs: bool) -> str:
        """Give all clutches, closed ones too, as a table."""
        with self._journal.read() as conn:
            numbers = [each.clutch_id for each in register.clutches(conn, include_closed=True)]
            files = [read_file(conn, number) for number in numbers]
        return sheet((each for each in files if each is not None), self._zone, with_eggs)

    def take(self, text: str, who: str, seen: int | None = None) -> Tried | Refusal:
        """Keep a table that was tried when the register stood at `seen`; without it say what the table would do.

        Where the register has changed meanwhile nothing is kept, and what the table would do now is said.
        """
        try:
            rows = rows_of(text)
        except RegisterError as error:
            told = error.told_in(self._zone)
            return Refusal(told.reason, told.hint, "file")
        for _ in range(_TRIES):
            tried = try_sheet(self._journal, self._known, rows, who, self._now_ms(), lambda mark: mark == seen)
            if tried.kept or tried.refused or tried.mark != seen:
                break
        return tried
