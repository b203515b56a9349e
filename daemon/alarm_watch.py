"""Pure: readings and the passing of time in, alarms raised and cleared out.

No clock and no file: what comes out follows from what went in, in that order. So a replay of the journal, or a run that
was cut off in the middle and went on, ends in the same alarms as a run without a break.
"""

from collections.abc import Mapping

from config.places import Places
from config.site import Probe, Site
from config.words import AlarmKind, Quantity
from daemon import alarm_late
from daemon.alarm_causes import Causes, due_by_reading, due_of_probe, next_tell_ms, settle_ms
from daemon.alarm_memory import (
    LONGEST_AHEAD_MS,
    Calm,
    ChannelMemory,
    Memory,
    fresh_memory,
    withdrawn,
)
from daemon.alarm_resumed import Resumed
from daemon.alarm_rules import RuleBook
from daemon.alarm_transition import Happened, Transition, transition
from daemon.alarms import faults, silence
from daemon.alarms.conditions import Change
from daemon.alarms.damping import LONGEST_BRIDGE_MS
from daemon.alarms.definitions import AlarmDefinition, tuned
from daemon.alarms.faults import FaultState
from daemon.alarms.lateness import is_late
from daemon.alarms.silence import SilenceState
from daemon.limit_steps import take_reading
from daemon.occupancy import Occupancy
from daemon.storage.samples import StoredReading
from sensors.reading import ChannelKey

SET_BACK_MS = 60_000
"""A reading that arrived so long before the one that arrived before it tells of a clock that was set back."""


