"""Gathers what late readings show while the evaluation steps through the journal, and says when people are told of it.

It goes by when readings arrived and by what was stored before them, so a live run and a replay gather the same.
"""

import logging
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from config.places import Places
from config.site import Site
from daemon.alarm_memory import LONGEST_AHEAD_MS
from daemon.alarm_transition import Transition
from daemon.alarm_watch import AlarmWatch
from daemon.alarms.conditions import Change
from daemon.alarms.lateness import late_after_ms
from daemon.late_excursions import BEHIND_MS, EVER_MS, MOST_READINGS, LateExcursions
from daemon.late_gathering import Closed, Excursion, Gathering, excursion_of, from_json, worst_first
from daemon.occupancy import Occupancy
from daemon.storage import late, samples
from daemon.storage.samples import StoredReading
from sensors.calibration import Calibrations
from sensors.reading import ChannelKey

log = logging.getLogger("clutchwarden.late")


class LateWatch:
    """Stands before the alarms of a site. Used by the evaluation alone, which stores `to_store` with its step."""

    def __init__(
        self,
        conn: sqlite3.Connection,
        site: Site,
        places: Places,
        channels: Mapping[str, ChannelKey],
        bridge_ms: int,
        cursor: int,
        watch: AlarmWatch,
    ) -> None:
        self._channels = channels
        self._late_ms = {
            f"{probe.id}/{channel.name}": late_after_ms(probe.interval_s)
            for probe in site.probes
            for channel in probe.channels
        }
        self._excursions = LateExcursions(site, places, channels, bridge_ms)
        self._watch = watch
        self._newest = {one: samples.newest_good_until(conn, one, cursor) or 0 for one in channels}
        self._stored = late.gathering(conn)
        self._changed: set[str] = set()
        self._closed: list[Closed] = []
        try:
            self._gathering = from_json(self._stored)
        except ValueError as error:
            log.error("What late readings showed before the start is not told again: %s", error)  # noqa: TRY400
            self._gathering = None

    def readings(
        self,
        conn: sqlite3.Connection,
        rows: Sequence[StoredReading],
        calibrations: Calibrations,
        occupancy: Occupancy,
    ) -> list[Transition]:
        """Let the alarms step through these readings, and gather what late ones show."""
        found: list[Transition] = []
        for row in rows:
            if self._gathering is not None and self._is_due(row.received_at_ms):
                found += self._close(conn, row.seq - 1, found, calibrations, occupancy)
            changes = self._watch.reading(row, occupancy)
            if changes:
                found += changes
                self._take(changes, row.received_at_ms)
            self._hear(row)
        return found

    def time_passed(
        self,
        conn: sqlite3.Connection,
        now_ms: int,
        newest_seq: int,
        so_far: Sequence[Transition],
        calibrations: Calibrations,
        occupancy: Occupancy,
    ) -> list[Transition]:
        """No reading is left. `so_far` are the changes of this step, `newest_seq` the last reading of all."""
        changes = self._watch.time_passed(now_ms, occupancy)
        self._take(changes, now_ms)
        if not self._is_due(now_ms):
            return changes
        return [*changes, *self._close(conn, newest_seq, [*so_far, *changes], calibrations, occupancy)]

    def _is_due(self, now_ms: int) -> bool:
        """Tell whether what was gathered is told now; an alarm that is neither told nor over yet is waited for."""
        known = self._gathering
        if known is None or not known.is_due(now_ms):
            return False
        return known.is_overdue(now_ms) or not self._watch.is_holding()

    def _hear(self, row: StoredReading) -> None:
        newest_ms = self._newest.get(row.channel)
        if newest_ms is None or row.quality:
            return
        time_ms, received_ms = row.measured_at_ms, row.received_at_ms
        # One from so far ahead is from before a clock was set back: nothing would ever be newer than that.
        newest = time_ms > newest_ms or newest_ms > received_ms + LONGEST_AHEAD_MS
        if newest:
            self._newest[row.channel] = time_ms
        # One out of order has stepped no alarm, however short the time is that it was behind.
        if not newest or received_ms - time_ms > self._late_ms[row.channel]:
            self._open(received_ms).hear(row.channel, time_ms, received_ms, newest=newest)

    def _take(self, changes: Sequence[Transition], received_at_ms: int) -> None:
        """Keep those that nobody was told of and that are over."""
        for each in changes:
            if each.late and each.change is Change.CLEARED:
                excursion = excursion_of(each)
                if excursion is not None:
                    self._open(received_at_ms).excursions.append(excursion)

    def _close(
        self,
        conn: sqlite3.Connection,
        until_seq: int,
        changes: Sequence[Transition],
        calibrations: Calibrations,
        occupancy: Occupancy,
    ) -> list[Transition]:
        """End the gathering; gives what nobody has stepped through before: excursions that ended, and that go on."""
        known = self._gathering
        if known is None:
            return []
        self._gathering = None
        self._changed |= known.channels
        found = self._excursions.find(conn, known.spans, until_seq, known.excursions, changes, calibrations, occupancy)
        over, going_on = self._sorted(found, known, occupancy)
        excursions = [self._measured(conn, each, until_seq, calibrations) for each in (*known.excursions, *over)]
        if excursions:
            self._closed.append(Closed(worst_first(excursions), known.first_ms, known.last_ms))
        begun = [change for each in going_on for change in self._begun(each, known.due_ms, occupancy)]
        return [*(self._ended(each) for each in over), *begun]

    def _sorted(
        self, found: Sequence[Excursion], known: Gathering, occupancy: Occupancy
    ) -> tuple[list[Excursion], list[Excursion]]:
        """Those that are over, and those that are not; what newer readings have judged is neither."""
        over, going_on = [], []
        for each in found:
            newest_ms = self._newest[each.channel]
            if each.until_ms < EVER_MS:
                over.append(each)
            elif newest_ms <= known.spans[each.channel][1] + BEHIND_MS:
                if occupancy.lying_in(each.place, known.due_ms):
                    going_on.append(each)
                else:
                    over.append(each._replace(until_ms=newest_ms))
        return over, going_on

    def _begun(self, each: Excursion, now_ms: int, occupancy: Occupancy) -> list[Transition]:
        """A lethal limit that is still passed at the newest reading, which alone was no alarm yet: now it is one."""
        changes = self._watch.settle()
        if any((one.kind, one.subject) == (each.kind, each.channel) for one in self._watch.on(now_ms, occupancy)):
            return changes
        reason = "it goes on at the newest reading; readings that came out of order say for how long"
        ended = self._ended(each)
        raised = replace(ended, change=Change.RAISED, at_ms=now_ms, told=True, reason=reason, late=False, back_ms=None)
        self._watch.adopt(raised)
        return [*changes, raised]

    def take_closed(self) -> Closed | None:
        """What is to be told now, of everything that was closed since the last call; None where nothing is."""
        closed, self._closed = self._closed, []
        if not closed:
            return None
        excursions = worst_first([one for each in closed for one in each.excursions])
        return Closed(excursions, min(each.first_ms for each in closed), max(each.last_ms for each in closed))

    def to_store(self) -> Callable[[sqlite3.Connection], None] | None:
        """What has to be stored with the step; None where nothing has changed."""
        state = "" if self._gathering is None else self._gathering.to_json()
        changed, same = sorted(self._changed), state == self._stored
        if same and not changed:
            return None

        def store(conn: sqlite3.Connection) -> None:
            late.keep_gathering(conn, state)
            late.count_change(conn, changed)

        return store

    def settle(self) -> None:
        """The step was stored."""
        self._stored = "" if self._gathering is None else self._gathering.to_json()
        self._changed.clear()

    @staticmethod
    def _measured(conn: sqlite3.Connection, each: Excursion, until_seq: int, calibrations: Calibrations) -> Excursion:
        """Until the first reading that was inside again: a damped alarm ends later than the air."""
        rows = late.good_known(conn, each.channel, each.since_ms, each.until_ms, until_seq, MOST_READINGS)
        beyond = [each.is_beyond(calibrations.corrected(each.channel, value, at_ms)) for at_ms, value in rows]
        last = max((number for number, out in enumerate(beyond) if out), default=len(rows) - 1)
        return each._replace(until_ms=rows[last + 1][0]) if last + 1 < len(rows) else each

    def _open(self, received_at_ms: int) -> Gathering:
        if self._gathering is None:
            self._gathering = Gathering(received_at_ms, received_at_ms)
        return self._gathering

    def _ended(self, each: Excursion) -> Transition:
        return Transition(
            kind=each.kind,
            channel=self._channels[each.channel],
            place=each.place,
            change=Change.CLEARED,
            at_ms=each.until_ms,
            since_ms=each.since_ms,
            value=None,
            limit=each.limit,
            peak=each.worst,
            occurrence=each.occurrence,
            told=False,
            still=(),
            reason="back inside, by readings that came late",
            subject=each.channel,
            late=True,
            back_ms=each.until_ms,
        )
