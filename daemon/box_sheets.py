"""The sheets of boxes: what was measured, what lies in them, what was found last. Reads the journal.

What was measured up to the start of a round hardly changes any more, so it is worked out once and kept, until readings
come late (of a probe that kept them while it was out of reach).
"""

import sqlite3
import threading
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from daemon.box_past import BoxPast, BoxPastReader
from daemon.clutches import register
from daemon.clutches.egg_records import egg_counts, eggs
from daemon.clutches.eggs import EggCounts, EggState, since_ms
from daemon.clutches.measures import swelling
from daemon.clutches.remarks import measures
from daemon.clutches.values import Clutch
from daemon.heat_ledger import laying_of
from daemon.heat_now import HeatReader
from daemon.heat_totals import HeatTotals
from daemon.occupancy import Occupancy
from daemon.overview import ClutchNow
from daemon.overview_clutch import clutch_now, stage_begins_now
from daemon.rounds.sheet import BoxSheet, ClutchSheet
from daemon.rounds.state import state_of
from daemon.rounds.stops import stops
from daemon.rounds.values import BoxState, Stop
from daemon.storage import findings, heat
from daemon.thermometers import AirChannels

FURTHEST_BACK_MS = 30 * 86_400_000
_DAY_MS = 86_400_000
_MOST_KEPT = 500


@dataclass(frozen=True, slots=True)
class Ground:
    """What lay where at a moment, with the heat of each clutch up to it."""

    until_ms: int
    occupancy: Occupancy
    air: AirChannels
    clutches: Mapping[int, Clutch]
    now: Mapping[int, ClutchNow]


