"""Pure: what a watch remembers, over a restart, a clock that was set, and beside what the desk remembers.

It changes the memories of the channels and names those that have changed; what follows from readings is not for here.
"""

from collections.abc import Collection, Iterator, Mapping, MutableSet

from config.site import Probe
from config.words import AlarmKind
from daemon.alarm_causes import settle_ms
from daemon.alarm_memory import AHEAD_AT_START_MS, ChannelMemory
from daemon.alarm_rules import RuleBook
from daemon.alarm_transition import Happened, Transition, transition
from daemon.alarms import silence
from daemon.alarms.conditions import Change, ConditionState
from daemon.alarms.silence import SilenceState
from daemon.occupancy import Occupancy
from sensors.reading import ChannelKey


class Resumed:
    """The memories of one watch, by channel; `changed` takes the names of those that were changed here."""

    def __init__(
        self,
        channels: Mapping[str, ChannelKey],
        probes: Mapping[str, Probe],
        memories: Mapping[str, ChannelMemory],
        changed: MutableSet[str],
    ) -> None:
        self._channels = channels
        self._probes = probes
        self._memories = memories
        self._changed = changed

    def read(self, stored: Mapping[str, str], watching_since_ms: int) -> list[str]:
        """Take over the states of an earlier run. Gives a sentence for each that could not be used."""
        problems: list[str] = []
        for name, text in stored.items():
            if name in self._memories:
                problems += [f"{name}, {problem}" for problem in self._memories[name].read_json(text)]
        self._watch_since(watching_since_ms)
        return problems

    def begin_at(self, now_ms: int) -> None:
        """What is remembered may be of a clock that was ahead of the one of now."""
        ahead = [name for name, each in self._memories.items() if each.latest_ms > now_ms + AHEAD_AT_START_MS]
        self._forget(ahead, now_ms)

    def watch_again(self, now_ms: int) -> None:
        """Nothing before now counts as silence."""
        self._watch_since(now_ms)
        self._changed |= self._memories.keys()

    def forget_the_future(self, now_ms: int) -> None:
        """Let nothing be remembered of times that have not come yet."""
        self._forget(self._memories, now_ms)

    def on(
        self, in_order: Collection[ChannelKey], rules: RuleBook, occupancy: Occupancy, now_ms: int
    ) -> list[Transition]:
        """Every alarm that is on, as it would be raised now; `told` where people were told of it."""
        return [each for key in in_order for each in self._on(key, rules, occupancy, now_ms)]

    def adopt(self, raised: Transition) -> bool:
        """Take over an alarm that people know to be on; False where no channel of the site has it."""
        memory = self._memories.get(raised.subject)
        if memory is None or raised.kind not in memory.alarms:
            return False
        peak = raised.peak if raised.peak is not None else raised.value
        memory.adopt(raised.kind, raised.occurrence, raised.since_ms, raised.at_ms, peak)
        self._changed.add(raised.subject)
        return True

    def _on(self, key: ChannelKey, rules: RuleBook, occupancy: Occupancy, now_ms: int) -> Iterator[Transition]:
        place = self._probes[key.probe].place
        alarms = self._memories[key.channel].alarms
        for kind, alarm in alarms.items():
            if not alarm.is_alarm:
                continue
            limit, peak = None, None
            if isinstance(alarm.state, ConditionState):
                rule = rules.rule(key, kind, occupancy.limits(place, now_ms))
                limit, peak = rule.limit if rule else None, alarm.state.peak
            reason = "it was on before and goes on"
            happened = Happened(Change.RAISED, now_ms, alarm.since_ms or now_ms, None, limit, peak, reason)
            still = tuple(other for other, each in alarms.items() if other is not kind and each.goes_on)
            late = alarm.held is not None
            yield transition(kind, key, place, happened, alarm.occurrence, told=alarm.told, still=still, late=late)

    def _forget(self, names: Collection[str], now_ms: int) -> None:
        for name in names:
            self._memories[name].forget_the_future(now_ms)
            interval_s = self._probes[self._channels[name].probe].interval_s
            for kind, alarm in self._memories[name].alarms.items():
                if alarm.tell_from_ms is not None:
                    alarm.tell_from_ms = min(alarm.tell_from_ms, now_ms + settle_ms(kind, interval_s))
            self._changed.add(name)

    def _watch_since(self, moment_ms: int) -> None:
        for memory in self._memories.values():
            quiet = memory.alarms[AlarmKind.NO_DATA]
            if isinstance(quiet.state, SilenceState):
                quiet.state = silence.watch_again(quiet.state, moment_ms)
