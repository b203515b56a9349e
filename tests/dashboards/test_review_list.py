"""The list of incidents, what the first page says of reviews, and the form of a review: pure parts."""

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from daemon.clock import as_ms
from daemon.clutch_record_values import Stay
from daemon.review.account import KeeperNote
from daemon.review.values import Cause, Fact, FactKind, Incident, Span
from daemon.storage.incidents import LONGEST_NOTE
from dashboards.review_form import TypedNotes, note_fields, wishes_of
from dashboards.review_list_view import ListSite, due_of, incidents_view, parts_of
from dashboards.review_paths import number_of

MADRID = ZoneInfo("Europe/Madrid")
SITE = ListSite("Test house", "Europe/Madrid", {"north/upper": "North cabinet, upper shelf"})
HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS


def at(text: str) -> int:
    return as_ms(datetime.fromisoformat(text).replace(tzinfo=MADRID))


NOW = at("2026-05-15 09:00")


def incident(
    number: int,
    began: str,
    hours: float | None = 1.0,
    why: str = "nothing was heard for 1 h",
    places: Sequence[str] = ("north/upper",),
    kind: FactKind = FactKind.PROBE_GAP,
) -> Incident:
    from_ms = at(began)
    span = Span(from_ms, None if hours is None else from_ms + round(hours * HOUR_MS))
    place = places[0] if places else ""
    fact = Fact(kind, span, place, "north-air/air", "words")
    return Incident(number, span, (fact,), Cause.PROBE_SILENT, ("evidence",), tuple(places), why)


@pytest.mark.parametrize(
    ("began", "now", "said"),
    [
        ("2026-05-15 02:10", "2026-05-15 09:00", "An incident of last night waits for your review"),
        ("2026-05-14 22:40", "2026-05-15 09:00", "An incident of last night waits for your review"),
        ("2026-05-15 08:05", "2026-05-15 10:00", "An incident of today waits for your review"),
        ("2026-05-14 12:00", "2026-05-15 09:00", "An incident of yesterday waits for your review"),
        ("2026-05-11 03:00", "2026-05-15 09:00", "An incident of 11\N{NO-BREAK SPACE}May waits for your review"),
    ],
)
def test_the_first_page_says_when_it_was_and_leads_there(began: str, now: str, said: str) -> None:
    due = due_of([incident(7, began)], at(now), MADRID)
    assert due is not None
    assert due.text == said
    assert due.path == "/incidents/7"


def test_several_are_counted_and_lead_to_the_list() -> None:
    due = due_of([incident(7, "2026-05-11 03:00"), incident(8, "2026-05-15 02:00")], NOW, MADRID)
    assert due is not None
    assert due.text == "2 incidents wait for your review, the newest of last night"
    assert due.path == "/incidents"


def test_of_what_goes_on_or_is_two_weeks_over_the_first_page_says_nothing() -> None:
    assert due_of([incident(7, "2026-05-15 02:00", hours=None)], NOW, MADRID) is None
    assert due_of([incident(7, "2026-04-30 02:00")], NOW, MADRID) is None
    assert due_of([], NOW, MADRID) is None


def test_the_list_goes_by_days_the_last_first_and_says_how_far_each_review_is() -> None:
    found = [
        incident(4, "2026-05-15 02:00", hours=None),
        incident(3, "2026-05-13 02:00", hours=30.0),
        incident(2, "2026-05-13 20:00", why=""),
        incident(1, "2026-05-12 02:00"),
    ]
    view = incidents_view(found, {3}, SITE, 3, NOW)
    assert view.heading == "1 incident waits for a review"
    assert [day.heading for day in view.days] == [
        "Today, Friday 15\N{NO-BREAK SPACE}May\N{NO-BREAK SPACE}2026",
        "Wednesday 13\N{NO-BREAK SPACE}May\N{NO-BREAK SPACE}2026",
    ]
    lines = [line for day in view.days for line in day.lines]
    assert [line.path for line in lines] == ["/incidents/4", "/incidents/2", "/incidents/3"]
    assert [line.mark.word for line in lines] == ["goes on", "no review asked", "to review"]
    assert [line.when for line in lines] == [
        "since 02:00, 7 h so far",
        "20:00 to 21:00, 1 h",
        "02:00 to Thu 14 May 08:00, 1 d 6 h",
    ]
    assert lines[2].where == "North cabinet, upper shelf"
    assert lines[2].why == "nothing was heard for 1 h"
    assert view.older == "/incidents?before=2"


