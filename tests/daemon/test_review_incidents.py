"""The desk of incidents, the watch over the clock, and both in a service that really runs."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from config.errors import StatedError
from daemon.boot import boot_id
from daemon.clock_steps import ClockSteps
from daemon.review.values import Cause, FactKind, Incident
from daemon.review_incidents import IncidentDesk, UnknownIncidentError
from daemon.review_keeper import ClockWatch
from daemon.storage import clock_steps, incidents, runs
from daemon.storage.clock_steps import ClockStep
from daemon.storage.journal import Journal
from tests.review.nights import EVENING_MS, Night, at, night
from tests.standing.powered import AIR, BOX
from tests.support.clocked import ClockedHouse
from tests.support.household import MINUTE_MS, Probe, a_clutch, write_site
from tests.support.journals import new_journal
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until


@pytest.fixture
def dark(tmp_path: Path) -> Iterator[Night]:
    with night(tmp_path) as made:
        made.runs(EVENING_MS, at(6), "a")
        made.all_speak(EVENING_MS, at(6), but=(AIR, BOX))
        made.speaks(AIR, EVENING_MS, at(1))
        made.speaks(AIR, at(2), at(6))
        made.speaks(BOX, EVENING_MS, at(3))
        made.speaks(BOX, at(3, 10), at(6))
        made.pass_to(at(5))
        yield made


def test_people_write_what_it_was_and_the_newest_of_each_part_counts(dark: Night) -> None:
    [long, short] = dark.desk.incidents(0, at(6))
    assert (long.needs_review, short.needs_review) == (True, False)
    assert dark.desk.open_reviews() == [long]
    number = long.incident_id
    dark.desk.note(number, "ana", "cause", "a battery")
    dark.desk.note(number, "ana", "cause", "  the battery of north-air was empty  ")
    dark.desk.note(number, "ben", "cause", "the battery of north-air was empty")
    found = dark.desk.note(number, "ben", "outcome", "all well")
    assert [note.who for note in found.notes] == ["ana", "ana", "ben"]
    assert found.said("cause") == "the battery of north-air was empty"
    assert (found.said("outcome"), found.said("prevention"), found.is_open) == ("all well", "", False)
    assert dark.desk.open_reviews() == []
    assert dark.desk.incident(number) == found
    # What is found anew leaves it as it is.
    assert dark.look() == [long, short]
    assert dark.desk.newest() == [short, long]
    assert dark.desk.newest(1) == [short]


def test_bad_input_is_refused_in_words(dark: Night) -> None:
    with pytest.raises(UnknownIncidentError, match="no incident 77"):
        dark.desk.incident(77)
    with pytest.raises(UnknownIncidentError):
        dark.desk.note(77, "ana", "cause", "x")
    with pytest.raises(StatedError, match="ends before it begins"):
        dark.desk.incidents(at(5), at(4))
    for field, text in (("blame", "x"), ("cause", " \n "), ("cause", "x" * 4001)):
        with pytest.raises(StatedError):
            dark.desk.note(1, "ana", field, text)
    assert dark.desk.incident(1).notes == ()


def test_the_number_of_one_that_ended_in_another_leads_there(dark: Night) -> None:
    dark.journal.write(lambda conn: incidents.join_into(conn, [(2, 1)], at(5)))
    found = dark.desk.incident(2)
    assert (found.incident.incident_id, found.asked) == (1, 2)


def test_a_clock_that_is_set_is_written_down_once_with_its_run(tmp_path: Path) -> None:
    steady, wall = [1000.0], [EVENING_MS]
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        run = journal.write(lambda conn: runs.begin_run(conn, EVENING_MS, "test", "a"))
        watch = ClockWatch(journal, ClockSteps(lambda: steady[0]), lambda: wall[0], run)
        for seconds, by_ms in ((0, 0), (5, 0), (5, 7_200_000), (5, 0), (5, 30_000), (5, -3_600_000)):
            steady[0] += seconds
            wall[0] += seconds * 1000 + by_ms
            watch.run()
        with journal.read() as conn:
            # By less than a minute a time service does its work.
            assert clock_steps.of_runs(conn, run, run) == [
                ClockStep(EVENING_MS + 10_000 + 7_200_000, 7_200_000, run),
                ClockStep(EVENING_MS + 25_000 + 7_230_000 - 3_600_000, -3_600_000, run),
            ]


def test_a_step_that_could_not_be_written_is_found_again(tmp_path: Path) -> None:
    steady, wall = [1000.0], [EVENING_MS]
    path = tmp_path / "journal.sqlite3"
    closed = Journal.open(path)
    run = closed.write(lambda conn: runs.begin_run(conn, EVENING_MS, "test", "a"))
    steps = ClockSteps(lambda: steady[0])
    watch = ClockWatch(closed, steps, lambda: wall[0], run)
    watch.run()
    closed.close()
    wall[0] += 600_000
    watch.run()
    with Journal.open(path) as journal:
        ClockWatch(journal, steps, lambda: wall[0], run).run()
        with journal.read() as conn:
            assert [step.by_ms for step in clock_steps.of_runs(conn, run, run)] == [600_000]


def test_the_life_of_the_machine_has_a_name_or_none(tmp_path: Path) -> None:
    name = tmp_path / "boot_id"
    assert boot_id(name) == ""
    name.write_text("0b1c7a52-1b35-4fb8-9a3c-0c5fbb6a6c0d\n", encoding="ascii")
    assert boot_id(name) == "0b1c7a52-1b35-4fb8-9a3c-0c5fbb6a6c0d"
    name.write_bytes(b"\xff\xfe")
    assert boot_id(name) == ""


def _incidents(house: ClockedHouse) -> list[Incident]:
    with Journal.open(house.journal_path) as journal:
        return IncidentDesk(journal, house.clock.now_ms).incidents(0, house.clock.now_ms())


@pytest.mark.services
def test_a_service_that_was_killed_tells_of_it_by_itself(mosquitto: Mosquitto, tmp_path: Path) -> None:
    house = ClockedHouse(write_site(tmp_path, mosquitto.port), 20.0)
    house.clock.set_to(EVENING_MS)
    house.enter(a_clutch(EVENING_MS - 30 * 24 * 3_600_000))
    house.start()
    probe = Probe(mosquitto.port)
    try:
        for minute in range(10):
            house.clock.set_to(EVENING_MS + minute * MINUTE_MS)
            probe.temperatures([(EVENING_MS + minute * MINUTE_MS, 28.0)])
        last_ms = EVENING_MS + 9 * MINUTE_MS

        def last_is_stored() -> bool:
            # A broker keeps nothing for a daemon that has connected and not subscribed yet: this one goes out again.
            probe.temperatures([(last_ms, 28.0)])
            return any(row[1] == last_ms for row in house.stored())

        wait_until(last_is_stored, "the last reading", 60)
        house.settle(1)
        house.service.kill()
        house.clock.set_to(at(23))
        house.start()
        probe.temperatures([(at(23) + minute * 10_000, 28.0) for minute in range(3)])
        wait_until(lambda: house.stored()[-1][1] == at(23) + 20_000, "the readings after the start", 60)
        house.settle(1)
        # Later the next silence would be one, since nothing more comes.
        house.clock.set_to(at(23, 6))
        wait_until(
            lambda: any(each.span.to_ms is not None for each in _incidents(house)), "an incident that is over", 60
        )
        [found] = [each for each in _incidents(house) if each.span.to_ms is not None]
    finally:
        probe.close()
        house.service.stop()
    assert found.cause is Cause.SERVICE_CUT_OFF
    [down] = [fact for fact in found.facts if fact.kind is FactKind.SERVICE_CUT_OFF]
    assert "the machine itself ran on" in down.words
    # It says every fifteen real seconds that it is alive, and these ten minutes took less.
    assert EVENING_MS <= down.span.from_ms <= EVENING_MS + 10 * MINUTE_MS
    assert at(23) <= down.span.until(0) <= at(23, 2)
    [gap] = [fact for fact in found.facts if fact.kind is FactKind.PROBE_GAP]
    assert (gap.subject, gap.span) == ("north-air/air", (EVENING_MS + 9 * MINUTE_MS, at(23)))
    assert "nobody listened" in " ".join(found.evidence)
