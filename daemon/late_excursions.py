"""Excursions in readings that came when newer ones of their channel were known: no alarm is stepped back for these.

The readings around them are stepped through once more from the journal, by the same rules as any other ones, in a
memory of their own. What was told or found before is left out. It is done in slices, since years of readings may have
come; only whether a lethal limit is still passed at the newest reading is said at once, from the end of a stretch.
"""

import logging
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, MutableMapping, Sequence

from config.places import Places
from config.site import Site
from config.words import AlarmKind
from daemon.alarm_memory import LIMIT_KINDS, ChannelMemory, fresh_memory
from daemon.alarm_rules import RuleBook
from daemon.alarm_transition import Transition
from daemon.alarms.conditions import Change, ConditionState, Phase
from daemon.alarms.definitions import tuned
from daemon.late_gathering import LETHAL, SIDES, Excursion
from daemon.late_look import Look, Position, Stretch
from daemon.limit_steps import take_reading
from daemon.occupancy import Occupancy
from daemon.storage import late
from daemon.storage.samples import StoredReading
from sensors.calibration import Calibrations
from sensors.reading import ChannelKey

log = logging.getLogger("clutchwarden.late")

BEFORE_MS = 3 * 3_600_000
"""From so long before on: a damped temperature has come to itself by then."""
BEHIND_MS = 3_600_000
END_READINGS = (750, 6_000)
"""So many readings at the end of a stretch say since when a lethal limit is passed; the more only where it was already
at the first of the fewer. Project choice: half a day, or four days, of one a minute."""
_KNOWN_BACK_MS = 7 * 24 * 3_600_000
EVER_MS = 2**61
"""The end of what goes on."""
_OF_SIDES = frozenset(kind.value for side in SIDES for kind in side)


class LateExcursions:
    """Of one site. `bridge_ms`: over longer steps no temperature is damped."""

    def __init__(self, site: Site, places: Places, channels: Mapping[str, ChannelKey], bridge_ms: int) -> None:
        definitions = {kind: tuned(kind, site.alarms) for kind in AlarmKind}
        self._rules = RuleBook(definitions, site, places, bridge_ms)
        self._channels = channels
        self._places = {probe.id: probe.place for probe in site.probes}

    def slice_of(
        self, conn: sqlite3.Connection, look: Look, most: int, calibrations: Calibrations, occupancy: Occupancy
    ) -> tuple[list[Excursion], int]:
        """Look through at most so many readings more of the first stretch of a look, and let it stand there.

        Gives the excursions that are over by now and were not known, and the number of readings. At the end of the
        stretch, what is still past a lethal limit is among them and ends at `EVER_MS`.
        """
        stretch, end_ms = look.stretches[0], look.stretches[0].high_ms + BEHIND_MS
        key = self._channels.get(stretch.channel)
        if key is None:
            look.next_stretch()
            return [], 0
        memory, limits_of, after_ms = _stand(look.position, key, stretch)
        rows = late.good_after(conn, key.channel, after_ms, end_ms, look.until_seq, most)
        found = list(self._step_through(memory, limits_of, key, _corrected(key, rows, calibrations), occupancy))
        if len(rows) < most:
            found += _at_the_end(memory, key, self._places[key.probe], limits_of)
            look.next_stretch()
        else:
            limits = {kind.value: limit for kind, limit in limits_of.items()}
            look.position = Position(rows[-1][0], memory.to_json(), limits)
        return _unknown(conn, look, stretch, found), len(rows)

    def going_on(
        self, conn: sqlite3.Connection, look: Look, stretch: Stretch, calibrations: Calibrations, occupancy: Occupancy
    ) -> list[Excursion]:
        """Give the lethal limits that are still passed at the end of a stretch, as far as nobody was told.

        It is seen by the newest readings of the stretch alone, so that nobody waits for the years before them.
        """
        key, span = self._channels.get(stretch.channel), (stretch.low_ms - BEFORE_MS, stretch.high_ms + BEHIND_MS)
        newest = late.good_known(conn, stretch.channel, *span, look.until_seq, 1)
        if key is None or not newest or not self._is_lethal(key, *_corrected(key, newest, calibrations)[0], occupancy):
            return []
        found: list[Excursion] = []
        for most in END_READINGS:
            rows = late.good_known(conn, key.channel, *span, look.until_seq, most)
            memory, limits_of = fresh_memory(key.quantity, 0), dict[AlarmKind, float]()
            for _ in self._step_through(memory, limits_of, key, _corrected(key, rows, calibrations), occupancy):
                pass
            at_end = _at_the_end(memory, key, self._places[key.probe], limits_of)
            found = [each for each in at_end if each.until_ms == EVER_MS]
            if len(rows) < most or all(each.since_ms > rows[0][0] for each in found):
                break
        return _unknown(conn, look, stretch, found)

    def _is_lethal(self, key: ChannelKey, at_ms: int, value: float, occupancy: Occupancy) -> bool:
        """Tell whether an alarm about a lethal limit may be on at this reading."""
        limits = occupancy.limits(self._places[key.probe], at_ms)
        rules = [self._rules.rule(key, kind, limits) for kind in LIMIT_KINDS[key.quantity] if kind in LETHAL]
        return any(rule is not None and rule.excess(value) > -rule.deadband for rule in rules)

    def _step_through(
        self,
        memory: ChannelMemory,
        limits_of: MutableMapping[AlarmKind, float],
        key: ChannelKey,
        readings: Iterable[tuple[int, float]],
        occupancy: Occupancy,
    ) -> Iterator[Excursion]:
        """Every excursion of a channel that these readings show to be over; the memory is changed."""
        place = self._places[key.probe]
        for at_ms, value in readings:
            row = StoredReading(0, key.channel, at_ms, at_ms, value, 0)
            for kind, happened in take_reading(memory, self._rules, key, occupancy.limits(place, at_ms), row):
                alarm = memory.alarms[kind]
                if happened.change is Change.RAISED and happened.limit is not None:
                    alarm.occurrence = f"{kind}:{key.channel}:{happened.since_ms}"
                    limits_of[kind] = happened.limit
                elif kind in limits_of and happened.peak is not None:
                    until_ms = happened.at_ms if happened.back_ms is None else happened.back_ms
                    limit, name = limits_of.pop(kind), alarm.occurrence
                    yield Excursion(kind, key.channel, place, happened.since_ms, until_ms, happened.peak, limit, name)
                    alarm.occurrence = ""


