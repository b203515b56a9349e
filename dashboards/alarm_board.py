"""The page of all alarms, by state, as texts and marks. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple
from zoneinfo import ZoneInfo

from daemon.alarm_board_values import AlarmList, ListedAlarm
from daemon.alarms.state_values import Shown
from dashboards import figures
from dashboards.alarm_paths import alarm_path
from dashboards.alarm_words import Words
from dashboards.alarms import alarm_word
from dashboards.standing import ALARM_SHAPES, PRIORITY_TONES, Mark, Shape, Tone
from dashboards.view import demo_line, version_of


class Group(NamedTuple):
    """The states that stand under one heading; `key` is its id on the page."""

    key: str
    heading: str
    states: frozenset[Shown]
    explained: str = ""


GROUPS = (
    Group("unacknowledged", "Unacknowledged", frozenset({Shown.UNACKNOWLEDGED})),
    Group("acknowledged", "Acknowledged", frozenset({Shown.ACKNOWLEDGED})),
    Group("returned", "Returned to normal unacknowledged", frozenset({Shown.RETURNED})),
    Group(
        "latched",
        "Latched",
        frozenset({Shown.LATCHED_UNACKNOWLEDGED, Shown.LATCHED_ACKNOWLEDGED}),
        "Over, and held until somebody has looked and resets it.",
    ),
    Group("shelved", "Shelved", frozenset({Shown.SHELVED})),
    Group(
        "suppressed",
        "Suppressed by design",
        frozenset({Shown.SUPPRESSED_BY_DESIGN}),
        "Something else that is told, or people at work, explains these.",
    ),
    Group("out", "Out of service", frozenset({Shown.OUT_OF_SERVICE})),
)


@dataclass(frozen=True, slots=True)
class AlarmItem:
    """One alarm: `key` is its id on the page, `path` that of its own page; `answer` are the fields to acknowledge."""

    key: str
    path: str
    mark: Mark
    headline: str
    lines: tuple[str, ...]
    first_action: str
    caution: str
    answer: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class AlarmGroup:
    """All alarms in one state."""

    key: str
    heading: str
    explained: str
    items: tuple[AlarmItem, ...]


@dataclass(frozen=True, slots=True)
class BoardView:
    """The whole page."""

    site_name: str
    clock: str
    zone: str
    demo: str
    mark: Mark
    heading: str
    rounds: tuple[str, ...]
    groups: tuple[AlarmGroup, ...]

    @property
    def version(self) -> str:
        """Differs wherever something that is shown differs."""
        return version_of(self)


def board_view(listed: AlarmList) -> BoardView:
    """Everything on the page. Whether a visitor is shown the forms is for the template to ask."""
    words = Words(listed)
    groups = []
    for group in GROUPS:
        alarms = [each for each in listed.alarms if each.shown in group.states]
        if alarms:
            items = tuple(item_view(each, words) for each in alarms)
            groups.append(AlarmGroup(group.key, f"{group.heading} ({len(alarms)})", group.explained, items))
    mark, heading = _answer(listed.alarms)
    return BoardView(
        site_name=listed.site_name,
        clock=figures.moment_text(figures.local(listed.now_ms, ZoneInfo(listed.time_zone))),
        zone=listed.time_zone,
        demo=demo_line(listed.clock_rate, is_demo=listed.is_demo),
        mark=mark,
        heading=heading,
        rounds=tuple(words.round_line(each) for each in listed.rounds),
        groups=tuple(groups),
    )


def item_view(alarm: ListedAlarm, words: Words) -> AlarmItem:
    """One alarm, as on both pages."""
    place = f"{alarm.place}: "
    was = "" if alarm.in_alarm else "was "
    return AlarmItem(
        key=f"alarm-{alarm.key}",
        path=alarm_path(alarm.key),
        mark=alarm_mark(alarm),
        headline=f"{place}{was}{alarm.what}",
        lines=tuple(words.lines(alarm)),
        first_action=alarm.first_action,
        caution=f"{alarm.caution}." if alarm.caution else "",
        answer=answer_fields(alarm) if alarm.waits else (),
    )


def answer_fields(alarm: ListedAlarm) -> tuple[tuple[str, str], ...]:
    """Fields of every form of an alarm: they say which state of it the person saw."""
    return ("occurrence", alarm.occurrence), ("version", str(alarm.version)), ("mark", alarm.mark)


def alarm_mark(alarm: ListedAlarm) -> Mark:
    """Shape from the kind, word and tone from the priority; where nobody is told of it, plain."""
    shape, word = ALARM_SHAPES[alarm.kind], alarm_word(alarm.priority)
    return Mark(shape, word, PRIORITY_TONES[alarm.priority] if alarm.in_alarm else Tone.PLAIN)


def _answer(alarms: Sequence[ListedAlarm]) -> tuple[Mark, str]:
    told = [each for each in alarms if not _is_silent(each)]
    waiting = [each for each in told if each.waits]
    # An alarm that somebody has acknowledged is no less bad for that, as long as it is on.
    worst = min((each for each in told if each.waits or each.in_alarm), key=lambda each: each.priority, default=None)
    if worst is not None:
        count = f"{len(waiting)} alarm{'s wait' if len(waiting) > 1 else ' waits'} for somebody"
        on = sum(each.in_alarm for each in told)
        seen = f"No alarm waits for anybody; {on} {'are' if on > 1 else 'is'} still on"
        mark = Mark(ALARM_SHAPES[worst.kind], alarm_word(worst.priority), PRIORITY_TONES[worst.priority])
        return mark, count if waiting else seen
    if alarms:
        return Mark(Shape.RING, "Nobody is called", Tone.PLAIN), "No alarm waits for anybody"
    return Mark(Shape.RING, "None", Tone.PLAIN), "No alarm is on"


def _is_silent(alarm: ListedAlarm) -> bool:
    return alarm.shelf is not None or alarm.out is not None or bool(alarm.design)
