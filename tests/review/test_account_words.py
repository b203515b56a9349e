"""The parts of an account as values: moments, blind time, the timeline, what waits, evidence that the heat was off."""

import math
from datetime import UTC
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.review.account import LineKind
from daemon.review.account_summary import CAUSE_WORDS, TITLES
from daemon.review.blind import blind_of, covered_ms
from daemon.review.course import GapCourse, GapKind
from daemon.review.joining import SLACK_MS
from daemon.review.place_words import gap_sentences
from daemon.review.telling import ABOUT_95, Telling, counted, degree_hours_of, listed, time_of
from daemon.review.timeline import Happened, of_facts, timeline
from daemon.review.values import Bounds, Cause, Fact, FactKind, Incident, Span
from daemon.review.waiting import PATIENCE_MS, waiting_line
from daemon.review_desk import ReviewDesk
from daemon.review_parts import heat_off
from tests.review.nights import EVENING_MS, HOUR_MS, MINUTE_MS, at, night
from tests.standing.powered import AIR, DOOR, NORTH_MAINS

TELLING = Telling(UTC)


def fact(kind: FactKind, from_ms: int, to_ms: int | None, subject: str = "site", place: str = "") -> Fact:
    return Fact(kind, Span(from_ms, to_ms), place, subject, f"{subject} {kind}.")


def test_moments_name_their_day_and_the_end_only_where_it_is_another() -> None:
    # 28 May 2026 was a Thursday.
    assert TELLING.moment(EVENING_MS) == "Thu 28 May 22:00"
    assert TELLING.dated(EVENING_MS) == "Thu 28 May 2026 22:00"
    assert TELLING.span(Span(at(23), at(23, 30))) == "from Thu 28 May 23:00 to 23:30 (30 min)"
    assert TELLING.span(Span(at(23), at(1))) == "from Thu 28 May 23:00 to Fri 29 May 01:00 (2 h)"
    assert TELLING.span(Span(at(23), None)) == "from Thu 28 May 23:00 on"
    assert Telling(ZoneInfo("Asia/Kolkata")).moment(EVENING_MS) == "Fri 29 May 03:30"


def test_an_hour_that_comes_twice_says_which_one_it_is() -> None:
    """On 25 October 2026 at 01:00 UTC the clocks of Berlin go back from 3 to 2 (Directive 2000/84/EC)."""
    berlin, twice_ms = Telling(ZoneInfo("Europe/Berlin")), 1_792_890_000_000
    assert berlin.moment(twice_ms - 30 * MINUTE_MS) == "Sun 25 Oct 02:30 CEST"
    assert berlin.dated(twice_ms + 30 * MINUTE_MS) == "Sun 25 Oct 2026 02:30 CET"


def test_intervals_are_said_whole_and_nothing_is_made_up_where_an_end_is_open() -> None:
    assert time_of(Bounds(2 * HOUR_MS, 2 * HOUR_MS, 2 * HOUR_MS)) == "2 h"
    assert time_of(Bounds(HOUR_MS, 90 * MINUTE_MS, 2 * HOUR_MS)) == "about 1 h 30 min (at least 1 h, at most 2 h)"
    assert time_of(Bounds(HOUR_MS, None, 2 * HOUR_MS)) == "at least 1 h and at most 2 h"
    assert degree_hours_of(Bounds(1.0, 2.0, 4.0)) == "about 2.0 °C·h (1.0 to 4.0)"
    assert degree_hours_of(Bounds(1.0, None, float("inf"))) == "at least 1.0 °C·h, and nobody can tell how much at most"


