"""Reads a month of the whole site from the journal, as a report with its files."""

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from config.errors import StatedError
from config.model import ROOM
from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from config.words import Quantity
from daemon.clutches import register
from daemon.heat_now import kept_before
from daemon.occupancy import Occupancy, stays
from daemon.placement.course import course_of
from daemon.report_bundle import Bundle, text_piece
from daemon.report_month_events import MonthEvents
from daemon.report_originals import Advance, Originals
from daemon.reports.month import ChannelMonth, MonthFacts, month_report
from daemon.reports.month_figures import STRETCH_MS, Limited, days_between, figures_of, lines_of
from daemon.reports.names import PAGE, SUMS_TOLD, Stretch
from daemon.reports.page import html_of
from daemon.review.telling import Telling
from daemon.series import series
from daemon.stage_begins import StageBegins
from daemon.storage import calibrations, heat, samples
from daemon.storage.journal import Journal
from sensors.calibration import Calibrations

_DEPTH_OF_A_BOX = 2


@dataclass(frozen=True, slots=True)
class MonthReader:
    """Reads for one site."""

    journal: Journal
    site: Site
    profiles: Mapping[str, SpeciesProfile]
    bridge_ms: int
    originals: Originals
    telling: Telling

    def bundle(self, month: Stretch, now_ms: int, advance: Advance) -> Bundle:
        """Give the report of a month. Raises StatedError for one that lies ahead, or before all readings."""
        until_ms = min(month.until_ms, now_ms)
        with self.journal.read() as conn:
            self._refuse(conn, month, now_ms)
            events = MonthEvents(conn, self.site, self.telling, month.from_ms, until_ms)
            corrections = calibrations.load(conn, self.site)
            facts = MonthFacts(
                site_name=self.site.name,
                time_zone=self.site.time_zone,
                now_ms=now_ms,
                month=month,
                until_ms=until_ms,
                channels=tuple(self._channels(conn, corrections, month.from_ms, until_ms)),
                kinds=events.kinds(),
                measures=events.measures(),
                incidents=events.incidents(),
                rounds=events.rounds(),
                calibrations=events.calibrations(corrections),
                deliveries=events.deliveries(),
            )
            # Every channel that was ever stored, also of probes that the site file has no more.
            spans = dict.fromkeys(samples.quantities(conn), ((month.from_ms, until_ms),))
        readings, count = self.originals.pieces(spans, advance)
        told = (*(f"{each.name}: readings as they were stored" for each in readings), SUMS_TOLD)
        report = month_report(replace(facts, files=told), self.telling)
        charts = (text_piece(f"charts/{each.name}", each.svg) for each in report.pictures())
        return Bundle(f"month-{month.name}", (text_piece(PAGE, html_of(report)), *charts, *readings), count)

    def _refuse(self, conn: sqlite3.Connection, month: Stretch, now_ms: int) -> None:
        if month.from_ms >= now_ms:
            raise StatedError(f"{month.name} lies ahead", "give a month that has begun")
        first_ms = samples.first_ms(conn)
        if first_ms is None:
            raise StatedError("the journal holds no reading yet", "let the service run first")
        if month.until_ms <= first_ms:
            known = self.telling.dated(first_ms)
            raise StatedError(f"the journal knows nothing of {month.name}: it begins {known}", "give a later month")

    def _channels(
        self, conn: sqlite3.Connection, corrections: Calibrations, from_ms: int, until_ms: int
    ) -> Iterator[ChannelMonth]:
        places, days = Places(self.site), days_between(from_ms, until_ms, self.telling.zone)
        occupancy = self._occupancy(conn, places, from_ms, until_ms)
        order = {place: number for number, place in enumerate((*places.all, ROOM))}
        # Stretches of ten minutes are rows of the roll-ups; where midnight lies within one, it counts as a whole.
        begin_ms, end_ms = from_ms // STRETCH_MS * STRETCH_MS, -(-until_ms // STRETCH_MS) * STRETCH_MS
        for probe in sorted(self.site.probes, key=lambda each: order.get(each.place, len(order))):
            for channel in probe.channels:
                if channel.quantity.is_contact:
                    continue
                name = f"{probe.id}/{channel.name}"
                pieces = corrections.straight(name, begin_ms, end_ms - 1)
                found = series(conn, name, begin_ms, end_ms, (end_ms - begin_ms) // STRETCH_MS, pieces, self.bridge_ms)
                limits = _limits(occupancy, places, probe.place, channel.quantity, from_ms, until_ms)
                lines = lines_of(course_of(found.columns))
                yield ChannelMonth(
                    channel=name,
                    place=places.name(probe.place),
                    quantity=channel.quantity,
                    days=tuple(figures_of(found.columns, lines, days, limits)),
                    day_ms=tuple(each.from_ms for each in days),
                    is_behind=found.is_behind,
                )

    def _occupancy(self, conn: sqlite3.Connection, places: Places, from_ms: int, until_ms: int) -> Occupancy:
        """All clutches that lay here in the month, with the beginnings of their stages."""
        lain = [
            one
            for one in register.clutches(conn, include_closed=True)
            if any(stay.from_ms < until_ms and end_ms > from_ms for stay, end_ms in stays(one))
        ]
        begins = StageBegins(self.profiles)
        for one in lain:
            if begins.is_staged(one):
                begins.take(one.clutch_id, heat.hours(conn, one.clutch_id))
        stages = {one.clutch_id: begins.begins(one, kept_before(self.site, one)) for one in lain}
        return Occupancy(lain, places, self.profiles, stages)


def _limits(
    occupancy: Occupancy, places: Places, place: str, quantity: Quantity, from_ms: int, until_ms: int
) -> Sequence[Limited]:
    """Give the limits of a place over a span. The humidity of a shelf is not that of the boxes on it: it has none."""
    if not places.exists(place) or quantity is Quantity.SURFACE_TEMPERATURE:
        return ()
    is_air = quantity is not Quantity.RELATIVE_HUMIDITY
    if not is_air and place.count("/") != _DEPTH_OF_A_BOX:
        return ()
    found, at_ms = [], from_ms
    while at_ms < until_ms:
        end_ms = min(occupancy.unchanged(at_ms)[1], until_ms)
        held = occupancy.limits(place, at_ms)
        low, high = (held.low_c, held.high_c) if is_air else (held.humidity_low_pct, held.humidity_high_pct)
        found.append(Limited(at_ms, end_ms, low, high))
        at_ms = end_ms
    return found
