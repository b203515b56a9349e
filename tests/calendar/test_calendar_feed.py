"""Entries of a calendar: what is new, moved, told otherwise, gone; and the bytes, checked by hand and by a parser."""

from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.alarms.hand_over import Planned
from daemon.alarms.people import Duty
from daemon.calendar_feed import Entry, Kept, Kind, entry_from_json, entry_to_json, revised
from daemon.calendar_feed_entries import (
    calibration_entries,
    clean,
    duty_entries,
    hatch_entries,
    round_entries,
)
from daemon.calendar_feed_ical import calendar_of
from daemon.development.window import HatchWindow, NoWindow
from sensors.calibration import Record
from sensors.calibration_line import Line, Point
from tests.calendar.lines import events_of
from tests.dashboards import samples

HOUR_MS, DAY_MS = 3_600_000, 86_400_000
MADRID = ZoneInfo("Europe/Madrid")
NOW_MS = 1_777_896_000_000
"""4 May 2026, 12:00 UTC."""
WHOLE = Entry("hatch/1", Kind.HATCHING, "Hatching: Juniper", "told", date(2026, 5, 30), date(2026, 6, 4))


def step(kept: dict[str, Kept], now: list[Entry], at_ms: int) -> dict[str, Kept]:
    numbered = iter(f"uid-{at_ms}-{number}" for number in range(100))
    return {**kept, **{each.entry.key: each for each in revised(kept, now, at_ms, lambda: next(numbered))}}


def test_a_new_entry_begins_at_0_and_stays_as_it_is_where_nothing_changes() -> None:
    kept = step({}, [WHOLE], NOW_MS)
    assert (kept["hatch/1"].sequence, kept["hatch/1"].modified_ms) == (0, NOW_MS)
    assert revised(kept, [WHOLE], NOW_MS + DAY_MS, lambda: "never") == ()


def test_moved_to_other_days_is_a_new_sequence_and_other_words_are_not() -> None:
    kept = step({}, [WHOLE], NOW_MS)
    told = step(kept, [replace(WHOLE, description="told otherwise")], NOW_MS + 1)
    assert (told["hatch/1"].sequence, told["hatch/1"].modified_ms) == (0, NOW_MS + 1)
    moved = step(told, [replace(WHOLE, last_day=date(2026, 6, 5))], NOW_MS + 2)
    assert (moved["hatch/1"].sequence, moved["hatch/1"].modified_ms) == (1, NOW_MS + 2)
    assert moved["hatch/1"].uid == kept["hatch/1"].uid
    assert moved["hatch/1"].created_ms == NOW_MS
    agreed = step(moved, [replace(WHOLE, last_day=date(2026, 6, 5), is_certain=False)], NOW_MS + 3)
    assert agreed["hatch/1"].sequence == 2


def test_what_is_gone_is_not_shown_and_comes_back_with_its_uid_and_a_higher_sequence() -> None:
    kept = step({}, [WHOLE], NOW_MS)
    gone = step(kept, [], NOW_MS + 1)
    assert gone["hatch/1"].gone_ms == NOW_MS + 1
    assert events_of(calendar_of("House", gone.values())) == []
    assert revised(gone, [], NOW_MS + 2, lambda: "never") == ()
    back = step(gone, [WHOLE], NOW_MS + 3)["hatch/1"]
    assert (back.uid, back.sequence, back.gone_ms) == (kept["hatch/1"].uid, 1, None)


def test_whole_days_end_with_the_day_after_and_moments_are_in_utc() -> None:
    # RFC 5545, 3.6.1: DTEND is not part of the event. 4 May 2026 12:00 UTC is NOW_MS.
    duty = Entry("duty/3", Kind.DUTY, "On duty: Ana", "", start_ms=NOW_MS, end_ms=NOW_MS + HOUR_MS, is_certain=False)
    kept = step({}, [WHOLE, duty], NOW_MS)
    on_duty, hatching = events_of(calendar_of("House", kept.values()))
    assert (hatching["DTSTART"], hatching["DTEND"]) == ("20260530", "20260605")
    assert (hatching["DTSTART;"], hatching["STATUS"]) == (";VALUE=DATE", "CONFIRMED")
    assert (on_duty["DTSTART"], on_duty["DTEND"]) == ("20260504T120000Z", "20260504T130000Z")
    assert (on_duty["STATUS"], on_duty["DTSTAMP"]) == ("TENTATIVE", "20260504T120000Z")
    assert calendar_of("House", kept.values()) == calendar_of("House", reversed(kept.values()))


ODD = "a, b; c\\ <b>d</b>\nSUMMARY:e\r\n \x00\x07\x85\u2028\ud83d " + "é€𝄞" * 40


def test_labels_with_anything_in_them_stay_text() -> None:
    kept = step({}, [replace(WHOLE, summary=clean(ODD), description=clean(ODD))], NOW_MS)
    body = calendar_of(ODD, kept.values())
    (event,) = events_of(body)
    assert event["SUMMARY"] == event["DESCRIPTION"] == clean(ODD)
    assert event["SUMMARY"].startswith("a, b; c\\ <b>d</b>\nSUMMARY:e")
    (parsed,) = icalendar.Calendar.from_ical(body).walk("VEVENT")
    assert str(parsed["SUMMARY"]) == clean(ODD)


