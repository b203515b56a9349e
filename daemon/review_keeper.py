"""Looks for new incidents, at the start and every few minutes, and writes down when the clock is set: jobs.

A look reads beside the thread that writes; what it comes to is stored in one short transaction together with how far
it has looked. A kill at any moment leaves all of a look or nothing of it, and the next one begins where the last one
that was stored ended. The same look twice changes nothing.
"""

import logging
import sqlite3
from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack

from config.site import Site
from daemon.clock import Clock
from daemon.clock_sleeps import Sleeps, sleeps_beside
from daemon.clock_steps import ClockSteps, steady_beside
from daemon.review.around import Around
from daemon.review.causes import cause_of, span_of
from daemon.review.downtime import NO_EARLIER_MS
from daemon.review.gaps import Gap
from daemon.review.joining import AFTER_MS
from daemon.review.needed import review_reason
from daemon.review.settling import Settled, places_of, settle
from daemon.review.values import FactKind, Incident, Span
from daemon.review_facts import FactReader, Found
from daemon.schedule import Schedule
from daemon.storage import alarm_spans, clock_steps, heard_times, incidents, runs, samples, sleeps
from daemon.storage.clock_steps import ClockStep
from daemon.storage.incidents import Looked
from daemon.storage.journal import Journal, JournalError

log = logging.getLogger("clutchwarden.incidents")

LOOK_EVERY_S = 300.0
CLOCK_EVERY_S = 5.0
_TICK_S = 20.0
"""The first look comes so long after the start; behind by more than one look, the next one comes after another."""
MINUTE_MS = 60_000
DAY_MS = 24 * 60 * MINUTE_MS
AT_ONCE_MS = DAY_MS
"""So much time is looked through in one go. Project choice."""
BACK_MS = 90 * MINUTE_MS
"""What is younger is looked at again each time: readings may still be on their way. Project choice."""
AGAIN_MS = DAY_MS
"""So much of an incident that still grows is read again, for its cause. Project choice."""
BEHIND_LOOKS = 12
"""So often, for an hour, a clock that is behind what was looked at is waited for; then it is that which was ahead.

Project choice: a clock that is set at all is set by then, and to look at the same again changes nothing.
"""
LATE_MS = 5 * MINUTE_MS
READINGS_AT_ONCE = 200_000


def keep_incidents(journal: Journal, site: Site, clock: Clock, run_id: int, ending: ExitStack) -> None:
    """Look again and again until `ending`; the demo's clock runs ahead, and so does this."""
    keeper = IncidentKeeper(journal, site, clock.now_ms)
    watch = ClockWatch(
        journal, ClockSteps(steady_beside(clock), clock.rate), clock.now_ms, run_id, sleeps_beside(clock)
    )
    watch.look()
    schedule, rate = Schedule(), min(clock.rate, 20.0)
    schedule.every(_TICK_S / rate, keeper.tick, "incidents")
    schedule.every(CLOCK_EVERY_S / rate, watch.run, "clock-steps")
    schedule.start()
    ending.callback(schedule.stop)


