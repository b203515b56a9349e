"""What the list and the page of clutches tell besides the climate: how the eggs are, and when they are seen next."""

import sqlite3
from collections.abc import Collection, Iterable, Sequence

from config.site import Site
from daemon.clutch_record_values import EggsAndCheck
from daemon.clutches.egg_records import egg_counts
from daemon.clutches.register import Clutch
from daemon.round_sooner import SoonerChecks
from daemon.rounds_now import due_by


class ClutchChecks:
    """Of one site. Safe to use from any thread."""

    def __init__(self, site: Site, sooner: SoonerChecks) -> None:
        self._site = site
        self._sooner = sooner

    def read(
        self, conn: sqlite3.Connection, lying: Sequence[Clutch], now_ms: int, of: Collection[int] | None = None
    ) -> dict[int, EggsAndCheck]:
        """Give both for the clutches `of` these numbers, else for every one on record; `lying` are the open ones.

        Each clutch has a day of its own: a round in which nobody looked at it leaves it due, and what was found in it
        may ask for somebody sooner.
        """
        asked = [each for each in lying if of is None or each.clutch_id in of]
        due_ms = due_by(conn, self._site, asked, now_ms).clutches_ms
        sooner = self._sooner.read(conn, lying, due_ms, now_ms)
        return {
            number: EggsAndCheck(eggs, sooner[number].at_ms, sooner[number].why)
            if number in sooner
            else EggsAndCheck(eggs, due_ms.get(number))
            for number, eggs in egg_counts(conn, of).items()
        }

    def one(self, conn: sqlite3.Connection, clutch: Clutch, known: Iterable[Clutch], now_ms: int) -> EggsAndCheck:
        """Give both for one of the clutches on record."""
        lying = [each for each in known if each.closed_at_ms is None]
        return self.read(conn, lying, now_ms, [clutch.clutch_id]).get(clutch.clutch_id, EggsAndCheck())
