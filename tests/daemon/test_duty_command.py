"""`clutchwarden duty`: what is planned, refused and shown, on a real journal beside an evaluator.

The site is in Madrid: clocks there went forward on 29 March 2026 at 02:00 and go back on 25 October at 03:00 (Directive
2000/84/EC: the last Sundays of March and October, 01:00 UTC).
"""

import json
import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from daemon.storage import duties
from daemon.storage.duties import NewEntry
from daemon.storage.journal import Journal
from tests.support.on_duty import DutyHouse, duty_house

VET = """
[[person]]
id = "vet"
name = "Dr Vet"
emergency = true
[[person.contact]]
kind = "webhook"
url = "http://127.0.0.1:9/vet"
[[person]]
id = "lodger"
name = "The lodger"
[quiet]
start = "22:00"
end = "07:00"
"""


@pytest.fixture
def house(tmp_path: Path) -> Iterator[DutyHouse]:
    with duty_house(tmp_path, VET) as made:
        made.minutes(1, 28.0)
        yield made


def utc_ms(*parts: int) -> int:
    return round(datetime(*parts, tzinfo=UTC).timestamp() * 1000)  # type: ignore[misc,arg-type]


def planned(house: DutyHouse) -> list[tuple[str, int, int | None]]:
    found = json.loads(house.duty("list", "--json").stdout)["duties"]
    return [(each["person"], each["start_ms"], each["end_ms"]) for each in found]


def refusal(house: DutyHouse, *arguments: str) -> str:
    before = house.everything()
    refused = house.duty(*arguments)
    assert refused.exit_code == 2, refused.output
    assert house.everything() == before
    return " ".join(refused.output.split())


def test_a_site_without_a_plan_says_who_is_called(house: DutyHouse) -> None:
    """The moment is 28 May 2026, 20:27 UTC."""
    assert house.duty("list").stdout.splitlines() == [
        "Called now: Ana, then Ben (by the standing order).",
        "Where nobody answers a critical alarm: Dr Vet.",
        "Quiet hours until 29 May 2026 07:00: alarms of the lowest priority wait.",
        "No duty is planned.",
    ]


def test_a_day_alone_is_the_whole_day_in_local_time_also_where_the_clocks_change(house: DutyHouse) -> None:
    done = house.duty("plan", "Ben", "--from", "2026-10-25", "--until", "2026-10-25", "--then", "ana")
    assert done.exit_code == 0, done.output
    # from 00:00 at UTC+2 to 24:00 at UTC+1: a day of 25 hours
    ends_ms = utc_ms(2026, 10, 25, 23)
    assert planned(house) == [("ben", utc_ms(2026, 10, 24, 22), ends_ms), ("ana", ends_ms, None)]
    assert "from 25 Oct 2026 00:00 to 26 Oct 2026 00:00" in done.stdout


def test_a_time_that_the_clocks_leave_out_is_refused_and_one_that_comes_twice_is_named(house: DutyHouse) -> None:
    assert "does not exist" in refusal(house, "plan", "ben", "--from", "2027-03-28 02:30")
    done = house.duty("plan", "ben", "--from", "2026-10-25 02:30")
    assert "from 25 Oct 2026 02:30 CEST on" in done.stdout
    assert planned(house) == [("ben", utc_ms(2026, 10, 25, 0, 30), None)]


def test_a_window_with_nobody_reachable_is_refused_with_the_window_in_local_time(house: DutyHouse) -> None:
    """X-42."""
    said = refusal(house, "plan", "ben", "--from", "2026-08-03 09:00", "--until", "2026-08-14 09:00")
    assert (
        "Not done: nobody can be reached from 14 Aug 2026 09:00 to 13 Sep 2026 09:00 (the duty of Ben has ended and "
        "nobody follows). Put somebody on duty there" in said
    )
    assert house.duty("absent", "ana", "--from", "2026-08-03", "--until", "2026-08-13").exit_code == 0
    said = refusal(house, "absent", "ben", "--from", "2026-08-10 08:00", "--until", "2026-08-12 20:00")
    assert "nobody can be reached from 10 Aug 2026 08:00 to 12 Aug 2026 20:00" in said
    assert "Ana, Ben" in said


