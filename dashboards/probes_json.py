"""Probes as JSON: the same that the pages show. Temperatures are always °C."""

from daemon.boards import BoardHeard
from daemon.probe_values import ProbeLook, ProbeSeen, ProbesSeen, UnknownTopic
from daemon.recent_messages import RawMessage
from dashboards.api_values import Json
from dashboards.raw_text import payload_start
from dashboards.setup_probes import SHOWN_BYTES


class ProbeChannelJson(Json):
    """One channel. `value` is in °C or % RH, or 0 or 1 of a contact, as the probe said it; counts are of one day."""

    channel: str
    quantity: str
    value: float | None
    measured_at_ms: int | None
    is_suspect: bool
    good: int
    suspect: int


class BoardJson(Json):
    """What the agent on a board says of itself: not checked, and texts are texts. Null for what it does not say.

    `said_at_ms` is by its own clock. `waiting`: readings that the broker has not, the oldest for `oldest_s` seconds;
    `full`: how much of its room for them is taken, 0 to 1. `given_up`, `damaged`, `undated` are lost, counted since its
    spool was begun. `certificate_ends_s`: until when the broker's certificate is good, in seconds since 1970 UTC.
    `faults`: a sentence for each channel without a value.
    """

    received_at_ms: int
    said_at_ms: int | None
    version: str
    clock_is_right: bool | None
    waiting: int | None
    oldest_s: float | None
    certificate_ends_s: float | None
    full: float | None
    given_up: int
    damaged: int
    undated: int
    missed: int
    disk: str
    faults: dict[str, str]


class ProbeStateJson(Json):
    """One probe. `online` is what it last said of itself, since `online_since_ms`; null where it never did.

    `board`: null where no agent has spoken since the service was started.
    """

    probe: str
    place: str
    place_name: str
    interval_s: float
    topics: list[str]
    heard_at_ms: int | None
    is_silent: bool
    online: bool | None
    online_since_ms: int | None
    channels: list[ProbeChannelJson]
    board: BoardJson | None


class UnknownTopicJson(Json):
    """A topic that no probe of the site has; `payload_start` is text, with escapes for what is none."""

    topic: str
    times_heard: int
    first_heard_at_ms: int
    last_heard_at_ms: int
    payload_start: str


class RawMessageJson(Json):
    """A message as it came. `refused`: why it could not be used; empty where it could."""

    topic: str
    received_at_ms: int
    payload_start: str
    refused: str


class ProbesJson(Json):
    """All probes of the site, and what is unknown. `listening_s`: null while nobody wants to hear everything."""

    probes: list[ProbeStateJson]
    unknown: list[UnknownTopicJson]
    listening_s: float | None


class ProbeJson(Json):
    """One probe, its newest messages, and the names in them that are no channel of it."""

    probe: ProbeStateJson
    messages: list[RawMessageJson]
    undeclared: list[str]


def probes_json(seen: ProbesSeen) -> ProbesJson:
    """Give all probes their JSON form."""
    return ProbesJson(
        probes=[_probe(each) for each in seen.probes],
        unknown=[_unknown(each) for each in seen.unknown],
        listening_s=seen.listening.left_s,
    )


def probe_json(look: ProbeLook) -> ProbeJson:
    """Give one probe its JSON form."""
    return ProbeJson(
        probe=_probe(look.probe), messages=[_raw(each) for each in look.messages], undeclared=list(look.undeclared)
    )


def _probe(seen: ProbeSeen) -> ProbeStateJson:
    probe = seen.probe
    return ProbeStateJson(
        probe=probe.id,
        place=probe.place,
        place_name=seen.place_name,
        interval_s=probe.interval_s,
        topics=list(seen.topics),
        heard_at_ms=seen.heard_ms,
        is_silent=seen.is_silent,
        online=seen.online,
        online_since_ms=seen.online_ms,
        board=None if seen.board is None else _board(seen.board),
        channels=[
            ProbeChannelJson(
                channel=f"{probe.id}/{each.name}",
                quantity=each.quantity.value,
                value=each.value,
                measured_at_ms=each.newest_ms,
                is_suspect=each.is_suspect,
                good=each.good,
                suspect=each.suspect,
            )
            for each in seen.channels
        ],
    )


def _board(heard: BoardHeard) -> BoardJson:
    state = heard.state
    return BoardJson(
        received_at_ms=heard.received_ms,
        said_at_ms=state.said_ms,
        version=state.version,
        clock_is_right=state.clock_is_right,
        waiting=state.waiting,
        oldest_s=state.oldest_s,
        certificate_ends_s=state.certificate_ends_s,
        full=state.full,
        given_up=state.given_up,
        damaged=state.damaged,
        undated=state.undated,
        missed=state.missed,
        disk=state.disk,
        faults=dict(state.faults),
    )


def _unknown(unknown: UnknownTopic) -> UnknownTopicJson:
    return UnknownTopicJson(
        topic=unknown.topic,
        times_heard=unknown.count,
        first_heard_at_ms=unknown.first_ms,
        last_heard_at_ms=unknown.last_ms,
        payload_start=payload_start(unknown.newest.payload, SHOWN_BYTES),
    )


def _raw(message: RawMessage) -> RawMessageJson:
    return RawMessageJson(
        topic=message.topic,
        received_at_ms=message.at_ms,
        payload_start=payload_start(message.payload, SHOWN_BYTES),
        refused=message.refused,
    )
