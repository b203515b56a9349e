"""Pairs of probes in the air of one incubator, and whether they agree as they usually do.

No two probes lie at the same place, so each is compared with the nearest one around it (a box with its zone, a zone
with its incubator), and where there is none with the first of those beside it in the same zone or incubator.

A look reads one reading in five minutes of the last hour and a half of each channel. Hourly medians of seven days are
read once a channel and day, a few channels at a time, and carried on by the hour; usual offsets are worked out again
once an hour.
"""

from collections.abc import Iterator
from itertools import groupby, pairwise
from operator import attrgetter
from statistics import median
from typing import NamedTuple

from config.places import Places
from config.site import Site
from config.words import AlarmKind
from daemon.alarms.silence import window_ms
from daemon.box_climate import CELL_MS, hourly_medians
from daemon.standing.disagreement import Probe, Usual, disagree, one_for_all, subject_of, usual_of
from daemon.standing.found import Found
from daemon.standing_sources.air import AirChannel, air_channels
from daemon.standing_sources.source import Moment
from daemon.storage import late
from daemon.storage.recent import first_good_of_cells
from sensors.calibration import Calibrations

KEPT_MS = 7 * 24 * 3_600_000
MOST_AT_ONCE = 3
"""So many channels at the most are read anew in one look."""
_NEWEST_CELL_MS = 5 * 60_000
_BLOCK_MS = 30 * 60_000
_BLOCKS = 3
_FEWEST_IN_BLOCK = 3
_HOUR_MS = 3_600_000
_DAY_MS = 24 * _HOUR_MS


class _Pair(NamedTuple):
    """`hub` is the channel that others may be compared with too; `place` is what both lie in."""

    hub: AirChannel
    spoke: AirChannel
    place: str


class _Hours(NamedTuple):
    """Hourly medians by the number of the hour, as the probe said them, up to the beginning of an hour."""

    medians: dict[int, float]
    read_ms: int
    next_ms: int
    late: int
    """how often late readings of it had come by then"""


class _Known(NamedTuple):
    """A usual offset, and what it was worked out by: the hour, and from when the two calibrations count."""

    hour: int
    calibrated: tuple[int, int]
    usual: Usual | None


class Twins:
    """Looks at the pairs of one site."""

    kinds = frozenset({AlarmKind.PROBES_DISAGREE})
    every_ms = 5 * 60_000

    def __init__(self, site: Site) -> None:
        self._places = Places(site)
        self._fahrenheit = site.temperature_unit == "F"
        self._pairs = tuple(_pairs(air_channels(site)))
        self._hours: dict[str, _Hours] = {}
        self._usual: dict[str, _Known] = {}

    def found(self, moment: Moment) -> Iterator[Found]:
        """Everything that holds now of pairs in places with eggs."""
        pairs = [pair for pair in self._pairs if moment.occupancy.lying_in(pair.place, moment.now_ms)]
        channels = {each.key.channel: each for pair in pairs for each in (pair.hub, pair.spoke)}
        self._read_hours(moment, list(channels))
        probes = {name: self._probe(moment, channel) for name, channel in channels.items()}
        for _, of_hub in groupby(pairs, attrgetter("hub")):
            group = list(of_hub)
            found = [one for pair in group if (one := self._judge(moment, pair, probes)) is not None]
            yield from one_for_all(found, len(group), lambda subject: moment.is_on(AlarmKind.PROBES_DISAGREE, subject))

    def _judge(self, moment: Moment, pair: _Pair, probes: dict[str, Probe]) -> Found | None:
        one, other = probes[pair.hub.key.channel], probes[pair.spoke.key.channel]
        is_on = moment.is_on(AlarmKind.PROBES_DISAGREE, subject_of(one.channel, other.channel))
        usual = self._usual_of(one, other, moment.now_ms, is_on=is_on)
        return disagree(one, other, usual, pair.place, is_on=is_on, fahrenheit=self._fahrenheit)

    def _usual_of(self, one: Probe, other: Probe, now_ms: int, *, is_on: bool) -> Usual | None:
        """The usual offset; while the alarm is on that from before it, or a fault would become usual in some days."""
        subject, calibrated = subject_of(one.channel, other.channel), (one.calibrated_hour, other.calibrated_hour)
        hour, known = now_ms // _HOUR_MS, self._usual.get(subject)
        same = known is not None and known.calibrated == calibrated and known.usual is not None
        if known is not None and same and (is_on or known.hour == hour):
            return known.usual
        usual = usual_of(one, other)
        self._usual[subject] = _Known(hour, calibrated, usual)
        return usual

    def _probe(self, moment: Moment, channel: AirChannel) -> Probe:
        name, corrections, now_ms = channel.key.channel, moment.air.calibrations, moment.now_ms
        hours = self._hours.get(name)
        return Probe(
            channel=name,
            name=self._spoken(channel.place),
            hours={
                hour: corrections.corrected(name, value, now_ms)
                for hour, value in (hours.medians.items() if hours is not None else ())
            },
            newest=_newest(moment, channel),
            u_k=moment.air.uncertainty_k(name, now_ms),
            calibrated_hour=_calibrated_hour(corrections, name, now_ms),
        )

    def _spoken(self, place: str) -> str:
        """The name of a place without that of its incubator."""
        name = self._places.name(place)
        return name.removeprefix(f"{self._places.incubator_of(place).name}, ")

    def _read_hours(self, moment: Moment, channels: list[str]) -> None:
        """Carry the hourly medians on, and read those anew that are a day old or not there."""
        now_ms = moment.now_ms
        end_ms = now_ms - now_ms % _HOUR_MS
        self._hours = {name: hours for name, hours in self._hours.items() if name in channels}
        due = [name for name in channels if name not in self._hours]
        came = late.changes(moment.conn)
        due += [
            name
            for name, hours in self._hours.items()
            if not 0 <= now_ms - hours.read_ms < _DAY_MS or hours.late != came.get(name, 0)
        ]
        for name in due[:MOST_AT_ONCE]:
            medians = _medians(moment, name, end_ms - KEPT_MS, end_ms)
            self._hours[name] = _Hours(medians, now_ms, end_ms, came.get(name, 0))
        for name, hours in self._hours.items():
            if hours.next_ms < end_ms:
                oldest = (end_ms - KEPT_MS) // _HOUR_MS
                kept = {hour: value for hour, value in hours.medians.items() if hour >= oldest}
                kept |= _medians(moment, name, hours.next_ms, end_ms)
                self._hours[name] = _Hours(kept, hours.read_ms, end_ms, hours.late)


