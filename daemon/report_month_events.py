"""What happened in a month besides readings: alarms, incidents, rounds, calibrations, messages that failed."""

import sqlite3
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.places import Places
from config.site import Site
from config.words import AlarmKind
from daemon.alarm_called import names_in
from daemon.alarm_measures import MeasureRow, measure_rows, metrics_of, rows_of, window_from
from daemon.alarms.classes import DAY_MS
from daemon.alarms.metrics_rows import handlings
from daemon.calibration_text import due_text
from daemon.clutches import register
from daemon.contacts import names_by_contact
from daemon.occupancy import stays
from daemon.reports.month import FailedDelivery
from daemon.reports.month_events import KindOfAlarm, Rounds, kinds_of, rounds_in
from daemon.review.account_summary import TITLES
from daemon.review.telling import Telling, listed
from daemon.storage import alarm_records, alarm_spans, call_fates, happened, incidents, runs
from sensors.calibration import Calibrations

SOON_MS = 30 * DAY_MS
"""A calibration that is due so soon after the month is told of. Project choice."""


@dataclass(frozen=True, slots=True)
class MonthEvents:
    """Reads what lies from a moment until before another."""

    conn: sqlite3.Connection
    site: Site
    telling: Telling
    from_ms: int
    until_ms: int

    def kinds(self) -> tuple[KindOfAlarm, ...]:
        """Alarms by kind, with how they were answered."""
        spans = alarm_spans.spans(self.conn, set(AlarmKind), self.from_ms, self.until_ms)
        rows = rows_of(alarm_records.between(self.conn, self.from_ms, self.until_ms))
        return tuple(kinds_of(spans, handlings(rows), self.from_ms, self.until_ms))

    def measures(self) -> tuple[MeasureRow, ...]:
        """The measures of the alarms, as their page has them; no rate from less than 30 days."""
        first_ms = runs.first_start_ms(self.conn)
        days = -(-(self.until_ms - self.from_ms) // DAY_MS)
        from_ms = max(self.from_ms, window_from(days, first_ms, self.until_ms))
        records = alarm_records.leading_up_to(self.conn, from_ms)
        records += alarm_records.between(self.conn, from_ms, self.until_ms)
        found = metrics_of(records, from_ms, self.until_ms, ZoneInfo(self.site.time_zone))
        return tuple(measure_rows(found, names_in(self.conn, self.site, Places(self.site), found)))

    def incidents(self) -> tuple[tuple[str, ...], ...]:
        """Incidents with a moment in the month: number, when, cause, where, review."""
        places = Places(self.site)
        under_review = {each.incident_id for each in incidents.under_review(self.conn)}
        return tuple(
            (
                str(each.incident_id),
                self.telling.span(each.span, dated=True),
                TITLES[each.cause],
                listed([places.name(one) if places.exists(one) else one for one in each.places]) or self.site.name,
                "waits" if each.incident_id in under_review else "done" if each.needs_review else "not asked for",
            )
            for each in incidents.between(self.conn, self.from_ms, self.until_ms - 1)
        )

    def rounds(self) -> tuple[tuple[str, Rounds], ...]:
        """Rounds of each incubator with eggs in the month."""
        known = register.clutches(self.conn, include_closed=True)
        ended = happened.rounds(self.conn, 0, self.until_ms)
        found = []
        for incubator in self.site.incubators:
            lain = [
                (stay.from_ms, end_ms)
                for one in known
                for stay, end_ms in stays(one)
                if stay.place.split("/", 1)[0] == incubator.id
            ]
            if not any(begin < self.until_ms and end > self.from_ms for begin, end in lain):
                continue
            done = [
                each.ended_ms
                for each in ended
                if each.incubator == incubator.id and each.ended_ms is not None and each.ended_ms < self.until_ms
            ]
            every = self.site.care.round_every_days
            found.append((incubator.name, rounds_in(lain, done, every, self.from_ms, self.until_ms)))
        return tuple(found)

    def calibrations(self, known: Calibrations) -> tuple[tuple[str, ...], ...]:
        """Channels that are not calibrated, overdue, or due soon after the month."""
        places, at_ms = Places(self.site), self.until_ms
        found = []
        for probe in self.site.probes:
            for channel in probe.channels:
                if channel.quantity.is_contact:
                    continue
                name = f"{probe.id}/{channel.name}"
                record = known.in_force(name, at_ms)
                if record is None:
                    found.append((name, places.name(probe.place), "never calibrated"))
                elif record.due_at_ms is not None and record.due_at_ms <= at_ms + SOON_MS:
                    found.append((name, places.name(probe.place), due_text(record.due_at_ms, at_ms)))
        return tuple(found)

    def deliveries(self) -> tuple[FailedDelivery, ...]:
        """Messages of the month that were given up or wait still, by contact."""
        names, found = names_by_contact(self.site), dict[str, FailedDelivery]()
        for each in call_fates.messages(self.conn, self.from_ms, self.until_ms - 1):
            if each.state not in ("abandoned", "waiting"):
                continue
            before = found.get(each.contact)
            given_up, waiting = (0, 0) if before is None else (before.given_up, before.waiting)
            is_up = each.state == "abandoned"
            found[each.contact] = FailedDelivery(
                who=names.get(each.contact, "a contact that is not in the site file any more"),
                contact=each.contact,
                given_up=given_up + is_up,
                waiting=waiting + (not is_up),
                error=each.error or ("" if before is None else before.error),
            )
        return tuple(found.values())