@pytest.mark.parametrize(
    ("low_c", "high_c", "told"),
    [
        (
            15.0,
            math.inf,
            f"At its coldest it was {ABOUT_95} not below 15.0 °C, as estimated. How hot it was",
        ),
        (15.0, 28.5, f"At its coldest it was {ABOUT_95} between 15.0 °C and 28.5 °C, as estimated. At its hottest"),
        (-math.inf, math.inf, "How cold it was there nobody can tell. How hot it was there nobody can tell."),
    ],
)
def test_a_gap_without_a_bound_is_told_without_a_number(low_c: float, high_c: float, told: str) -> None:
    at_ms, ones = np.array([at(23), at(1)]), np.ones(2)
    nothing = (None, False, "Why.")
    gap = GapCourse(
        Span(at(23), at(1)),
        GapKind.NOBODY_KNOWS,
        None,
        None,
        at_ms,
        low_c * ones,
        math.nan * ones,
        high_c * ones,
        *nothing,
    )
    sentences = gap_sentences(gap, TELLING, gap.reason)
    assert told in sentences
    assert "inf" not in sentences


def test_lists_and_counts() -> None:
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed(list("abcdefg"), most=3) == "a, b and 5 more"
    assert listed(["North, upper", "South"]) == "North, upper; South"
    assert listed([]) == ""
    assert (counted(1, "clutch", "clutches"), counted(0, "place")) == ("1 clutch", "0 places")


def test_every_cause_has_words_and_a_title() -> None:
    assert set(CAUSE_WORDS) == set(TITLES) == set(Cause)


def test_blind_time_counts_what_lies_over_each_other_once() -> None:
    facts = [
        fact(FactKind.MACHINE_RESTARTED, at(2), at(4), "1"),
        fact(FactKind.SITE_GAP, at(1, 30), at(4, 30)),
        fact(FactKind.BROKER_LOST, at(5), at(6), "broker"),
        fact(FactKind.PROBE_GAP, at(5, 30), at(7), AIR, "north"),
        fact(FactKind.EXCURSION, at(1), at(7), AIR, "north"),
    ]
    found = blind_of(facts, Span(at(0), at(8)), at(8))
    # 01:30 to 04:30 and 05:00 to 06:00, of eight hours.
    assert found.total_ms == 4 * HOUR_MS
    assert found.share == pytest.approx(0.5)
    assert dict(found.probe_ms) == {AIR: 5 * HOUR_MS}
    assert "For 4 h of these 8 h (50 %)" in found.words
    assert found.stretches[0].span == Span(at(1, 30), at(4, 30))
    # What reaches out of the period counts within it alone.
    assert blind_of(facts, Span(at(2), at(3)), at(8)).total_ms == HOUR_MS
    assert blind_of([fact(FactKind.SITE_GAP, at(1), None)], Span(at(0), at(4)), at(4)).total_ms == 3 * HOUR_MS
    assert covered_ms([Span(5, 9), Span(0, 10), Span(20, None)], 25) == 15


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 12)), max_size=8))
def test_time_that_several_stretches_cover_is_counted_once(drawn: list[tuple[int, int]]) -> None:
    spans = [Span(begin, begin + length) for begin, length in drawn]
    assert covered_ms(spans, 99) == len({ms for begin, length in drawn for ms in range(begin, begin + length)})


def test_a_single_silent_probe_leaves_the_rest_seen() -> None:
    found = blind_of([fact(FactKind.PROBE_GAP, at(1), at(3), AIR, "north")], Span(at(0), at(8)), at(8))
    assert (found.total_ms, dict(found.probe_ms)) == (0, {AIR: 2 * HOUR_MS})
    assert "1 channel of a probe fell silent, north-air/t for the longest, 2 h." in found.words


def test_silences_of_one_moment_are_one_line_and_those_of_the_whole_site_none() -> None:
    both = [fact(FactKind.PROBE_GAP, at(1), at(2), each, "north") for each in ("p/rh", "p/t")]
    (line,) = of_facts(both, TELLING)
    assert line == Happened(
        at(1),
        LineKind.GAP,
        "north",
        "Nothing was heard of 2 channels (p/rh and p/t) from Fri 29 May 01:00 to 02:00 (1 h).",
    )
    site = fact(FactKind.SITE_GAP, at(1, 1), at(2, 1))
    assert [each.words for each in of_facts([*both, site], TELLING)] == [site.words, "The first probe is heard again."]
    longer = fact(FactKind.PROBE_GAP, at(1), at(5), "q/t", "south")
    assert longer.words in [each.words for each in of_facts([*both, longer, site], TELLING)]


