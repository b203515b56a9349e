"""The one-sentence answer at the head of the page, and the alarms under it. Pure.

What is wrong comes first: alarms by priority, then troubles of the service itself, then a lost broker, then readings
that are outside their limits without being an alarm yet, then clutches that do not suit each other, then readings that
cannot be trusted. Only where nothing of this holds is all well.
"""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.words import Priority
from daemon.overview import AlarmNow, ChannelNow, IncubatorNow, Overview
from dashboards import figures
from dashboards.standing import (
    ALARM_SHAPES,
    CONFLICT_MARK,
    PRIORITY_TONES,
    PRIORITY_WORDS,
    Mark,
    Shape,
    Standing,
    Tone,
    standing,
)

PENDING_ON = "pending-on"
"""The state of a condition that has not lasted long enough to be an alarm."""

LOOK = "Look"

_STATE_WORDS = {
    PENDING_ON: "not yet an alarm, it may pass",
    "alarm": "active",
    "pending-off": "back within limits, not yet for long enough",
}

_Told = dict[Standing, tuple[str, Shape, Tone]]

_OUTSIDE: _Told = {
    Standing.LETHAL_HIGH: ("above the lethal limit, no alarm yet", Shape.DOUBLE_UP, Tone.CRITICAL),
    Standing.LETHAL_LOW: ("below the lethal limit, no alarm yet", Shape.DOUBLE_DOWN, Tone.CRITICAL),
    Standing.HIGH: ("above its limit, no alarm yet", Shape.UP, Tone.HIGH),
    Standing.LOW: ("below its limit, no alarm yet", Shape.DOWN, Tone.LOW),
}
_UNKNOWN: _Told = {
    Standing.NO_READING: ("without a reading", Shape.GAP, Tone.UNKNOWN),
    Standing.SUSPECT: ("with a suspect reading", Shape.FAULT, Tone.UNKNOWN),
    Standing.OLD: ("with an old reading", Shape.GAP, Tone.UNKNOWN),
}
"""What the banner says of channels outside their limits, and of those that cannot be trusted; the worst first."""


@dataclass(frozen=True, slots=True)
class Banner:
    """The answer, with the mark that goes with it and what else is wrong."""

    mark: Mark
    heading: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AlarmView:
    """One alarm as a row: `key` names it on the page, `is_open` shows its text without a touch."""

    key: str
    mark: Mark
    headline: str
    where: str
    since: str
    state: str
    body: str
    is_open: bool
    is_announced: bool


def announced(alarm: AlarmNow) -> bool:
    """Tell an alarm from a condition that only may become one."""
    return alarm.state != PENDING_ON


def place_name(incubator: IncubatorNow, place: str) -> str:
    """Name a place on a page that already names the incubator."""
    return incubator.place_names.get(place, place)


def alarm_mark(alarm: AlarmNow) -> Mark:
    """Shape from the kind, word and tone from the priority."""
    word = PRIORITY_WORDS[alarm.priority] if announced(alarm) else "Watched"
    return Mark(ALARM_SHAPES[alarm.kind], word, PRIORITY_TONES[alarm.priority] if announced(alarm) else Tone.PLAIN)


def ranked(incubators: tuple[IncubatorNow, ...]) -> list[tuple[IncubatorNow, AlarmNow]]:
    """Every alarm with its incubator: announced ones first, then by priority, then the oldest."""
    pairs = [(incubator, alarm) for incubator in incubators for alarm in incubator.alarms]
    return sorted(pairs, key=lambda pair: (not announced(pair[1]), pair[1].priority, pair[1].since_ms))


def alarm_views(overview: Overview, zone: ZoneInfo) -> tuple[AlarmView, ...]:
    """List every alarm, the most urgent first; a critical one shows its text without a touch."""
    return tuple(_alarm_view(incubator, alarm, overview, zone) for incubator, alarm in ranked(overview.incubators))


def _alarm_view(incubator: IncubatorNow, alarm: AlarmNow, overview: Overview, zone: ZoneInfo) -> AlarmView:
    since = figures.clock_text(figures.local(alarm.since_ms, zone), figures.local(overview.now_ms, zone))
    return AlarmView(
        key=f"alarm-{alarm.kind}-{alarm.channel or alarm.place}",
        mark=alarm_mark(alarm),
        headline=_headline(incubator, alarm),
        where=_where(incubator, alarm, overview.fahrenheit),
        since=f"{since} ({figures.age(overview.now_ms, alarm.since_ms)})",
        state=_STATE_WORDS.get(alarm.state, alarm.state.replace("-", " ")),
        body=alarm.body,
        is_open=alarm.priority is Priority.CRITICAL,
        is_announced=announced(alarm),
    )