def _stand(
    position: Position | None, key: ChannelKey, stretch: Stretch
) -> tuple[ChannelMemory, dict[AlarmKind, float], int]:
    """What is remembered where the last slice ended, and until which reading it went.

    An alarm that cannot be read starts anew; what the channel has no alarm for is left out.
    """
    memory = fresh_memory(key.quantity, 0)
    if position is None:
        return memory, {}, stretch.low_ms - BEFORE_MS - 1
    for problem in memory.read_json(position.memory):
        log.error("An alarm in late readings of %s starts anew: %s", key.channel, problem)
    limits = {kind: position.limits[kind] for kind in memory.alarms if kind in position.limits}
    return memory, limits, position.after_ms


def _corrected(
    key: ChannelKey, rows: Sequence[tuple[int, float]], calibrations: Calibrations
) -> list[tuple[int, float]]:
    return [(at_ms, calibrations.corrected(key.channel, value, at_ms)) for at_ms, value in rows]


def _at_the_end(
    memory: ChannelMemory, key: ChannelKey, place: str, limits_of: Mapping[AlarmKind, float]
) -> Iterator[Excursion]:
    """Those that are back inside at the end, if not for long, and lethal ones that are not.

    What is still out there newer readings have judged, where there are some.
    """
    for kind, limit in limits_of.items():
        state = memory.alarms[kind].state
        if not isinstance(state, ConditionState) or not (state.phase is Phase.PENDING_OFF or kind in LETHAL):
            continue
        since_ms, worst = state.since_ms, state.peak
        until_ms = state.run_start_ms if state.phase is Phase.PENDING_OFF else EVER_MS
        if since_ms is not None and until_ms is not None and worst is not None:
            name = memory.alarms[kind].occurrence
            yield Excursion(kind, key.channel, place, since_ms, until_ms, worst, limit, name)


def _unknown(conn: sqlite3.Connection, look: Look, stretch: Stretch, found: Sequence[Excursion]) -> list[Excursion]:
    """Those of a stretch that nobody was told of and no look has found before."""
    inside = [
        each
        for each in found
        if stretch.low_ms <= each.until_ms and each.since_ms <= stretch.high_ms and each.since_ms < each.until_ms
    ]
    if not inside:
        return []
    start_ms, end_ms = min(each.since_ms for each in inside), max(each.until_ms for each in inside)
    told = late.told(conn, stretch.channel, start_ms - _KNOWN_BACK_MS, end_ms + 1, look.last_event)
    known = [
        Excursion(AlarmKind(kind), stretch.channel, "", each.at_ms, _ended_ms(each, look), 0.0, 0.0, "")
        for each in told
        if (kind := each.alarm_key.partition(":")[0]) in _OF_SIDES
    ]
    return [each for each in inside if not any(each.is_told_by(one) for one in (*known, *look.told))]


def _ended_ms(told: late.Told, look: Look) -> int:
    """One that began in an earlier step may have ended in the one in which the look began."""
    return look.ended.get(told.occurrence, EVER_MS) if told.ended_ms is None else told.ended_ms


def known_by(changes: Iterable[Transition]) -> tuple[list[Excursion], dict[str, int]]:
    """What the alarms of a step say, which are not in the journal yet: what they tell, and when they ended."""
    ended = {each.occurrence: each.at_ms for each in changes if each.change is Change.CLEARED}
    told = [
        Excursion(each.kind, each.subject, "", each.since_ms, ended.get(each.occurrence, EVER_MS), 0.0, 0.0, "")
        for each in changes
        if each.change is Change.RAISED and (each.told or each.late) and each.kind.value in _OF_SIDES
    ]
    return told, ended
