"""The text of an alert: facts in, headline and body out. Pure.

The headline is complete alone, because a lock screen may cut the rest: how bad, where, what value, what is wrong. The
body has the same order every time: limit and since when; one action; time left; then what helps and fits. That an
alarm must alert, inform and guide is the advice of the UK HSE (human factors: alarm management) and of US NRC
NUREG-0700. A figure that is not known is called unknown and never invented.
"""

from collections.abc import Sequence
from dataclasses import replace

from config.unprintable import on_one_line
from config.words import AlarmKind
from daemon.alarms.alert_facts import AlertFacts, AlertText, Stage
from daemon.alarms.definitions import DEFINITIONS
from daemon.alarms.figures import duration_text, rate_text, value_text
from daemon.alarms.shortened import shortened, shortened_place, shortened_words
from daemon.alarms.time_left import basis_line, time_left
from daemon.alarms.wrong import LIMITED, OVER, SILENT, WRONG

__all__ = ["LONGEST_HEADLINE", "LONGEST_TEXT", "OLD_READING_MS", "AlertFacts", "AlertText", "Stage", "alert_text"]

LONGEST_HEADLINE = 60
LONGEST_TEXT = 300
"""headline, line break and body, without the link"""
OLD_READING_MS = 300_000
"""the newest reading's age is told from here on"""
_LONGEST_TIME_LEFT = 60
_LONGEST_TOLD = 60
_SHORTEST_NAME = 8
_WHY = "Why: "


def alert_text(facts: AlertFacts) -> AlertText:
    """Write the message for these facts."""
    place = on_one_line(facts.place)
    headline, place_shown = _headline(facts, place)
    if facts.stage is Stage.CLEARED:
        lines = _cleared(facts)
    elif facts.stage is Stage.TAKEN:
        who = shortened(on_one_line(facts.who), _LONGEST_TOLD) or "Somebody"
        lines = [f"{who} has acknowledged it, {facts.clock(facts.now_ms)}.", "You need not go unless asked."]
    elif facts.stage is Stage.REVIEW:
        lines = [
            f"Taken out of service, so nobody is told of it; its review is due, {facts.clock(facts.now_ms)}.",
            "Test it and put it back into service, or give it a new review date.",
        ]
    elif facts.stage is Stage.TEST:
        lines = _test(facts)
    else:
        lines = _needed(facts, LONGEST_TEXT - len(headline) - len(_must_say(facts)) - 1)
    lines = [*filter(None, [_must_say(facts)]), *lines]
    room = LONGEST_TEXT - len(headline) - sum(len(line) + 1 for line in lines)
    for label, names, longest in _helpful(facts):
        line = _listed(label, tuple(map(on_one_line, names)), min(room - 1, longest))
        if line:
            lines.append(line)
            room -= len(line) + 1
    for line in (f"Where: {place}." if place_shown != place else "", _forecast_basis(facts)):
        if line and len(line) < room:
            lines.append(line)
            room -= len(line) + 1
    return AlertText(headline, "\n".join([*lines, facts.link] if facts.link else lines))


def _headline(facts: AlertFacts, place: str) -> tuple[str, str]:
    """Write the headline, and give the place as it is written in it."""
    severity = facts.definition.priority.word
    start = {
        Stage.RAISED: severity,
        Stage.STILL: f"UPDATE {severity}",
        Stage.CLEARED: _cleared_start(facts.still_out),
        Stage.TAKEN: "ACKNOWLEDGED",
        Stage.REVIEW: severity,
        Stage.TEST: "TEST",
    }[facts.stage]
    what = _what(facts, LONGEST_HEADLINE - len(start) - _SHORTEST_NAME - len(" : "))
    shown = shortened_place(place, LONGEST_HEADLINE - len(f"{start} : {what}"))
    return f"{start} {shown}: {what}", shown


def _cleared_start(still_out: AlarmKind | None) -> str:
    """CLEARED would send somebody back to bed while the place is still out of range."""
    return "CLEARED" if still_out is None else f"UPDATE {DEFINITIONS[still_out].priority.word}"


def _what(facts: AlertFacts, room: int) -> str:
    kind = facts.definition.kind
    if facts.stage is Stage.TEST:
        return "this is a test, nothing is wrong"
    if facts.stage is Stage.REVIEW:
        return f"alarm off: {WRONG[kind]}"
    if kind in SILENT and facts.stage is not Stage.CLEARED:
        heard_ms = facts.since_ms if facts.last_reading_ms is None else facts.last_reading_ms
        what = "unwatched" if kind is AlarmKind.LAST_PROBE_SILENT else "no readings"
        return f"{what} for {duration_text(facts.now_ms - heard_ms)}"
    wrong = WRONG[kind] if facts.stage is not Stage.CLEARED else _over(facts)
    if facts.stage is Stage.STILL and facts.is_inside:
        # The alarm ends only when it has been so for a while; "too warm" beside a good value would be a riddle.
        wrong = "back in range now"
    if facts.about:
        wrong = f"{shortened(on_one_line(facts.about), room - len(wrong) - 2)}: {wrong}"
    return wrong if facts.value is None or facts.quantity is None else f"{facts.figure(facts.value)}, {wrong}"


def _over(facts: AlertFacts) -> str:
    if facts.still_out is not None:
        return f"still {WRONG[facts.still_out]}"
    kind = facts.definition.kind
    return OVER.get(kind, f"was {WRONG[kind]}")