def test_a_window_with_one_person_is_told_and_goes_through_once(house: DutyHouse) -> None:
    done = house.duty("absent", "ana", "--from", "2026-08-03", "--until", "2026-08-13", "--why", "Crete")
    assert "No. 1: Ana is away from 3 Aug 2026 00:00 to 14 Aug 2026 00:00." in done.stdout
    assert "Note: only one person can be reached from 3 Aug 2026 00:00 to 14 Aug 2026 00:00 (Ben)." in done.stdout
    again = house.duty("plan", "ben", "--from", "2026-08-03", "--until", "2026-08-13", "--then", "ana")
    assert again.exit_code == 0, again.output
    assert "Note:" not in again.stdout
    assert "no. 1  Ana away from 3 Aug 2026 00:00 to 14 Aug 2026 00:00: ahead (Crete)" in house.duty("list").stdout


def test_a_gap_that_was_there_before_does_not_block_a_better_plan(house: DutyHouse) -> None:
    """A gap that stands in the journal, from another version of the site file, is no reason to refuse a better plan."""
    ends = utc_ms(2026, 6, 2)
    house.journal.write(lambda conn: duties.add(conn, NewEntry("ben", house.now_ms - 1000, ends, house.now_ms, "kim")))
    done = house.duty("absent", "ana", "--from", "2026-05-29", "--until", "2026-05-29")
    assert done.exit_code == 0, done.output
    assert house.duty("plan", "ana", "--from", "2026-06-02 02:00").exit_code == 0


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("plan", "bne", "--from", "2026-08-03"), "There is no person 'bne' in site.toml. Did you mean \"ben\"?"),
        (("plan", "lodger", "--from", "2026-08-03"), "The lodger has no contact in site.toml, so nobody can call"),
        (("plan", "ben", "--from", "2026-08-03", "--second", "ben"), "the second person is the first"),
        (("plan", "ben", "--from", "2026-08-03", "--until", "2026-08-01"), "this duty ends before it begins"),
        (("plan", "ben", "--from", "2026-05-01", "--until", "2026-05-03"), "this duty is over already"),
        (("plan", "ben", "--from", "2026-08-03", "--then", "ana"), "give the end too, with --until"),
        (("plan", "ben", "--from", "soon"), "'soon' is not a date; write 2026-05-03 or"),
        (("absent", "ben", "--from", "2026-05-01", "--until", "2026-05-03"), "this absence is over already"),
        (("accept", "ben"), "no duty of Ben waits to be accepted. See what is planned with"),
        (("accept", "ben", "--number", "7"), "nothing is planned under number 7"),
        (("cancel", "7"), "nothing is planned under number 7"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_a_sentence(
    house: DutyHouse, arguments: tuple[str, ...], sentence: str
) -> None:
    said = refusal(house, *arguments)
    assert "".join(sentence.split()) in "".join(said.replace("│", "").split())


def test_only_the_successor_accepts_and_only_once(house: DutyHouse) -> None:
    assert house.duty("plan", "ben", "--from", house.at(-1)).exit_code == 0
    assert "only Ben can accept this hand-over" in refusal(house, "accept", "ana", "--number", "1")
    assert "Called now: Ana, then Ben (Ben has not accepted" in house.duty("list").stdout
    done = house.duty("accept", "ben")
    assert "Ben has accepted the duty" in done.stdout
    assert "is called first now" in done.stdout
    assert "accepted already" in refusal(house, "accept", "ben", "--number", "1")
    assert "Called now: Ben, then Ana (by the duty rota)." in house.duty("list").stdout
    assert "Ben on duty from 28 May 2026 22:26 on: in force" in house.duty("list").stdout


def test_a_duty_in_force_is_not_cancelled_but_followed_by_another(house: DutyHouse) -> None:
    house.duty("plan", "ben", "--from", house.at(-1))
    house.duty("accept", "ben")
    assert "calls would move to somebody who has not accepted" in refusal(house, "cancel", "1")
    assert house.duty("plan", "ana", "--from", house.at(0)).exit_code == 0
    assert house.duty("accept", "ana").exit_code == 0
    assert "Called now: Ana, then Ben (by the duty rota)." in house.duty("list").stdout


def test_a_cancellation_is_a_row_of_its_own_and_says_who_and_why(house: DutyHouse) -> None:
    house.duty("absent", "ana", "--from", "2026-08-03", "--until", "2026-08-13")
    assert house.duty("cancel", "1", "--why", "no flight", "--who", "ana").exit_code == 0
    assert "No duty is planned." in house.duty("list").stdout
    assert "no. 1  Ana away" in house.duty("list", "--all").stdout
    assert "cancelled already" in refusal(house, "cancel", "1")
    with house.journal.read() as conn:
        rows = conn.execute("SELECT what, at_ms, who, why FROM rota_change").fetchall()
    assert rows == [("cancelled", house.now_ms, "ana", "no flight")]


def test_a_cancellation_that_leaves_nobody_is_refused(house: DutyHouse) -> None:
    house.duty("plan", "ben", "--from", "2026-08-03", "--until", "2026-08-13", "--then", "ana")
    assert "nobody can be reached from 14 Aug 2026 00:00" in refusal(house, "cancel", "2")
    assert house.duty("cancel", "1").exit_code == 0
    assert house.duty("cancel", "2").exit_code == 0


def test_for_programs_everything_is_there_with_numbers_and_states(house: DutyHouse) -> None:
    house.duty("plan", "ben", "--from", house.at(-1), "--second", "vet", "--why", "holiday")
    house.duty("absent", "ana", "--from", "2026-08-03", "--until", "2026-08-13")
    found = json.loads(house.duty("list", "--json").stdout)
    assert (found["called_now"], found["emergency"]) == (["ana", "ben"], ["vet"])
    assert found["quiet_until_ms"] == utc_ms(2026, 5, 29, 5)
    [duty], [away] = found["duties"], found["absences"]
    assert (duty["number"], duty["person"], duty["second"], duty["state"]) == (1, "ben", "vet", "not accepted")
    assert (duty["why"], duty["accepted_ms"], duty["planned_ms"]) == ("holiday", None, house.now_ms)
    assert (away["number"], away["person"], away["state"]) == (2, "ana", "ahead")


@pytest.mark.parametrize("table", ["rota_entry", "rota_change", "rota_told"])
def test_what_was_planned_is_never_changed_or_removed(house: DutyHouse, table: str) -> None:
    house.duty("plan", "ben", "--from", house.at(-1))
    house.duty("accept", "ben")
    house.duty("plan", "ana", "--from", house.at(1))
    house.minutes(1, 28.0)
    for change in (f"UPDATE {table} SET entry_id = 9", f"DELETE FROM {table}"):
        with pytest.raises(sqlite3.IntegrityError, match="never changed or removed"):
            house.journal.write(lambda conn, change=change: conn.execute(change))  # type: ignore[misc]


def test_the_journal_alone_knows_the_rota_after_a_restart(house: DutyHouse) -> None:
    house.duty("plan", "ben", "--from", house.at(-1))
    house.duty("accept", "ben")
    with Journal.open(house.journal.path) as other, other.read() as conn:
        [only] = duties.entries(conn).duties
        changes = conn.execute("SELECT who, why FROM rota_change").fetchall()
    assert only.duty.accepted_ms == house.now_ms
    assert changes == [("ben", "on this machine, by kim")]
