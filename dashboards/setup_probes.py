"""The list of probes and of unknown devices, and one probe, as texts and marks. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.words import Quantity
from daemon.probe_values import ChannelSeen, Listening, ProbeLook, ProbeSeen, ProbesSeen, UnknownTopic
from daemon.recent_messages import RawMessage
from dashboards import figures
from dashboards.raw_text import cut, harmless, payload_start
from dashboards.setup_boards import BoardLine, board_lines
from dashboards.setup_probe_paths import probe_path, take_up_path
from dashboards.standing import Mark, Shape, Tone
from dashboards.view import version_of
from sensors.reading import Quality

SHOWN_BYTES = 600
_LONGEST_TOPIC = 200
_MINUTE_S = 120
"""Less than two of them are said to be one."""
_LONGEST_REASON = 300
_WORDS = {
    Quantity.AIR_TEMPERATURE: "temperature of the air",
    Quantity.SURFACE_TEMPERATURE: "temperature of a surface",
    Quantity.RELATIVE_HUMIDITY: "relative humidity",
    Quantity.MAINS: "mains contact",
    Quantity.DOOR: "door contact",
}
_FLAGS = {
    Quality.OUT_OF_RANGE: "outside what can be",
    Quality.FAULT_VALUE: "values of a broken probe",
    Quality.TOO_FAST: "changed too fast",
    Quality.STUCK: "the same value for too long",
}


@dataclass(frozen=True, slots=True)
class ChannelLine:
    """One channel of a probe; `counts` says how many of the last day were good, `flags` why others were not."""

    name: str
    quantity: str
    value: str
    counts: str
    flags: str


@dataclass(frozen=True, slots=True)
class ProbeRow:
    """One probe of the list."""

    probe_id: str
    path: str
    place: str
    speaks: str
    mark: Mark
    heard: str
    said: str
    refused: str
    channels: tuple[ChannelLine, ...]


@dataclass(frozen=True, slots=True)
class UnknownRow:
    """A topic that no probe has. `number` tells the rows apart on the page."""

    number: int
    topic: str
    path: str
    how_often: str
    heard: str
    payload: str


@dataclass(frozen=True, slots=True)
class ListenView:
    """The wish to hear everything: `going` while it goes on, `told` how it stands."""

    going: bool
    told: str


@dataclass(frozen=True, slots=True)
class ProbesView:
    """The whole page."""

    site_name: str
    clock: str
    zone: str
    heading: str
    refusal: str
    trouble: str
    listen: ListenView
    unknown: tuple[UnknownRow, ...]
    probes: tuple[ProbeRow, ...]

    @property
    def version(self) -> str:
        """Differs wherever something that is shown differs."""
        return version_of(self)


@dataclass(frozen=True, slots=True)
class RawLine:
    """A message as it came."""

    at: str
    iso: str
    topic: str
    payload: str
    refused: str


@dataclass(frozen=True, slots=True)
class ProbeView:
    """One probe. `undeclared`: names that it sends beside its channels, and where they are taken up.

    `board`: what the agent on its board says of itself; empty where it has none.
    """

    site_name: str
    clock: str
    zone: str
    row: ProbeRow
    topics: tuple[str, ...]
    raw: tuple[RawLine, ...]
    undeclared: str
    undeclared_path: str
    board: tuple[BoardLine, ...] = ()

    @property
    def version(self) -> str:
        """Differs wherever something that is shown differs."""
        return version_of(self)


def probes_view(seen: ProbesSeen) -> ProbesView:
    """Turn what is known of all probes into what the page shows."""
    zone, now_ms = ZoneInfo(seen.time_zone), seen.now_ms
    silent = sum(each.is_silent for each in seen.probes)
    count = len(seen.probes)
    heading = f"{count} probe{'s' if count != 1 else ''}"
    return ProbesView(
        site_name=seen.site_name,
        clock=figures.moment_text(figures.local(now_ms, zone)),
        zone=seen.time_zone,
        heading=f"{heading}, {silent} silent" if silent else heading,
        refusal=seen.refusal,
        trouble=seen.trouble,
        listen=_listen(seen.listening),
        unknown=tuple(_unknown(number, each, now_ms) for number, each in enumerate(seen.unknown, start=1)),
        probes=tuple(_row(each, seen) for each in seen.probes),
    )


def probe_view(look: ProbeLook) -> ProbeView:
    """Turn what is known of one probe into what its page shows."""
    zone = ZoneInfo(look.seen.time_zone)
    return ProbeView(
        site_name=look.seen.site_name,
        clock=figures.moment_text(figures.local(look.seen.now_ms, zone)),
        zone=look.seen.time_zone,
        row=_row(look.probe, look.seen),
        topics=look.probe.topics,
        raw=tuple(raw_line(each, zone) for each in look.messages),
        undeclared=", ".join(harmless(each) for each in look.undeclared),
        undeclared_path=take_up_path(look.probe.topics[0]) if look.undeclared else "",
        board=board_lines(look.probe.board, look.seen.now_ms, zone),
    )


def raw_line(message: RawMessage, zone: ZoneInfo) -> RawLine:
    """A message as it came, cut and escaped."""
    at = figures.local(message.at_ms, zone)
    return RawLine(
        at=f"{figures.date_text(at)}, {at:%H:%M:%S}",
        iso=at.isoformat(),
        topic=cut(harmless(message.topic), _LONGEST_TOPIC),
        payload=payload_start(message.payload, SHOWN_BYTES) or "(empty)",
        refused=cut(harmless(message.refused), _LONGEST_REASON),
    )


def quantity_word(quantity: Quantity) -> str:
    """What a channel measures, in words for people."""
    return _WORDS[quantity]


def interval_text(interval_s: float) -> str:
    """How often: `every 90 s`, `every 5 min`."""
    if interval_s < 120 or interval_s % 60:  # noqa: PLR2004 - two minutes
        return f"every {interval_s:g}{figures.NBSP}s"
    return f"every {figures.duration(round(interval_s))}"


def _row(seen: ProbeSeen, of: ProbesSeen) -> ProbeRow:
    probe, zone = seen.probe, ZoneInfo(of.time_zone)
    return ProbeRow(
        probe_id=probe.id,
        path=probe_path(probe.id),
        place=seen.place_name,
        speaks=f"{'its own messages' if probe.sources else 'SenML'}, {interval_text(probe.interval_s)}",
        mark=_mark(seen),
        heard=_heard(seen, of.now_ms),
        said=_said(seen, of.now_ms),
        refused="" if seen.refused is None else f"Its newest message was refused: {_refused(seen.refused, zone)}",
        channels=tuple(_channel(each, of) for each in seen.channels),
    )


def _refused(refused: tuple[int, str], zone: ZoneInfo) -> str:
    at = figures.local(refused[0], zone)
    return f"{cut(harmless(refused[1]), _LONGEST_REASON)} ({figures.date_text(at)}, {at:%H:%M})."


def _mark(seen: ProbeSeen) -> Mark:
    if seen.heard_ms is None:
        return Mark(Shape.GAP, "never heard", Tone.UNKNOWN)
    if seen.is_silent:
        return Mark(Shape.GAP, "silent", Tone.UNKNOWN)
    if any(each.is_suspect for each in seen.channels):
        return Mark(Shape.FAULT, "suspect", Tone.HIGH)
    return Mark(Shape.EGG, "heard", Tone.WELL)


def _heard(seen: ProbeSeen, now_ms: int) -> str:
    """Beside the mark, which says already that it was heard."""
    if seen.heard_ms is None:
        return "no reading of it has ever come"
    age = figures.age(now_ms, seen.heard_ms)
    return f"last heard {age}" if seen.is_silent or any(each.is_suspect for each in seen.channels) else age


def _said(seen: ProbeSeen, now_ms: int) -> str:
    if seen.online is None or seen.online_ms is None:
        return ""
    if seen.online:
        lasts = figures.duration(max(now_ms - seen.online_ms, 0) // 1000)
        return f"It said that it is online, and has been so for {lasts}"
    return f"It said that it is offline, {figures.age(now_ms, seen.online_ms)}"


def _channel(channel: ChannelSeen, of: ProbesSeen) -> ChannelLine:
    value = "no reading yet"
    if channel.value is not None and channel.newest_ms is not None:
        shown = figures.quantity_value(channel.quantity, channel.value, of.fahrenheit)
        doubt = ", suspect" if channel.is_suspect else ""
        value = f"{shown}{doubt}, {figures.age(of.now_ms, channel.newest_ms)}"
    suspect = f", {figures.number(channel.suspect, 0)} suspect" if channel.suspect else ""
    flags = (
        f"{figures.number(count, 0)} {' and '.join(word for flag, word in _FLAGS.items() if quality & flag)}"
        for quality, count in sorted(channel.qualities.items())
        if quality
    )
    return ChannelLine(
        name=channel.name,
        quantity=_WORDS[channel.quantity],
        value=value,
        counts=f"Last day: {figures.number(channel.good, 0)} good{suspect}",
        flags=", ".join(flags),
    )


def _unknown(number: int, unknown: UnknownTopic, now_ms: int) -> UnknownRow:
    seconds = (now_ms - unknown.first_ms) // 1000
    span = "minute" if seconds < _MINUTE_S else figures.duration(seconds)
    times = "once" if unknown.count == 1 else f"{figures.number(unknown.count, 0)} times in the last {span}"
    return UnknownRow(
        number=number,
        topic=cut(harmless(unknown.topic), _LONGEST_TOPIC),
        path=take_up_path(unknown.topic),
        how_often=f"Heard {times}",
        heard=f"last {figures.age(now_ms, unknown.last_ms)}",
        payload=payload_start(unknown.newest.payload, SHOWN_BYTES) or "(empty)",
    )


def _listen(listening: Listening) -> ListenView:
    if listening.left_s is not None:
        left = figures.duration(round(listening.left_s))
        told = f"Listening to everything for {left} more; {listening.heard:,} messages so far."
        return ListenView(True, told)
    if listening.ended:
        return ListenView(False, f"{listening.ended} {listening.heard:,} messages came.")
    return ListenView(False, "")