class BoxSheets:
    """Reads the sheets of one site. Safe to use from any thread."""

    def __init__(self, site: Site, profiles: Mapping[str, SpeciesProfile], bridge_ms: int) -> None:
        self._site = site
        self._profiles = profiles
        self._bridge_ms = bridge_ms
        self.places = Places(site)
        self._pasts = BoxPastReader(site, bridge_ms)
        self._heat = HeatTotals()
        self._lock = threading.Lock()
        self._grounds: dict[object, Ground] = {}
        self._kept: dict[object, BoxPast] = {}

    def stops(self, conn: sqlite3.Connection, at_ms: int, incubators: Iterable[str]) -> tuple[Stop, ...]:
        """Give the stops of these incubators at a moment, those of clutches that have been closed since included."""
        lying = register.clutches(conn, include_closed=True)
        return stops(self.places, self._profiles, lying, at_ms, incubators)

    def read(
        self, conn: sqlite3.Connection, wanted: Sequence[Stop], until_ms: int, before_round: int | None = None
    ) -> dict[str, BoxSheet]:
        """Give the sheet of each of these stops up to a moment; what was found in `before_round` is no part of it.

        The first time 10 to 30 ms a box with a week of readings, later a look-up; measured: 20 boxes in 0.3 s.
        """
        ground = self._ground(conn, until_ms)
        counts = egg_counts(conn, {stop.clutch_id for stop in wanted if stop.clutch_id is not None})
        sheets = {}
        for stop in wanted:
            last = self._last(conn, stop, until_ms, before_round)
            since_ms, why = self._since(stop, last, ground)
            past = self._past(conn, stop, ground, since_ms)
            clutch = None if stop.clutch_id is None else ground.clutches.get(stop.clutch_id)
            sheets[stop.key] = BoxSheet(
                key=stop.key,
                since_ms=since_ms,
                since_why=why,
                until_ms=until_ms,
                temperature=past.temperature,
                humidity=past.humidity,
                water_on_lid=past.water_on_lid,
                dry_out=past.dry_out,
                dry_days=past.dry_days,
                clutch=None if clutch is None else self._clutch(conn, stop, clutch, ground, counts[clutch.clutch_id]),
                last=last,
                last_looked_ms=None if last is None else last.at_ms,
                behind=past.behind,
            )
        return sheets

    def _ground(self, conn: sqlite3.Connection, until_ms: int) -> Ground:
        air = AirChannels(self._site)
        air.load(conn)
        changes = tuple(sorted(heat.changes(conn).items()))
        key = (until_ms, register.version(conn), air.version(conn), changes)
        with self._lock:
            kept = self._grounds.get(key)
        if kept is not None:
            return kept
        lying = register.clutches(conn, include_closed=True)
        here = [each for each in lying if each.set_up_ms <= until_ms < each.end_ms]
        totals = self._heat.read(conn, [each.clutch_id for each in here], until_ms)
        reader = HeatReader(conn, self._site, self._profiles, air, self._bridge_ms, until_ms, totals=totals)
        now: dict[int, ClutchNow] = {}
        begins = {}
        for each in here:
            profile, warmth = self._profiles.get(each.species_id), reader.heat_of(each)
            now[each.clutch_id] = clutch_now(each, profile, warmth, until_ms)
            if profile is not None:
                begins[each.clutch_id] = stage_begins_now(each, profile, warmth, until_ms)
        occupancy = Occupancy(lying, self.places, self._profiles, begins)
        ground = Ground(until_ms, occupancy, air, {each.clutch_id: each for each in lying}, now)
        with self._lock:
            # A few rounds at a time are looked at.
            while len(self._grounds) >= 8:  # noqa: PLR2004 - see above
                self._grounds.pop(next(iter(self._grounds)))
            self._grounds[key] = ground
        return ground

    def _past(self, conn: sqlite3.Connection, stop: Stop, ground: Ground, since_ms: int) -> BoxPast:
        versions = (ground.air.version(conn), register.version(conn))
        late = self._pasts.mark(conn, stop.place, since_ms, ground.until_ms)
        key = (stop.key, stop.clutch_id, since_ms, ground.until_ms, versions, late)
        with self._lock:
            kept = self._kept.get(key)
        if kept is not None:
            return kept
        past = self._pasts.read(conn, stop.place, ground.occupancy, ground.air.calibrations, since_ms, ground.until_ms)
        with self._lock:
            while len(self._kept) >= _MOST_KEPT:
                self._kept.pop(next(iter(self._kept)))
            if not past.behind:
                self._kept[key] = past
        return past

    def _last(self, conn: sqlite3.Connection, stop: Stop, until_ms: int, before_round: int | None) -> BoxState | None:
        """Give what was found last in a box while this clutch lay there."""
        for number in findings.earlier_rounds(conn, stop.key, stop.clutch_id, until_ms):
            if number != before_round:
                said = findings.of_box(conn, number, stop.key)
                state = state_of(stop.key, [each for each in said if each.clutch_id == stop.clutch_id])
                if state.is_seen:
                    return state
        return None

    def _since(self, stop: Stop, last: BoxState | None, ground: Ground) -> tuple[int, str]:
        """Give since when figures are told, and what was then."""
        until_ms = ground.until_ms
        furthest_ms = until_ms - FURTHEST_BACK_MS
        found, why = furthest_ms, "30 days, the furthest that is looked back"
        if last is not None:
            found, why = last.at_ms, "somebody last looked into it"
        clutch = None if stop.clutch_id is None else ground.clutches.get(stop.clutch_id)
        if clutch is not None:
            came_ms = max((one.from_ms for one in clutch.placements if one.from_ms <= until_ms), default=found)
            if came_ms > found:
                found, why = came_ms, "the clutch came here"
        if found < furthest_ms:
            return furthest_ms, "30 days, the furthest that is looked back"
        return min(found, until_ms), why

    def _clutch(
        self, conn: sqlite3.Connection, stop: Stop, clutch: Clutch, ground: Ground, counts: EggCounts
    ) -> ClutchSheet:
        profile, now = self._profiles.get(clutch.species_id), ground.now.get(clutch.clutch_id)
        if now is None:
            now = clutch_now(clutch, profile, None, max(ground.until_ms, clutch.set_up_ms))
        here = eggs(conn, clutch.clutch_id, clutch.egg_count)
        return ClutchSheet(
            clutch_id=clutch.clutch_id,
            label=clutch.label,
            species_id=clutch.species_id,
            species_name=now.species_name,
            group="" if profile is None else profile.group,
            counts=counts,
            watched=tuple(egg.name for egg in here if egg.stated.state is EggState.WATCH),
            left_in_place=tuple(egg.name for egg in here if egg.stated.is_left),
            marked=tuple(egg.mark for egg in here if egg.mark),
            day=int((ground.until_ms - laying_of(clutch).middle_ms) // _DAY_MS),
            degree_hours_ch=now.degree_hours_ch,
            share=now.share,
            window=now.window,
            venomous=stop.venomous,
            protected=clutch.protected,
            caution=now.caution,
            note=clutch.note,
            swelling=swelling(measures(conn, clutch.clutch_id)),
            watched_since_ms=since_ms(here, EggState.WATCH),
            pipped_since_ms=since_ms(here, EggState.PIPPED),
        )
