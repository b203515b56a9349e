"""What is known of the probes of a site, and of devices that are none yet. Pure values; times are UTC ms."""

from collections.abc import Mapping
from dataclasses import dataclass

from config.site import Probe
from config.words import Quantity
from daemon.boards import BoardHeard
from daemon.recent_messages import RawMessage

PREFIX = "clutchwarden"
"""The first part of our own topics."""


@dataclass(frozen=True, slots=True)
class ChannelSeen:
    """One channel: its newest reading as the probe said it, and how many of the last day were good or suspect.

    `qualities`: how many readings of the last day had which flags, in all; of a single probe only.
    """

    name: str
    quantity: Quantity
    newest_ms: int | None
    value: float | None
    is_suspect: bool
    good: int
    suspect: int
    qualities: Mapping[int, int]


@dataclass(frozen=True, slots=True)
class ProbeSeen:
    """One probe of the site. `heard_ms`: the newest arrival; `online`: what it last said of itself, None for nothing.

    `online_ms`: since when it says so. `board`: what the agent on its board said last.
    `is_silent`: longer ago than a silence may last, or never. `refused`: why the newest message of it that could not
    be used was refused, and when it came.
    """

    probe: Probe
    place_name: str
    channels: tuple[ChannelSeen, ...]
    heard_ms: int | None
    is_silent: bool
    online: bool | None
    online_ms: int | None
    refused: tuple[int, str] | None
    topics: tuple[str, ...]
    board: BoardHeard | None = None


@dataclass(frozen=True, slots=True)
class UnknownTopic:
    """A topic of the broker that no probe of the site has. `times_ms`: when it was heard last, oldest first.

    `probe`: the id that its own topic names, None where it does not speak as our probes do.
    """

    topic: str
    probe: str | None
    count: int
    first_ms: int
    last_ms: int
    newest: RawMessage
    times_ms: tuple[int, ...] = ()
    payloads: tuple[bytes, ...] = ()


@dataclass(frozen=True, slots=True)
class Listening:
    """The wish to hear everything for a short time. `left_s`: seconds that it goes on, None where it does not.

    `heard`: messages so far, `ended`: why it ended, in a sentence, where it has ended.
    """

    left_s: float | None = None
    heard: int = 0
    ended: str = ""


@dataclass(frozen=True, slots=True)
class ProbesSeen:
    """All of it at one moment. `refusal`: why nothing can be changed here; `mark`: that of the site file."""

    site_name: str
    time_zone: str
    fahrenheit: bool
    now_ms: int
    places: tuple[tuple[str, str], ...]
    probes: tuple[ProbeSeen, ...]
    unknown: tuple[UnknownTopic, ...]
    listening: Listening
    refusal: str
    mark: str
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class ProbeLook:
    """One probe, with its newest messages as they came and the names in them that are no channel of it."""

    seen: ProbesSeen
    probe: ProbeSeen
    messages: tuple[RawMessage, ...]
    undeclared: tuple[str, ...]