class AlarmWatch:
    """The alarms of all channels of a site. `bridge_ms`: over longer steps no temperature is damped."""

    def __init__(
        self,
        site: Site,
        places: Places,
        channels: Mapping[str, ChannelKey],
        watching_since_ms: int,
        bridge_ms: float = LONGEST_BRIDGE_MS,
    ) -> None:
        self._probes: dict[str, Probe] = {probe.id: probe for probe in site.probes}
        self._channels = dict(channels)
        self._definitions: dict[AlarmKind, AlarmDefinition] = {kind: tuned(kind, site.alarms) for kind in AlarmKind}
        self._memories = {name: fresh_memory(key.quantity, watching_since_ms) for name, key in self._channels.items()}
        self._causes = Causes(self._channels, self._memories)
        self._rules = RuleBook(self._definitions, site, places, bridge_ms)
        self._calm: dict[str, Calm] = {}
        self._changed: set[str] = set()
        self._resumed = Resumed(self._channels, self._probes, self._memories, self._changed)
        self._look_again_ms = 0
        self._latest_ms = 0
        self._received_ms = 0
        self._late_at_ms: int | None = None  # when the reading came that is applied now, where it came late

    def restore(self, stored: Mapping[str, str], watching_since_ms: int) -> list[str]:
        """Take over the states of an earlier run. Gives a sentence for each that could not be used."""
        return self._resumed.read(stored, watching_since_ms)

    def take_changed(self) -> dict[str, str]:
        """The states that changed since the last call, as the journal keeps them. Call `settle` before."""
        changed = sorted(self._changed)
        self._changed.clear()
        return {name: self._memories[name].to_json() for name in changed}

    def reading(self, row: StoredReading, occupancy: Occupancy) -> list[Transition]:
        """One stored reading later."""
        if row.received_at_ms < self._received_ms - SET_BACK_MS:
            return [*self.clock_was_set_back(row.received_at_ms), *self.reading(row, occupancy)]
        self._received_ms = max(self._received_ms, row.received_at_ms)
        calm = self._calm.get(row.channel)
        if calm is not None and row.received_at_ms < self._look_again_ms and calm.covers(row, occupancy):
            calm.take(row)
            return []
        found = self._catch_up(row.channel)
        found += self.time_passed(row.received_at_ms, occupancy)
        found += self._apply(row, occupancy)
        self._note_calm(row, occupancy)
        return found

    def settle(self) -> list[Transition]:
        """Apply what runs of calm readings left open. The states are complete after it."""
        return [change for channel in list(self._calm) for change in self._catch_up(channel)]

    def _catch_up(self, channel: str) -> list[Transition]:
        """Apply the last of a run of calm readings: it leaves what all of them together would have left."""
        calm = self._calm.pop(channel, None)
        if calm is None or calm.newest is calm.applied:
            return []
        calm.damp()
        return self._apply(calm.newest, calm.occupancy)

    def _note_calm(self, row: StoredReading, occupancy: Occupancy) -> None:
        """Where every alarm of the channel is normal, say within which bounds nothing can change."""
        memory = self._memories.get(row.channel)
        if memory is None or row.quality or not memory.is_calm:
            return
        low, high = self._rules.bounds(row.channel)
        key = self._channels[row.channel]
        lag = self._rules.lag(key) if key.quantity is Quantity.AIR_TEMPERATURE else None
        if memory.damped is not None and not low < memory.damped.damped_c < high:
            return
        span = occupancy.unchanged(row.measured_at_ms)
        self._calm[row.channel] = Calm(memory, lag, row, row, occupancy, *span, low, high)

    def _apply(self, row: StoredReading, occupancy: Occupancy) -> list[Transition]:
        key = self._channels.get(row.channel)
        if key is None:
            return []
        self._changed.add(row.channel)
        memory = self._memories[row.channel]
        memory.forget_the_future(row.received_at_ms + LONGEST_AHEAD_MS)
        found = self._hear(key, memory, row, occupancy)
        probe = self._probes[key.probe]
        late = is_late(row.measured_at_ms, row.received_at_ms, probe.interval_s)
        self._late_at_ms = row.received_at_ms if late else None
        found += self._judge_quality(key, memory, row, occupancy)
        limits = occupancy.limits(probe.place, row.measured_at_ms)
        for kind, happened in take_reading(memory, self._rules, key, limits, row):
            found.append(self._transition(key, kind, happened))
        for kind, happened in due_by_reading(memory, self._rules, key, limits, row, late=late):
            found += self._tell(key, kind, happened)
        self._late_at_ms = None
        self._look_again_ms = min(self._look_again_ms, alarm_late.next_ms(memory))
        return found

    def time_passed(self, now_ms: int, occupancy: Occupancy) -> list[Transition]:
        """Time went on to `now_ms`, and perhaps nothing came."""
        found = self.clock_was_set_back(now_ms) if now_ms + LONGEST_AHEAD_MS < self._latest_ms else []
        self._latest_ms = max(self._latest_ms, now_ms)
        if now_ms < self._look_again_ms:
            return found
        found += self.settle()
        next_deadline_ms = alarm_late.FAR_FUTURE_MS
        for key in self._causes.in_order:
            alarm = self._memories[key.channel].alarms[AlarmKind.NO_DATA]
            if not isinstance(alarm.state, SilenceState):
                continue
            interval_s = self._probes[key.probe].interval_s
            if self._watched(key, now_ms, occupancy):
                found += self._apply_silence(key, alarm, silence.on_time(alarm.state, interval_s, now_ms))
                memory = self._memories[key.channel]
                for kind, happened in (*due_of_probe(memory, now_ms), *alarm_late.after_time(memory, now_ms)):
                    found += self._tell(key, kind, happened)
                if not alarm.state.is_silent:
                    next_deadline_ms = min(next_deadline_ms, silence.deadline_ms(alarm.state, interval_s))
                next_deadline_ms = min(next_deadline_ms, next_tell_ms(memory))
            else:
                # An empty place may become occupied at any time, so it is looked at every interval.
                next_deadline_ms = min(next_deadline_ms, now_ms + silence.window_ms(interval_s))
                found += self._leave_alone(key, now_ms)
        self._look_again_ms = next_deadline_ms
        return found

    def is_holding(self) -> bool:
        """True where an alarm that late readings raised is neither told nor over."""
        return any(each.held for memory in self._memories.values() for each in memory.alarms.values())

    def watch_again(self, now_ms: int) -> None:
        """The clock was set ahead: the time that it jumped over is nobody's silence."""
        self._resumed.watch_again(now_ms)
        self._look_again_ms = 0

    def clock_was_set_back(self, now_ms: int) -> list[Transition]:
        """What is remembered of times that have not come yet would hold every deadline and reading up until then."""
        found = self.settle()
        self._resumed.forget_the_future(now_ms)
        self._latest_ms = self._received_ms = now_ms
        self._look_again_ms = 0
        return found

    def begin_at(self, now_ms: int) -> None:
        """The first look after a start: what is remembered may be of a clock that was ahead of the one of now."""
        self._resumed.begin_at(now_ms)

    def on(self, now_ms: int, occupancy: Occupancy) -> list[Transition]:
        """Every alarm that is on, as it would be raised now; `told` where people were told of it."""
        return self._resumed.on(self._causes.in_order, self._rules, occupancy, now_ms)

    def adopt(self, raised: Transition) -> bool:
        """Take over an alarm that people know to be on; False where no channel of the site has it."""
        self._calm.pop(raised.subject, None)
        self._look_again_ms = 0
        return self._resumed.adopt(raised)

    def look_at_all(self) -> None:
        """The register changed: what was not due for a look may be now."""
        self._look_again_ms = 0

    def _hear(
        self, key: ChannelKey, memory: ChannelMemory, row: StoredReading, occupancy: Occupancy
    ) -> list[Transition]:
        alarm = memory.alarms[AlarmKind.NO_DATA]
        if not isinstance(alarm.state, SilenceState):
            return []
        interval_s = self._probes[key.probe].interval_s
        after = silence.on_reading(alarm.state, interval_s, row.quality != 0, row.measured_at_ms, row.received_at_ms)
        if after.change is Change.RAISED and not self._watched(key, row.received_at_ms, occupancy):
            alarm.state = SilenceState(row.received_at_ms, after.state.newest_good_ms)
            return []
        was_silent = alarm.state.is_silent
        found = self._apply_silence(key, alarm, after)
        if was_silent and not alarm.state.is_silent:
            self._look_again_ms = min(self._look_again_ms, silence.deadline_ms(alarm.state, interval_s))
        return found

    def _judge_quality(
        self, key: ChannelKey, memory: ChannelMemory, row: StoredReading, occupancy: Occupancy
    ) -> list[Transition]:
        alarm = memory.alarms[AlarmKind.PROBE_FAULT]
        if not isinstance(alarm.state, FaultState):
            return []
        definition = self._definitions[AlarmKind.PROBE_FAULT]
        before = alarm.state
        after = faults.on_reading(before, definition.on_delay_s, row.quality, row.measured_at_ms)
        if after.change is Change.RAISED and not self._watched(key, row.received_at_ms, occupancy):
            return []
        alarm.state = after.state
        if not after.change:
            return []
        since_ms = (after.state if after.change is Change.RAISED else before).since_ms or row.measured_at_ms
        happened = Happened(after.change, row.measured_at_ms, since_ms, row.value, None, None, after.reason)
        return [self._transition(key, AlarmKind.PROBE_FAULT, happened)]

    def _apply_silence(self, key: ChannelKey, alarm: Memory, after: silence.SilenceStep) -> list[Transition]:
        before = alarm.state
        alarm.state = after.state
        if after.state is not before:
            self._changed.add(key.channel)
        if after.change is None or after.at_ms is None or not isinstance(before, SilenceState):
            return []
        raised = after.change is Change.RAISED
        since_ms = after.at_ms if raised else before.silent_since_ms or after.at_ms
        happened = Happened(after.change, after.at_ms, since_ms, None, None, None, after.reason)
        return [self._transition(key, AlarmKind.NO_DATA, happened)]

    def _leave_alone(self, key: ChannelKey, now_ms: int) -> list[Transition]:
        """No clutch lies here: nothing can harm it. Every alarm that is on ends, with that reason."""
        ended = withdrawn(self._memories[key.channel], now_ms)
        if ended:
            self._changed.add(key.channel)
        return [self._transition(key, kind, happened) for kind, happened in ended]

    def _tell(self, key: ChannelKey, kind: AlarmKind, happened: Happened) -> list[Transition]:
        """An alarm that another one explained goes on though that one has ended: now it is told."""
        alarm = self._memories[key.channel].alarms[kind]
        alarm.tell_from_ms = alarm.held = None
        self._changed.add(key.channel)
        if not alarm.is_alarm or alarm.told or self._causes.explain(key, kind):
            return []
        alarm.told = True
        return [self._said(key, kind, happened, alarm.occurrence, told=True)]

    def _watched(self, key: ChannelKey, moment_ms: int, occupancy: Occupancy) -> bool:
        return bool(occupancy.lying_in(self._probes[key.probe].place, moment_ms))

    def _transition(self, key: ChannelKey, kind: AlarmKind, happened: "Happened") -> Transition:
        alarms = self._memories[key.channel].alarms
        alarm = alarms[kind]
        if happened.change is Change.RAISED:
            alarm.occurrence = f"{kind}:{key.channel}:{happened.since_ms}"
            alarm.told = not self._causes.explain(key, kind)
            if self._late_at_ms is not None and kind is not AlarmKind.NO_DATA:
                alarm_late.hold(alarm, self._late_at_ms, happened.limit)
        occurrence, told, late = alarm.occurrence, alarm.told, alarm.held is not None
        if happened.change is Change.CLEARED:
            alarm.occurrence, alarm.told, alarm.tell_from_ms, alarm.held = "", False, None, None
            self._go_on_without(key, kind, happened.at_ms)
        return self._said(key, kind, happened, occurrence, told=told, late=late)

    def _go_on_without(self, key: ChannelKey, ended: AlarmKind, at_ms: int) -> None:
        """An alarm ended that explained others. Those that go on have to be known to people."""
        for other, kind in self._causes.left_by(key, ended):
            tell_from_ms = at_ms + settle_ms(kind, self._probes[other.probe].interval_s)
            self._memories[other.channel].alarms[kind].tell_from_ms = tell_from_ms
            self._look_again_ms = min(self._look_again_ms, tell_from_ms)
            self._changed.add(other.channel)

    def _said(
        self, key: ChannelKey, kind: AlarmKind, happened: Happened, occurrence: str, *, told: bool, late: bool = False
    ) -> Transition:
        alarms = self._memories[key.channel].alarms
        still = tuple(other for other, memory in alarms.items() if other is not kind and memory.goes_on)
        place = self._probes[key.probe].place
        return transition(kind, key, place, happened, occurrence, told=told, still=still, late=late)
