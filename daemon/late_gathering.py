"""What is gathered of readings that came late, until people are told of it once. Pure.

One outage brings the readings of many channels, and those of probes that connect again one after another. So what they
show is gathered until none has come for a minute, or for a quarter of an hour at most, and told in one message. Project
choices: what is over can wait so long.
"""

from dataclasses import asdict, dataclass, field
from typing import Any, NamedTuple

from config.words import AlarmKind
from daemon.alarm_transition import Transition

QUIET_MS = 60_000
LONGEST_MS = 15 * 60_000
APART_MS = 4 * 3_600_000
"""Late readings of a channel that lie further apart are looked through each for themselves: one with a wrong date must
not have all the years up to it looked through."""
MOST_STRETCHES = 16
"""Of one channel; beyond that the two that lie closest together become one. Project choices."""

_HIGH = frozenset({AlarmKind.TEMPERATURE_HIGH, AlarmKind.TEMPERATURE_LETHAL_HIGH})
_LOW = frozenset({AlarmKind.TEMPERATURE_LOW, AlarmKind.TEMPERATURE_LETHAL_LOW})
SIDES: tuple[frozenset[AlarmKind], ...] = (
    _HIGH,
    _LOW,
    frozenset({AlarmKind.HUMIDITY_HIGH}),
    frozenset({AlarmKind.HUMIDITY_LOW}),
    frozenset({AlarmKind.PROBE_FAULT}),
)
"""Alarms that say the same of a channel, one worse than the other."""
LETHAL = frozenset({AlarmKind.TEMPERATURE_LETHAL_HIGH, AlarmKind.TEMPERATURE_LETHAL_LOW})


class Excursion(NamedTuple):
    """A limit was passed and kept again before anybody knew. Values in the unit of the channel, times UTC ms.

    Or a probe was faulty and is not any more, which is about no limit: both values are 0 then.
    """

    kind: AlarmKind
    channel: str
    place: str
    since_ms: int
    until_ms: int
    worst: float
    limit: float
    occurrence: str

    @property
    def is_lethal(self) -> bool:
        """True where it was a lethal limit."""
        return self.kind in LETHAL

    @property
    def is_fault(self) -> bool:
        """True where it is about the probe and not about a limit."""
        return self.kind is AlarmKind.PROBE_FAULT

    def is_beyond(self, value: float) -> bool:
        """Tell whether a value is past the limit."""
        return value > self.limit if self.worst > self.limit else value < self.limit

    def is_of(self, alarm_key: str) -> bool:
        """Tell whether an alarm is about the same side of the same channel."""
        side = next(each for each in SIDES if self.kind in each)
        return alarm_key in {f"{kind}:{self.channel}" for kind in side}

    def says_the_same(self, other: "Excursion") -> bool:
        """Tell whether two are of one channel and side, and of one time."""
        side = next(each for each in SIDES if self.kind in each)
        together = self.since_ms <= other.until_ms and other.since_ms <= self.until_ms
        return self.channel == other.channel and other.kind in side and together

    def is_told_by(self, other: "Excursion") -> bool:
        """Tell whether whoever knows of the other one knows of this: a warning says nothing of a lethal limit."""
        return self.says_the_same(other) and (other.is_lethal or not self.is_lethal)


class Closed(NamedTuple):
    """What was gathered, to be told now: excursions, and when the readings came, from the first to the last.

    `more`: so many others that were milder are on record and not among these.
    """

    excursions: tuple[Excursion, ...]
    first_ms: int
    last_ms: int
    more: int = 0


