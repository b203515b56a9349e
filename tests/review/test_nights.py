"""What was wrong in a night is found from the journal alone: which incidents, why, and from when to when.

Every night is looked at twice: once in the morning, and every few minutes while it passes, as the service does it.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest

from config.words import AlarmKind
from daemon.review.values import Cause, FactKind, Span
from tests.review.nights import ALL, EVENING_MS, HOUR_MS, MINUTE_MS, Night, at, fact_of, kinds, night, only, said
from tests.standing.powered import AIR, BOX, MAINS, NORTH_MAINS, SOUTH

Looks = int | None
LOOKS = pytest.mark.parametrize("every_ms", [None, 5 * MINUTE_MS, 47 * MINUTE_MS], ids=["once", "often", "seldom"])


@pytest.fixture
def dark(tmp_path: Path) -> Iterator[Night]:
    with night(tmp_path) as made:
        yield made


@LOOKS
def test_a_quiet_night_has_no_incident(dark: Night, every_ms: Looks) -> None:
    dark.runs(EVENING_MS, at(7), "a")
    dark.all_speak(EVENING_MS, at(7))
    assert dark.pass_to(at(7), every_ms) == []


def mains_lost(dark: Night) -> None:
    """The mains goes at ten past two and takes the machine with it; both are back at six, and it is cold."""
    dark.runs(EVENING_MS, at(2, 10, 35), "a")
    dark.all_speak(EVENING_MS, at(2, 10))
    dark.speaks(MAINS, at(2, 10, 20), at(2, 10, 21), value=0.0)
    dark.runs(at(6), at(9, 59), "b")
    dark.all_speak(at(6, 1), at(10))
    dark.alarm(AlarmKind.TEMPERATURE_LOW, AIR, at(6, 1), at(7, 30), after_ms=15 * MINUTE_MS, limit=26.0)
    dark.alarm(AlarmKind.MAINS_LOST, "mains", at(2, 10, 20), at(6, 2), after_ms=at(6, 0, 5) - at(2, 10, 20))


@LOOKS
def test_mains_lost_with_the_daemon_down_is_one_incident_of_the_mains(dark: Night, every_ms: Looks) -> None:
    mains_lost(dark)
    found = only(dark.pass_to(at(9), every_ms))
    assert found.cause is Cause.MAINS_LOST
    assert kinds(found) == {
        FactKind.MAINS_ABSENT,
        FactKind.MACHINE_RESTARTED,
        FactKind.SITE_GAP,
        FactKind.PROBE_GAP,
        FactKind.EXCURSION,
    }
    # From the last reading, at nine past two, to the end of the cold.
    assert found.span == Span(at(2, 9), at(7, 30))
    assert fact_of(found, FactKind.MAINS_ABSENT).span == Span(at(2, 10, 20), at(6, 1))
    assert fact_of(found, FactKind.MACHINE_RESTARTED).span == Span(at(2, 10, 35), at(6))
    assert fact_of(found, FactKind.SITE_GAP).span == Span(at(2, 9), at(6, 1))
    assert {fact.subject for fact in found.facts if fact.kind is FactKind.PROBE_GAP} == set(ALL)
    assert "the mains is absent" in said(found)
    assert "machine was started anew" in said(found)
    assert "nobody listened" in said(found)
    assert "highest priority" in found.review
    assert "nothing was heard for 3 h 5" in found.review


@LOOKS
def test_what_a_probe_with_a_battery_sends_afterwards_changes_what_is_known_and_not_the_incident(
    dark: Night, every_ms: Looks
) -> None:
    mains_lost(dark)
    before = only(dark.pass_to(at(8), every_ms))
    dark.speaks(BOX, at(2, 10), at(6, 1), value=22.0, came_ms=at(8, 30))
    after = only(dark.pass_to(at(9), every_ms))
    assert (after.incident_id, after.cause, after.span) == (before.incident_id, before.cause, before.span)
    assert f"The readings of {BOX} came afterwards" in said(after)
    assert "nobody listened" not in said(after)
    assert after.evidence != before.evidence


@LOOKS
def test_a_broker_that_is_lost_is_the_cause_of_all_silence(dark: Night, every_ms: Looks) -> None:
    dark.runs(EVENING_MS, at(7), "a")
    dark.all_speak(EVENING_MS, at(2, 10))
    dark.alarm(AlarmKind.BROKER_LOST, "broker", at(2, 10, 5), at(3, 10), after_ms=120_000, reason="connection refused")
    dark.all_speak(at(3, 10), at(7))
    before = only(dark.pass_to(at(4), every_ms))
    assert before.cause is Cause.BROKER_LOST
    assert kinds(before) == {FactKind.BROKER_LOST, FactKind.SITE_GAP, FactKind.PROBE_GAP}
    assert before.span == Span(at(2, 9), at(3, 10))
    assert "connection refused" in said(before)
    # What the probes had kept comes.
    dark.all_speak(at(2, 10), at(3, 10), came_ms=at(4, 1))
    after = only(dark.pass_to(at(6), every_ms))
    assert (after.incident_id, after.cause, after.span) == (before.incident_id, Cause.BROKER_LOST, before.span)
    assert "All readings of that time came afterwards" in said(after)
    assert after.review == before.review == "nothing was heard for 1 h 1 min"


@LOOKS
def test_one_probe_that_is_dead_is_silent_by_itself(dark: Night, every_ms: Looks) -> None:
    dark.runs(EVENING_MS, at(9), "a")
    dark.all_speak(EVENING_MS, at(9), but=(AIR,))
    dark.speaks(AIR, EVENING_MS, at(2, 10))
    still = only(dark.pass_to(at(5), every_ms))
    assert (still.cause, still.span) == (Cause.PROBE_SILENT, Span(at(2, 9), None))
    assert still.places == ("north/upper",)
    assert "only north-air was silent" in said(still)
    assert "never said that the mains is absent" in said(still)
    # It is back, and later hands over what it had kept of the first hour.
    dark.speaks(AIR, at(6), at(9))
    dark.speaks(AIR, at(2, 10), at(3, 10), came_ms=at(7))
    over = only(dark.pass_to(at(8, 30), every_ms))
    assert (over.incident_id, over.cause) == (still.incident_id, Cause.PROBE_SILENT)
    assert over.span == Span(at(2, 9), at(6))
    assert f"Of {AIR} a part" in said(over)


def clock_at_the_epoch(dark: Night) -> None:
    """The machine goes at ten past two, is back at six without a clock, and is told the time three minutes later."""
    shown_ms = 20_000
    dark.runs(EVENING_MS, at(2, 10), "a")
    dark.all_speak(EVENING_MS, at(2, 10))
    dark.runs(at(6), at(8, 59), "b", shown_ms=shown_ms)
    dark.clock_set(at(6, 3), at(6) - shown_ms)
    dark.all_speak(at(6, 3), at(9))


@LOOKS
def test_a_clock_at_the_epoch_until_it_is_set_does_not_hide_how_long_the_machine_was_off(
    dark: Night, every_ms: Looks
) -> None:
    clock_at_the_epoch(dark)
    found = only(dark.pass_to(at(8), every_ms))
    assert found.cause is Cause.MACHINE_OFF
    assert fact_of(found, FactKind.MACHINE_RESTARTED).span == Span(at(2, 10), at(6))
    assert fact_of(found, FactKind.CLOCK_STEP).span == Span(at(6), at(6, 3))
    assert found.span == Span(at(2, 9), at(6, 3))
    assert "clock of the machine was behind" in said(found)


@LOOKS
def test_late_readings_after_a_clock_at_the_epoch_change_nothing_but_the_evidence(dark: Night, every_ms: Looks) -> None:
    clock_at_the_epoch(dark)
    before = only(dark.pass_to(at(7), every_ms))
    dark.all_speak(at(2, 10), at(6, 3), came_ms=at(7, 30))
    after = only(dark.pass_to(at(8, 30), every_ms))
    assert (after.incident_id, after.cause, after.span) == (before.incident_id, before.cause, before.span)
    assert "All readings of that time came afterwards" in said(after)


def test_while_the_clock_is_behind_nothing_is_looked_for(dark: Night) -> None:
    dark.runs(EVENING_MS, at(2), "a")
    dark.all_speak(EVENING_MS, at(2))
    dark.pass_to(at(2))
    dark.now_ms = 20_000
    assert dark.keeper.look() is False
    dark.now_ms = at(2)
    assert dark.look() == []


def test_a_clock_that_was_a_year_ahead_does_not_end_the_looking_for_a_year(dark: Night) -> None:
    dark.runs(EVENING_MS, at(6), "a")
    dark.pass_to(EVENING_MS + MINUTE_MS)
    dark.now_ms = EVENING_MS + 365 * 24 * HOUR_MS
    dark.look()
    dark.now_ms = EVENING_MS + MINUTE_MS
    dark.all_speak(EVENING_MS, at(6), but=(AIR,))
    dark.speaks(AIR, EVENING_MS, at(3))
    dark.speaks(AIR, at(5), at(6))
    dark.pass_to(at(6), 5 * MINUTE_MS)
    assert Span(at(2, 59), at(5)) in [each.span for each in dark.look()]


@LOOKS
def test_time_that_a_clock_jumped_over_is_nobodys_silence(dark: Night, every_ms: Looks) -> None:
    dark.runs(EVENING_MS, at(6), "a")
    dark.all_speak(EVENING_MS, at(1))
    dark.clock_set(at(3), 2 * HOUR_MS)
    dark.all_speak(at(3), at(6))
    found = only(dark.pass_to(at(5), every_ms))
    assert found.cause is Cause.CLOCK_SET
    assert fact_of(found, FactKind.CLOCK_STEP).span == Span(at(1), at(3))
    assert "never passed" in said(found)


@LOOKS
@pytest.mark.parametrize(
    ("boot", "ended", "cause", "kind"),
    [
        ("a", False, Cause.SERVICE_CUT_OFF, FactKind.SERVICE_CUT_OFF),
        ("b", False, Cause.MACHINE_OFF, FactKind.MACHINE_RESTARTED),
        ("", False, Cause.SERVICE_CUT_OFF, FactKind.SERVICE_CUT_OFF),
        ("a", True, Cause.SERVICE_STOPPED, FactKind.SERVICE_STOPPED),
    ],
    ids=["killed", "machine anew", "nobody knows", "in order"],
)
def test_how_the_service_ended(
    dark: Night, boot: str, ended: bool, cause: Cause, kind: FactKind, every_ms: Looks
) -> None:
    dark.runs(EVENING_MS, at(1), "a", ended=ended)
    dark.all_speak(EVENING_MS, at(1))
    dark.runs(at(2), at(3, 59), boot)
    dark.all_speak(at(2), at(4))
    found = only(dark.pass_to(at(4), every_ms))
    assert (found.cause, fact_of(found, kind).span) == (cause, Span(at(1), at(2)))
    assert ("is not known" in fact_of(found, kind).words) is (boot == "")


def test_a_restart_of_some_seconds_in_good_order_is_none(dark: Night) -> None:
    dark.runs(EVENING_MS, at(1), "a", ended=True)
    dark.runs(at(1, 0, 20), at(3), "a")
    dark.all_speak(EVENING_MS, at(3))
    assert dark.pass_to(at(3)) == []


def test_a_probe_that_is_silent_for_longer_than_the_service_was_silent_by_itself(dark: Night) -> None:
    dark.runs(EVENING_MS, at(1), "a")
    dark.all_speak(EVENING_MS, at(1))
    dark.runs(at(2), at(6), "a")
    dark.all_speak(at(2), at(6), but=(SOUTH,))
    dark.speaks(SOUTH, at(4), at(6))
    found = only(dark.pass_to(at(5)))
    assert found.cause is Cause.SERVICE_CUT_OFF
    assert f"{SOUTH} went on being silent" in said(found)


def test_without_a_contact_of_the_mains_that_is_said(tmp_path: Path) -> None:
    with night(tmp_path, without=frozenset({"ups", "north-plug"})) as dark:
        here = [channel for channel in ALL if channel not in (MAINS, NORTH_MAINS)]
        dark.runs(EVENING_MS, at(5), "a")
        for channel in here:
            dark.speaks(channel, EVENING_MS, at(1))
            dark.speaks(channel, at(2), at(5))
        found = only(dark.pass_to(at(4)))
    # All fell silent together, the service listened, and nothing says why.
    assert found.cause is Cause.UNKNOWN
    assert "The service ran" in said(found)
    assert "No contact watches the mains" in said(found)
