"""Learns how slowly each incubator cools, from its own coolings. A job of the service, and nothing waits for it.

What it stores follows from the readings and from what is stated; a late reading, a calibration or another room
temperature makes it look again. It looks back a limited time, so that it costs the same in any season.
"""

import hashlib
import json
import logging
import sqlite3
from collections.abc import Callable, Iterator
from typing import NamedTuple

from config.places import Places
from config.site import Site
from config.words import Quantity
from daemon.climate.cooling_curves import LONGEST_GAP_MS, PLATEAU_MS, CoolingCurve, curve_of, falls
from daemon.climate.cooling_fit import NoFitError
from daemon.climate.room_air import RoomReadings, room_meanwhile
from daemon.room import Room, stated_of
from daemon.storage import calibrations, cooling, samples
from daemon.storage.journal import Journal, JournalError
from sensors.calibration import Calibrations

log = logging.getLogger("clutchwarden.cooling")

LEARN_EVERY_S = 3600.0
LONGEST_COOLING_MS = 24 * 3_600_000
"""So far before a new reading a cooling may have begun that it belongs to."""
LOOKS_BACK_MS = 60 * 24 * 3_600_000
"""Older readings are not looked at again: an incubator is filled anew within that time."""
_AT_ONCE_MS = 7 * 24 * 3_600_000


class _Watched(NamedTuple):
    """An air temperature channel of an incubator or of one of its zones. A box lags behind the air, so none of one."""

    incubator_id: str
    channel: str


class CoolingLearner:
    """Finds cooling curves in what was stored since the last time. One thread at a time may run it."""

    def __init__(self, journal: Journal, site: Site, now_ms: Callable[[], int]) -> None:
        self._journal = journal
        self._site = site
        self._now_ms = now_ms
        self._room = Room(site)
        self._stated = {incubator.id: stated_of(incubator) for incubator in site.incubators}
        self._watched = tuple(_watched(site))

    def run(self) -> None:
        """Learn from what is new. An error is logged and never raised; the next run begins where the last one ended."""
        try:
            self._learn()
        except JournalError as error:
            log.warning("Cooling curves are not learned this time: %s", error)
        except Exception:
            log.exception("Cooling curves are not learned this time: a fault in the program.")

    def _learn(self) -> None:
        with self._journal.read() as conn:
            corrections = calibrations.load(conn, self._site)
            basis = self._basis(corrections)
            before, newest = cooling.learned_to(conn, basis), samples.count(conn)
            new = {} if before is None else cooling.first_new(conn, before, newest)
        if before is None:
            self._journal.write(cooling.forget)
        elif before == newest:
            return
        now_ms = self._now_ms()
        oldest_ms = now_ms - LOOKS_BACK_MS
        for watched in self._watched:
            firsts = [new[channel] for channel in (watched.channel, self._room.channel) if channel in new]
            if before is not None and not firsts:
                continue
            first_ms = oldest_ms if before is None else max(min(firsts), oldest_ms)
            self._look_at(watched, corrections, first_ms, now_ms)
        self._journal.write(lambda conn: cooling.set_learned_to(conn, basis, newest))

    def _look_at(self, watched: _Watched, corrections: Calibrations, first_ms: int, now_ms: int) -> None:
        for start_ms in range(first_ms, now_ms + 1, _AT_ONCE_MS):
            end_ms = min(start_ms + _AT_ONCE_MS, now_ms)
            with self._journal.read() as conn:
                from_ms, curves = self._curves(conn, watched, corrections, start_ms - LONGEST_COOLING_MS, end_ms)
            self._replace(watched, (from_ms, end_ms), curves)

    def _replace(self, watched: _Watched, span_ms: tuple[int, int], curves: list[CoolingCurve]) -> None:
        incubator_id, channel = watched
        self._journal.write(lambda conn: cooling.replace_curves(conn, incubator_id, channel, span_ms, curves))

    def _curves(
        self, conn: sqlite3.Connection, watched: _Watched, corrections: Calibrations, start_ms: int, end_ms: int
    ) -> tuple[int, list[CoolingCurve]]:
        """Curves of a stretch, and from when on they are all there are.

        A fall of which the plateau lies before the stretch is left as it was found.
        """
        rows = samples.good_between(conn, watched.channel, start_ms, end_ms, LONGEST_GAP_MS)
        rows = [row for row in rows if row[0] <= end_ms]
        measured = self._room.readings(conn, corrections, start_ms, end_ms)
        times = [at_ms for at_ms, _ in rows]
        values = [corrections.corrected(watched.channel, value, at_ms) for at_ms, value in rows]
        from_ms, curves = start_ms, []
        for fall in falls(times, values):
            if times[0] < start_ms and times[fall.start] < start_ms + PLATEAU_MS:
                from_ms = times[fall.trough]
                continue
            part = slice(fall.start, fall.trough + 1)
            curve = self._judged(watched, times[part], values[part], measured)
            if curve is not None:
                curves.append(curve)
        return from_ms, curves

    def _judged(
        self, watched: _Watched, times: list[int], values: list[float], measured: RoomReadings | None
    ) -> CoolingCurve | None:
        room = room_meanwhile(measured, self._stated[watched.incubator_id], times)
        if room is None:
            return None
        try:
            return curve_of(times, values, room.air, room.swing_k)
        except NoFitError as error:
            log.debug("A fall of %s from %d is no cooling curve: %s.", watched.channel, times[0], error)
            return None

    def _basis(self, corrections: Calibrations) -> str:
        """A word that changes with whatever the curves are found by, besides the readings."""
        channels = [self._room.channel, *(each.channel for each in self._watched)]
        rooms = {key: None if room is None else (room.temperature_c, room.u_k) for key, room in self._stated.items()}
        known = [channel for channel in channels if channel is not None]
        uncertain = (
            [] if self._room.channel is None else [corrections.standard_uncertainty(self._room.channel, 20.0, 0)]
        )
        whole = [self._watched, channels, rooms, uncertain, [corrections.basis(channel) for channel in known]]
        return hashlib.sha256(json.dumps(whole).encode()).hexdigest()[:16]


def _watched(site: Site) -> Iterator[_Watched]:
    boxes = frozenset(Places(site).boxes)
    incubators = frozenset(incubator.id for incubator in site.incubators)
    for probe in site.probes:
        incubator_id = probe.place.split("/", maxsplit=1)[0]
        if incubator_id in incubators and probe.place not in boxes:
            for channel in probe.channels:
                if channel.quantity is Quantity.AIR_TEMPERATURE:
                    yield _Watched(incubator_id, f"{probe.id}/{channel.name}")
