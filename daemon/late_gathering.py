"""What is gathered of readings that came late, until people are told of it once. Pure.

One outage brings the readings of many channels, and those of probes that connect again one after another. So what they
show is gathered until none has come for a minute, or for a quarter of an hour at most, and told in one message. Project
choices: what is over can wait so long.
"""

import json
from dataclasses import asdict, dataclass, field
from typing import NamedTuple

from config.words import AlarmKind
from daemon.alarm_transition import Transition

QUIET_MS = 60_000
LONGEST_MS = 15 * 60_000

_HIGH = frozenset({AlarmKind.TEMPERATURE_HIGH, AlarmKind.TEMPERATURE_LETHAL_HIGH})
_LOW = frozenset({AlarmKind.TEMPERATURE_LOW, AlarmKind.TEMPERATURE_LETHAL_LOW})
SIDES: tuple[frozenset[AlarmKind], ...] = (
    _HIGH,
    _LOW,
    frozenset({AlarmKind.HUMIDITY_HIGH}),
    frozenset({AlarmKind.HUMIDITY_LOW}),
)
"""Alarms that say the same of a channel, one worse than the other."""
LETHAL = frozenset({AlarmKind.TEMPERATURE_LETHAL_HIGH, AlarmKind.TEMPERATURE_LETHAL_LOW})


class Excursion(NamedTuple):
    """A limit was passed and kept again before anybody knew. Values in the unit of the channel, times UTC ms."""

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
    """What was gathered, to be told now: excursions, and when the readings came, from the first to the last."""

    excursions: tuple[Excursion, ...]
    first_ms: int
    last_ms: int


@dataclass(slots=True)
class Gathering:
    """Begins with the first late reading. `spans`: between which times of a channel such came as are not its newest."""

    first_ms: int
    last_ms: int
    channels: set[str] = field(default_factory=set)
    spans: dict[str, tuple[int, int]] = field(default_factory=dict)
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
            low, high = self.spans.get(channel, (measured_at_ms, measured_at_ms))
            self.spans[channel] = min(low, measured_at_ms), max(high, measured_at_ms)

    def to_json(self) -> str:
        """One line of JSON."""
        return json.dumps({**asdict(self), "channels": sorted(self.channels)}, separators=(",", ":"))


def from_json(text: str) -> Gathering | None:
    """Give what `to_json` wrote; None for an empty text. Raises ValueError where it is not such a text."""
    if not text:
        return None
    try:
        found = json.loads(text)
        return Gathering(
            int(found["first_ms"]),
            int(found["last_ms"]),
            set(found["channels"]),
            {channel: (int(low), int(high)) for channel, (low, high) in found["spans"].items()},
            [Excursion(AlarmKind(kind), *rest) for kind, *rest in found["excursions"]],
        )
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"late readings that were gathered: {error}") from error


def excursion_of(ended: Transition) -> Excursion | None:
    """The excursion that an alarm was which nobody was told of; None for an alarm about no limit."""
    is_about_limit = any(ended.kind in side for side in SIDES)
    if not is_about_limit or ended.peak is None or ended.limit is None or ended.channel is None:
        return None
    until_ms = ended.at_ms if ended.back_ms is None else ended.back_ms
    channel = ended.channel.channel
    return Excursion(
        ended.kind, channel, ended.place, ended.since_ms, until_ms, ended.peak, ended.limit, ended.occurrence
    )


def worst_first(excursions: list[Excursion]) -> tuple[Excursion, ...]:
    """Leave out the warnings that a lethal limit of the same channel and time explains; the worst come first."""
    lethal = [each for each in excursions if each.is_lethal]
    kept = [each for each in excursions if each.is_lethal or not any(each.says_the_same(one) for one in lethal)]
    return tuple(
        sorted(kept, key=lambda each: (not each.is_lethal, -abs(each.worst - each.limit), each.since_ms, each.channel))
    )
