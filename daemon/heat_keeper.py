"""Keeps the stored hours of heat up to date: which hours to compute in a step of the evaluation, and what to store."""

import sqlite3
from collections.abc import Iterable, Mapping, Sequence

from config.species import SpeciesProfile
from daemon.clutches.register import Clutch
from daemon.heat_course import HeatCourse
from daemon.heat_ledger import HOUR_MS, HeatLedger, Span, changed_from, hour_of
from daemon.storage import heat
from daemon.storage.heat import HeatHour
from daemon.storage.samples import StoredReading
from daemon.thermometers import AirChannels

LONGEST_PART = 240
"""So many hours of heat of one clutch are computed in a step at the most: readings are evaluated in between."""
HOURS_KEPT = 48
"""After so many hours what was read and computed for them is dropped."""
LONGEST_AHEAD_MS = 10 * 60_000

Hours = Mapping[int, Sequence[HeatHour]]
Bases = Mapping[int, tuple[str, int | None]]
"""For each clutch what its hours are computed by, and from when on the stored ones are thrown away, if at all."""


class HeatKeeper:
    """Begins with what is stored. `settle` has to follow once a step has been stored."""

    def __init__(
        self,
        conn: sqlite3.Connection,
        profiles: Mapping[str, SpeciesProfile],
        air: AirChannels,
        bridge_ms: int,
    ) -> None:
        self._air = air
        self._bridge_ms = bridge_ms
        self._ledger = HeatLedger(profiles, air.channels_for, bridge_ms)
        self._bases, self._stored = heat.bases(conn), heat.last_hours(conn)
        self._clutches: dict[int, Clutch] = {}
        self._unfinished: dict[int, int] = {}
        self._basis_only: dict[int, tuple[str, int | None]] = {}
        self.anew: dict[int, int] = {}
        """From when on the heat of a clutch is computed anew."""

    @property
    def is_unfinished(self) -> bool:
        """True while a rebuild goes on."""
        return bool(self._unfinished)

    def see(self, conn: sqlite3.Connection, clutches: Sequence[Clutch], cursor: int) -> None:
        """The register, a calibration or what is stated of the site has changed, or this is the first step."""
        self._clutches = {clutch.clutch_id: clutch for clutch in clutches if self._ledger.counts(clutch)}
        self.anew, self._basis_only = {}, {}
        # Of one that was withdrawn nothing is left to do.
        self._unfinished = {one: goal_ms for one, goal_ms in self._unfinished.items() if one in self._clutches}
        for clutch_id, clutch in self._clutches.items():
            known, basis = self._bases.get(clutch_id), self._basis(clutch)
            from_ms = changed_from(known, basis)
            if from_ms is not None:
                self.anew[clutch_id] = self._ledger.reaches_back(conn, clutch, from_ms)
            elif basis != known:
                self._basis_only[clutch_id] = basis, None
            goal_ms = self._ledger.until(conn, clutch, cursor) - HOUR_MS
            if goal_ms > self._stored.get(clutch_id, -1):
                self._unfinished[clutch_id] = goal_ms

    def hours(
        self, conn: sqlite3.Connection, rows: Iterable[StoredReading], cursor: int, moment_ms: int
    ) -> dict[int, list[HeatHour]]:
        """Every hour of heat that these readings or a new basis touch, computed from the stored readings."""
        # A reading from a time when the clock was wrong must not fill the hours up to it.
        good = (row for row in rows if row.quality == 0 and row.measured_at_ms <= moment_ms + LONGEST_AHEAD_MS)
        spans = self._ledger.spans(conn, good, cursor)
        self._drop_what_is_ahead(moment_ms)
        if not spans and not self.anew and not self._unfinished:
            return {}
        course = HeatCourse(conn, self._air, self._bridge_ms)
        found = {}
        for clutch_id, clutch in self._clutches.items():
            hours = []
            for number, start in enumerate(self._touched(conn, clutch, spans, cursor, moment_ms)):
                hours.append(self._ledger.compute_hour(course, clutch, start))
                if number % HOURS_KEPT == HOURS_KEPT - 1:
                    course.forget()
            if kept := [hour for hour in hours if hour is not None]:
                found[clutch_id] = kept
            else:
                self._unfinished.pop(clutch_id, None)
        return found

    def _drop_what_is_ahead(self, moment_ms: int) -> None:
        """After a clock was set back no hour is kept from ahead of it; each is stored again once it is over.

        Every reading would touch all of them up to the readings that lie ahead: a month of hours with each of them.
        """
        ahead_ms = hour_of(moment_ms + LONGEST_AHEAD_MS)
        for clutch_id in self._clutches:
            if self._stored.get(clutch_id, -1) >= ahead_ms:
                self.anew[clutch_id] = min(ahead_ms, self.anew.get(clutch_id, ahead_ms))

    def new_bases(self) -> dict[int, tuple[str, int | None]]:
        """What to store beside the hours."""
        anew = {one: (self._basis(self._clutches[one]), from_ms) for one, from_ms in self.anew.items()}
        return {**self._basis_only, **anew}

    def settle(self, hours: Hours, bases: Bases) -> None:
        """A step was stored."""
        self._bases.update({one: basis for one, (basis, _) in bases.items()})
        for clutch_id, from_ms in self.anew.items():
            self._forget(clutch_id, hour_of(from_ms))
        for clutch_id, of_clutch in hours.items():
            last_ms = of_clutch[-1].hour_start_ms
            self._stored[clutch_id] = max(self._stored.get(clutch_id, last_ms), last_ms)
        self.anew, self._basis_only = {}, {}

    def _forget(self, clutch_id: int, from_ms: int) -> None:
        """The hours of a clutch from a moment on were thrown away."""
        if self._stored.get(clutch_id, from_ms - HOUR_MS) >= from_ms:
            self._stored[clutch_id] = from_ms - HOUR_MS
            if from_ms <= hour_of(self._clutches[clutch_id].placements[0].from_ms):
                del self._stored[clutch_id]

    def _basis(self, clutch: Clutch) -> str:
        return self._ledger.basis(clutch, self._air.calibrated, self._air.stated)

    def _touched(
        self,
        conn: sqlite3.Connection,
        clutch: Clutch,
        spans: Mapping[str, Sequence[Span]],
        cursor: int,
        moment_ms: int,
    ) -> Sequence[int]:
        """The hours of a clutch to compute, in order; what lies between the last stored one and these comes along."""
        clutch_id, set_up_ms = clutch.clutch_id, hour_of(clutch.placements[0].from_ms)
        last_ms, from_ms = self._stored.get(clutch_id), self.anew.get(clutch_id)
        next_ms = set_up_ms if last_ms is None else last_ms + HOUR_MS
        touched, late = self._ledger.touched(spans, clutch, next_ms)
        goals = [max(touched)] if touched else []
        until_ms = self._ledger.until(conn, clutch, cursor)
        if until_ms > moment_ms + LONGEST_AHEAD_MS:
            # Readings lie ahead of a clock that was set back: by them no hour is over, by the clock it is.
            goals.append(hour_of(moment_ms) - HOUR_MS)
        if from_ms is not None:
            goals.append(until_ms - HOUR_MS)
            # All from there on is thrown away and computed again.
            next_ms = min(next_ms, max(hour_of(from_ms), set_up_ms))
        goals += [self._unfinished.pop(clutch_id)] if clutch_id in self._unfinished else []
        goals += [] if last_ms is None else [last_ms]
        if not goals:
            return []
        goal_ms = min(max(goals), hour_of(moment_ms + LONGEST_AHEAD_MS) - HOUR_MS)
        touched.update(hour for hour in late if hour <= goal_ms)
        again = {hour for hour in touched if hour < next_ms}
        stop_ms = min(goal_ms, next_ms + (LONGEST_PART - 1) * HOUR_MS)
        if stop_ms < goal_ms:
            self._unfinished[clutch_id] = goal_ms
        return sorted({*again, *range(next_ms, stop_ms + 1, HOUR_MS)})


def store(conn: sqlite3.Connection, hours: Hours, bases: Bases) -> None:
    """Put hours and bases into the journal."""
    for clutch_id, (basis, from_ms) in bases.items():
        if from_ms is not None:
            heat.clear_hours(conn, clutch_id, hour_of(from_ms))
        heat.set_basis(conn, clutch_id, basis)
    for clutch_id, of_clutch in hours.items():
        heat.put_hours(conn, clutch_id, of_clutch)
