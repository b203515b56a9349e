"""The entries of a calendar, from what is known of clutches, rounds, calibrations and duties. Pure; UTC ms."""

import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, timedelta, tzinfo

from daemon.alarms.hand_over import Planned
from daemon.calendar_feed import LONGEST_TEXT, Entry, Kind
from daemon.development.window import HatchWindow
from daemon.overview import ClutchNow
from daemon.rounds.summary import Sooner
from sensors.calibration import Record

DUTY_SHOWN_FOR_MS = 14 * 86_400_000
"""So long after its end a duty stays in the calendar. Project choice."""
_ONLY_TOLD = "A reminder only: an independent over-temperature cut-out protects, and alarms are told elsewhere."
_LONGEST_NAME = 120


def hatch_entries(clutches: Iterable[ClutchNow], venomous: Iterable[int], zone: tzinfo) -> Iterator[Entry]:
    """One for each clutch whose window is known: the days that hold hatching in nine cases of ten."""
    dangerous = set(venomous)
    for clutch in clutches:
        window = clutch.window
        if not isinstance(window, HatchWindow):
            continue
        first, likely, last = (_day(each, zone) for each in (window.earliest_ms, window.likely_ms, window.latest_ms))
        caution = "Venomous: trained handlers only. " if clutch.clutch_id in dangerous else ""
        told = (
            f"{caution}In nine of ten cases between {_day_text(first)} and {_day_text(last)}, most likely "
            f"{_day_text(likely)}. What this rests on stands on the page of the clutch. {_ONLY_TOLD}"
        )
        name = f"Hatching: {_name(clutch.label)} ({_name(clutch.species_name)})"
        yield Entry(f"hatch/{clutch.clutch_id}", Kind.HATCHING, name, clean(told), first, last)


def round_entries(due_ms: Mapping[str, int], names: Mapping[str, str], zone: tzinfo) -> Iterator[Entry]:
    """One for each incubator with eggs: the day on which its next round is due. `names` are those of incubators."""
    for incubator, at_ms in due_ms.items():
        day = _day(at_ms, zone)
        told = f"The next round through the boxes is due on this day. {_ONLY_TOLD}"
        yield Entry(f"round/{incubator}", Kind.ROUND, f"Round due: {_name(names[incubator])}", told, day, day)


def check_entries(sooner: Iterable[Sooner], zone: tzinfo) -> Iterator[Entry]:
    """One for each clutch that is to be seen before its round is due, on that day, with what was found in its box."""
    for each in sooner:
        day, stop = _day(each.at_ms, zone), each.stop
        caution = "Venomous: trained handlers only. " if stop.venomous else ""
        told = f"{caution}{stop.whole_name}: {'; '.join(each.why)}. {_ONLY_TOLD}"
        yield Entry(f"check/{stop.clutch_id}", Kind.ROUND, f"Look at {_name(stop.label)}", clean(told), day, day)


def calibration_entries(records: Iterable[Record], zone: tzinfo) -> Iterator[Entry]:
    """One for each probe of which a calibration in force comes to an end: on the first day that one does."""
    by_probe: dict[str, list[Record]] = defaultdict(list)
    for record in records:
        if record.due_at_ms is not None:
            by_probe[record.channel.partition("/")[0]].append(record)
    for probe, due in by_probe.items():
        days = {record.channel.partition("/")[2]: _day(record.due_at_ms or 0, zone) for record in due}
        first = min(days.values())
        parts = ", ".join(f"{_name(name)} by {_day_text(day)}" for name, day in sorted(days.items()))
        told = f"To be calibrated again: {parts}. Afterwards the plus or minus of its maker counts. {_ONLY_TOLD}"
        key = f"calibration/{probe}"
        yield Entry(key, Kind.CALIBRATION, f"Calibration due: probe {_name(probe)}", clean(told), first, first)


def duty_entries(planned: Sequence[Planned], names: Mapping[str, str], now_ms: int) -> Iterator[Entry]:
    """One for each duty that is planned and not long over. `names` are those of people."""
    for each in planned:
        duty = each.duty
        if each.cancelled or duty.person not in names:
            continue
        if duty.end_ms is not None and duty.end_ms < now_ms - DUTY_SHOWN_FOR_MS:
            continue
        second = names.get(duty.second, "")
        told = f"Second: {_name(second)}. " if second else ""
        told += "" if duty.accepted_ms is not None else "Not accepted yet: until then the one before stays on duty. "
        told += "" if duty.end_ms is not None else "No end is planned. "
        summary = f"On duty: {_name(names[duty.person])}"
        yield Entry(
            f"duty/{each.number}",
            Kind.DUTY,
            summary,
            clean(told + _ONLY_TOLD),
            start_ms=duty.start_ms,
            end_ms=duty.end_ms,
            is_certain=duty.accepted_ms is not None,
        )


def clean(text: str) -> str:
    """Make text fit for a calendar: no control characters (RFC 5545, 3.1), no halves of characters, not endless."""
    kept = "".join(
        each if each == "\n" or unicodedata.category(each) not in {"Cc", "Cs", "Zl", "Zp"} else " " for each in text
    )
    return kept[:LONGEST_TEXT].strip()


def _name(text: str) -> str:
    return " ".join(clean(text).split())[:_LONGEST_NAME]


def _day(at_ms: int, zone: tzinfo) -> date:
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=at_ms)
    return moment.astimezone(zone).date()


def _day_text(day: date) -> str:
    return f"{day.day} {day:%b %Y}"