def _pairs(channels: tuple[AirChannel, ...]) -> Iterator[_Pair]:
    """Give each channel with the one that it is compared with, those of one hub together."""
    at = {each.place: each for each in channels}
    around = {place: next((at[part] for part in _around(place) if part in at), None) for place in at}
    found = []
    for place, channel in at.items():
        hub, parent = around[place], place.rpartition("/")[0]
        if hub is None and parent:
            hub = next(each for each in channels if each.place.rpartition("/")[0] == parent)
        if hub is not None and hub is not channel:
            found.append(_Pair(hub, channel, _common(hub.place, place)))
    yield from sorted(found, key=lambda pair: pair.hub.place)


def _around(place: str) -> Iterator[str]:
    """The places around one, the nearest first."""
    while "/" in place:
        place = place.rpartition("/")[0]
        yield place


def _common(one: str, other: str) -> str:
    shared = []
    for part, same in zip(one.split("/"), other.split("/"), strict=False):
        if part != same:
            break
        shared.append(part)
    return "/".join(shared)


def _medians(moment: Moment, name: str, start_ms: int, end_ms: int) -> dict[int, float]:
    rows = first_good_of_cells(moment.conn, name, start_ms, end_ms, CELL_MS)
    return {hour_ms // _HOUR_MS: value for hour_ms, value in hourly_medians(rows)}


def _newest(moment: Moment, channel: AirChannel) -> list[float]:
    """The medians of the last half hours, corrected, the newest last; empty where one has too few readings."""
    name, now_ms = channel.key.channel, moment.now_ms
    rows = first_good_of_cells(moment.conn, name, now_ms - _BLOCKS * _BLOCK_MS, now_ms + 1, _NEWEST_CELL_MS)
    blocks: list[list[float]] = [[] for _ in range(_BLOCKS)]
    for at_ms, value in rows:
        blocks[-1 - min((now_ms - at_ms) // _BLOCK_MS, _BLOCKS - 1)].append(value)
    fresh = bool(rows) and now_ms - rows[-1][0] <= window_ms(channel.interval_s) + _NEWEST_CELL_MS
    if not fresh or min(map(len, blocks)) < _FEWEST_IN_BLOCK:
        return []
    return [moment.air.calibrations.corrected(name, median(block), now_ms) for block in blocks]


def _calibrated_hour(corrections: Calibrations, name: str, now_ms: int) -> int:
    """The first whole hour under the correction that counts now; 0 where it was the same for as long as is kept."""
    pieces = corrections.straight(name, now_ms - KEPT_MS - _HOUR_MS, now_ms)
    changed = [
        after.from_ms for before, after in pairwise(pieces) if (before.gain, before.shift) != (after.gain, after.shift)
    ]
    return changed[-1] // _HOUR_MS + 1 if changed else 0
