"""Incidents in the journal: their numbers stay, and what people wrote about them is never changed."""

import sqlite3
from dataclasses import replace

import pytest

from daemon.review.values import Cause, Fact, FactKind, Incident, Span
from daemon.storage import clock_steps, incidents, runs
from daemon.storage.clock_steps import ClockStep
from daemon.storage.incidents import Looked
from daemon.storage.journal import Journal

FACT = Fact(FactKind.EXCURSION, Span(100, 200), "north/upper", "north-air/t", "too warm, 34.0 °C", critical=True)
ONE = Incident(0, Span(100, 200), (FACT,), Cause.HEATING, ("the mains was there",), ("north/upper",), "it was hot")


def put(journal: Journal, *each: Incident) -> list[int]:
    return [journal.write(lambda conn, one=one: incidents.put(conn, one, 1000)) for one in each]  # type: ignore[misc]


def test_what_is_stored_comes_back_as_it_was(journal: Journal) -> None:
    still = replace(ONE, span=Span(300, None), facts=(replace(FACT, span=Span(300, None), critical=False),), review="")
    assert put(journal, ONE, still) == [1, 2]
    with journal.read() as conn:
        assert incidents.get(conn, 1) == replace(ONE, incident_id=1)
        assert incidents.get(conn, 2) == replace(still, incident_id=2)
        assert incidents.get(conn, 3) is None
        assert [each.incident_id for each in incidents.newest(conn, 5)] == [2, 1]
        assert [each.incident_id for each in incidents.newest(conn, 5, before=2)] == [1]
        assert [each.needs_review for each in incidents.newest(conn, 5)] == [False, True]


@pytest.mark.parametrize(
    ("since", "until", "found"),
    [(0, 99, []), (0, 100, [1]), (200, 250, [1]), (201, 299, []), (201, 300, [2]), (900, 999, [2]), (0, 999, [1, 2])],
)
def test_a_span_finds_what_has_a_moment_in_it(journal: Journal, since: int, until: int, found: list[int]) -> None:
    put(journal, ONE, replace(ONE, span=Span(300, None)))
    with journal.read() as conn:
        assert [each.incident_id for each in incidents.between(conn, since, until)] == found


def test_an_incident_that_ended_in_another_is_found_by_its_old_number_with_all_that_was_written(
    journal: Journal,
) -> None:
    put(journal, ONE, ONE, ONE)
    journal.write(lambda conn: incidents.add_note(conn, 3, 5, "ana", "cause", "a wet plug"))
    journal.write(lambda conn: incidents.join_into(conn, [(3, 2)], 10))
    journal.write(lambda conn: incidents.join_into(conn, [(2, 1)], 11))
    journal.write(lambda conn: incidents.add_note(conn, 3, 6, "ben", "outcome", "dry now"))
    with journal.read() as conn:
        assert {incidents.present_number(conn, number) for number in (1, 2, 3)} == {1}
        assert incidents.present_number(conn, 4) is None
        found = incidents.get(conn, 3)
        assert found is not None
        assert found.incident_id == 1
        assert [(note.incident_id, note.field, note.text) for note in incidents.notes(conn, 2)] == [
            (3, "cause", "a wet plug"),
            (1, "outcome", "dry now"),
        ]
        assert [each.incident_id for each in incidents.between(conn, 0, 999)] == [1]
        assert incidents.under_review(conn) == []


def test_a_review_is_open_until_its_outcome_is_written(journal: Journal) -> None:
    put(journal, ONE, replace(ONE, review=""))
    with journal.read() as conn:
        assert [each.incident_id for each in incidents.under_review(conn)] == [1]
    journal.write(lambda conn: incidents.add_note(conn, 1, 5, "ana", "action", "new fuse"))
    with journal.read() as conn:
        assert [each.incident_id for each in incidents.under_review(conn)] == [1]
    journal.write(lambda conn: incidents.add_note(conn, 1, 6, "ana", "outcome", "all eggs well"))
    with journal.read() as conn:
        assert incidents.under_review(conn) == []


@pytest.mark.parametrize(
    ("number", "field", "text", "error"),
    [(9, "cause", "x", LookupError), (1, "blame", "x", ValueError), (1, "cause", " \n", ValueError)],
)
def test_what_cannot_be_a_note_is_refused(
    journal: Journal, number: int, field: str, text: str, error: type[Exception]
) -> None:
    put(journal, ONE)
    with pytest.raises(error):
        journal.write(lambda conn: incidents.add_note(conn, number, 5, "ana", field, text))
    with journal.read() as conn:
        assert incidents.notes(conn, 1) == []


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE incident_note SET text = 'other'",
        "DELETE FROM incident_note",
        "DELETE FROM incident",
        "UPDATE clock_step SET by_ms = 0",
        "DELETE FROM clock_step",
    ],
)
def test_nobody_removes_or_changes_what_was_written(journal: Journal, statement: str) -> None:
    put(journal, ONE)
    journal.write(lambda conn: incidents.add_note(conn, 1, 5, "ana", "cause", "a wet plug"))
    run = journal.write(lambda conn: runs.begin_run(conn, 1, "test", "boot"))
    journal.write(lambda conn: clock_steps.append(conn, ClockStep(9, -5, run)))
    with pytest.raises(sqlite3.IntegrityError, match=r"never (changed or )?removed"):
        journal.write(lambda conn: conn.execute(statement))
    with journal.read() as conn:
        assert len(incidents.notes(conn, 1)) == 1
        assert clock_steps.of_runs(conn, run, run) == [ClockStep(9, -5, run)]


def test_how_far_it_was_looked_is_kept(journal: Journal) -> None:
    with journal.read() as conn:
        assert incidents.looked(conn) is None
    for to in (Looked(5, 6, 7), Looked(8, 9, 10)):
        journal.write(lambda conn, to=to: incidents.set_looked(conn, to))  # type: ignore[misc]
        with journal.read() as conn:
            assert incidents.looked(conn) == to


def test_a_run_knows_in_which_life_of_the_machine_it_was(journal: Journal) -> None:
    journal.write(lambda conn: runs.begin_run(conn, 1000, "1", "boot-a"))
    journal.write(lambda conn: runs.begin_run(conn, 2000, "1"))
    with journal.read() as conn:
        assert [each.boot_id for each in runs.latest_runs(conn, 5)] == ["", "boot-a"]
        assert [each.started_at_ms for each in runs.runs_since(conn, 1500, 0)] == [1000, 2000]
        assert [each.started_at_ms for each in runs.runs_since(conn, 500, 0)] == [1000, 2000]
