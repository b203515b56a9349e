"""The account of a period or an incident, out of one moment of the journal: what commands and pages ask."""

import sqlite3
from collections.abc import Callable, Mapping
from zoneinfo import ZoneInfo

from config.errors import StatedError
from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from daemon.alarms.figures import duration_text
from daemon.review.account import MARGIN_MS, Review
from daemon.review.telling import Telling
from daemon.review.values import Incident, Span
from daemon.review_facts import FactReader
from daemon.review_incidents import UnknownIncidentError
from daemon.review_parts import Parts
from daemon.storage import incidents, runs, samples
from daemon.storage.incidents import Note
from daemon.storage.journal import Journal

LONGEST_MS = 35 * 86_400_000
"""So long a period of one's own may be: a month with some days around it. Project choice."""
NEAREST = 3
_LATELY = 20
"""What was found last may have happened before others, by readings that came late."""


class ReviewDesk:
    """Writes accounts for one site. Safe to use from any thread. Times are UTC ms."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        longest_bridge_s: float,
        now_ms: Callable[[], int],
    ) -> None:
        self._journal, self._site, self._profiles, self._now_ms = journal, site, profiles, now_ms
        self._bridge_ms = int(longest_bridge_s * 1000)
        self._facts = FactReader(site)
        self.telling = Telling(ZoneInfo(site.time_zone), site.temperature_unit == "F")

    def review(self, since_ms: int, until_ms: int) -> Review:
        """Give the account of a period of one's own; what lies after now is left out.

        Raises StatedError for a period that ends before it begins, is too long, lies ahead, or before all that the
        journal knows.
        """
        now_ms = self._now_ms()
        if until_ms <= since_ms:
            raise StatedError("the period ends before it begins", "give the earlier moment first")
        if since_ms >= now_ms:
            raise StatedError(
                f"the period lies ahead: it is {self.telling.dated(now_ms)} now", "give one that has begun"
            )
        until_ms = min(until_ms, now_ms)
        if until_ms - since_ms > LONGEST_MS:
            raise StatedError(
                f"the period is {duration_text(until_ms - since_ms)} long",
                f"give one of at most {duration_text(LONGEST_MS)}",
            )
        with self._journal.read() as conn:
            self._refuse_unknown(conn, until_ms)
            return self._parts(conn, Span(since_ms, until_ms), now_ms).review(None, 0, ())

    def review_of(self, number: int) -> Review:
        """Give the account of an incident, or of the one in which it ended, with a margin on both sides.

        Raises UnknownIncidentError.
        """
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            found = incidents.get(conn, number)
            if found is None:
                raise UnknownIncidentError(number)
            return self._of(conn, found, number, now_ms)

    def newest(self) -> Review | None:
        """Give the account of the incident that began last; None where none was found yet."""
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            found = max(incidents.newest(conn, _LATELY), key=lambda each: each.span.from_ms, default=None)
            return None if found is None else self._of(conn, found, found.incident_id, now_ms)

    def nearest(self, number: int) -> list[Incident]:
        """Give the incidents with the numbers nearest to one that there is not, the nearest first."""
        with self._journal.read() as conn:
            near = [*incidents.newest(conn, NEAREST, number), *incidents.above(conn, number, NEAREST)]
        return sorted(near, key=lambda each: abs(each.incident_id - number))[:NEAREST]

    def _of(self, conn: sqlite3.Connection, incident: Incident, number: int, now_ms: int) -> Review:
        # What lasts for months is looked at where it began, and says so by its period.
        end_ms = min(incident.span.until(now_ms) + MARGIN_MS, incident.span.from_ms + LONGEST_MS, now_ms)
        # A clock that is behind now must not make a period without length.
        period = Span(incident.span.from_ms - MARGIN_MS, max(end_ms, incident.span.from_ms - MARGIN_MS + 1))
        notes: tuple[Note, ...] = tuple(incidents.notes(conn, incident.incident_id))
        return self._parts(conn, period, max(now_ms, period.until(0))).review(incident, number, notes)

    def _parts(self, conn: sqlite3.Connection, period: Span, now_ms: int) -> Parts:
        return Parts(
            conn,
            self._site,
            self._profiles,
            self._bridge_ms,
            self._facts,
            self.telling,
            Places(self._site),
            period,
            now_ms,
        )

    def _refuse_unknown(self, conn: sqlite3.Connection, until_ms: int) -> None:
        firsts = [each for each in (runs.first_start_ms(conn), samples.first_ms(conn)) if each is not None]
        if not firsts:
            raise StatedError("the journal holds nothing yet", "let the service run first")
        if until_ms <= min(firsts):
            raise StatedError(
                f"the journal knows nothing of this time: it begins {self.telling.dated(min(firsts))}",
                "give a later period",
            )