def _must_say(facts: AlertFacts) -> str:
    """Write what stands before everything else of the body; empty where nobody needs to go any more."""
    is_over = facts.stage is Stage.CLEARED and facts.still_out is None and not facts.left
    return f"{facts.must_say}." if facts.must_say and not is_over else ""


def _needed(facts: AlertFacts, room: int) -> list[str]:
    """Write what no raised alarm may leave out, in the order of a tired reader's questions."""
    lines = [_measured(facts), facts.definition.first_action]
    left = facts.time_left
    if not left and facts.ahead is not None:
        left = time_left(facts.ahead, facts.definition, facts.fahrenheit)
    room -= sum(len(line) + 1 for line in lines) + len("\nTime left: .")
    left = shortened_words(on_one_line(left), min(_LONGEST_TIME_LEFT, room)) or facts.definition.time_available
    return [*lines, f"Time left: {left}."]


def _forecast_basis(facts: AlertFacts) -> str:
    if facts.ahead is None or facts.stage not in (Stage.RAISED, Stage.STILL):
        return ""
    return basis_line(facts.ahead, facts.fahrenheit)


def _measured(facts: AlertFacts) -> str:
    if facts.definition.kind in SILENT:
        return _last_heard(facts)
    since = f"Since {facts.clock(facts.since_ms)} ({duration_text(facts.now_ms - facts.since_ms)})"
    if facts.definition.kind not in LIMITED or facts.quantity is None:
        return f"{since}."
    limit = "Limit unknown."
    if facts.limit is not None:
        worst = f", worst {facts.figure(facts.worst)}" if facts.stage is Stage.STILL and facts.worst is not None else ""
        limit = f"Limit {value_text(facts.limit, facts.quantity, facts.fahrenheit, facts.value)}{worst}."
    rate = "" if facts.rate_per_h is None else f", {rate_text(facts.rate_per_h, facts.quantity, facts.fahrenheit)}"
    return f"{limit} {since}{rate}."


def _last_heard(facts: AlertFacts) -> str:
    if facts.last_reading_ms is None:
        return f"None heard since {facts.clock(facts.since_ms)} ({duration_text(facts.now_ms - facts.since_ms)})."
    value = "" if facts.value is None else f": {facts.figure(facts.value)}"
    age = duration_text(facts.now_ms - facts.last_reading_ms)
    return f"Last reading {facts.clock(facts.last_reading_ms)}, {age} ago{value}."


def _cleared(facts: AlertFacts) -> list[str]:
    ended_ms = facts.now_ms if facts.ended_ms is None else facts.ended_ms
    lasted = duration_text(ended_ms - facts.since_ms)
    first = f"Lasted {lasted}, {facts.clock(facts.since_ms)} to {facts.clock(ended_ms)}."
    if facts.worst is not None and facts.definition.kind in LIMITED:
        limit = "" if facts.limit is None else f" (limit {facts.figure(facts.limit)})"
        first = f"{first} Worst {facts.figure(facts.worst)}{limit}."
    if facts.still_out is None:
        return [first, facts.left or "Nothing more to do for this alarm."]
    return [first, f"Not over: it is still {WRONG[facts.still_out]} there.", DEFINITIONS[facts.still_out].first_action]


def _test(facts: AlertFacts) -> list[str]:
    severity = facts.definition.priority.word
    sent = f"Sent {facts.clock(facts.now_ms)} to see that alerts of priority {severity} reach you."
    return [sent, "Do nothing at the incubator; note that this arrived."]


def _helpful(facts: AlertFacts) -> list[tuple[str, Sequence[str], int]]:
    """Give the lines that are left out where they do not fit: label, names, longest. The most useful first."""
    lines: list[tuple[str, Sequence[str], int]] = []
    heard_ms = facts.last_reading_ms
    quiet = facts.stage not in (Stage.RAISED, Stage.STILL)
    told_already = facts.definition.kind in SILENT or quiet
    if heard_ms is not None and not told_already and facts.now_ms - heard_ms >= OLD_READING_MS:
        lines.append(("", (_last_heard(replace(facts, value=None)).removesuffix("."),), LONGEST_TEXT))
    if facts.also:
        lines.append(("Also: ", facts.also, LONGEST_TEXT))
    if facts.caution and facts.stage is not Stage.CLEARED:
        lines.append(("", (facts.caution,), LONGEST_TEXT))
    if facts.told or facts.stage not in (Stage.CLEARED, Stage.TAKEN, Stage.REVIEW):
        lines.append(("Told: ", facts.told or ("nobody else",), _LONGEST_TOLD))
    if facts.detail:
        lines.append((_WHY, (facts.detail,), LONGEST_TEXT))
    if facts.stage is not Stage.TEST:
        lines.append(("Inside: ", facts.clutches, LONGEST_TEXT))
    return lines


def _listed(label: str, names: Sequence[str], room: int) -> str:
    """Write as many names as fit into `room` characters, and how many more there are; empty where none fits."""
    for count in range(len(names), 0, -1):
        more = f" and {len(names) - count} more" if count < len(names) else ""
        line = f"{label}{', '.join(names[:count])}{more}"
        if len(line) < room:
            return f"{line}."
    more = f" and {len(names) - 1} more." if len(names) > 1 else "."
    name_room = room - len(label) - len(more)
    if not names or not label or name_room < _SHORTEST_NAME:
        return ""
    cut = shortened_words if label == _WHY else shortened
    return f"{label}{cut(names[0], name_room)}{more}"
