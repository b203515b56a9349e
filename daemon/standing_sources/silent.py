"""Silence of the whole site, of an incubator with eggs, and of a channel for long.

A look costs one or two short indexed queries for each channel: 4 ms with 64 probes of two channels and 60 clutches,
whatever the length of the history. What a silent channel said last is looked up once in a while and kept: then 20 ms.
"""

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from zoneinfo import ZoneInfo

from config.model import ROOM
from config.site import Probe, Site
from config.words import AlarmKind, Quantity
from daemon.alarms.silence import READINGS_BACK, window_ms
from daemon.occupancy import Occupancy
from daemon.standing.found import Found
from daemon.standing.silent import SITE, Voice, last_probe_silent, no_data_long, site_silent
from daemon.standing_sources.contacts import ContactStates
from daemon.standing_sources.source import Moment
from daemon.storage import hearing
from sensors.reading import ChannelKey

EVERY_MS = 5_000
LOOKED_AWAY_MS = 10 * 60_000
"""Nobody listened for so long, as after a sleep of the machine or a step of its clock: listening begins anew."""
REMEMBERED_MS = 24 * 3_600_000
"""So far back it is looked when a silent channel spoke last."""
LOOK_AGAIN_MS = 10 * 60_000
"""A spool that is emptied late may say that it spoke longer than was known."""

_Newest = Callable[[sqlite3.Connection, str, int, int, int], list[int]]


class _Ear:
    """Listens to channels by one query; keeps what the silent ones said last."""

    def __init__(self, newest: _Newest, ahead_ms: int) -> None:
        self._newest = newest
        self._ahead_ms = ahead_ms
        self._last: dict[str, tuple[int, list[int]]] = {}

    def times_ms(self, conn: sqlite3.Connection, channel: str, longest_ms: int, now_ms: int) -> list[int]:
        """Give the newest times, newest first: all that are needed to speak, or the last one before a silence."""
        end_ms = now_ms + self._ahead_ms
        times = self._newest(conn, channel, now_ms - READINGS_BACK * longest_ms, end_ms, READINGS_BACK)
        if times:
            self._last.pop(channel, None)
            return times
        looked_ms, last = self._last.get(channel, (now_ms - LOOK_AGAIN_MS, []))
        if not 0 <= now_ms - looked_ms < LOOK_AGAIN_MS:
            last = self._newest(conn, channel, now_ms - REMEMBERED_MS, end_ms, 1)
            self._last[channel] = now_ms, last
        return last


class Silences:
    """All of it; `ahead_s` is the `future_tolerance_s` of the settings: how far a probe's clock may run ahead."""

    kinds = frozenset({AlarmKind.SITE_SILENT, AlarmKind.LAST_PROBE_SILENT, AlarmKind.NO_DATA_LONG})
    every_ms = EVERY_MS

    def __init__(self, site: Site, ahead_s: float = 120.0) -> None:
        self._zone = ZoneInfo(site.time_zone)
        self._contacts = ContactStates(site, ahead_s)
        self._incubators = tuple(incubator.id for incubator in site.incubators)
        self._probes = tuple(probe for probe in site.probes if probe.channels and not probe.is_contact)
        self._any = _Ear(hearing.newest_times, round(ahead_s * 1000))
        self._good = _Ear(hearing.newest_good_times, round(ahead_s * 1000))
        self._watched_ms: int | None = None
        self._looked_ms = 0

    def found(self, moment: Moment) -> Iterator[Found]:
        """Everything that holds at this moment, and of what nothing can be said."""
        now_ms = moment.now_ms
        if self._watched_ms is None or moment.set_by_ms or not 0 <= now_ms - self._looked_ms < LOOKED_AWAY_MS:
            self._watched_ms = now_ms
        self._looked_ms = now_ms
        if not moment.occupancy.lying_in(ROOM, now_ms):
            return
        probes = {probe.id: self._voice_of(probe, moment, self._watched_ms) for probe in self._probes}
        is_on = moment.is_on(AlarmKind.SITE_SILENT, SITE)
        mains = self._contacts.mains(moment.conn, now_ms)
        site = site_silent(list(probes.values()), mains, now_ms, self._zone, is_on=is_on)
        if site is not None:
            yield site
        told = is_on or (site is not None and site.known)
        for incubator in self._incubators:
            if moment.occupancy.lying_in(incubator, now_ms):
                yield from self._incubator(incubator, probes, moment, self._watched_ms, site_is_silent=told)

    def _incubator(
        self, incubator: str, probes: dict[str, Voice], moment: Moment, watched_ms: int, *, site_is_silent: bool
    ) -> Iterator[Found]:
        now_ms = moment.now_ms
        inside = [probe for probe in self._probes if probe.place.split("/", 1)[0] == incubator]
        own = [
            (ChannelKey(f"{probe.id}/{channel.name}", probe.id, channel.name, channel.quantity), probe)
            for probe in inside
            for channel in probe.channels
            if channel.quantity is Quantity.AIR_TEMPERATURE
        ]
        voices = [self._air_voice(key, probe, moment, watched_ms) for key, probe in own]
        here = {probe.id for probe in inside}
        others = [voice for probe_id, voice in probes.items() if probe_id not in here]
        is_on = moment.is_on(AlarmKind.LAST_PROBE_SILENT, incubator)
        last = last_probe_silent(
            incubator, voices, others, now_ms, self._zone, site_is_silent=site_is_silent, is_on=is_on
        )
        if last is not None:
            yield last
        told = site_is_silent or is_on or (last is not None and last.known)
        for (key, probe), voice in zip(own, voices, strict=True):
            eggs_since_ms = _eggs_since_ms(moment.occupancy, probe.place, now_ms)
            if eggs_since_ms is None:
                continue
            is_on = moment.is_on(AlarmKind.NO_DATA_LONG, key.channel)
            found = no_data_long(key, probe.place, voice, eggs_since_ms, now_ms, self._zone, is_told=told, is_on=is_on)
            if found is not None:
                yield found

    def _voice_of(self, probe: Probe, moment: Moment, watched_ms: int) -> Voice:
        """What was heard of a probe by any channel that measures."""
        longest_ms = window_ms(probe.interval_s)
        times = {
            at_ms
            for channel in probe.channels
            if not channel.quantity.is_contact
            for at_ms in self._any.times_ms(moment.conn, f"{probe.id}/{channel.name}", longest_ms, moment.now_ms)
        }
        return Voice(_newest_first(times), longest_ms, watched_ms)

    def _air_voice(self, key: ChannelKey, probe: Probe, moment: Moment, watched_ms: int) -> Voice:
        longest_ms = window_ms(probe.interval_s)
        times = self._good.times_ms(moment.conn, key.channel, longest_ms, moment.now_ms)
        return Voice(tuple(times), longest_ms, watched_ms)


def _newest_first(times: set[int]) -> tuple[int, ...]:
    return tuple(sorted(times, reverse=True)[:READINGS_BACK])


def _eggs_since_ms(occupancy: Occupancy, place: str, now_ms: int) -> int | None:
    """Since when the first of the clutches at a place lies where it lies; None where none is there."""
    inside = occupancy.lying_in(place, now_ms)
    moved: Sequence[int] = [
        max(stay.from_ms for stay in clutch.placements if stay.from_ms <= now_ms) for clutch in inside
    ]
    return min(moved, default=None)