@given(st.text(max_size=300), st.text(max_size=300), st.text(max_size=80))
def test_any_text_makes_lines_of_the_rfc_and_comes_back_by_a_parser(summary: str, told: str, site: str) -> None:
    entry = replace(WHOLE, summary=clean(summary), description=clean(told))
    body = calendar_of(site, step({}, [entry], NOW_MS).values())
    (event,) = events_of(body)
    assert (event["SUMMARY"], event["DESCRIPTION"]) == (entry.summary, entry.description)
    (parsed,) = icalendar.Calendar.from_ical(body).walk("VEVENT")
    assert (str(parsed["SUMMARY"]), str(parsed["DESCRIPTION"])) == (entry.summary, entry.description)
    assert parsed.decoded("DTSTART") == date(2026, 5, 30)


def test_an_empty_calendar_has_a_component_too() -> None:
    assert events_of(calendar_of("House", [])) == []


def test_an_entry_comes_back_from_the_journal_as_it_was() -> None:
    duty = Entry("duty/3", Kind.DUTY, "On duty: Ana", "é", start_ms=NOW_MS, is_certain=False)
    for entry in (WHOLE, duty):
        assert entry_from_json(entry_to_json(entry)) == entry


def test_a_window_of_hatching_is_the_days_of_the_site() -> None:
    # 22:30 UTC on 29 May is the 30th in Madrid (UTC+2 in summer), 21:30 UTC on 4 June still the 4th.
    window = HatchWindow(1_780_093_800_000, 1_780_300_000_000, 1_780_608_600_000, 2.0, 0.6, (), "fit", "Why.", "ahead")
    clutch = replace(samples.clutch(), clutch_id=7, label="Juniper", species_name="Beauty snake", window=window)
    unknown = replace(clutch, clutch_id=8, window=NoWindow("No date."))
    (entry,) = hatch_entries([clutch, unknown], [7], MADRID)
    assert (entry.key, entry.summary) == ("hatch/7", "Hatching: Juniper (Beauty snake)")
    assert (entry.first_day, entry.last_day) == (date(2026, 5, 30), date(2026, 6, 4))
    told = "Venomous: trained handlers only. In nine of ten cases between 30 May 2026 and 4 Jun 2026, most likely 1 Jun"
    assert entry.description.startswith(told)
    assert "on the page of the clutch" in entry.description


def test_rounds_are_due_on_a_day_of_the_site() -> None:
    (entry,) = round_entries({"north": NOW_MS + 11 * HOUR_MS}, {"north": "North, cabinet"}, MADRID)
    assert (entry.summary, entry.first_day, entry.last_day) == (
        "Round due: North, cabinet",
        date(2026, 5, 5),
        date(2026, 5, 5),
    )


def test_a_probe_is_due_when_the_first_of_its_calibrations_is() -> None:
    line = Line(1.0, 0.1, (Point(25.0, 25.1, 0.1, 0.1, "x"),), 0.05, 0.1, 0.01)

    def record(channel: str, due_ms: int | None) -> Record:
        return Record(channel, 0, line, "one-point", 0, due_ms, 0, "ana", "")

    found = list(
        calibration_entries(
            [record("p/air", NOW_MS + 9 * DAY_MS), record("p/rh", NOW_MS + DAY_MS), record("q/air", None)], MADRID
        )
    )
    assert [(each.key, each.first_day) for each in found] == [("calibration/p", date(2026, 5, 5))]
    assert "air by 13 May 2026, rh by 5 May 2026" in found[0].description


def planned(
    number: int, person: str = "ana", *, end_ms: int | None, accepted: bool, cancelled: bool = False
) -> Planned:
    duty = Duty(person, NOW_MS - 30 * DAY_MS, end_ms, "ben", NOW_MS if accepted else None)
    return Planned(number, duty, NOW_MS - 31 * DAY_MS, cancelled, "")


def test_duties_say_who_and_whether_it_is_agreed() -> None:
    names = {"ana": "Ana", "ben": "Ben"}
    every = [
        planned(1, end_ms=NOW_MS + DAY_MS, accepted=True),
        planned(2, end_ms=None, accepted=False),
        planned(3, end_ms=NOW_MS, accepted=True, cancelled=True),
        planned(4, end_ms=NOW_MS - 15 * DAY_MS, accepted=True),
        planned(5, "gone", end_ms=NOW_MS, accepted=True),
    ]
    first, second = duty_entries(every, names, NOW_MS)
    assert (first.key, first.summary, first.is_certain) == ("duty/1", "On duty: Ana", True)
    assert first.description.startswith("Second: Ben. ")
    assert (second.key, second.end_ms, second.is_certain) == ("duty/2", None, False)
    assert "Not accepted yet" in second.description
    assert "No end is planned" in second.description


@pytest.mark.parametrize("torn", [b"SUMMARY:a,b", b"SUMMARY:" + b"x" * 80, b"SUMMARY:a\\xb", b"SUMMARY:a\tb\x07"])
def test_the_check_by_hand_finds_what_is_wrong(torn: bytes) -> None:
    body = calendar_of("House", step({}, [WHOLE], NOW_MS).values())
    with pytest.raises(AssertionError):
        events_of(body.replace(b"SUMMARY:Hatching: Juniper", torn))
