"""Reads a season from register and journal, as a report with its files."""

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from config.errors import StatedError
from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from daemon.clutches import register
from daemon.clutches.boxes import is_box
from daemon.clutches.file import ClutchFile, read_file
from daemon.clutches.sheet_export import sheet
from daemon.clutches.values import Clutch
from daemon.heat_ledger import laying_of
from daemon.occupancy import stays
from daemon.report_bundle import Bundle, text_piece
from daemon.report_heat import HeatThen
from daemon.report_originals import Originals
from daemon.reports.foretold import hatched_of
from daemon.reports.names import PAGE, SUMS_TOLD, Stretch
from daemon.reports.page import html_of
from daemon.reports.season import SeasonFacts, season_report
from daemon.reports.season_figures import ClutchSeason, outcome_of
from daemon.review.telling import Telling
from daemon.storage.journal import Journal
from daemon.thermometers import AirChannels


@dataclass(frozen=True, slots=True)
class SeasonReader:
    """Reads for one site."""

    journal: Journal
    site: Site
    profiles: Mapping[str, SpeciesProfile]
    bridge_ms: int
    originals: Originals
    telling: Telling

    def bundle(self, season: Stretch, now_ms: int) -> Bundle:
        """Give the report of a season. Raises StatedError for one that lies ahead."""
        if season.from_ms >= now_ms:
            raise StatedError(f"{season.name} lies ahead", "give a year that has begun")
        with self.journal.read() as conn:
            air = AirChannels(self.site)
            air.load(conn)
            files = [
                file
                for one in register.clutches(conn, include_closed=True)
                if season.from_ms <= laying_of(one).middle_ms < season.until_ms
                and (file := read_file(conn, one.clutch_id)) is not None
            ]
            files.sort(key=lambda each: (laying_of(each.clutch).middle_ms, each.clutch.clutch_id))
            clutches = tuple(self._clutch(conn, each, air, now_ms) for each in files)
        told = ("clutches-and-eggs.csv: the register's own table of these clutches and their eggs", SUMS_TOLD)
        facts = SeasonFacts(self.site.name, self.site.time_zone, now_ms, season, clutches)
        report = season_report(replace(facts, files=told), self.telling)
        charts = (text_piece(f"charts/{each.name}", each.svg) for each in report.pictures())
        table = text_piece("clutches-and-eggs.csv", sheet(files, self.originals.zone, with_eggs=True))
        return Bundle(f"season-{season.name}", (text_piece(PAGE, html_of(report)), *charts, table))

    def years(self) -> list[str]:
        """Give the years in which a clutch on record was laid, the newest first."""
        with self.journal.read() as conn:
            known = register.clutches(conn, include_closed=True)
        moments = (laying_of(one).middle_ms / 1000 for one in known)
        years = {datetime.fromtimestamp(each, UTC).astimezone(self.telling.zone).year for each in moments}
        return [str(year) for year in sorted(years, reverse=True)]

    def _clutch(self, conn: sqlite3.Connection, file: ClutchFile, air: AirChannels, now_ms: int) -> ClutchSeason:
        clutch, profile = file.clutch, self.profiles.get(file.clutch.species_id)
        until_ms = now_ms if clutch.closed_at_ms is None else clutch.closed_at_ms
        hatched = hatched_of(file.events)
        found = None
        if hatched.first_ms is not None and hatched.first_ms > clutch.set_up_ms:
            found = HeatThen(conn, self.site, self.profiles, air, self.bridge_ms, clutch).heat(hatched.first_ms)
        return ClutchSeason(
            clutch_id=clutch.clutch_id,
            label=clutch.label,
            species_id=clutch.species_id,
            species=profile.common_name if profile else clutch.species_id,
            place=self._longest_in(clutch, until_ms),
            laid_ms=round(laying_of(clutch).middle_ms),
            until_ms=until_ms,
            outcome=outcome_of(file.eggs),
            first_ms=hatched.first_ms,
            last_ms=hatched.last_ms,
            heat_ch=None if found is None else (found.low_ch, found.best_ch, found.high_ch),
        )

    def _longest_in(self, clutch: Clutch, until_ms: int) -> str:
        """The shelf, or the incubator, where it lay longest; of two as long the first."""
        places, lengths = Places(self.site), dict[str, int]()
        for stay, end_ms in stays(clutch):
            place = stay.place.rpartition("/")[0] if is_box(stay.place) else stay.place
            lengths[place] = lengths.get(place, 0) + max(min(end_ms, until_ms) - stay.from_ms, 0)
        longest = max(lengths, key=lambda each: lengths[each])
        return places.name(longest) if places.exists(longest) else longest
