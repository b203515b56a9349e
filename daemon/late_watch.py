"""Gathers what late readings show while the evaluation steps through the journal, and says when people are told of it.

It goes by when readings arrived and by what was stored before them, so a live run and a replay gather the same.
"""

import logging
import sqlite3
from collections.abc import Callable, Mapping, Sequence

from config.places import Places
from config.site import Site
from daemon.alarm_memory import LONGEST_AHEAD_MS
from daemon.alarm_transition import Transition
from daemon.alarm_watch import AlarmWatch
from daemon.alarms.conditions import Change
from daemon.alarms.lateness import late_after_ms
from daemon.late_gathering import Closed, Gathering, excursion_of
from daemon.late_look import Look, from_json, to_json
from daemon.late_looks import LateLooks
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
        self._watch = watch
        self._newest = {one: samples.newest_good_until(conn, one, cursor) or 0 for one in channels}
        self._stored = late.gathering(conn)
        self._storing = self._stored
        self._changed: set[str] = set()
        looks: list[Look] = []
        try:
            self._gathering, looks = from_json(self._stored)
        except ValueError as error:
            log.error("What late readings showed before the start is not told again: %s", error)  # noqa: TRY400
            self._gathering = None
        self._looks = LateLooks(site, places, channels, bridge_ms, watch, self._newest, looks)

    def readings(
        self,
        conn: sqlite3.Connection,
        rows: Sequence[StoredReading],
        calibrations: Calibrations,
        occupancy: Occupancy,
    ) -> list[Transition]:
        """Let the alarms step through these readings, and gather what late ones show."""
        self._looks.new_step()
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
        if self._is_due(now_ms):
            changes += self._close(conn, newest_seq, [*so_far, *changes], calibrations, occupancy)
        return [*changes, *self._looks.go_on(conn, calibrations, occupancy, now_ms)]

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
        """End the gathering, and begin to look through it; gives what nobody has stepped through before."""
        known = self._gathering
        if known is None:
            return []
        self._gathering = None
        self._changed |= known.channels
        begun = self._looks.begin(conn, known, until_seq, changes, calibrations, occupancy)
        return [*self._looks.go_on(conn, calibrations, occupancy), *begun]

    @property
    def is_looking_back(self) -> bool:
        """True while late readings are left to be looked through."""
        return bool(self._looks.under_way)

    def take_closed(self) -> Closed | None:
        """What is to be told now, of everything that was closed since the last call; None where nothing is."""
        return self._looks.take_closed()

    def to_store(self) -> Callable[[sqlite3.Connection], None] | None:
        """What has to be stored with the step; None where nothing has changed."""
        state = self._storing = to_json(self._gathering, self._looks.under_way)
        changed, same = sorted(self._changed), state == self._stored
        if same and not changed:
            return None

        def store(conn: sqlite3.Connection) -> None:
            late.keep_gathering(conn, state)
            late.count_change(conn, changed)

        return store

    def settle(self) -> None:
        """What `to_store` gave was stored."""
        self._stored = self._storing
        self._changed.clear()

    def _open(self, received_at_ms: int) -> Gathering:
        if self._gathering is None:
            self._gathering = Gathering(received_at_ms, received_at_ms)
        return self._gathering
