"""Pure: what is said of an alarm that was raised or cleared."""

from dataclasses import dataclass

from config.words import AlarmKind
from daemon.alarms.conditions import Change
from sensors.reading import ChannelKey


@dataclass(frozen=True, slots=True)
class Transition:
    """An alarm that was raised or cleared. Values in the canonical unit of the channel.

    `told` says whether people are to be told; an alarm that another one of the same channel explains is not.
    """

    kind: AlarmKind
    channel: ChannelKey | None
    """None for an alarm that is not about the readings of one channel"""
    place: str
    """empty for an alarm about the whole site"""
    change: Change
    at_ms: int
    since_ms: int
    value: float | None
    limit: float | None
    peak: float | None
    occurrence: str
    told: bool
    still: tuple[AlarmKind, ...]
    """other alarms of the channel that go on"""
    reason: str
    subject: str
    """what it is about: with the kind, the name of the alarm"""
    about: str = ""
    """what it is about, for people, where that is more than the place: a clutch, a contact"""
    late: bool = False
    """by readings that came late, while nobody was told of it: no business of the desk"""
    back_ms: int | None = None
    """of one that ended: when it was back inside for good, where that is known"""


@dataclass(frozen=True, slots=True)
class Happened:
    """A change as a condition reports it."""

    change: Change
    at_ms: int
    since_ms: int
    value: float | None
    limit: float | None
    peak: float | None
    reason: str
    back_ms: int | None = None


def transition(
    kind: AlarmKind,
    channel: ChannelKey,
    place: str,
    happened: Happened,
    occurrence: str,
    *,
    told: bool,
    still: tuple[AlarmKind, ...],
    late: bool = False,
) -> Transition:
    """What happened to an alarm, with where it belongs and whether people hear of it."""
    return Transition(
        kind=kind,
        channel=channel,
        place=place,
        change=happened.change,
        at_ms=happened.at_ms,
        since_ms=happened.since_ms,
        value=happened.value,
        limit=happened.limit,
        peak=happened.peak,
        occurrence=occurrence,
        told=told,
        still=still,
        reason=happened.reason,
        subject=channel.channel,
        late=late,
        back_ms=happened.back_ms,
    )
