"""Who is asked to take over and when, and what they read. X-42. The two moments are this project's choice."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.alarms.classes import HOUR_MS, MINUTE_MS
from daemon.alarms.hand_over import Notice, Planned, Step, due, predecessor, waits
from daemon.alarms.hand_over_text import asked_text, cancelled_text, not_accepted_text, span_text, taken_text
from daemon.alarms.people import Duty, Rota
from daemon.alarms.rota import check_change, moment_text
from daemon.alarms.wording import LONGEST_HEADLINE, LONGEST_TEXT
from tests.alarms.crew import CREW
from tests.alarms.machine import START_MS
from tests.alarms.steady import steady

UTC_ZONE = timezone(timedelta(0), "UTC")
DAY_MS = 24 * HOUR_MS


def planned(begins_ms: int, planned_ms: int = START_MS - DAY_MS, **changes: object) -> Planned:
    duty = Duty("ben", begins_ms, begins_ms + DAY_MS)
    return replace(Planned(1, duty, planned_ms), **changes)  # type: ignore[arg-type]


def rota_with(*duties: Planned) -> Rota:
    return replace(CREW, duties=tuple(each.duty for each in duties if not each.cancelled))


def told_at(found: tuple[Notice, ...]) -> list[tuple[str, Step, bool]]:
    return [(each.person.id, each.step, each.asks) for each in found]


def watch(each: Planned, minutes: range) -> list[tuple[int, str, Step]]:
    """Look at each of these minutes after the start, and remember what was told."""
    told: dict[tuple[int, Step], int] = {}
    story = []
    for minute in minutes:
        now_ms = START_MS + minute * MINUTE_MS
        for notice in due([each], told, rota_with(each), now_ms):
            story.append((minute, notice.person.id, notice.step))
            told[(notice.planned.number, notice.step)] = now_ms
    return story


@pytest.mark.parametrize(
    ("begins_min", "asked_min", "late_min"),
    [(90, 30, 90), (60, 0, 60), (20, 0, 20), (5, 0, 15), (0, 0, 15), (-30, 0, 15)],
)
def test_the_moments_are_an_hour_before_or_at_once_and_the_begin_or_a_quarter_of_an_hour(
    begins_min: int, asked_min: int, late_min: int
) -> None:
    each = planned(START_MS + begins_min * MINUTE_MS, planned_ms=START_MS)
    late = [(late_min, "ben", Step.LATE), (late_min, "ana", Step.LATE)]
    assert watch(each, range(300)) == [(asked_min, "ben", Step.ASKED), *late]


def test_nobody_is_asked_before_the_duty_was_planned_or_after_it_is_over_accepted_or_cancelled() -> None:
    each = planned(START_MS)
    assert waits(each, rota_with(each), START_MS)
    for void, now_ms in (
        (replace(each, cancelled=True), START_MS),
        (replace(each, duty=replace(each.duty, accepted_ms=START_MS)), START_MS),
        (each, START_MS + DAY_MS),
    ):
        assert not waits(void, rota_with(void), now_ms)
        assert due([void], {}, rota_with(void), now_ms) == ()


def test_a_duty_that_another_has_taken_the_place_of_is_not_asked_for_any_more() -> None:
    old = planned(START_MS)
    newer = Planned(2, Duty("ana", START_MS + HOUR_MS, None, accepted_ms=START_MS + HOUR_MS), START_MS)
    assert not waits(old, rota_with(old, newer), START_MS + 2 * HOUR_MS)
    # but one that was planned after that acceptance corrects it, also with the same begin
    later = planned(START_MS + HOUR_MS, planned_ms=START_MS + 2 * HOUR_MS, number=3)
    assert waits(later, rota_with(newer, later), START_MS + 2 * HOUR_MS)


def test_the_second_time_the_successor_is_asked_by_every_contact_that_works() -> None:
    each = planned(START_MS)
    first = due([each], {}, rota_with(each), START_MS)
    assert [notice.contacts for notice in first] == [("ben/push",)]
    again = due([each], {(1, Step.ASKED): START_MS - HOUR_MS}, rota_with(each), START_MS)
    assert [notice.contacts for notice in again] == [("ben/push", "ben/sms"), ("ana/push",)]


def test_whoever_takes_over_from_nobody_else_is_asked_and_nobody_is_told_that_it_is_late() -> None:
    each = replace(planned(START_MS), duty=Duty("ana", START_MS, None))
    rota = rota_with(each)
    assert predecessor(each.duty, rota, START_MS) is None
    assert told_at(due([each], {(1, Step.ASKED): 0}, rota, START_MS)) == [("ana", Step.LATE, True)]


names = st.text(min_size=1, max_size=80)


@given(names, names, st.integers(0, 2**33), st.booleans(), st.sampled_from(list(Step)), st.booleans())
@steady
def test_texts_fit_a_lock_screen_and_name_no_internals(
    successor: str, before: str, begins_s: int, open_end: bool, step: Step, linked: bool
) -> None:
    """At most 60 characters of headline and 300 in all without the link, as every alert."""
    duty = Duty("b" * 20, begins_s * 1000, None if open_end else begins_s * 1000 + DAY_MS)
    each, link = Planned(7, duty, 0), "https://example.org/x" if linked else ""
    zone = ZoneInfo("Europe/Madrid")
    for text in (
        asked_text(each, step, successor, before, zone, link),
        not_accepted_text(each, successor, zone),
        taken_text(each, successor, zone, begins_s * 1000 - 1),
        taken_text(each, successor, zone, begins_s * 1000),
        cancelled_text(each, successor, zone),
    ):
        assert 0 < len(text.headline) <= LONGEST_HEADLINE
        assert "\n" not in text.headline
        assert len(text.headline) + 1 + len(text.body.removesuffix(link)) <= LONGEST_TEXT
        assert "None" not in text.headline
        assert text.body.isprintable() or "\n" in text.body
    assert (asked_text(each, step, successor, before, zone, link).body.splitlines()[-1] == link) == linked


def test_what_the_successor_and_the_one_before_read() -> None:
    """Written by hand. The moment is 15 January 2027, 08:00 UTC."""
    each = planned(START_MS)
    asked = asked_text(each, Step.ASKED, "Ben", "Ana", UTC_ZONE, "https://x.org/a/duty/T")
    assert asked.headline == "DUTY from 15 Jan 2027 08:00: do you take over?"
    assert asked.body.splitlines() == [
        "Ben, you are to be called first for alarms, from 15 Jan 2027 08:00 to 16 Jan 2027 08:00.",
        "Until you accept, Ana is called first.",
        'Open the link and press "I take over".',
        "If you cannot, say so to the others now.",
        "https://x.org/a/duty/T",
    ]
    bare = asked_text(each, Step.LATE, "Ben", "Ana", UTC_ZONE)
    assert bare.headline == "DUTY not accepted, it began 15 Jan 2027 08:00"
    assert "On the machine: clutchwarden duty accept ben" in bare.body
    late = not_accepted_text(each, "Ben", UTC_ZONE)
    assert late.body.splitlines()[0] == "Ben was to take over 15 Jan 2027 08:00 and has not accepted."


def test_a_time_that_comes_twice_is_named_with_its_zone() -> None:
    """Europe's clocks go back on 25 October 2026 at 01:00 UTC."""
    zone = ZoneInfo("Europe/Berlin")
    moments = [round(datetime(2026, 10, 25, hour, 30, tzinfo=UTC).timestamp() * 1000) for hour in (0, 1, 2)]
    assert [moment_text(each, zone) for each in moments] == [
        "25 Oct 2026 02:30 CEST",
        "25 Oct 2026 02:30 CET",
        "25 Oct 2026 03:30",
    ]
    assert span_text(Planned(1, Duty("ben", moments[2]), 0), zone) == "from 25 Oct 2026 03:30 on"


def test_a_further_person_of_the_standing_order_is_called_too_and_counts() -> None:
    """Ben's duty alone, with Ana at home: two people are called, so nobody is warned of one."""
    rota = rota_with(planned(START_MS), Planned(2, Duty("ana", START_MS + DAY_MS, None), 0))
    assert check_change(CREW, rota, START_MS - DAY_MS, START_MS + 9 * DAY_MS, UTC) == ()
    alone = replace(rota, standing=("ben",))
    assert check_change(CREW, alone, START_MS, START_MS + DAY_MS // 2, UTC) == (
        "only one person can be reached from 15 Jan 2027 08:00 to 15 Jan 2027 20:00 (Ben)",
    )
