"""The alarms on the page. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.words import AlarmKind, Priority
from daemon.alarms.state_values import Shown
from daemon.overview import AlarmNow, ChannelNow, IncubatorNow, Overview
from dashboards import figures
from dashboards.places import place_name, sentence_start
from dashboards.standing import ALARM_SHAPES, PRIORITY_TONES, Mark, Standing, standing, standing_mark

_SILENCED = frozenset({Shown.SHELVED, Shown.SUPPRESSED_BY_DESIGN, Shown.OUT_OF_SERVICE})
_ACKNOWLEDGED = frozenset({Shown.ACKNOWLEDGED, Shown.LATCHED_ACKNOWLEDGED})


@dataclass(frozen=True, slots=True)
class AlarmView:
    """One alarm: `key` names it on the page, `is_open` shows its text without a touch."""

    key: str
    mark: Mark
    headline: str
    measured: str
    body: str
    background: str
    is_open: bool
    state: str
    caution: str
    answer: tuple[tuple[str, str], ...]
    """fields of a form that acknowledges it; empty where there is nothing to acknowledge"""


def alarm_word(priority: Priority) -> str:
    """Say how urgent, in the word that the phone uses."""
    return f"{priority.word} alarm"


def alarm_mark(alarm: AlarmNow) -> Mark:
    """Shape from the kind, word and tone from the priority."""
    return Mark(ALARM_SHAPES[alarm.kind], alarm_word(alarm.priority), PRIORITY_TONES[alarm.priority])


def ranked(incubators: Sequence[IncubatorNow]) -> list[tuple[IncubatorNow, AlarmNow]]:
    """Every alarm with its incubator: what is on by priority, of one priority what nobody has acknowledged, the oldest.

    Whoever has acknowledged a danger has not ended it: a lesser one that still calls does not come before it.
    """
    pairs = [(incubator, alarm) for incubator in incubators for alarm in incubator.alarms]
    return sorted(pairs, key=lambda pair: (_calmness(pair[1]), pair[1].priority, not pair[1].waits, pair[1].since_ms))


def alarm_views(overview: Overview, zone: ZoneInfo) -> tuple[AlarmView, ...]:
    """List every alarm, the most urgent first; a critical one shows its text without a touch."""
    return tuple(_alarm_view(incubator, alarm, overview, zone) for incubator, alarm in ranked(overview.watched))


def _calmness(alarm: AlarmNow) -> int:
    """0 for what is on, whether or not somebody sees to it, 1 for what is silenced, 2 for what is over."""
    if not alarm.is_on:
        return 2
    return int(alarm.state in _SILENCED)


def seen_to(alarm: AlarmNow) -> str:
    """Say who sees to an alarm that is on; empty where nobody does, or nobody is named."""
    if not alarm.is_on or alarm.state not in _ACKNOWLEDGED or not alarm.acknowledged_by:
        return ""
    return f"{alarm.acknowledged_by[:1].upper()}{alarm.acknowledged_by[1:]} sees to it"


def state_text(state: str, acknowledged_by: str, shelved_until_ms: int | None, now_ms: int, zone: ZoneInfo) -> str:
    """Say the state of an alarm, with who acknowledged it or how long it stays silenced."""
    if state == Shown.SHELVED and shelved_until_ms is not None:
        return f"shelved until {figures.clock_text(figures.local(shelved_until_ms, zone), figures.local(now_ms, zone))}"
    return f"{state} by {acknowledged_by}" if state in _ACKNOWLEDGED and acknowledged_by else state


def headline(incubator: IncubatorNow, alarm: AlarmNow) -> str:
    """Name the incubator first: a person has to know where to run to."""
    is_named = ": " in alarm.headline
    said = alarm.headline if is_named else f"{alarm.headline[:1].lower()}{alarm.headline[1:]}"
    return f"{incubator.name}: {said}"


def _alarm_view(incubator: IncubatorNow, alarm: AlarmNow, overview: Overview, zone: ZoneInfo) -> AlarmView:
    since = figures.clock_text(figures.local(alarm.since_ms, zone), figures.local(overview.now_ms, zone))
    where = _where(incubator, alarm, overview)
    return AlarmView(
        key=f"alarm-{alarm.kind}-{alarm.channel or alarm.place}",
        mark=alarm_mark(alarm),
        headline=headline(incubator, alarm),
        measured=f"{where}. Since {since} ({figures.age(overview.now_ms, alarm.since_ms)}).",
        body=alarm.body,
        background=alarm.background,
        is_open=alarm.priority is Priority.CRITICAL,
        state=state_text(alarm.state, alarm.acknowledged_by, alarm.shelved_until_ms, overview.now_ms, zone),
        caution=f"{alarm.caution}." if alarm.caution else "",
        answer=_answer(alarm),
    )


def _answer(alarm: AlarmNow) -> tuple[tuple[str, str], ...]:
    if not (alarm.waits and alarm.key):
        return ()
    return ("key", alarm.key), ("occurrence", alarm.occurrence), ("version", str(alarm.version))


def _where(incubator: IncubatorNow, alarm: AlarmNow, overview: Overview) -> str:
    """The place inside the incubator, with the newest value of the channel and its limit where there are such."""
    place = sentence_start(place_name(incubator, alarm.place))
    channel = next((each for each in incubator.channels if each.channel == alarm.channel), None)
    if channel is None or channel.value is None:
        return place
    limit = _limit(channel, alarm.kind)
    value = figures.value_beside(channel.quantity, channel.value, limit, overview.fahrenheit)
    judged = standing(channel, overview)
    doubt = f" ({standing_mark(judged, channel.quantity).word})" if judged in (Standing.SUSPECT, Standing.OLD) else ""
    beside = ""
    if limit is not None:
        beside = f", limit {figures.value_beside(channel.quantity, limit, channel.value, overview.fahrenheit)}"
    return f"{place}: {value}{doubt}{beside}"


def _limit(channel: ChannelNow, kind: AlarmKind) -> float | None:
    """The limit that an alarm of this kind is about."""
    return {
        AlarmKind.TEMPERATURE_LETHAL_HIGH: channel.lethal_high,
        AlarmKind.TEMPERATURE_LETHAL_LOW: channel.lethal_low,
        AlarmKind.TEMPERATURE_HIGH: channel.high,
        AlarmKind.TEMPERATURE_LOW: channel.low,
        AlarmKind.HUMIDITY_HIGH: channel.high,
        AlarmKind.HUMIDITY_LOW: channel.low,
    }.get(kind)
