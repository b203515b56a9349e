"""The sheet of a hand-over, from what is known to short lines that fit on one page. Pure.

What has no room is counted, so that nobody takes the sheet for all there is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple
from zoneinfo import ZoneInfo

from daemon.hand_over_sheet import HandOver, Note
from daemon.overview import Overview
from dashboards import figures
from dashboards.hand_over_lines import (
    Line,
    alarm_lines,
    box_lines,
    due_lines,
    duty_lines,
    hatch_lines,
    people_lines,
    round_lines,
    short,
    thermometer_lines,
    told_alarms,
    untold_of,
    water_lines,
)
from dashboards.hand_over_room import chosen, room_beside
from dashboards.hand_over_words import CAUTIONS, HOW_TO_ACKNOWLEDGE, WHAT_TO_DO, Action
from dashboards.rounds_last import last_round_view
from dashboards.rounds_paths import ROUNDS_PATH

HAND_OVER_PATH = "/hand-over"
HAND_OVER_SETUP_PATH = "/set-up/hand-over"
_MOST_VENOMOUS, _MOST_TROUBLES = 6, 3


class Part(NamedTuple):
    """One part with all of its lines; `none` stands where there is nothing. `rest`: where what has no room is read."""

    key: str
    heading: str
    lines: Sequence[Line]
    none: str
    path: str
    rest: str = "not on this sheet"


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the sheet. `more` says how many lines had no room; `none` stands where there is nothing."""

    key: str
    heading: str
    lines: tuple[Line, ...]
    more: str
    none: str
    path: str


@dataclass(frozen=True, slots=True)
class HandOverView:
    """The whole sheet. `venomous` stands first; `actions` say what to do first."""

    site_name: str
    clock: str
    zone: str
    venomous: str
    answer: str
    troubles: tuple[str, ...]
    sections: tuple[Section, ...]
    actions: tuple[Action, ...]
    acknowledge: tuple[str, ...]
    cautions: tuple[str, ...]
    note: str
    note_by: str
    setup_path: str


def hand_over_view(found: HandOver) -> HandOverView:
    """Everything on the sheet at one moment."""
    overview, note = found.overview, found.note
    zone = ZoneInfo(overview.time_zone)
    where = found.public_url or "these pages"
    venomous = _venomous(found.venomous)
    troubles = tuple(short(each) for each in overview.troubles[:_MOST_TROUBLES])
    parts = _parts(found, zone)
    room = room_beside("" if note is None else note.text, (venomous, *troubles))
    shown = chosen([each.lines for each in parts], room)
    return HandOverView(
        site_name=overview.site_name,
        clock=figures.moment_text(figures.local(overview.now_ms, zone)),
        zone=overview.time_zone,
        venomous=venomous,
        answer=_answer(found),
        troubles=troubles,
        sections=tuple(_section(part, count) for part, count in zip(parts, shown, strict=True)),
        actions=WHAT_TO_DO,
        acknowledge=tuple(each.format(pages=where) for each in HOW_TO_ACKNOWLEDGE),
        cautions=CAUTIONS,
        note="" if note is None else note.text,
        note_by="" if note is None else _note_by(note, zone),
        setup_path=HAND_OVER_SETUP_PATH,
    )


def _note_by(note: Note, zone: ZoneInfo) -> str:
    return f"{short(note.who, 30)}, {figures.full_date_text(figures.local(note.at_ms, zone))}"


def _parts(found: HandOver, zone: ZoneInfo) -> list[Part]:
    """Give every part of the sheet with all of its lines, the most pressing part first."""
    now_ms, overview, people = found.overview.now_ms, found.overview, found.people
    return [
        Part("alarms", "Alarms", alarm_lines(found.alarms, zone), "No alarm waits.", "/alarms"),
        Part("water", "Water", water_lines(found.boxes), "No box needs water soon.", "/rounds"),
        Part("hatching", "Hatching within 14 days", hatch_lines(found.hatching, zone, now_ms), "None.", "/clutches"),
        Part("boxes", "Boxes to look after", box_lines(found.boxes), "None stands out.", "/rounds"),
        Part("untold", "Not told at present", untold_of(overview, zone), "Everything is told.", "/alarms"),
        Part("warmth", "How warm it is", thermometer_lines(overview), "Nothing is measured.", "/"),
        _last_round(overview, zone),
        Part("due", "Due within 14 days", due_lines(found.due, zone, now_ms), "Nothing.", "/rounds"),
        Part("duty", "On duty", duty_lines(people, zone), "Nobody is stated.", "/people"),
        Part("people", "Who is reached, and how", people_lines(people, zone), "Nobody.", "/people"),
    ]


def _last_round(overview: Overview, zone: ZoneInfo) -> Part:
    last = last_round_view(overview.last_round, overview.now_ms, zone)
    path = ROUNDS_PATH if last is None else last.path
    # The printed sheet has no links: whoever holds it needs the way in words.
    rest = f"in the summary at {path}"
    return Part("round", "Last round", round_lines(overview, zone), "None was ended yet.", path, rest)


def _section(part: Part, shown: int) -> Section:
    left = len(part.lines) - shown
    more = f"And {left} more, {part.rest}." if left > 0 else ""
    return Section(part.key, part.heading, tuple(part.lines[:shown]), more, part.none, part.path)


def _venomous(boxes: Sequence[tuple[str, str]]) -> str:
    if not boxes:
        return ""
    named = "; ".join(f"{short(place, 40)} ({short(label, 16)})" for place, label in boxes[:_MOST_VENOMOUS])
    more = f"; and {len(boxes) - _MOST_VENOMOUS} more" if len(boxes) > _MOST_VENOMOUS else ""
    return f"Venomous: trained handlers only. Do not open: {named}{more}."


def _answer(found: HandOver) -> str:
    told = told_alarms(found.alarms)
    waiting = sum(each.waits for each in told)
    if waiting:
        return f"{waiting} {'alarm waits' if waiting == 1 else 'alarms wait'} for somebody"
    on = sum(each.in_alarm for each in told)
    return f"{on} {'alarm is' if on == 1 else 'alarms are'} on, and seen" if on else "No alarm waits for anybody"
