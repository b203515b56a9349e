"""Looks back through late readings one after another, a slice with each step of the evaluation, until all is told.

A live reading is stepped through before each slice, so an alarm waits for one slice at most, be there years to look
through. Where a look stands is stored with the step: a kill at any moment loses none of it and tells nothing twice.
"""

import logging
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import replace

from config.model import ROOM
from config.places import Places
from config.site import Site
from daemon.alarm_transition import Transition
from daemon.alarm_watch import AlarmWatch
from daemon.alarms.conditions import Change
from daemon.late_excursions import BEHIND_MS, EVER_MS, LateExcursions, known_by
from daemon.late_gathering import LONGEST_MS, Closed, Excursion, Gathering, worst_first
from daemon.late_look import Look, Stretch
from daemon.occupancy import Occupancy
from daemon.storage import alarm_spans, late
from sensors.calibration import Calibrations
from sensors.reading import ChannelKey

log = logging.getLogger("clutchwarden.late")

READINGS_AT_ONCE = 5_000
"""In one step: about 0.1 s of a desk computer's time, 0.4 s of a small board's. Project choice."""
LEAST_COST = 50
"""A stretch with hardly a reading costs as much as so many."""


class LateLooks:
    """Of one site. `looks` are those that are under way, `newest_ms` the newest reading of each channel, kept anew."""

    def __init__(
        self,
        site: Site,
        places: Places,
        channels: Mapping[str, ChannelKey],
        bridge_ms: int,
        watch: AlarmWatch,
        newest_ms: Mapping[str, int],
        looks: Sequence[Look],
    ) -> None:
        self._excursions = LateExcursions(site, places, channels, bridge_ms)
        self._channels = channels
        self._places = places
        self._place_of = {probe.id: probe.place for probe in site.probes}
        self._watch = watch
        self._newest_ms = newest_ms
        self.under_way = list(looks)
        self._left = READINGS_AT_ONCE
        self._found: list[Excursion] = []
        """in this step, so that they are in the journal only after it"""
        self._closed: list[Closed] = []

    def new_step(self) -> None:
        """Another step of the evaluation begins."""
        self._left = READINGS_AT_ONCE
        self._found.clear()

    def begin(
        self,
        conn: sqlite3.Connection,
        known: Gathering,
        until_seq: int,
        changes: Sequence[Transition],
        calibrations: Calibrations,
        occupancy: Occupancy,
    ) -> list[Transition]:
        """Begin a look through what was gathered; `changes` are those of the step so far.

        Gives the lethal limits that are still passed at the newest reading, which alone was no alarm yet.
        """
        told, ended = known_by(changes)
        # What is held is told by itself, or found by itself when it ends.
        held, _ = known_by(each for each in self._watch.on(known.due_ms, occupancy) if each.late)
        stretches = [Stretch(one, *span) for one, spans in sorted(known.spans.items()) for span in spans]
        newest_ms = {each.channel: self._newest_ms.get(each.channel, 0) for each in stretches}
        look = Look(
            known.first_ms,
            known.last_ms,
            known.due_ms,
            until_seq,
            alarm_spans.latest_event(conn),
            stretches,
            [*told, *held, *known.excursions],
            ended,
            newest_ms,
        )
        look.note(self._found)
        for each in known.excursions:
            look.keep(self._measured(conn, each, until_seq, calibrations))
        begun: list[Transition] = []
        for stretch in stretches:
            if self._is_newest(look, stretch):
                going_on = self._excursions.going_on(conn, look, stretch, calibrations, occupancy)
                begun += self._begun(look, going_on, occupancy)
        self.under_way.append(look)
        return begun

    def go_on(
        self, conn: sqlite3.Connection, calibrations: Calibrations, occupancy: Occupancy, now_ms: int | None = None
    ) -> list[Transition]:
        """Do what is left for this step; gives what is over, and what still goes on.

        `now_ms`: where no reading is left. So long as then nobody waits longer than a quarter of an hour for the rest.
        """
        found: list[Transition] = []
        while self.under_way and self._left > 0:
            look = self.under_way[0]
            if look.stretches:
                found += self._slice(conn, look, calibrations, occupancy)
            else:
                self._close(look)
                del self.under_way[0]
        if now_ms is not None and self.under_way:
            self._tell_so_far(self.under_way[0], now_ms)
        return found

    def take_closed(self) -> Closed | None:
        """What is to be told now, of everything that was closed since the last call; None where nothing is."""
        closed, self._closed = [each for each in map(self._of_the_site, self._closed) if each.excursions], []
        if not closed:
            return None
        excursions = worst_first([one for each in closed for one in each.excursions])
        first_ms, last_ms = min(each.first_ms for each in closed), max(each.last_ms for each in closed)
        return Closed(excursions, first_ms, last_ms, sum(each.more for each in closed))

    def _of_the_site(self, closed: Closed) -> Closed:
        """Leave out what the site has no more: gathered before its file was changed, it waits over the start.

        Here, where it goes out, and not where it is read in: until then it keeps the same from being found again.
        """
        return closed._replace(excursions=tuple(one for each in closed.excursions if (one := self._as_of_now(each))))

    def _as_of_now(self, each: Excursion) -> Excursion | None:
        key = self._channels.get(each.channel)
        if key is not None and (each.place == ROOM or self._places.exists(each.place)):
            return each
        what = f"{each.kind} of {each.channel} at the place {each.place}, which site.toml had"
        if key is not None and each.is_lethal:
            # Most likely the place has another id now. Should the probe have been moved, a false place is still better
            # than nobody who looks at these eggs.
            now = self._place_of[key.probe]
            log.warning("Found afterwards: %s. It is told of %s, where the probe is now.", what, now)
            return each._replace(place=now)
        log.warning("Found afterwards, on record and told to nobody: %s.", what)
        return None

    def _slice(
        self, conn: sqlite3.Connection, look: Look, calibrations: Calibrations, occupancy: Occupancy
    ) -> list[Transition]:
        stretch, *others = look.stretches
        found, count = self._excursions.slice_of(conn, look, self._left, calibrations, occupancy)
        self._left -= max(count, LEAST_COST)
        over, going_on = self._sorted(found, look, stretch, occupancy)
        over = [self._measured(conn, each, look.until_seq, calibrations) for each in over]
        for each in over:
            look.keep(each)
        if any(each.channel == stretch.channel for each in others):
            is_through = len(look.stretches) == len(others)
            (look.told if is_through else look.here).extend(over)
        self._found += over
        for later in self.under_way[1:]:
            later.note(over)
        return [*(self._ended(each) for each in over), *self._begun(look, going_on, occupancy)]

    def _sorted(
        self, found: Sequence[Excursion], look: Look, stretch: Stretch, occupancy: Occupancy
    ) -> tuple[list[Excursion], list[Excursion]]:
        """Those that are over, and those that are not; what newer readings have judged is neither."""
        over, going_on = [], []
        for each in found:
            newest_ms = look.newest_ms[each.channel]
            if each.until_ms < EVER_MS:
                over.append(each)
            elif newest_ms <= stretch.high_ms + BEHIND_MS:
                if not occupancy.lying_in(each.place, look.due_ms):
                    over.append(each._replace(until_ms=newest_ms))
                elif self._is_newest(look, stretch):
                    going_on.append(each)
        return over, going_on

    def _is_newest(self, look: Look, stretch: Stretch) -> bool:
        """Tell whether nothing was measured later, neither when the look began nor since."""
        newest_ms = max(look.newest_ms[stretch.channel], self._newest_ms.get(stretch.channel, 0))
        return newest_ms <= stretch.high_ms + BEHIND_MS

    def _begun(self, look: Look, going_on: Sequence[Excursion], occupancy: Occupancy) -> list[Transition]:
        """A lethal limit that is still passed at the newest reading: now it is an alarm, if it was none."""
        found: list[Transition] = []
        for each in going_on:
            if not occupancy.lying_in(each.place, look.due_ms):
                continue
            found += self._watch.settle()
            on = self._watch.on(look.due_ms, occupancy)
            if not any((one.kind, one.subject) == (each.kind, each.channel) for one in on):
                reason = "it goes on at the newest reading; readings that came out of order say for how long"
                change = replace(self._ended(each), change=Change.RAISED, at_ms=look.due_ms, reason=reason)
                raised = replace(change, told=True, late=False, back_ms=None)
                self._watch.adopt(raised)
                found.append(raised)
                look.told.append(each)
        return found

    def _close(self, look: Look) -> None:
        if look.found:
            self._closed.append(Closed(worst_first(look.found), look.first_ms, look.last_ms, look.more))
            look.found, look.more = [], 0

    def _tell_so_far(self, look: Look, now_ms: int) -> None:
        """Where much is to be looked through, people hear by and by of what was found."""
        if not look.waits_since_ms or now_ms < look.waits_since_ms:
            look.waits_since_ms = now_ms
        elif now_ms >= look.waits_since_ms + LONGEST_MS:
            look.waits_since_ms = now_ms
            self._close(look)

    @staticmethod
    def _measured(conn: sqlite3.Connection, each: Excursion, until_seq: int, calibrations: Calibrations) -> Excursion:
        """Until the first reading that was inside again: a damped alarm ends later than the air."""
        if each.is_fault:
            return each
        inside_ms = None
        for at_ms, value in late.newest_known(conn, each.channel, each.since_ms, each.until_ms, until_seq):
            if each.is_beyond(calibrations.corrected(each.channel, value, at_ms)):
                return each if inside_ms is None else each._replace(until_ms=inside_ms)
            inside_ms = at_ms
        return each

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
