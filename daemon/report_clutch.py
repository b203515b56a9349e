"""Reads the record of a clutch from the journal, as a report with its files."""

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from config.words import Quantity
from daemon.calibration_text import standing_text
from daemon.clutch_climate import ClutchClimates
from daemon.clutch_record import ClutchRecords
from daemon.clutch_record_values import ClutchRecord
from daemon.clutches.file import ClutchFile, read_file
from daemon.clutches.sheet_export import sheet
from daemon.clutches.values import Clutch
from daemon.occupancy import stays
from daemon.report_bundle import Bundle, text_piece
from daemon.report_heat import HeatThen
from daemon.report_originals import Advance, Originals, Spans
from daemon.reports.clutch import ClutchFacts, InForce, Touched, clutch_report
from daemon.reports.foretold import hatched_of
from daemon.reports.names import PAGE, SUMS_TOLD, file_name
from daemon.reports.page import html_of
from daemon.review.account import Review
from daemon.review.account_summary import TITLES
from daemon.review.telling import Telling
from daemon.review.values import Incident
from daemon.storage import calibrations, incidents, originals
from daemon.storage.journal import Journal
from daemon.thermometers import AirChannels
from sensors.calibration import stated_of

MOST_ACCOUNTS = 12
"""Of so many incidents it is told what each did; each costs an account of its own. Project choice."""
_OF = (Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY)


@dataclass(frozen=True, slots=True)
class ClutchReader:
    """Reads for one site. `review_of` gives the account of an incident."""

    journal: Journal
    site: Site
    profiles: Mapping[str, SpeciesProfile]
    bridge_ms: int
    records: ClutchRecords
    originals: Originals
    telling: Telling
    review_of: Callable[[int], Review]

    def bundle(self, number: int, now_ms: int, advance: Advance) -> Bundle | None:
        """Give the record of a clutch with all of its files; None where there is none. Raises JournalError."""
        record = self.records.one(number, now_ms)
        if record is None:
            return None
        with self.journal.read() as conn:
            file = read_file(conn, number)
            if file is None:
                return None
            spans = self._spans(conn, file.clutch, record.shown_ms)
            facts = self._facts(conn, record, file, spans)
            near = self._incidents(conn, file.clutch, record.shown_ms)
        readings, count = self.originals.pieces(spans, advance)
        touched = tuple(self._touched(each, number, position) for position, each in enumerate(near))
        names = [each.name for each in readings]
        told = (*(f"{name}: readings as they were stored" for name in names), _EGGS, SUMS_TOLD)
        report = clutch_report(_with(facts, touched, told), self.telling)
        eggs = sheet([file], self.originals.zone, with_eggs=True)
        pieces = (
            text_piece(PAGE, html_of(report)),
            *(text_piece(f"charts/{each.name}", each.svg) for each in report.pictures()),
            text_piece("clutch-and-eggs.csv", eggs),
            *readings,
        )
        return Bundle(f"clutch-{number}-{file_name(record.clutch.label)}", pieces, count)

    def _facts(
        self, conn: sqlite3.Connection, record: ClutchRecord, file: ClutchFile, spans: dict[str, Spans]
    ) -> ClutchFacts:
        clutch, profile = file.clutch, self.profiles.get(file.clutch.species_id)
        air = AirChannels(self.site)
        air.load(conn)
        then = HeatThen(conn, self.site, self.profiles, air, self.bridge_ms, clutch)
        hatched_ms = hatched_of(file.events).first_ms
        until_ms = min(record.shown_ms, record.shown_ms if hatched_ms is None else max(hatched_ms, clutch.set_up_ms))
        return ClutchFacts(
            record=record,
            file=file,
            scientific_name=profile.scientific_name if profile else "",
            source=profile.temperature.low.source if profile else "",
            sex=then.past(record.shown_ms).sex,
            exposures=tuple(then.exposures(record.shown_ms)),
            foretold=tuple(then.foretold(until_ms)),
            incidents=(),
            calibrations=tuple(self._in_force(conn, spans)),
        )

    def _spans(self, conn: sqlite3.Connection, clutch: Clutch, shown_ms: int) -> dict[str, Spans]:
        """For each stay and quantity the best channel that was read then, which is the nearest one."""
        climates, found = ClutchClimates(self.site, self.bridge_ms), dict[str, list[tuple[int, int]]]()
        known = originals.known(conn)
        for stay, end_ms in stays(clutch):
            span = (stay.from_ms, min(end_ms, shown_ms))
            for quantity in _OF if span[0] < span[1] else ():
                for channel in climates.channels_for(stay.place, quantity):
                    if channel in known and originals.page(conn, known[channel][0], *span, 1):
                        found.setdefault(channel, []).append(span)
                        break
        return {channel: tuple(each) for channel, each in found.items()}

    def _in_force(self, conn: sqlite3.Connection, spans: Mapping[str, Spans]) -> Iterator[InForce]:
        stated = stated_of(self.site)
        known = calibrations.load(conn, self.site)
        for channel, stretches in spans.items():
            from_ms, until_ms = stretches[0][0], stretches[-1][1]
            at_ms: int | None = from_ms
            while at_ms is not None and at_ms < until_ms:
                following = known.next_from(channel, at_ms)
                end_ms = until_ms if following is None else min(following.valid_from_ms, until_ms)
                when = f"{self.telling.dated(at_ms)} to {self.telling.dated(end_ms)}"
                record = known.in_force(channel, at_ms)
                told = standing_text(record, stated[channel], self.originals.zone, fahrenheit=self.telling.fahrenheit)
                yield InForce(channel, when, told)
                at_ms = None if following is None else following.valid_from_ms

    def _incidents(self, conn: sqlite3.Connection, clutch: Clutch, shown_ms: int) -> list[Incident]:
        """Those with a moment in a stay of it that are about its place, or about the whole site."""
        places = Places(self.site)
        found: dict[int, Incident] = {}
        for stay, end_ms in stays(clutch):
            chain = set(places.chain(stay.place)) if places.exists(stay.place) else {stay.place}
            for each in incidents.between(conn, stay.from_ms, min(end_ms, shown_ms)):
                if not each.places or chain & set(each.places):
                    found[each.incident_id] = each
        return sorted(found.values(), key=lambda each: (each.span.from_ms, each.incident_id))

    def _touched(self, incident: Incident, number: int, position: int) -> Touched:
        when = self.telling.span(incident.span, dated=True)
        if position >= MOST_ACCOUNTS:
            did: Sequence[str] = (f"What it did: clutchwarden review --incident {incident.incident_id}",)
        else:
            accounts = self.review_of(incident.incident_id).clutches
            did = next((each.words for each in accounts if each.review.clutch_id == number), ())
        return Touched(incident.incident_id, when, TITLES[incident.cause], tuple(did))


_EGGS = "clutch-and-eggs.csv: the register's own table of this clutch and its eggs"


def _with(facts: ClutchFacts, touched: tuple[Touched, ...], told: tuple[str, ...]) -> ClutchFacts:
    return replace(facts, incidents=touched, files=told)
