"""Pure: a month of the whole site, as sections of a report."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from config.words import AlarmKind, Quantity
from daemon.alarm_measures import MeasureRow
from daemon.alarms.figures import duration_text, shown, unit_of
from daemon.alarms.wrong import WRONG
from daemon.reports.drawing import Chart, Point, svg_of
from daemon.reports.month_events import KindOfAlarm, Rounds
from daemon.reports.month_figures import HOUR_MS, DayFigures
from daemon.reports.names import Stretch, file_name
from daemon.reports.values import Block, Picture, Report, Section, Table, Words
from daemon.review.telling import Telling

_NOON_MS = 12 * HOUR_MS
_MINUTES_OF_AN_HOUR = 60


@dataclass(frozen=True, slots=True)
class ChannelMonth:
    """A channel over the month. `day_ms` is when each of the `days` began; `is_behind`: readings wait to be counted."""

    channel: str
    place: str
    quantity: Quantity
    days: tuple[DayFigures, ...]
    day_ms: tuple[int, ...]
    is_behind: bool = False


@dataclass(frozen=True, slots=True)
class FailedDelivery:
    """Messages of the month to one contact that never reached it, or wait still; `error` is what the last one met."""

    who: str
    contact: str
    given_up: int
    waiting: int
    error: str


@dataclass(frozen=True, slots=True)
class MonthFacts:
    """All that the report of a month tells. `rounds` go by the name of the incubator; the others are rows of texts."""

    site_name: str
    time_zone: str
    now_ms: int
    month: Stretch
    until_ms: int
    channels: tuple[ChannelMonth, ...]
    kinds: tuple[KindOfAlarm, ...]
    measures: tuple[MeasureRow, ...]
    incidents: tuple[tuple[str, ...], ...]
    rounds: tuple[tuple[str, Rounds], ...]
    calibrations: tuple[tuple[str, ...], ...]
    deliveries: tuple[FailedDelivery, ...]
    files: tuple[str, ...] = ()


def month_report(facts: MonthFacts, telling: Telling) -> Report:
    """Write the month."""
    begin, end = telling.dated(facts.month.from_ms), telling.dated(facts.until_ms)
    return Report(
        title=f"Month {facts.month.name}",
        subtitle=f"From {begin} until {end}" + (", which is now" if facts.until_ms < facts.month.until_ms else ""),
        site_name=facts.site_name,
        made=(
            f"Made by clutchwarden on {telling.dated(facts.now_ms)} ({facts.time_zone}) from the journal of the site. "
            "Readings are corrected by the calibrations of their time. Hours outside are those of straight lines "
            "between means of ten minutes, by the limits of what lay there at that time."
        ),
        sections=(
            Section("Places", tuple(_places(facts.channels, telling))),
            Section("Alarms", tuple(_alarms(facts))),
            Section("Incidents", (Table("Incidents with a moment in the month", _INCIDENT, facts.incidents, "None."),)),
            Section("Rounds", (_rounds(facts.rounds),)),
            Section("Calibrations", (Table("Due or overdue", _DUE, facts.calibrations, _NONE_DUE),)),
            Section("Messages that reached nobody", (_deliveries(facts.deliveries),)),
            Section("Each day", tuple(_days(facts.channels, telling))),
            Section("Files beside this report", tuple(Words(each) for each in facts.files)),
        ),
    )


_INCIDENT = ("Number", "When", "Cause", "Where", "Review")
_DUE = ("Channel", "Place", "Standing at the end of the month")
_NONE_DUE = "every calibration is in date."
_HEAD = ("Place", "Channel", "Least", "Mean", "Most", "Hours below", "Hours above", "Hours unknown", "Longest gap")


def _places(channels: Sequence[ChannelMonth], telling: Telling) -> Iterator[Block]:
    rows = tuple(_whole(each, telling) for each in channels)
    yield Table("Each place over the whole month", _HEAD, rows, "No probe measures anything here.")
    if any(each.is_behind for each in channels):
        yield Words("Readings wait to be counted: make this report again in a few minutes.", warns=True)


def _whole(one: ChannelMonth, telling: Telling) -> tuple[str, ...]:
    read_h = sum(day.asked_h - day.unknown_h for day in one.days if day.mean is not None)
    area = sum(day.mean * (day.asked_h - day.unknown_h) for day in one.days if day.mean is not None)
    least = min((day.least for day in one.days if day.least is not None), default=None)
    most = max((day.most for day in one.days if day.most is not None), default=None)
    gap_h = max((day.longest_gap_h for day in one.days), default=0.0)
    return (
        one.place,
        one.channel,
        _value(least, one, telling),
        _value(area / read_h if read_h else None, one, telling),
        _value(most, one, telling),
        _sum([day.below_h for day in one.days]),
        _sum([day.above_h for day in one.days]),
        f"{sum(day.unknown_h for day in one.days):.1f}",
        duration_text(round(gap_h * HOUR_MS)) if gap_h else "none",
    )


def _value(value: float | None, one: ChannelMonth, telling: Telling) -> str:
    return "" if value is None else telling.value(value, humidity=not one.quantity.is_temperature)


def _sum(hours: Sequence[float | None]) -> str:
    known = [each for each in hours if each is not None]
    return f"{sum(known):.1f}" if known else "no limits"


def _days(channels: Sequence[ChannelMonth], telling: Telling) -> Iterator[Block]:
    head = ("Day", "Least", "Mean", "Most", "Hours below", "Hours above", "Hours unknown", "Longest gap")
    for one in channels:
        rows = tuple(
            (
                f"{day.day.day} {day.day:%b}",
                *(_value(each, one, telling) for each in (day.least, day.mean, day.most)),
                _sum([day.below_h]),
                _sum([day.above_h]),
                f"{day.unknown_h:.1f}",
                duration_text(round(day.longest_gap_h * HOUR_MS)) if day.longest_gap_h else "none",
            )
            for day in one.days
        )
        picture = _picture(one, telling)
        if picture is not None:
            yield picture
        yield Table(f"{one.place}, {one.channel}", head, rows)


def _picture(one: ChannelMonth, telling: Telling) -> Picture | None:
    points, joined = [], False
    for at_ms, day in zip(one.day_ms, one.days, strict=True):
        if day.least is not None and day.mean is not None and day.most is not None:
            low, mean, high = (
                shown(each, one.quantity, telling.fahrenheit) for each in (day.least, day.mean, day.most)
            )
            points.append(Point(at_ms + _NOON_MS, low, mean, high, joined))
        joined = day.mean is not None
    if not points:
        return None
    chart = Chart(f"{one.place}, {one.channel}", unit_of(one.quantity, telling.fahrenheit), points)
    name = f"{file_name(one.channel.replace('/', '.'))}.svg"
    return Picture(
        name, svg_of(chart, telling.zone), f"{one.channel}: mean of each day as a line, least to most in grey."
    )


def _alarms(facts: MonthFacts) -> Iterator[Block]:
    rows = tuple(_kind(each) for each in facts.kinds)
    head = ("What", "Times", "On for", "Called for", "Acknowledged", "Half within", "Longest")
    yield Table("By kind", head, rows, "No alarm was on.")
    yield Table(
        "How well the alarms did their work",
        ("Measure", "In this month"),
        tuple((f"{'- ' if row.is_part else ''}{row.label}", row.text) for row in facts.measures),
    )


def _kind(one: KindOfAlarm) -> tuple[str, ...]:
    known = one.kind in set(AlarmKind)
    words = WRONG[AlarmKind(one.kind)] if known else one.kind
    return (
        f"{words[:1].upper()}{words[1:]}",
        str(one.raised),
        duration_text(one.on_ms),
        str(one.called),
        str(one.acknowledged),
        _minutes(one.median_min),
        _minutes(one.longest_min),
    )


def _minutes(minutes: float | None) -> str:
    if minutes is None:
        return ""
    return f"{minutes:.0f} min" if minutes < _MINUTES_OF_AN_HOUR else f"{minutes / _MINUTES_OF_AN_HOUR:.1f} h"


def _rounds(rounds: Sequence[tuple[str, Rounds]]) -> Table:
    rows = tuple(
        (name, str(one.done), str(one.due), duration_text(one.late_ms) if one.late_ms else "never")
        for name, one in rounds
    )
    return Table("Rounds through each incubator with eggs", ("Incubator", "Done", "Due", "Late for"), rows, "No eggs.")


def _deliveries(failed: Sequence[FailedDelivery]) -> Table:
    rows = tuple((each.who, str(each.given_up), str(each.waiting), each.error) for each in failed)
    return Table("By contact", ("Who", "Given up", "Still waiting", "What the last one met"), rows, "None.")
