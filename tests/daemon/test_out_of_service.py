"""Out of service by command: with who, why, what watches meanwhile and a review date; and back, once it was tested."""

import json
from pathlib import Path

import pytest

from daemon.clutches import register
from tests.daemon.test_alarms_command import Bench
from tests.daemon.test_desk import HIGH, START_MS
from tests.support.household import DAY_MS, MINUTE_MS
from tests.support.journals import new_journal

WHY = ("--why", "the door is being mended", "--meanwhile", "kim reads the thermometer every hour", "--who", "kim")


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def close_the_clutch(bench: Bench) -> None:
    with new_journal(bench.folder / "data" / "journal.sqlite3") as journal:
        [clutch] = journal.write(register.clutches)
        journal.write(
            lambda conn: register.close_clutch(conn, clutch.clutch_id, bench.now_ms, "test", "hatched", bench.now_ms)
        )


def test_it_is_listed_with_its_review_date_and_what_watches_meanwhile(bench: Bench) -> None:
    """The bench stands at 23:01:40 in Madrid on 28 May 2026, and the list is two minutes later: 12:56:20 to noon."""
    done = bench.call("out-of-service", HIGH, "--until", "2026-05-29 12:00", *WHY)
    assert done.exit_code == 0, done.output
    shown = bench.call("list").stdout
    assert "out of service by kim, review 2026-05-29 12:00 (in 12 h 56 min): the door is being mended" in shown
    assert "meanwhile: kim reads the thermometer every hour" in shown
    [found] = json.loads(bench.call("list", "--json").stdout)
    assert found["state"] == "out of service"
    assert found["out_of_service_until_ms"] > START_MS


def test_with_eggs_the_review_is_within_a_day_and_without_within_thirty(bench: Bench) -> None:
    refused = bench.call("out-of-service", HIGH, "--until", "2026-05-31", *WHY)
    assert refused.exit_code == 2
    assert "not done: the review has to lie ahead, by at most 1440 min" in refused.stdout
    close_the_clutch(bench)
    assert bench.call("out-of-service", HIGH, "--until", "2026-05-31", *WHY).exit_code == 0
    assert bench.call("out-of-service", HIGH, "--until", "2026-07-31", *WHY).exit_code == 2


def test_a_date_that_is_past_and_one_that_is_none_are_refused(bench: Bench) -> None:
    assert "has to lie ahead" in bench.call("out-of-service", HIGH, "--until", "2026-05-01", *WHY).stdout
    assert bench.call("out-of-service", HIGH, "--until", "soon", *WHY).exit_code == 2


def test_nobody_is_told_until_it_is_back_in_service_and_then_at_once(bench: Bench) -> None:
    bench.call("out-of-service", HIGH, "--until", "2026-05-29 12:00", *WHY)
    room = bench.room
    with new_journal(bench.folder / "data" / "journal.sqlite3") as journal:
        room.journal, room.now_ms = journal, bench.now_ms
        room.restart()
        room.new_messages()
        assert room.minutes(90, 31.0) == []
        bench.now_ms = room.now_ms
        back = bench.call("in-service", HIGH, "--tested", "warmed the probe by hand: it rang", "--who", "kim")
        assert back.exit_code == 0, back.output
        assert "no longer suppressed, and still on" in back.stdout
        room.now_ms = bench.now_ms
        assert any("URGENT" in line for line in room.minutes(2, 31.0))
        again = bench.call("in-service", HIGH, "--tested", "x", "--who", "kim")
        assert again.exit_code == 2
        assert "it is in service already" in again.stdout


def test_after_its_review_date_the_list_says_since_when_that_is_due(bench: Bench) -> None:
    bench.call("out-of-service", HIGH, "--until", "2026-05-29 12:00", *WHY)
    bench.now_ms += DAY_MS
    assert "(due for 11 h" in bench.call("list").stdout


def test_people_are_reminded_at_the_review_and_more_urgently_a_day_after_it(bench: Bench) -> None:
    """Out of service since 23:02, review at 23:30: one message then to both who were called, and one each day."""
    assert bench.call("out-of-service", HIGH, "--until", "2026-05-28 23:30", *WHY).exit_code == 0
    room = bench.room
    with new_journal(bench.folder / "data" / "journal.sqlite3") as journal:
        room.journal, room.now_ms = journal, bench.now_ms
        room.restart()
        room.new_messages()
        assert room.minutes(27, 31.0) == []
        due = room.minutes(2, 31.0)
        assert due == [f"{who}: CHECK North cabinet, upper shelf: alarm off: too warm" for who in ("ana", "ben")]
        assert room.minutes(60, 31.0) == []
        room.now_ms += DAY_MS - 70 * MINUTE_MS
        late = room.minutes(15, 31.0)
    late = [line for line in late if "alarm off" in line]
    assert late == [f"{who}: URGENT North cabinet, upper shelf: alarm off: too warm" for who in ("ana", "ben")]
    assert bench.call("list").stdout.count("out of service by kim") == 1
