"""Pure: which alarm of a channel is explained by another one that is on, so that people are told of one and not both.

The desk folds what it is told (`daemon/alarms/folding`); an alarm that is explained from its first moment does not get
there at all, and so leaves nothing to acknowledge when it ends with what explains it. It is told after all where it
goes on when that has ended.
"""

from collections.abc import Mapping

from config.words import AlarmKind, Quantity
from daemon import alarm_late
from daemon.alarm_memory import LETHAL_OF, ChannelMemory
from daemon.alarm_rules import RuleBook
from daemon.alarm_transition import Happened
from daemon.alarms import silence
from daemon.alarms.conditions import Change, ConditionState
from daemon.alarms.limits import Limits
from daemon.storage.samples import StoredReading
from sensors.reading import ChannelKey

CAUSES: Mapping[AlarmKind, AlarmKind] = {**LETHAL_OF, AlarmKind.PROBE_FAULT: AlarmKind.NO_DATA}
"""An alarm on the left is not told while the one on the right, of the same channel, is in alarm: one incident."""

_OF_PROBE = frozenset({AlarmKind.NO_DATA, AlarmKind.PROBE_FAULT})
"""What the channel that speaks for a probe says for all of its channels."""

SETTLE_MS = 5 * 60_000
"""A warning is told so long after the lethal alarm that explained it, as the desk does with what it held back."""


class Causes:
    """Looks at the alarms that a watch remembers; changes none."""

    def __init__(self, channels: Mapping[str, ChannelKey], memories: Mapping[str, ChannelMemory]) -> None:
        self._channels = channels
        self._memories = memories
        self._main = {key.probe: name for name, key in channels.items() if key.quantity is Quantity.AIR_TEMPERATURE}

    @property
    def in_order(self) -> list[ChannelKey]:
        """All channels, the one that speaks for a probe before its others, so that the others find its alarm."""
        return sorted(self._channels.values(), key=lambda key: self._main.get(key.probe) != key.channel)

    def explain(self, key: ChannelKey, kind: AlarmKind) -> bool:
        """True where another alarm that is on says the same, and worse, of this channel or of its probe."""
        cause = CAUSES.get(kind)
        if cause in self._memories[key.channel].alarms and self._memories[key.channel].alarms[cause].is_alarm:
            return True
        main = self._main.get(key.probe)
        if kind not in _OF_PROBE or main is None or main == key.channel:
            return False
        return self._memories[main].alarms[kind].is_alarm

    def left_by(self, key: ChannelKey, ended: AlarmKind) -> list[tuple[ChannelKey, AlarmKind]]:
        """The alarms that go on, that nobody was told of, and that nothing explains now that this one has ended."""
        found = [(key, kind) for kind, cause in CAUSES.items() if cause is ended]
        if ended in _OF_PROBE and self._main.get(key.probe) == key.channel:
            found += [(other, ended) for other in self._channels.values() if other.probe == key.probe]
        return [
            (other, kind) for other, kind in found if self._is_untold(other, kind) and not self.explain(other, kind)
        ]

    def _is_untold(self, key: ChannelKey, kind: AlarmKind) -> bool:
        alarm = self._memories[key.channel].alarms.get(kind)
        return alarm is not None and alarm.is_alarm and not alarm.told


def settle_ms(kind: AlarmKind, interval_s: float) -> int:
    """How long an alarm has to go on after what explained it has ended: a probe's channels return one by one."""
    return SETTLE_MS if kind in LETHAL_OF else silence.window_ms(interval_s)


def due_of_probe(memory: ChannelMemory, now_ms: int) -> list[tuple[AlarmKind, Happened]]:
    """The silence and the fault of a channel whose time to be told has come."""
    found = []
    for kind, alarm in memory.alarms.items():
        if kind not in LETHAL_OF and alarm.tell_from_ms is not None and now_ms >= alarm.tell_from_ms:
            since_ms = alarm.since_ms or alarm.tell_from_ms
            reason = "the rest of the probe speaks again, this goes on"
            found.append((kind, Happened(Change.RAISED, alarm.tell_from_ms, since_ms, None, None, None, reason)))
    return found


def due_by_reading(
    memory: ChannelMemory, rules: RuleBook, key: ChannelKey, limits: Limits, row: StoredReading, *, late: bool
) -> list[tuple[AlarmKind, Happened]]:
    """What is told by this reading of alarms that went on untold; a late one can only let them be held."""
    found = _due_warnings(memory, rules, key, limits, row)
    if late:
        for kind, happened in found:
            alarm_late.hold(memory.alarms[kind], row.received_at_ms, happened.limit)
        found = []
    return [*found, *alarm_late.after_reading(memory, row, late=late)]


def next_tell_ms(memory: ChannelMemory) -> int:
    """The moment at which `due_of_probe` or `alarm_late.after_time` has something to say, if nothing else comes."""
    own = (each.tell_from_ms for kind, each in memory.alarms.items() if kind not in LETHAL_OF)
    return min([alarm_late.next_ms(memory), *(each for each in own if each is not None)])


def _due_warnings(
    memory: ChannelMemory, rules: RuleBook, key: ChannelKey, limits: Limits, row: StoredReading
) -> list[tuple[AlarmKind, Happened]]:
    """The warnings whose time to be told has come, where this reading shows that the air is still wrong."""
    found = []
    for kind in LETHAL_OF:
        alarm = memory.alarms.get(kind)
        if alarm is None or alarm.tell_from_ms is None or alarm.held is not None:
            continue
        tell_from_ms, state = alarm.tell_from_ms, alarm.state
        if not isinstance(state, ConditionState) or row.quality:
            continue
        rule, at_ms = rules.rule(key, kind, limits), row.measured_at_ms
        is_newest = state.newest_ms == at_ms
        if rule is not None and is_newest and at_ms >= tell_from_ms and rule.is_beyond(row.value):
            reason = f"{row.value:g} is still beyond {rule.limit:g}, and the lethal alarm is over"
            since_ms = alarm.since_ms or at_ms
            happened = Happened(Change.RAISED, at_ms, since_ms, row.value, rule.limit, state.peak, reason)
            found.append((kind, happened))
    return found