class ClockWatch:
    """Writes down when the clock is set, and when the machine slept. One thread at a time may run it."""

    def __init__(
        self,
        journal: Journal,
        steps: ClockSteps,
        now_ms: Callable[[], int],
        run_id: int,
        asleep: Sleeps | None = None,
    ) -> None:
        self._journal, self._steps, self._now_ms, self._run_id = journal, steps, now_ms, run_id
        self._asleep = asleep

    def run(self) -> None:
        """Look once. An error is logged and never raised: the step is found again at the next look."""
        try:
            self.look()
        except JournalError as error:
            log.warning("That the clock was set or the machine slept is not written down this time: %s", error)

    def look(self) -> None:
        """Write down by how much the clock was set since the last look, and a sleep since. Raises JournalError."""
        at_ms, by_ms = self._steps.look(self._now_ms)
        if by_ms:
            step = ClockStep(at_ms, by_ms, self._run_id)
            self._journal.write(lambda conn: clock_steps.append(conn, step))
        self._steps.keep()
        if self._asleep is not None:
            self._look_whether_it_slept(self._asleep)

    def _look_whether_it_slept(self, asleep: Sleeps) -> None:
        slept = asleep.look(self._now_ms)
        if slept is not None:
            self._journal.write(lambda conn: sleeps.record(conn, slept))
            log.warning("The machine slept for %d s: nothing was watched meanwhile.", slept.slept_ms // 1000)
        asleep.keep()


class IncidentKeeper:
    """For one site. One thread at a time may run it."""

    def __init__(self, journal: Journal, site: Site, now_ms: Callable[[], int]) -> None:
        self._journal, self._now_ms, self._reader = journal, now_ms, FactReader(site)
        self._ticks = 0
        self._is_behind = True
        self._looks_behind = 0

    def tick(self) -> None:
        """Look at the first tick, at one in so many, and at each while there is more than one look to do."""
        if self._is_behind or self._ticks % round(LOOK_EVERY_S / _TICK_S) == 0:
            self.run()
        self._ticks += 1

    def run(self) -> None:
        """Look once. An error is logged and never raised; the incidents stay as they were."""
        try:
            self._is_behind = self.look()
        except JournalError as error:
            log.warning("No incident is looked for this time: %s", error)
        except Exception:
            log.exception("No incident is looked for this time: a fault in the program.")

    def look(self) -> bool:
        """Look through what is new, at most a day of it; True where there is more. Raises JournalError."""
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            before, newest = incidents.looked(conn), samples.count(conn)
            since_ms = self._since_ms(conn, before)
            since_ms = self._behind_now(since_ms, now_ms)
            if since_ms is None:
                return False
            until_ms = min(since_ms + AT_ONCE_MS, now_ms)
            reading = newest if before is None else min(before.reading + READINGS_AT_ONCE, newest)
            event = alarm_spans.latest_event(conn)
            periods = [Span(since_ms, until_ms)]
            if before is not None:
                periods = [*self._touched(conn, before, reading, event, since_ms), *periods]
        for period in periods:
            self.look_at(period, now_ms)
        settled_ms = until_ms if until_ms < now_ms else max(since_ms, now_ms - BACK_MS)
        to = Looked(settled_ms, reading, event)
        if to != before:
            self._journal.write(lambda conn: incidents.set_looked(conn, to))
        return until_ms < now_ms or reading < newest

    def look_at(self, period: Span, now_ms: int) -> None:
        """Bring the incidents of a period to what the journal shows now. Raises JournalError."""
        with self._journal.read() as conn:
            period = self._widened(conn, period, now_ms)
            found = self._reader.read(conn, period.from_ms, period.until(now_ms), now_ms)
            first_ms = min((fact.span.from_ms for fact in found.facts), default=period.from_ms)
            last_ms = max((fact.span.until(now_ms) for fact in found.facts), default=period.from_ms)
            first_ms, last_ms = min(first_ms, period.from_ms), max(last_ms, period.until(now_ms))
            stored = incidents.between(conn, first_ms - AFTER_MS, last_ms + AFTER_MS)
        settled = settle(stored, found.facts, period, now_ms, self._reader.looks_at)
        changed = _changed(stored, settled, _known(found, stored), period.from_ms, now_ms)
        if not changed and not settled.joined:
            return

        def store(conn: sqlite3.Connection) -> list[int]:
            numbers = [incidents.put(conn, incident, now_ms) for incident in changed]
            incidents.join_into(conn, settled.joined, now_ms)
            return numbers

        for number, incident in zip(self._journal.write(store), changed, strict=True):
            log.info("Incident %d (%s): %s", number, incident.cause, " ".join(incident.evidence))

    def _behind_now(self, since_ms: int | None, now_ms: int) -> int | None:
        """From when to look; None where nothing has run yet, or where the clock is behind and will be set."""
        if since_ms is None or since_ms <= now_ms:
            self._looks_behind = 0
            return since_ms
        self._looks_behind += 1
        if self._looks_behind < BEHIND_LOOKS or now_ms < NO_EARLIER_MS:
            return None
        log.warning("What was looked at for incidents is dated ahead: they are looked for from now on again.")
        return now_ms - BACK_MS

    @staticmethod
    def _since_ms(conn: sqlite3.Connection, before: Looked | None) -> int | None:
        if before is not None:
            return before.settled_ms
        first_ms = runs.first_start_ms(conn)
        return None if first_ms is None else max(first_ms, NO_EARLIER_MS)

    @staticmethod
    def _touched(conn: sqlite3.Connection, before: Looked, reading: int, event: int, settled_ms: int) -> list[Span]:
        """Settled times of which more has become known: readings that came late, and alarms by them."""
        days = heard_times.late_days(conn, before.reading, reading, LATE_MS, DAY_MS)
        moments = alarm_spans.moments_before(conn, before.event, event, settled_ms)
        spans = [Span(day * DAY_MS, (day + 1) * DAY_MS) for day in days]
        late = [
            incident.span
            for span in _merged(spans, 0)
            for incident in incidents.between(conn, span.from_ms, span.until(0))
            if incident.span.from_ms < settled_ms
        ]
        ended = [Span(span.from_ms, min(span.until(settled_ms), settled_ms)) for span in late]
        return _merged([*ended, *(Span(moment, moment) for moment in moments)], AFTER_MS)

    @staticmethod
    def _widened(conn: sqlite3.Connection, period: Span, now_ms: int) -> Span:
        """Begin where the incidents begin that reach into the period, so that their cause is seen whole."""
        near = incidents.between(conn, period.from_ms - AFTER_MS, period.until(now_ms))
        first_ms = min((incident.span.from_ms for incident in near), default=period.from_ms)
        return Span(min(period.from_ms, max(first_ms, period.from_ms - AGAIN_MS)), period.to_ms)


def _changed(stored: Sequence[Incident], settled: Settled, around: Around, seen_ms: int, now_ms: int) -> list[Incident]:
    """The incidents that are to be written: new ones, and those of which something is different."""
    known = {incident.incident_id: incident for incident in stored}
    changed = []
    for number, facts in settled.groups:
        before = known.get(number)
        if before is not None and before.facts == facts and before.span.from_ms < seen_ms:
            # Of what lies further back only the facts are known by now, so it stays as it was found.
            continue
        cause, evidence = cause_of(facts, around)
        incident = Incident(
            number, span_of(facts), facts, cause, evidence, places_of(facts), review_reason(facts, now_ms)
        )
        if incident != before:
            changed.append(incident)
    return changed


def _known(found: Found, stored: Iterable[Incident]) -> Around:
    """What was found, and the gaps that are known from before."""
    there = {(gap.channel, gap.span.from_ms) for gap in found.around.gaps}
    more = [
        Gap(fact.subject, fact.subject.split("/", 1)[0], fact.place, fact.span)
        for incident in stored
        for fact in incident.facts
        if fact.kind is FactKind.PROBE_GAP and (fact.subject, fact.span.from_ms) not in there
    ]
    return Around(found.around.sources, (*found.around.gaps, *more), found.around.remarks)


def _merged(spans: Iterable[Span], reach_ms: int) -> list[Span]:
    """Spans that are over, widened by a reach on both sides and joined where they meet."""
    found: list[Span] = []
    for span in sorted(Span(each.from_ms - reach_ms, each.until(0) + reach_ms) for each in spans):
        if found and found[-1].until(0) >= span.from_ms:
            found[-1] = Span(found[-1].from_ms, max(found[-1].until(0), span.until(0)))
        else:
            found.append(span)
    return found