def _headline(incubator: IncubatorNow, alarm: AlarmNow) -> str:
    """Name the incubator first: a person has to know where to run to."""
    return f"{incubator.name}: {alarm.headline[:1].lower()}{alarm.headline[1:]}"


def _where(incubator: IncubatorNow, alarm: AlarmNow, fahrenheit: bool) -> str:
    """The place inside the incubator, and the newest value of the channel where there is one."""
    label = place_name(incubator, alarm.place)
    place = label[:1].upper() + label[1:]
    for channel in incubator.channels:
        if channel.channel == alarm.channel and channel.value is not None:
            return f"{place}, newest reading {figures.quantity_value(channel.quantity, channel.value, fahrenheit)}"
    return place


def verdict(overview: Overview) -> Banner:
    """Answer "is all well?" from everything on the page."""
    troubles = [
        *_alarm_troubles(overview),
        *_service_troubles(overview),
        *_broker_troubles(overview),
        *_channel_troubles(overview, _OUTSIDE),
        *_conflict_troubles(overview),
        *_channel_troubles(overview, _UNKNOWN),
    ]
    if not troubles:
        return _nothing_wrong(overview)
    mark, heading = troubles[0]
    return Banner(mark, heading, tuple(text for _, text in troubles[1:]))


def _alarm_troubles(overview: Overview) -> list[tuple[Mark, str]]:
    alarms = [pair for pair in ranked(overview.incubators) if announced(pair[1])]
    if not alarms:
        return []
    mark = alarm_mark(alarms[0][1])
    first = (mark, _headline(*alarms[0]))
    more = len(alarms) - 1
    return [first, (mark, f"{more} more alarm{'s' if more > 1 else ''} below.")] if more else [first]


def _service_troubles(overview: Overview) -> list[tuple[Mark, str]]:
    return [(Mark(Shape.FAULT, LOOK, Tone.CRITICAL), sentence) for sentence in overview.troubles]


def _broker_troubles(overview: Overview) -> list[tuple[Mark, str]]:
    if overview.broker_connected:
        return []
    mark = Mark(Shape.GAP, "Broker lost", Tone.UNKNOWN)
    lost = (mark, "The broker is lost: no new readings reach this page")
    return [lost, (mark, overview.broker_detail)] if overview.broker_detail else [lost]


def _alarmed(incubator: IncubatorNow) -> set[str]:
    return {alarm.channel for alarm in incubator.alarms if announced(alarm)}


def _conflict_troubles(overview: Overview) -> list[tuple[Mark, str]]:
    """One line; which clutches, and why, is told beside the incubator."""
    names = [incubator.name for incubator in overview.incubators if incubator.conflicts]
    mark = CONFLICT_MARK._replace(word=LOOK)
    return [(mark, _sentence(names, "clutches lie together that do not suit each other"))] if names else []


def _channel_troubles(overview: Overview, told: _Told) -> list[tuple[Mark, str]]:
    """One line for each sort of trouble, naming the places, without what an alarm says already."""
    found: dict[Standing, list[str]] = {}
    for incubator in overview.incubators:
        alarmed = _alarmed(incubator)
        for channel in incubator.channels:
            if channel.channel not in alarmed:
                place = f"{incubator.name} ({place_name(incubator, channel.place)})"
                found.setdefault(standing(channel, overview), []).append(place)
    return [
        (Mark(shape, LOOK, tone), _sentence(found[judged], words))
        for judged, (words, shape, tone) in told.items()
        if judged in found
    ]


def _sentence(places: list[str], words: str) -> str:
    different = list(dict.fromkeys(places))
    named = different[0] if len(different) == 1 else f"{different[0]} and {len(different) - 1} more"
    return f"{named}: {words}."


def _nothing_wrong(overview: Overview) -> Banner:
    channels: list[ChannelNow] = [channel for incubator in overview.incubators for channel in incubator.channels]
    if not channels:
        missing = "probe" if overview.incubators else "incubator"
        plain = Mark(Shape.RING, "Nothing watched", Tone.PLAIN)
        return Banner(plain, f"No {missing} is set up yet", (f"Add a {missing} to site.toml.",))
    oldest = min(channel.measured_at_ms or 0 for channel in channels)
    count = f"{len(channels)} channel{'s' if len(channels) > 1 else ''}"
    line = f"{count}, oldest reading {figures.age(overview.now_ms, oldest)}."
    if all(standing(channel, overview) is Standing.NO_LIMITS for channel in channels):
        return Banner(
            Mark(Shape.RING, "No limits", Tone.PLAIN),
            "Readings arrive, but no limits are watched",
            ("Limits come from the clutches; none lies in a place with a probe.", line),
        )
    return Banner(Mark(Shape.EGG, "In range", Tone.WELL), "All incubators are in range", (line,))
