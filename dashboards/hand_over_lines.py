"""The lines of the sheet of a hand-over, the most pressing first. Pure."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from config.words import Quantity
from daemon.alarm_board_values import AlarmList, ListedAlarm
from daemon.alarms.shortened import shortened_words
from daemon.hand_over_sheet import BoxToSee, Due, Hatching
from daemon.overview import ChannelNow, IncubatorNow, Overview
from daemon.people_values import PeopleNow, PersonNow
from daemon.rounds.last import LastRound
from dashboards import figures
from dashboards.alarms import alarm_word
from dashboards.places import sentence_start
from dashboards.rounds_last import last_round_view
from dashboards.standing import ALARM_SHAPES, PRIORITY_TONES, Mark, Shape, Tone, standing, standing_mark
from dashboards.untold import untold_lines

_LONGEST, _LONGEST_PLACE, _LONGEST_LABEL = 130, 44, 20
_KINDS = {"webhook": "webhook", "apprise": "push service"}
_DAYS = 7


class Line(NamedTuple):
    """One line: what it is about, what is told of it, and a mark where it has a state of its own."""

    name: str
    text: str
    mark: Mark | None = None


def short(text: str, longest: int = _LONGEST) -> str:
    """Cut a text that would not fit, and show that it is cut."""
    whole = " ".join(text.split())
    return shortened_words(whole, longest)


def alarm_lines(listed: AlarmList, zone: ZoneInfo) -> list[Line]:
    """Alarms that people are told of, with who has them; what is held back is told apart."""
    return [_alarm_line(each, listed, zone) for each in told_alarms(listed)]


def told_alarms(listed: AlarmList) -> list[ListedAlarm]:
    """Give those that nothing holds back."""
    return [each for each in listed.alarms if each.shelf is None and each.out is None and not each.design]


def _alarm_line(alarm: ListedAlarm, listed: AlarmList, zone: ZoneInfo) -> Line:
    today = figures.local(listed.now_ms, zone)

    def clock(at_ms: int) -> str:
        return figures.clock_text(figures.local(at_ms, zone), today)

    value = ""
    if alarm.quantity is not None and alarm.value is not None and alarm.limit is not None:
        shown = figures.value_beside(alarm.quantity, alarm.value, alarm.limit, listed.fahrenheit)
        limit = figures.value_beside(alarm.quantity, alarm.limit, alarm.value, listed.fahrenheit)
        value = f" {shown}, limit {limit}."
    over = "" if alarm.in_alarm else " Back in range; somebody has to look."
    if alarm.acknowledged_by:
        has = f"{short(alarm.acknowledged_by, 30)} has it."
    else:
        called = ", ".join(dict.fromkeys(short(each.name, 16) for each in alarm.called[:4]))
        has = f"Nobody has it; called: {called}." if called else "Nobody has it, and nobody was called."
    mark = Mark(ALARM_SHAPES[alarm.kind], alarm_word(alarm.priority), PRIORITY_TONES[alarm.priority])
    text = f"{alarm.what} since {clock(alarm.since_ms)}.{value} {has}{over}"
    return Line(short(alarm.place, _LONGEST_PLACE), short(text), mark)


def untold_of(overview: Overview, zone: ZoneInfo) -> list[Line]:
    """What nobody is told of, with until when."""
    return [
        Line(short(each.name, _LONGEST_PLACE), short(each.text), each.mark) for each in untold_lines(overview, zone)
    ]


def thermometer_lines(overview: Overview) -> list[Line]:
    """Air temperatures beside the limits there, those that are not in range first."""
    found = [
        (standing(channel, overview), incubator, channel)
        for incubator in overview.incubators
        for channel in incubator.channels
        if channel.quantity is Quantity.AIR_TEMPERATURE
    ]
    found.sort(key=lambda each: -each[0])
    return [_thermometer_line(*each[1:], overview) for each in found]


def _thermometer_line(incubator: IncubatorNow, channel: ChannelNow, overview: Overview) -> Line:
    def told(value_c: float | None) -> str:
        return "" if value_c is None else str(figures.temperature(value_c, overview.fahrenheit))

    place = incubator.place_names.get(channel.place, channel.place)
    name = f"{incubator.name}, {place}" if channel.place != incubator.incubator_id else incubator.name
    now = told(channel.value) or "no reading"
    keep = f", keep {told(channel.low)} to {told(channel.high)}" if channel.low is not None else ""
    lethal = [told(each) for each in (channel.lethal_low, channel.lethal_high) if each is not None]
    deadly = f", lethal {' and '.join(lethal)}" if lethal else ""
    return Line(
        short(name, _LONGEST_PLACE),
        f"{now}{keep}{deadly}.",
        standing_mark(standing(channel, overview), channel.quantity),
    )


def water_lines(boxes: Sequence[BoxToSee]) -> list[Line]:
    """Boxes that need water, with by when."""
    return [_box_line(each, each.water[:1]) for each in boxes if each.water]


def box_lines(boxes: Sequence[BoxToSee]) -> list[Line]:
    """Boxes that need somebody for anything else, and why."""
    return [_box_line(each, each.others[:2]) for each in boxes if each.others]


def _box_line(box: BoxToSee, reasons: Sequence[str]) -> Line:
    hands_off = "Trained handlers only. " if box.venomous else ""
    label = f" ({short(box.label, _LONGEST_LABEL)})" if box.label else ""
    words = "; ".join(each.rstrip(".") for each in reasons)
    mark = Mark(Shape.CAUTION, "venomous", Tone.PLAIN) if box.venomous else None
    return Line(f"{short(box.name, _LONGEST_PLACE)}{label}", short(f"{hands_off}{words[:1].upper()}{words[1:]}."), mark)


def hatch_lines(hatching: Sequence[Hatching], zone: ZoneInfo, now_ms: int) -> list[Line]:
    """Clutches that hatch soon, with the days that hold it in nine cases of ten."""
    return [_hatch_line(each, zone, now_ms) for each in hatching]


def _hatch_line(clutch: Hatching, zone: ZoneInfo, now_ms: int) -> Line:
    told = []
    if clutch.venomous:
        told.append("Trained handlers only.")
    if clutch.pipped:
        told.append(f"{clutch.pipped} {'egg' if clutch.pipped == 1 else 'eggs'} pipped.")
    window = clutch.window
    if window is not None:
        days = figures.date_range(figures.local(window.earliest_ms, zone), figures.local(window.latest_ms, zone))
        late = " Overdue: that proves nothing, leave sound eggs." if now_ms > window.latest_ms else ""
        likely = figures.date_text(figures.local(window.likely_ms, zone))
        told.append(f"In 9 of 10 cases: {days}, likely {likely}.{late}")
    name = f"{short(clutch.label, _LONGEST_LABEL)}, {short(clutch.species_name, 24)}"
    return Line(name, short(f"{' '.join(told)} {short(clutch.name, _LONGEST_PLACE)}."))


def round_lines(overview: Overview, zone: ZoneInfo) -> list[Line]:
    """The round that was ended last, and what whoever ended it wrote for the next one."""
    last = last_round_view(overview.last_round, overview.now_ms, zone)
    if last is None:
        return []
    found = [Line(f"{last.when[:1].upper()}{last.when[1:]}", short(last.text))]
    if last.note:
        found.append(Line("Noted", last.note))
    return [*found, *_said_lines(overview.last_round)]


def _said_lines(last: LastRound | None) -> Iterator[Line]:
    """What the round left undone, then what hand and eye said of single boxes, the most pressing first."""
    if last is None:
        return
    if last.not_seen:
        yield Line("Nobody looked at", f"{_as_many_as_fit(last.not_seen)}.")
    for box in last.said:
        hands_off = "Trained handlers only. " if box.venomous else ""
        label = f" ({short(box.label, _LONGEST_LABEL)})" if box.label else ""
        words = sentence_start("; ".join(box.words).rstrip("."))
        yield Line(f"{short(box.name, _LONGEST_PLACE)}{label}", short(f"{hands_off}{words}."))


def _as_many_as_fit(names: Sequence[str]) -> str:
    shown = [short(names[0], _LONGEST_PLACE)]
    for name in names[1:]:
        if len("; ".join([*shown, name])) > _LONGEST - len("; and 999 more"):
            break
        shown.append(name)
    more = len(names) - len(shown)
    return "; ".join([*shown, *([f"and {more} more"] if more else [])])


def due_lines(due: Sequence[Due], zone: ZoneInfo, now_ms: int) -> list[Line]:
    """What is due, on which day, and why where it was found in a box."""
    found = []
    for each in due:
        day = f"{_date(figures.local(each.at_ms, zone))}{', overdue' if each.at_ms < now_ms else ''}"
        hands_off = "Trained handlers only. " if each.venomous else ""
        mark = Mark(Shape.CAUTION, "venomous", Tone.PLAIN) if each.venomous else None
        told = f"{hands_off}{day}{f': {each.why}' if each.why else ''}."
        found.append(Line(short(each.what, _LONGEST_PLACE), short(told), mark))
    return found


def duty_lines(people: PeopleNow, zone: ZoneInfo) -> list[Line]:
    """Who is called first in the next days; days on which nothing changes are told together."""
    stretches = [each for day in people.days[:_DAYS] for each in day.stretches]
    found: list[tuple[int, int, str]] = []
    for each in stretches:
        first = f"{each.first} first" if each.first else "Nobody can be called"
        second = f", then {each.second}" if each.second else ""
        planned = f"; {each.planned} has not accepted yet" if each.planned else ""
        away = f"; away: {', '.join(each.away)}" if each.away else ""
        told = f"{first}{second}{planned}{away}."
        if found and found[-1][2] == told and found[-1][1] == each.start_ms:
            found[-1] = (found[-1][0], each.end_ms, told)
        else:
            found.append((each.start_ms, each.end_ms, told))
    return [Line(_span(start_ms, end_ms, zone), short(told)) for start_ms, end_ms, told in found]


def people_lines(people: PeopleNow, zone: ZoneInfo) -> list[Line]:
    """People by kind of contact alone: addresses stay in the site folder."""
    return [_person_line(each, zone) for each in people.people]


def _person_line(person: PersonNow, zone: ZoneInfo) -> Line:
    kinds = dict.fromkeys(_KINDS.get(each.kind, each.kind) for each in person.contacts)
    told = [f"By {' and '.join(kinds)}." if kinds else "No contact: no alarm reaches them."]
    if person.emergency:
        told.append("For emergencies.")
    if person.away_until_ms is not None:
        told.append(f"Away until {_date(figures.local(person.away_until_ms, zone))}.")
    if any(each.failing_since_ms is not None for each in person.contacts):
        told.append("Messages to them fail at present.")
    return Line(short(person.name, 40), short(" ".join(told)))


def _span(start_ms: int, end_ms: int, zone: ZoneInfo) -> str:
    start, end = figures.local(start_ms, zone), figures.local(end_ms, zone)
    return f"{_date(start)} {start:%H:%M} to {_date(end)} {end:%H:%M}"


def _date(moment: datetime) -> str:
    return f"{moment:%a} {figures.date_text(moment)}"