@dataclass(slots=True)
class Gathering:
    """Begins with the first late reading.

    `spans`: between which times of a channel such came as are not its newest, in order, first and last of each.
    """

    first_ms: int
    last_ms: int
    channels: set[str] = field(default_factory=set)
    spans: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    excursions: list[Excursion] = field(default_factory=list)

    @property
    def due_ms(self) -> int:
        """When it is told, if nothing else comes before."""
        return min(self.last_ms + QUIET_MS, self.first_ms + LONGEST_MS)

    def is_due(self, now_ms: int) -> bool:
        """Tell whether it is time to tell people; also after a clock was set back."""
        return now_ms >= self.due_ms or now_ms < self.first_ms - QUIET_MS

    def is_overdue(self, now_ms: int) -> bool:
        """Tell whether nothing more is waited for."""
        return now_ms >= self.first_ms + LONGEST_MS or now_ms < self.first_ms - QUIET_MS

    def hear(self, channel: str, measured_at_ms: int, received_at_ms: int, *, newest: bool) -> None:
        """A reading came late or out of order; `newest`: none of the channel was measured later."""
        self.last_ms = max(self.last_ms, received_at_ms)
        self.channels.add(channel)
        if not newest:
            self.spans[channel] = widened(self.spans.get(channel, []), measured_at_ms)

    def to_fields(self) -> dict[str, Any]:
        """What the journal keeps of it."""
        return {**asdict(self), "channels": sorted(self.channels)}


def gathering_of(found: Any) -> Gathering:
    """Give what `to_fields` gave. Raises KeyError, TypeError, ValueError or AttributeError for anything else."""
    return Gathering(
        int(found["first_ms"]),
        int(found["last_ms"]),
        set(found["channels"]),
        {channel: spans_of(spans) for channel, spans in found["spans"].items()},
        excursions_of(found["excursions"]),
    )


def excursions_of(found: Any) -> list[Excursion]:
    """The same for a list of excursions."""
    return [Excursion(AlarmKind(kind), *rest) for kind, *rest in found]


def spans_of(found: Any) -> list[tuple[int, int]]:
    """The same for the spans of a channel; one alone is as an earlier version wrote it."""
    spans = [found] if found and isinstance(found[0], int) else found
    return [(int(low), int(high)) for low, high in spans]


def widened(spans: list[tuple[int, int]], at_ms: int) -> list[tuple[int, int]]:
    """Give the spans with one moment more: it widens those that it is near, and is one of its own far from all."""
    if spans and spans[-1][0] <= at_ms <= spans[-1][1]:
        return spans
    found: list[tuple[int, int]] = []
    for low, high in sorted([*spans, (at_ms, at_ms)]):
        if found and low - found[-1][1] <= APART_MS:
            found[-1] = found[-1][0], max(found[-1][1], high)
        else:
            found.append((low, high))
    if len(found) > MOST_STRETCHES:
        closest = min(range(1, len(found)), key=lambda index: found[index][0] - found[index - 1][1])
        found[closest - 1 : closest + 1] = [(found[closest - 1][0], found[closest][1])]
    return found


def excursion_of(ended: Transition) -> Excursion | None:
    """The excursion or the fault that an alarm was which nobody was told of; None for an alarm about something else."""
    worst, limit = (0.0, 0.0) if ended.kind is AlarmKind.PROBE_FAULT else (ended.peak, ended.limit)
    if not any(ended.kind in side for side in SIDES) or worst is None or limit is None or ended.channel is None:
        return None
    until_ms = ended.at_ms if ended.back_ms is None else ended.back_ms
    return Excursion(
        ended.kind, ended.channel.channel, ended.place, ended.since_ms, until_ms, worst, limit, ended.occurrence
    )


def worst_first(excursions: list[Excursion]) -> tuple[Excursion, ...]:
    """Leave out the warnings that a lethal limit of the same channel and time explains; the worst come first."""
    lethal = [each for each in excursions if each.is_lethal]
    kept = [each for each in excursions if each.is_lethal or not any(each.says_the_same(one) for one in lethal)]
    return tuple(
        sorted(kept, key=lambda each: (not each.is_lethal, -abs(each.worst - each.limit), each.since_ms, each.channel))
    )
