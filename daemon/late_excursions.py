"""Excursions in readings that came when newer ones of their channel were known: no alarm is stepped back for these.

The readings around them are stepped through once more from the journal, by the same rules as any other ones, in a
memory of their own. What was told or found before is left out. What it costs is bounded by `MOST_READINGS` a channel.
"""

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence

from config.places import Places
from config.site import Site
from config.words import AlarmKind
from daemon.alarm_memory import ChannelMemory, fresh_memory
from daemon.alarm_rules import RuleBook
from daemon.alarm_transition import Transition
from daemon.alarms.conditions import Change, ConditionState, Phase
from daemon.alarms.definitions import tuned
from daemon.late_gathering import LETHAL, SIDES, Excursion
from daemon.limit_steps import take_reading
from daemon.occupancy import Occupancy
from daemon.storage import alarm_past, late
from daemon.storage.samples import StoredReading
from sensors.calibration import Calibrations
from sensors.reading import ChannelKey

BEFORE_MS = 3 * 3_600_000
"""From so long before on: a damped temperature has come to itself by then."""
BEHIND_MS = 3_600_000
MOST_READINGS = 50_000
_KNOWN_BACK_MS = 7 * 24 * 3_600_000
EVER_MS = 2**61
"""The end of what goes on."""


class LateExcursions:
    """Of one site. `bridge_ms`: over longer steps no temperature is damped."""

    def __init__(self, site: Site, places: Places, channels: Mapping[str, ChannelKey], bridge_ms: int) -> None:
        definitions = {kind: tuned(kind, site.alarms) for kind in AlarmKind}
        self._rules = RuleBook(definitions, site, places, bridge_ms)
        self._channels = channels
        self._places = {probe.id: probe.place for probe in site.probes}

    def find(
        self,
        conn: sqlite3.Connection,
        spans: Mapping[str, tuple[int, int]],
        until_seq: int,
        known: Sequence[Excursion],
        raised: Sequence[Transition],
        calibrations: Calibrations,
        occupancy: Occupancy,
    ) -> list[Excursion]:
        """Give what readings in these spans show, as if nothing had been stored after `until_seq`.

        `known` was found already, `raised` are the alarms of this step, which are not in the journal yet. What is still
        past a lethal limit at the end of the span ends at `EVER_MS`.
        """
        found = []
        for channel, (low_ms, high_ms) in sorted(spans.items()):
            if channel not in self._channels:
                continue
            rows = late.good_known(conn, channel, low_ms - BEFORE_MS, high_ms + BEHIND_MS, until_seq, MOST_READINGS)
            corrected = [(at_ms, calibrations.corrected(channel, value, at_ms)) for at_ms, value in rows]
            inside = [
                each
                for each in self._of(self._channels[channel], corrected, occupancy)
                if each.since_ms <= high_ms and each.until_ms >= low_ms
            ]
            told = _told(conn, channel, low_ms - BEFORE_MS, high_ms + BEHIND_MS, raised) if inside else []
            found += [
                each
                for each in inside
                if not any(each.is_told_by(one) for one in (*known, *told)) and each.until_ms > each.since_ms
            ]
        return found

    def _of(self, key: ChannelKey, readings: Iterable[tuple[int, float]], occupancy: Occupancy) -> Iterator[Excursion]:
        """Every excursion of a channel that these readings show to be over."""
        memory, place, limits_of = fresh_memory(key.quantity, 0), self._places[key.probe], dict[AlarmKind, float]()
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
        yield from _nearly_over(memory, key, place, limits_of)


def _nearly_over(
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


def _told(
    conn: sqlite3.Connection, channel: str, start_ms: int, end_ms: int, raised: Sequence[Transition]
) -> list[Excursion]:
    """What was told or found of a channel in a span, from its raising to its end."""
    spans = {channel: [(start_ms - _KNOWN_BACK_MS, end_ms + 1)]}
    rows, _ = alarm_past.newest_raised(conn, spans, EVER_MS, MOST_READINGS)
    # One that began in an earlier step may have ended in this one.
    ended = {each.occurrence: each.at_ms for each in raised if each.change is Change.CLEARED}
    told = [
        (AlarmKind(kind), each.at_ms, ended.get(each.occurrence, EVER_MS) if each.ended_ms is None else each.ended_ms)
        for each in rows
        if (kind := each.alarm_key.partition(":")[0]) in {one.value for side in SIDES for one in side}
    ]
    told += [
        (each.kind, each.since_ms, ended.get(each.occurrence, EVER_MS))
        for each in raised
        if each.subject == channel and each.change is Change.RAISED and any(each.kind in side for side in SIDES)
    ]
    return [Excursion(kind, channel, "", since_ms, until_ms, 0.0, 0.0, "") for kind, since_ms, until_ms in told]
