"""Heat per clutch, kept by the hour, so that a new reading costs the same on day 2 and on day 120.

An hour of a clutch depends on the readings in it and on their nearest neighbours. A reading therefore touches the
hours between its neighbours and no other; those are computed again from the stored readings, which makes a late
reading, a move and a plain new reading the same case, and the sum equal to one computed from all readings at once.
"""

import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest

from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from config.words import Quantity
from daemon.clutches.register import Clutch
from daemon.development.degree_hours import heat_between
from daemon.occupancy import stays
from daemon.storage import heat, samples
from daemon.storage.samples import StoredReading

HOUR_MS = 3_600_000


@dataclass(frozen=True, slots=True)
class HeatRule:
    """What a species' heat is counted by."""

    zero_c: float
    cap_c: float


def heat_rule(profile: SpeciesProfile) -> HeatRule | None:
    """Developmental zero and cap of a profile; None where nothing is known, and then no heat is counted."""
    if profile.development is None:
        return None
    return HeatRule(profile.development.developmental_zero_c, profile.development.cap_c)


def changed_from(old: str | None, new: str) -> int | None:
    """From which moment on (ms) heat has to be computed anew; None where the two bases are the same."""
    if old == new:
        return None
    counted, bridge_ms, lay = json.loads(new)
    if old is None:
        return int(lay[0][1])
    counted_before, bridge_before_ms, lay_before = json.loads(old)
    first_ms = min(lay[0][1], lay_before[0][1])
    if (counted, bridge_ms) != (counted_before, bridge_before_ms):
        return int(first_ms)
    for one, other in zip_longest(lay, lay_before):
        if one != other:
            # The same place from the same moment, only left earlier or later: what came before that stands.
            if one and other and one[:2] == other[:2]:
                return int(min(one[2], other[2]))
            return int(min(each[1] for each in (one, other) if each))
    return int(first_ms)


class HeatLedger:
    """Knows which channel speaks for which place, and computes hours of heat."""

    def __init__(
        self, site: Site, places: Places, profiles: Mapping[str, SpeciesProfile], longest_bridge_s: float
    ) -> None:
        self._places = places
        self._profiles = profiles
        self._bridge_ms = int(longest_bridge_s * 1000)
        self._channel_at = {
            probe.place: f"{probe.id}/{channel.name}"
            for probe in site.probes
            for channel in probe.channels
            if channel.quantity is Quantity.AIR_TEMPERATURE
        }
        self._channels = frozenset(self._channel_at.values())
        self._newest: dict[str, int] = {}

    def channel_for(self, place: str) -> str | None:
        """The best channel of a place: its own probe, else its zone's, else its incubator's."""
        return next((self._channel_at[part] for part in self._places.chain(place) if part in self._channel_at), None)

    def basis(self, clutch: Clutch) -> str:
        """What a clutch's heat follows from besides readings: how its species is counted, and where it lay, as JSON.

        Which probe speaks for a place is not part of it. A probe that is added, moved or renamed counts from then on;
        the hours before keep the heat that the probes of their time have measured.
        """
        profile = self._profiles.get(clutch.species_id)
        rule = heat_rule(profile) if profile else None
        counted = None if rule is None else [rule.zero_c, rule.cap_c]
        return json.dumps([counted, self._bridge_ms, [[stay.place, stay.from_ms, end] for stay, end in stays(clutch)]])

    def touched_hours(self, rows: Iterable[StoredReading], clutches: Sequence[Clutch]) -> dict[int, set[int]]:
        """For each clutch the hours (as their start, ms) that these good readings may change."""
        hours_of: dict[str, set[int]] = {}
        for row in rows:
            channel, time_ms = row.channel, row.measured_at_ms
            if channel not in self._channels:
                continue
            newest_ms = self._newest.get(channel)
            hours = hours_of.setdefault(channel, set())
            hour_ms = time_ms - time_ms % HOUR_MS
            if newest_ms is not None and hour_ms <= newest_ms < time_ms:
                hours.add(hour_ms)
                self._newest[channel] = time_ms
            else:
                hours.update(self._hours_around(channel, time_ms, newest_ms))
        touched: dict[int, set[int]] = {}
        for clutch in clutches:
            for stay, end in stays(clutch):
                hours = hours_of.get(self.channel_for(stay.place) or "", set())
                inside = {hour for hour in hours if hour + HOUR_MS > stay.from_ms and hour < end}
                if inside:
                    touched.setdefault(clutch.clutch_id, set()).update(inside)
        return touched

    def _hours_around(self, channel: str, time_ms: int, newest_ms: int | None) -> range:
        """From the neighbour before to the neighbour after; the newest reading has none after it."""
        if newest_ms is None or time_ms <= newest_ms:
            start_ms, end_ms = time_ms - self._bridge_ms, time_ms + self._bridge_ms
        else:
            start_ms, end_ms = max(newest_ms, time_ms - self._bridge_ms), time_ms
        self._newest[channel] = max(time_ms, newest_ms or time_ms)
        return range(start_ms - start_ms % HOUR_MS, end_ms + 1, HOUR_MS)

    def compute_hour(self, conn: sqlite3.Connection, clutch: Clutch, hour_ms: int) -> heat.HeatHour | None:
        """Heat of one clutch in one hour from the stored readings; None where there is none to store."""
        profile = self._profiles.get(clutch.species_id)
        rule = heat_rule(profile) if profile else None
        if rule is None:
            return None
        degree_hours_ch, covered_ms = 0.0, 0
        for stay, stay_end in stays(clutch):
            start, end = max(hour_ms, stay.from_ms), min(hour_ms + HOUR_MS, stay_end)
            channel = self.channel_for(stay.place)
            if start >= end or channel is None:
                continue
            near = samples.good_between(conn, channel, start, end, self._bridge_ms)
            part = heat_between(near, start, end, rule.zero_c, rule.cap_c, self._bridge_ms)
            degree_hours_ch += part.degree_hours_ch
            covered_ms += part.covered_ms
        # An hour without readings has nothing to store, and none that had some loses them again.
        return heat.HeatHour(hour_ms, degree_hours_ch, covered_ms) if covered_ms else None