def test_where_no_more_are_there_nothing_leads_to_older_ones_and_a_reviewed_one_says_so() -> None:
    view = incidents_view([incident(1, "2026-05-12 02:00")], (), SITE, 3, NOW)
    assert view.older == ""
    assert view.heading == "No review waits"
    assert view.days[0].lines[0].mark.word == "reviewed"


STAY = Stay("north/upper/N1", "box N1", at("2026-05-10 00:00"), at("2026-05-14 00:00"))


@pytest.mark.parametrize(
    ("one", "was_part"),
    [
        (incident(1, "2026-05-12 02:00"), True),
        (incident(1, "2026-05-12 02:00", places=("north/upper/N1",)), True),
        (incident(1, "2026-05-12 02:00", places=("north/upper/N11",)), False),
        (incident(1, "2026-05-12 02:00", places=("warm",)), False),
        (incident(1, "2026-05-12 02:00", places=("warm",), kind=FactKind.SITE_GAP), True),
        (incident(1, "2026-05-12 02:00", why=""), False),
        (incident(1, "2026-05-09 22:00", hours=1.9), False),
        (incident(1, "2026-05-14 00:00"), False),
        (incident(1, "2026-05-13 23:30", hours=None), True),
    ],
)
def test_a_clutch_was_part_of_what_happened_where_and_while_it_lay_there(one: Incident, was_part: bool) -> None:
    found = parts_of([STAY], [one], (), SITE, NOW)
    assert [line.path for line in found] == (["/incidents/1"] if was_part else [])


def note(field: str, text: str, who: str = "ana") -> KeeperNote:
    return KeeperNote(field, NOW, "Fri 15 May 2026 09:00", who, text)


def test_what_is_typed_is_written_and_what_stands_there_is_not_written_again() -> None:
    notes = [note("cause", "breaker")]
    form = {"seen": "1", "cause": "breaker", "action": " boxes shut\r\nall night ", "outcome": "", "prevention": ""}
    assert wishes_of(form, notes) == {"action": "boxes shut\nall night"}
    assert wishes_of({"seen": "1", "cause": "breaker"}, notes) == {}


def test_what_is_wrong_stands_beside_its_field_and_nothing_that_was_typed_is_lost() -> None:
    notes = [note("cause", "breaker"), note("outcome", "all well")]
    form = {
        "seen": "2",
        "cause": "",
        "action": "x" * (LONGEST_NOTE + 1),
        "outcome": "all well",
        "prevention": "cut-out",
    }
    refused = wishes_of(form, notes)
    assert isinstance(refused, TypedNotes)
    assert set(refused.errors) == {"cause", "action"}
    fields = {each.name: each for each in note_fields(notes, refused)}
    assert fields["prevention"].value == "cut-out"
    assert len(fields["action"].value) == LONGEST_NOTE + 1
    assert fields["cause"].value == ""
    assert "stays on record" in fields["cause"].error
    assert str(LONGEST_NOTE) in fields["action"].error


def test_what_somebody_else_wrote_meanwhile_is_shown_before_it_is_written_over() -> None:
    notes = [note("cause", "breaker"), note("cause", "the street", "ben")]
    refused = wishes_of({"seen": "1", "cause": "the fuse"}, notes)
    assert isinstance(refused, TypedNotes)
    assert "meanwhile" in refused.errors["cause"]
    [cause, *_] = note_fields(notes, refused)
    assert cause.newest is not None
    assert cause.newest.text == "the street"
    assert cause.newest.by == "ben, Fri 15 May 2026 09:00"
    assert [each.text for each in cause.older] == ["breaker"]
    # Whoever has not touched the field takes nothing back, and whoever has looked again may write.
    assert wishes_of({"seen": "1", "cause": "breaker"}, notes) == {}
    assert wishes_of({"seen": "2", "cause": "the fuse"}, notes) == {"cause": "the fuse"}


@pytest.mark.parametrize(
    ("text", "number"), [("1", 1), ("0", None), ("-1", None), ("1.0", None), ("", None), ("9" * 13, None), ("²", None)]
)
def test_what_is_no_number_of_an_incident_is_none(text: str, number: int | None) -> None:
    assert number_of(text) == number