def test_the_timeline_keeps_to_its_period_and_tells_the_same_once() -> None:
    one = Happened(at(1), LineKind.DOOR, "north", "Door open.")
    early, late = one._replace(at_ms=at(0) - 1), one._replace(at_ms=at(2) + 1)
    first = Happened(at(1), LineKind.SAMPLE, "", "A reading.")
    found = timeline([late, one, one, early, first], {"north": "North cabinet"}, Span(at(0), at(2)), at(2), TELLING)
    assert [(each.at_text, each.kind, each.place_name) for each in found] == [
        ("Fri 29 May 01:00", LineKind.SAMPLE, ""),
        ("Fri 29 May 01:00", LineKind.DOOR, "North cabinet"),
    ]


def test_when_the_heat_came_back_is_open_where_the_contact_was_silent_itself() -> None:
    lost = fact(FactKind.MAINS_ABSENT, at(2), at(6), NORTH_MAINS, "north")
    assert heat_off([lost])[0].span == Span(at(2), at(6))
    silent = fact(FactKind.PROBE_GAP, at(2, 1), at(6), NORTH_MAINS, "north")
    other = fact(FactKind.PROBE_GAP, at(2, 1), at(6), AIR, "north")
    assert heat_off([lost, other])[0].span == Span(at(2), at(6))
    (found,) = heat_off([lost, silent])
    assert found.span == Span(at(2), at(6) + SLACK_MS)
    assert (found.place, found.evidence) == ("north", lost.words)
    assert heat_off([fact(FactKind.MAINS_ABSENT, at(2), None, NORTH_MAINS)])[0].span == Span(at(2), None)


def test_a_review_that_waits_is_told_after_three_days_without_a_word() -> None:
    def incident(number: int, to_ms: int | None) -> Incident:
        return Incident(number, Span(at(2), to_ms), (), Cause.MAINS_LOST, (), (), "a gap")

    over = [incident(4, at(6)), incident(7, at(8))]
    assert waiting_line(over, {}, at(6) + PATIENCE_MS - 1, TELLING) == ""
    assert waiting_line(over, {}, at(6) + PATIENCE_MS, TELLING) == (
        "1 incident waits for a review: 4 (Mains lost, Fri 29 May 02:00)"
    )
    assert waiting_line(over, {}, at(8) + PATIENCE_MS, TELLING).startswith("2 incidents wait for a review: 4 (")
    assert waiting_line(over, {4: at(9)}, at(8) + PATIENCE_MS, TELLING).startswith("1 incident waits for a review: 7 (")
    assert waiting_line([incident(4, None)], {}, at(2) + PATIENCE_MS, TELLING).startswith("1 incident waits")


def test_what_lasts_is_told_as_far_as_it_is_known(tmp_path: Path) -> None:
    with night(tmp_path) as dark:
        dark.runs(EVENING_MS, at(5), "a")
        dark.all_speak(EVENING_MS, at(4), but=(AIR, DOOR))
        dark.speaks(AIR, EVENING_MS, at(1))
        dark.speaks(DOOR, EVENING_MS, at(2))
        dark.speaks(DOOR, at(2), at(2, 10), value=1.0)
        dark.speaks(DOOR, at(2, 10), at(4))
        dark.pass_to(at(4))
        found = ReviewDesk(dark.journal, dark.powered.site, dark.powered.profiles, 1800.0, lambda: dark.now_ms).newest()
    assert found is not None
    assert found.is_going_on
    assert found.period.to_ms == at(4)
    assert "north-air/t is silent still: see to its power and its way here." in [each.text for each in found.todo]
    doors = [(line.at_ms, line.words) for line in found.timeline if line.kind is LineKind.DOOR]
    assert doors == [(at(2), "Door open (north-door/door)."), (at(2, 10), "Door shut (north-door/door).")]
    assert found.blind.total_ms == 0
    assert "No place had limits of temperature to keep; no clutch lay here." in found.summary
