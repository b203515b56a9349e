"""What was wrong with a place, a probe or a message in a night, found from the journal alone."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from config.words import AlarmKind
from daemon.review.values import Cause, FactKind, Span
from daemon.storage import alarm_log
from daemon.storage.alarm_log import AlarmEvent
from tests.review.nights import EVENING_MS, MINUTE_MS, Night, at, fact_of, kinds, night, only, said
from tests.standing.powered import AIR, MAINS, NORTH_MAINS, ROOM, SOUTH

Looks = int | None
LOOKS = pytest.mark.parametrize("every_ms", [None, 5 * MINUTE_MS, 47 * MINUTE_MS], ids=["once", "often", "seldom"])


@pytest.fixture
def dark(tmp_path: Path) -> Iterator[Night]:
    with night(tmp_path) as made:
        yield made


@LOOKS
@pytest.mark.parametrize("contact", [True, False], ids=["mains present", "nobody knows"])
def test_too_cool_with_mains_and_probes_there_is_the_heating(tmp_path: Path, contact: bool, every_ms: Looks) -> None:
    without = frozenset() if contact else frozenset({"ups", "north-plug"})
    with night(tmp_path, without=without) as dark:
        dark.runs(EVENING_MS, at(6), "a")
        dark.all_speak(EVENING_MS, at(6), but=() if contact else (MAINS, NORTH_MAINS))
        dark.alarm(AlarmKind.TEMPERATURE_LETHAL_LOW, AIR, at(1), at(3), after_ms=5 * MINUTE_MS, limit=20.0)
        dark.alarm(AlarmKind.TEMPERATURE_LOW, AIR, at(0), at(4), after_ms=15 * MINUTE_MS, limit=26.0)
        found = only(dark.pass_to(at(5), every_ms))
    assert found.cause is (Cause.HEATING if contact else Cause.UNKNOWN)
    assert (found.span, found.review) == (Span(at(0), at(4)), "an alarm of the highest priority was on")


def test_a_door_that_stood_open_is_told_beside_the_cold(dark: Night) -> None:
    dark.runs(EVENING_MS, at(6), "a")
    dark.all_speak(EVENING_MS, at(6))
    dark.alarm(AlarmKind.DOOR_OPEN, "north", at(0, 30), at(1, 30))
    dark.alarm(AlarmKind.TEMPERATURE_LOW, AIR, at(1), at(2), limit=26.0)
    assert "North cabinet, door open" in said(only(dark.pass_to(at(5))))


def test_a_probe_that_says_nonsense_is_faulty(dark: Night) -> None:
    dark.runs(EVENING_MS, at(6), "a")
    dark.all_speak(EVENING_MS, at(6))
    dark.alarm(AlarmKind.PROBE_FAULT, AIR, at(1), at(2), reason="a value of a broken or unplugged probe")
    dark.alarm(AlarmKind.TEMPERATURE_HIGH, AIR, at(0, 50), at(2), limit=31.0)
    found = only(dark.pass_to(at(5)))
    assert (found.cause, found.span, found.review) == (Cause.PROBE_FAULT, Span(at(0, 50), at(2)), "")


def test_calls_that_reached_nobody_are_an_incident_with_the_names_of_who_was_called(dark: Night) -> None:
    dark.runs(EVENING_MS, at(6), "a")
    dark.all_speak(EVENING_MS, at(6))
    reached, lost = dark.call(at(0), "ana/0", f"no-data:{AIR}:5"), dark.call(at(2), "ben/0", f"no-data:{SOUTH}:5")
    dark.attempt(reached, at(0, 0, 1), "waiting", "refused")
    dark.attempt(reached, at(0, 0, 30), "delivered")
    dark.attempt(lost, at(2, 0, 1), "waiting", "no route")
    assert only(dark.pass_to(at(3))).span == Span(at(2), None)
    dark.attempt(lost, at(4), "abandoned", "no route")
    found = only(dark.pass_to(at(5)))
    assert (found.cause, found.span, found.places) == (Cause.DELIVERY, Span(at(2), at(4)), ("south",))
    assert "ben/0 reached nobody: no route" in said(found)
    assert found.review == "a call reached nobody, or nobody for long"


def test_what_happens_beside_a_probe_that_has_been_dead_for_days_is_another_incident(dark: Night) -> None:
    dark.runs(EVENING_MS, at(21), "a")
    dark.all_speak(EVENING_MS, at(2), but=(ROOM,))
    dark.speaks(ROOM, EVENING_MS, at(22, 30))
    dark.alarm(AlarmKind.BROKER_LOST, "broker", at(2), at(3), after_ms=120_000)
    dark.all_speak(at(3), at(8), but=(ROOM,))
    dead, broker = dark.pass_to(at(7), 5 * MINUTE_MS)
    assert (dead.cause, {fact.subject for fact in dead.facts}) == (Cause.PROBE_SILENT, {ROOM})
    assert broker.cause is Cause.BROKER_LOST
    assert fact_of(broker, FactKind.SITE_GAP).span == Span(at(1, 59), at(3))


@pytest.mark.parametrize("hours", [1, 16], ids=["soon", "long after"])
def test_an_excursion_that_late_readings_brought_to_light_is_found_in_its_own_time(dark: Night, hours: int) -> None:
    """It is written down as one that was raised and cleared at the time at which it was measured."""
    dark.runs(EVENING_MS, at(21), "a")
    dark.all_speak(EVENING_MS, at(21))
    assert dark.pass_to(at(3), 5 * MINUTE_MS) == []
    written_ms = at(2) + hours * 60 * MINUTE_MS
    key = f"{AlarmKind.TEMPERATURE_LETHAL_HIGH}:{AIR}"
    for moment, word in (
        (at(0, 5), "raised (by late readings, held)"),
        (at(0), "found afterwards"),
        (at(1), "cleared"),
    ):
        event = AlarmEvent(moment, written_ms, key, f"{key}:{at(0)}", word, 38.0, 36.0, "late")
        dark.then(
            written_ms,
            lambda each=event: dark.journal.write(lambda conn: alarm_log.append_event(conn, each)),  # type: ignore[misc]
        )
    found = only(dark.pass_to(written_ms + 10 * MINUTE_MS, 5 * MINUTE_MS))
    assert (kinds(found), found.span) == ({FactKind.EXCURSION}, Span(at(0), at(1)))
    assert found.review == "an alarm of the highest priority was on"
