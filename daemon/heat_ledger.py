"""Heat per clutch, kept by the hour, so that a new reading costs the same on day 2 and on day 120.

An hour is stored once a reading beyond its end has come; until then it is computed when somebody asks. So a plain new
reading costs nothing here but the look at the clock, and its hour is computed once. An hour depends on the readings in
it and on their nearest neighbours: a late reading touches the hours between its neighbours and no other, and a move, a
changed profile or a calibration touches the hours from its own moment on. Touched hours are computed again from the
stored readings, which makes the sum equal to one computed from all readings at once.

The stored hours of a clutch have no hole: they reach from its setting up to the last one stored.
"""

import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from itertools import zip_longest
from typing import NamedTuple

from config.species import SpeciesProfile
from daemon.clutches.register import Clutch
from daemon.development.basis import development_basis
from daemon.development.heat_interval import HeatPiece, HeatRule
from daemon.development.heat_since_laying import Laying
from daemon.heat_course import HeatCourse
from daemon.occupancy import stays
from daemon.storage import samples
from daemon.storage.heat import HeatHour
from daemon.storage.samples import StoredReading

HOUR_MS = 3_600_000


def hour_of(moment_ms: int) -> int:
    """The start of the hour (UTC ms) in which a moment lies."""
    return moment_ms - moment_ms % HOUR_MS


def heat_rule(profile: SpeciesProfile | None) -> HeatRule | None:
    """Developmental zero and cap of a profile; None where nothing is known, and then no heat is counted."""
    basis = development_basis(profile) if profile else None
    return None if basis is None else HeatRule(basis.zero_c, basis.cap_c)


def laying_of(clutch: Clutch) -> Laying:
    """When a clutch was laid and set up."""
    return Laying(clutch.laid_from_ms, clutch.laid_to_ms, clutch.placements[0].from_ms)


def changed_from(old: str | None, new: str) -> int | None:
    """From which moment on (ms) heat has to be computed anew; None where the two bases are the same."""
    if old == new:
        return None
    counted, bridge_ms, lay, dated, stated = json.loads(new)
    first_ms = int(lay[0][1])
    if old is None:
        return first_ms
    counted_before, bridge_before_ms, lay_before, dated_before, stated_before = json.loads(old)
    first_ms = min(first_ms, int(lay_before[0][1]))
    restated = any(stated[one] != stated_before[one] for one in stated if one in stated_before)
    if restated or (counted, bridge_ms) != (counted_before, bridge_before_ms):
        return first_ms
    changes = [_first_difference(lay, lay_before)]
    # A channel that was not heard before counts from the move that brought it into reach.
    changes += [_first_difference(dated[one], dated_before[one]) for one in dated if one in dated_before]
    found = [moment for moment in changes if moment is not None]
    return max(first_ms, min(found)) if found else None


def _first_difference(new: list[list[int]], old: list[list[int]]) -> int | None:
    """The moment from which two dated lists differ; entries are [place, from_ms, end_ms] or [0, from_ms, figures]."""
    for one, other in zip_longest(new, old):
        if one == other:
            continue
        # The same place from the same moment, only left earlier or later: what came before that stands.
        if one and other and one[:2] == other[:2] and isinstance(one[0], str):
            return int(min(one[2], other[2]))
        return int(min(each[1] for each in (one, other) if each))
    return None


class Span(NamedTuple):
    """A channel's readings have changed what is known between two moments; from the beginning with None.

    `runs` has for every channel at that point since when it has spoken without a gap, and its newest time; of a late
    reading it says nothing, and is empty.
    """

    from_ms: int | None
    to_ms: int
    runs: Mapping[str, tuple[int, int]]


