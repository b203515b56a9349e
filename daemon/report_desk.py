"""Reports as commands and pages ask for them: the record of a clutch, a month, a season, each as files to write."""

from collections.abc import Callable, Mapping
from zoneinfo import ZoneInfo

from config.site import Site
from config.species import SpeciesProfile
from daemon.clutch_record import ClutchRecords
from daemon.report_bundle import Bundle
from daemon.report_clutch import ClutchReader
from daemon.report_month import MonthReader
from daemon.report_originals import Advance, Originals, nothing
from daemon.report_season import SeasonReader
from daemon.reports.names import month_of, months_between, season_of
from daemon.review.telling import Telling
from daemon.review_desk import ReviewDesk
from daemon.storage import samples
from daemon.storage.journal import Journal


class ReportDesk:
    """Makes reports of one site. Safe to use from any thread. Every method raises JournalError.

    What is given has read everything but the readings themselves; those are read while it is written.
    """

    def __init__(
        self,
        journal: Journal,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        longest_bridge_s: float,
        now_ms: Callable[[], int],
    ) -> None:
        bridge_ms = int(longest_bridge_s * 1000)
        self._journal, self._now_ms = journal, now_ms
        self.zone = ZoneInfo(site.time_zone)
        telling = Telling(self.zone, site.temperature_unit == "F")
        originals = Originals(journal, site)
        review = ReviewDesk(journal, site, profiles, longest_bridge_s, now_ms)
        records = ClutchRecords(journal, site, profiles, longest_bridge_s)
        self._clutches = ClutchReader(journal, site, profiles, bridge_ms, records, originals, telling, review.review_of)
        self._months = MonthReader(journal, site, profiles, bridge_ms, originals, telling)
        self._seasons = SeasonReader(journal, site, profiles, bridge_ms, originals, telling)

    def now_ms(self) -> int:
        """Give the present moment, UTC ms."""
        return self._now_ms()

    def clutch(self, number: int, advance: Advance = nothing) -> Bundle | None:
        """Give the record of a clutch, open or closed; None where there is none of this number."""
        return self._clutches.bundle(number, self._now_ms(), advance)

    def month(self, text: str, advance: Advance = nothing) -> Bundle:
        """Give the report of a month, `2026-05`. Raises StatedError."""
        return self._months.bundle(month_of(text, self.zone), self._now_ms(), advance)

    def season(self, text: str) -> Bundle:
        """Give the report of a season, `2026`. Raises StatedError."""
        return self._seasons.bundle(season_of(text, self.zone), self._now_ms())

    def months(self) -> list[str]:
        """Give the months of which there are readings, the newest first."""
        with self._journal.read() as conn:
            first_ms = samples.first_ms(conn)
        now_ms = self._now_ms()
        return [] if first_ms is None or first_ms > now_ms else months_between(first_ms, now_ms, self.zone)

    def seasons(self) -> list[str]:
        """Give the years in which a clutch on record was laid, the newest first."""
        return self._seasons.years()
