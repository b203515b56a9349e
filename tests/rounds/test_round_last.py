"""The last round in one line, where a round is due, and what a wet lid leaves for whoever comes next."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from daemon.alarms.round_suppression import Round
from daemon.box_sheets import BoxSheets
from daemon.clutches import register
from daemon.clutches.corrections import withdraw_clutch
from daemon.hand_over_sheet import Seen, boxes_of
from daemon.round_last import LastRounds
from daemon.rounds.last import ENDED_TOGETHER_MS, LastRound, RoundDue, ended_together
from daemon.rounds.need import CareTimes, need_of
from daemon.rounds.values import Lid, Medium
from daemon.rounds_now import rounds_due_now
from daemon.storage.rounds import RoundOnRecord
from dashboards.rounds_last import LONGEST_SHOWN, due_view, last_round_view
from tests.rounds.bench import DAY_MS, HOUR_MS, MOULD, N1, S1, S2, START_MS, WATCH, Bench, eggs, entry

UTC = ZoneInfo("UTC")


def last(bench: Bench, reader: LastRounds | None = None) -> LastRound | None:
    with bench.journal.read() as conn:
        return (reader or LastRounds(bench.site)).read(conn, bench.now_ms)


def test_before_the_first_round_was_ended_there_is_none(bench: Bench) -> None:
    bench.clutch()
    bench.start()
    assert last(bench) is None
    assert last_round_view(None, START_MS, UTC) is None


def test_it_says_how_far_what_was_found_and_what_was_noted(bench: Bench) -> None:
    for label, place in (("Clover", S1), ("Sorrel", S2)):
        bench.clutch(label, place)
    number = bench.start("south", who="ana")
    bench.enter(number, entry(1, S1, eggs=(eggs(MOULD, "1"), eggs(WATCH, "3"))))
    bench.now_ms += HOUR_MS // 4
    bench.desk.finish(number, "ana", "The lid of Clover was <b>wet</b>")
    found = last(bench)
    assert found is not None
    assert replace(found, said=(), not_seen=()) == LastRound(
        (number,), ("South cabinet",), "Ana", bench.now_ms, 1, 2, 1, 1, 0, "The lid of Clover was <b>wet</b>"
    )
    # 28 May 2026, 20:26 UTC, is what START_MS (1,780,000,000 s) and 900 s come to.
    view = last_round_view(found, bench.now_ms, UTC)
    assert view is not None
    assert view.when == "today 20:41"
    assert view.text == "South cabinet, by Ana: 1 of 2 boxes seen, 1 egg removed, 1 egg put on watch."
    assert view.path == f"/rounds/{number}/summary"
    later = last_round_view(found, bench.now_ms + DAY_MS, UTC)
    assert later is not None
    assert "today" not in later.when


def test_what_comes_after_the_end_and_a_clutch_that_is_taken_away_change_it(bench: Bench) -> None:
    bench.clutch("Clover", S1)
    number, reader = bench.start("south"), LastRounds(bench.site)
    bench.now_ms += 60_000
    bench.desk.finish(number, "ana")
    assert last(bench, reader) is None
    bench.enter(number, entry(1, S1, all_well=True, made_ms=START_MS + 1_000), queued=True)
    after = last(bench, reader)
    assert after is not None
    assert (after.seen, after.boxes) == (1, 1)
    with bench.journal.read() as conn:
        assert reader.read(conn, bench.now_ms) is reader.read(conn, bench.now_ms)


def test_a_round_in_which_no_box_was_seen_hides_none_before_it(bench: Bench) -> None:
    bench.clutch("Clover", S1)
    reader = LastRounds(bench.site)
    full = bench.start("south")
    bench.enter(full, entry(1, S1))
    bench.desk.finish(full, "ana", "all dry")
    bench.now_ms += DAY_MS
    mistaken = bench.start("south")
    bench.desk.finish(mistaken, "ana")
    left_out = bench.start("south")
    bench.enter(left_out, entry(2, S1, skipped="lid stuck"))
    bench.desk.finish(left_out, "ana")
    found = last(bench, reader)
    assert found is not None
    assert (found.numbers, found.seen, found.note) == ((full,), 1, "all dry")
    # It stays in the list of rounds.
    assert [each.number for each in bench.desk.newest()] == [left_out, mistaken, full]


@pytest.mark.parametrize("first", [0, 1])
def test_of_two_rounds_that_one_press_ends_the_one_without_a_look_is_told_too(bench: Bench, first: int) -> None:
    bench.clutch("Juniper", N1)
    bench.clutch("Clover", S1)
    number = bench.start("north", "south")
    bench.enter(number + first, entry(1, (N1, S1)[first]))
    for each in (number, number + 1):
        bench.desk.finish(each, "ana")
    found = last(bench)
    assert found is not None
    assert (found.numbers, found.seen, found.boxes) == ((number, number + 1), 1, 2)
    assert [("Clover", "Juniper")[first] in each for each in found.not_seen] == [True]


def test_a_round_by_a_clock_that_was_ahead_hides_no_later_one(bench: Bench) -> None:
    bench.clutch("Clover", S1)
    right_ms = bench.now_ms
    bench.now_ms += 400 * DAY_MS
    ahead = bench.start("south")
    bench.enter(ahead, entry(1, S1))
    bench.desk.finish(ahead, "ana")
    bench.now_ms = right_ms + DAY_MS
    assert last(bench) is None
    number = bench.start("south")
    bench.enter(number, entry(2, S1))
    bench.desk.finish(number, "ana")
    found = last(bench)
    assert found is not None
    assert found.numbers == (number,)


def test_a_clutch_that_was_withdrawn_is_no_box_of_it(bench: Bench) -> None:
    clover = bench.clutch("Clover", S1)
    bench.clutch("Sorrel", S2)
    number = bench.start("south")
    bench.enter(number, entry(1, S1, medium=Medium.DRY))
    bench.enter(number, entry(2, S2, medium=Medium.DRY))
    bench.desk.finish(number, "ana")
    bench.journal.write(lambda conn: withdraw_clutch(conn, clover, "ana", "entered twice", bench.now_ms))
    found = last(bench)
    assert found is not None
    assert (found.seen, found.boxes, [each.label for each in found.said]) == (1, 1, ["Sorrel"])


def test_rounds_that_one_person_ends_together_are_told_as_one() -> None:
    def ended(number: int, incubator: str, at_ms: int, who: str = "ana", note: str = "n") -> RoundOnRecord:
        return RoundOnRecord(number, Round("", incubator, who, 0, 600_000, 0, at_ms), who, note)

    north, south = ended(1, "north", 1_000_000), ended(2, "south", 1_000_000 + ENDED_TOGETHER_MS)
    assert ended_together([south, north]) == (north, south)
    assert ended_together([ended(3, "south", 1_000_001 + ENDED_TOGETHER_MS), north]) != (north, south)
    other = ended(2, "south", 1_000_001, who="ben")
    assert ended_together([north, other]) == (other,)
    assert ended_together([north, ended(2, "south", 1_000_001, note="another")])[0].number == 2
    # The same incubator twice is two rounds.
    assert [each.number for each in ended_together([north, ended(4, "north", 1_000_500)])] == [4]
    going_on = replace(north, round=replace(north.round, ended_ms=None))
    assert ended_together([going_on]) == ()


def test_a_round_is_due_where_eggs_lie_until_somebody_begins_one(bench: Bench) -> None:
    bench.clutch("Juniper", N1, days_ago=20)
    every_ms = round(bench.site.care.round_every_days * DAY_MS)

    def due() -> tuple[RoundDue, ...]:
        with bench.journal.read() as conn:
            return rounds_due_now(conn, bench.site, register.clutches(conn), bench.now_ms)

    assert due() == (RoundDue("north", "North cabinet", START_MS - 20 * DAY_MS + every_ms),)
    view = due_view(due(), bench.now_ms, UTC)
    assert view is not None
    assert view.text.startswith("A round is due: North cabinet since ")
    number = bench.start("north")
    assert due() == ()
    bench.enter(number, entry(1, N1))
    bench.desk.finish(number, "ana")
    assert due() == ()
    bench.now_ms += every_ms
    assert [each.incubator for each in due()] == ["north"]
    assert due_view((), START_MS, UTC) is None


def test_a_long_note_is_cut_and_a_quiet_round_says_so() -> None:
    found = LastRound((1, 2), ("A", "B", "C"), "Ben", START_MS, 1, 1, 0, 0, 2, "word " * 100)
    view = last_round_view(found, START_MS, UTC)
    assert view is not None
    assert view.text == "A, B and 1 more, by Ben: 1 of 1 box seen, no egg removed, 2 photos."
    assert len(view.note) <= LONGEST_SHOWN
    assert view.note.endswith("…")
    assert view.path == "/rounds/1,2/summary"


def test_a_wet_lid_is_among_what_is_to_be_seen_sooner_in_the_summary_and_at_the_hand_over(bench: Bench) -> None:
    for label, place in (("Clover", S1), ("Sorrel", S2)):
        bench.clutch(label, place)
    number = bench.start("south")
    bench.enter(number, entry(1, S1, lid=Lid.BEADS))
    bench.enter(number, entry(2, S2, lid=Lid.DRIPPING, wiped=True))
    bench.desk.finish(number, "ana")
    summary = bench.desk.summary(number)
    assert summary is not None
    assert {each.stop.key: each.why for each in summary.sooner} == {
        S1: ("beads of water on the lid",),
        S2: ("the lid was dripping",),
    }
    bench.now_ms += HOUR_MS
    sheets = BoxSheets(bench.site, bench.profiles, 1_800_000)
    with bench.journal.read() as conn:
        stops = sheets.stops(conn, bench.now_ms, ["south"])
        read = sheets.read(conn, stops, bench.now_ms)
    seen = [Seen(each, read[each.key], need_of(read[each.key], CareTimes(7, 7), UTC)) for each in stops]
    assert {each.label: each.others for each in boxes_of(seen)} == {
        "Clover": ("beads of water on the lid last time",),
        "Sorrel": ("the lid was dripping last time, wiped",),
    }


def test_a_box_of_which_medium_or_lid_was_not_said_is_named_in_the_summary(bench: Bench) -> None:
    bench.clutch("Clover", S1)
    bench.clutch("Cobra", S2, venomous=True)
    number = bench.start("south")
    bench.enter(number, entry(1, S1, eggs=(eggs(MOULD, "1"),)))
    # What is seen through the lid alone says nothing of the medium, and need not.
    bench.enter(number, entry(2, S2, all_well=True, through_lid=True))

    def half_said() -> list[str]:
        found = bench.desk.summary(number)
        assert found is not None
        return [each.label for each in found.half_said]

    assert half_said() == ["Clover"]
    bench.enter(number, entry(3, S1, medium=Medium.CLUMPS))
    assert half_said() == ["Clover"]
    bench.enter(number, entry(4, S1, lid=Lid.DRY))
    assert half_said() == []