class HeatLedger:
    """Knows which hours of which clutch a reading touches, and computes hours."""

    def __init__(
        self, profiles: Mapping[str, SpeciesProfile], channels_for: Mapping[str, tuple[str, ...]], bridge_ms: int
    ) -> None:
        self._rules = {species_id: heat_rule(profile) for species_id, profile in profiles.items()}
        self._bridge_ms = bridge_ms
        self._channels_for = channels_for
        self._watched = frozenset(channel for channels in channels_for.values() for channel in channels)
        self._heard: set[str] = set()
        self._runs: dict[str, tuple[int, int]] = {}
        self._furthest_ms: int | None = None
        """The newest reading of all channels; None until that is read from the journal."""

    def counts(self, clutch: Clutch) -> bool:
        """True where enough is known of the species to count its heat."""
        return self._rules.get(clutch.species_id) is not None

    def basis(
        self, clutch: Clutch, calibrated: Mapping[str, list[list[float]]], stated: Mapping[str, Sequence[float]]
    ) -> str:
        """What a clutch's heat follows from besides readings, as JSON.

        The species' figures, where it lay, calibrations, and what is `stated` of a channel's accuracy and of the room
        of an incubator. Time constants are not part of it: a gap keeps the bounds of its time.

        Which probe speaks for a place is not part of it. A probe that is added, moved or renamed counts from then on;
        the hours before keep the heat that the probes of their time have measured.
        """
        rule = self._rules.get(clutch.species_id)
        lain = [[stay.place, stay.from_ms, end] for stay, end in stays(clutch)]
        heard = sorted({channel for place, *_ in lain for channel in self._channels_for.get(str(place), ())})
        dated = {channel: [[0, *one] for one in calibrated.get(channel, [])] for channel in heard}
        rooms = {str(place).split("/", 1)[0] for place, *_ in lain}
        of_these = {one: list(stated[one]) for one in sorted({*heard, *rooms}) if one in stated}
        return json.dumps([None if rule is None else list(rule), self._bridge_ms, lain, dated, of_these])

    def spans(self, conn: sqlite3.Connection, rows: Iterable[StoredReading], cursor: int) -> dict[str, list[Span]]:
        """What these good readings change, by channel. `cursor` is the last sequence number before them."""
        found: dict[str, list[Span]] = {}
        if self._furthest_ms is None:
            known = [self._newest_of(conn, channel, cursor) for channel in self._watched]
            self._furthest_ms = max((one for one in known if one is not None), default=0)
        for row in rows:
            channel, time_ms = row.channel, row.measured_at_ms
            if channel not in self._watched:
                continue
            newest_ms = self._newest_of(conn, channel, cursor)
            if newest_ms is not None and time_ms <= newest_ms:
                before, after = samples.neighbours(conn, channel, time_ms)
                late = Span(before, hour_of(after or newest_ms) + HOUR_MS, {})
                found.setdefault(channel, []).append(late)
                continue
            since_ms = self._runs[channel][0] if channel in self._runs else time_ms
            goes_on = newest_ms is not None and time_ms - newest_ms <= self._bridge_ms
            self._runs[channel] = since_ms if goes_on else time_ms, time_ms
            if newest_ms is None or hour_of(newest_ms) != hour_of(time_ms):
                found.setdefault(channel, []).append(Span(newest_ms, time_ms, dict(self._runs)))
            if hour_of(time_ms) < hour_of(self._furthest_ms):
                # By another channel this hour is over, and may be stored: for it this reading is late.
                found.setdefault(channel, []).append(Span(newest_ms, hour_of(time_ms) + HOUR_MS, {}))
            self._furthest_ms = max(self._furthest_ms, time_ms)
        return found

    def _newest_of(self, conn: sqlite3.Connection, channel: str, cursor: int) -> int | None:
        if channel not in self._heard:
            self._heard.add(channel)
            newest_ms = samples.newest_good_until(conn, channel, cursor)
            if newest_ms is not None:
                self._runs[channel] = newest_ms, newest_ms
        return self._runs[channel][1] if channel in self._runs else None

    def touched(
        self, spans: Mapping[str, Sequence[Span]], clutch: Clutch, stored_until_ms: int
    ) -> tuple[set[int], set[int]]:
        """The hours of a clutch (as their start, ms) that these spans touch.

        First those that are over by them; then those that late readings touch, which may not be over yet. A channel
        that is heard for the first time changes nothing of what is stored: other probes have measured that. Of the
        hours from `stored_until_ms` on only the last one of each span is named, however many there are: all up to it
        have to be computed anyway.
        """
        over: set[int] = set()
        late: set[int] = set()
        for stay, end_ms in stays(clutch):
            better: list[str] = []
            for channel in self._channels_for.get(stay.place, ()):
                for span in spans.get(channel, ()):
                    start_ms = self._counts_from(span, better)
                    if start_ms is not None:
                        is_first = span.from_ms is None and bool(span.runs)
                        begin_ms = stored_until_ms if is_first else start_ms
                        first = hour_of(max(begin_ms, stay.from_ms))
                        hours = range(first, min(hour_of(span.to_ms), end_ms), HOUR_MS)
                        touched = over if span.runs else late
                        touched.update(range(first, min(hours.stop, stored_until_ms), HOUR_MS))
                        touched.update(hours[-1:])
                better.append(channel)
        return over, late

    def _counts_from(self, span: Span, better: Sequence[str]) -> int | None:
        """From when on a span counts where better channels speak first; None where one of them speaks all the time."""
        start_ms = span.from_ms or 0
        if span.to_ms - start_ms > self._bridge_ms:
            # Where a better channel has a gap as well, the nearer readings count: these may be the nearer ones now.
            return start_ms
        for channel in better:
            if channel not in span.runs:
                continue
            since_ms, spoken_ms = span.runs[channel]
            if since_ms <= start_ms and spoken_ms >= span.to_ms - self._bridge_ms:
                return None
            # When the better one has just fallen silent, all since its last word is this one's.
            start_ms = min(start_ms, spoken_ms) if start_ms <= spoken_ms + self._bridge_ms else start_ms
        return start_ms

    def reaches_back(self, conn: sqlite3.Connection, clutch: Clutch, from_ms: int) -> int:
        """The moment from which heat differs when all readings from `from_ms` on do: the last reading before that.

        The line to the first one that differs begins there.
        """
        channels = {channel for stay in clutch.placements for channel in self._channels_for.get(stay.place, ())}
        around = [samples.neighbours(conn, channel, from_ms) for channel in channels]
        # A channel that was first heard later speaks for all the time before.
        first_ms = clutch.placements[0].from_ms
        reached = [
            first_ms if before is None else before for before, behind in around if (before or behind) is not None
        ]
        return min(reached, default=from_ms)

    def until(self, conn: sqlite3.Connection, clutch: Clutch, cursor: int) -> int:
        """The hour (its start, ms) up to which readings have come for where the clutch lay."""
        reached = [
            min(newest_ms, hour_of(end_ms - 1) + HOUR_MS)
            for stay, end_ms in stays(clutch)
            for channel in self._channels_for.get(stay.place, ())
            if (newest_ms := self._newest_of(conn, channel, cursor)) is not None and newest_ms > stay.from_ms
        ]
        return hour_of(max(reached, default=0))

    def compute_hour(self, course: HeatCourse, clutch: Clutch, hour_ms: int) -> HeatHour | None:
        """Heat of one clutch in one hour; None where the clutch was not there or its heat is not counted."""
        rule = self._rules.get(clutch.species_id)
        if rule is None:
            return None
        piece = heat_over(course, clutch, hour_ms, hour_ms + HOUR_MS, rule)
        return HeatHour(hour_ms, piece) if piece.covered_ms or piece.missing_ms else None


def heat_over(course: HeatCourse, clutch: Clutch, start_ms: int, end_ms: int, rule: HeatRule) -> HeatPiece:
    """Heat of a clutch from start to end, wherever it lay; nothing before its setting up and after its closing."""
    piece = HeatPiece()
    for stay, stay_end in stays(clutch):
        start, end = max(start_ms, stay.from_ms), min(end_ms, stay_end)
        if start < end:
            piece += course.piece(stay.place, start, end, rule)
    return piece
