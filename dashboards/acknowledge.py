"""The page that a message's link leads to, as texts. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.words import Priority
from daemon.answer_values import Called, CalledAlarm, Wish
from dashboards import figures
from dashboards.alarms import alarm_word, state_text
from dashboards.standing import ALARM_SHAPES, PRIORITY_TONES, Mark, Shape, Tone

LONGEST_NOTE = 500


@dataclass(frozen=True, slots=True)
class CalledView:
    """One alarm on that page: what is wrong, since when, how people stand to it, and what became of the answer."""

    mark: Mark
    headline: str
    since: str
    state: str
    said: str
    first_action: str
    caution: str


@dataclass(frozen=True, slots=True)
class AcknowledgeView:
    """The whole page.

    `action` is where the answer goes, empty where there is nothing to answer; `hidden` are the fields that go with it.
    """

    heading: str
    lines: tuple[str, ...]
    alarms: tuple[CalledView, ...]
    action: str
    hidden: tuple[tuple[str, str], ...]
    can_say_no: bool
    clock: str
    zone: str


def acknowledge_view(called: Called, action: str, hidden: tuple[tuple[str, str], ...] = ()) -> AcknowledgeView:
    """What is wrong now, and what can be answered."""
    zone = ZoneInfo(called.time_zone)
    heading, lines = _answered(called) if called.accepted else _asked(called)
    return AcknowledgeView(
        heading=heading,
        lines=lines,
        alarms=tuple(_called_view(each, called.now_ms, zone) for each in called.alarms),
        action=action if called.waits else "",
        hidden=hidden,
        can_say_no=called.can_say_no and not (called.wish is Wish.CANNOT and called.accepted),
        clock=figures.moment_text(figures.local(called.now_ms, zone)),
        zone=called.time_zone,
    )


def acknowledged_text(called: Called) -> str:
    """What the first page says after its button: it shows the next alarm, which looks much like the last one."""
    what = "; ".join(each.headline for each in called.alarms if not each.waits)
    more = " Below is what else waits." if called.waits else ""
    return f"Acknowledged: {what.rstrip('.')}. Nobody is called for this any more, and whoever was hears of it.{more}"


def _answered(called: Called) -> tuple[str, tuple[str, ...]]:
    """Heading and lines after an answer that was taken."""
    name = f", {called.person}" if called.person else ""
    if called.wish is Wish.CANNOT:
        again = "Whoever is next is called now. If you can go after all, say so here."
        return f"Noted{name}: you cannot go", (again,)
    if all(each.said for each in called.alarms):
        return f"Noted{name}", ()
    if called.waits:
        more = "Something else has come up since, and waits for an answer of its own."
        return f"Noted{name}, and more waits", (f"What you saw is acknowledged. {more}",)
    others = " The others are told that you see to it." if any(each.in_alarm for each in called.alarms) else ""
    return f"Noted{name}: you see to it", (f"Nobody is called for this any more.{others}",)


def _asked(called: Called) -> tuple[str, tuple[str, ...]]:
    """Heading and lines before an answer, or after one that was refused."""
    if called.wish is Wish.CANNOT:
        lines: tuple[str, ...] = ("Nobody is being called for this any more, or it is known already.",)
    elif called.accepted is None and any(each.is_newer for each in called.alarms):
        lines = ("Things have changed since the message that you opened. This is how they stand now.",)
    else:
        lines = ()
    if not called.waits:
        return "Nothing waits for you", lines
    if called.accepted is False:
        return "Not noted: read this first", lines
    return f"Do you see to it{f', {called.person}' if called.person else ''}?", lines


def _called_view(alarm: CalledAlarm, now_ms: int, zone: ZoneInfo) -> CalledView:
    since = ""
    if alarm.since_ms is not None:
        clock = figures.clock_text(figures.local(alarm.since_ms, zone), figures.local(now_ms, zone))
        since = f"{'Since' if alarm.in_alarm else 'Began'} {clock} ({figures.age(now_ms, alarm.since_ms)})."
    return CalledView(
        mark=called_mark(alarm),
        headline=alarm.headline,
        since=since,
        state=f"{_state(alarm, now_ms, zone)}.",
        said=alarm.said,
        first_action=alarm.first_action,
        caution=f"{alarm.caution}." if alarm.caution else "",
    )


def _state(alarm: CalledAlarm, now_ms: int, zone: ZoneInfo) -> str:
    if alarm.state == "over":
        return "Over"
    text = state_text(alarm.state, alarm.acknowledged_by, alarm.shelved_until_ms, now_ms, zone)
    return f"{text[:1].upper()}{text[1:]}"


def called_mark(alarm: CalledAlarm) -> Mark:
    """Shape from the kind, word and tone from the priority; what is over is plain."""
    if alarm.state == "over":
        return Mark(Shape.RING, "Over", Tone.PLAIN)
    return Mark(ALARM_SHAPES[alarm.kind], alarm_word(Priority(alarm.priority)), PRIORITY_TONES[alarm.priority])
