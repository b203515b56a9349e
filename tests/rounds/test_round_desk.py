"""A round from its start to its summary, on a real journal."""

from dataclasses import replace
from itertools import permutations

import pytest

from daemon.clutches import register
from daemon.clutches.eggs import EggState
from daemon.rounds.need import NeedClass
from daemon.rounds.summary import Summary
from daemon.rounds.values import Already, Clock, EggsSeen, Lid, Medium
from daemon.rounds.walk import Done
from tests.rounds.bench import DAY_MS, HOUR_MS, MOULD, N1, S1, S2, START_MS, WATCH, Bench, eggs, entry
from tests.support.household import MINUTE_MS


def test_a_box_without_findings_is_one_entry_that_states_what_it_says(bench: Bench) -> None:
    bench.clutch()
    number = bench.start()
    bench.enter(number, entry(1))
    view = bench.desk.sheet(N1)
    assert view is not None
    assert view.state is not None
    assert (view.state.medium, view.state.lid, view.state.looked_at_eggs) == (Medium.CLUMPS, Lid.DRY, True)
    assert view.state.all_well
    assert view.all_well == "Medium clumps, lid dry, eggs looked at, nothing found."
    [walked] = bench.desk.walk().boxes
    assert walked.done is Done.SEEN


def test_what_is_sent_twice_is_stored_once(bench: Bench) -> None:
    bench.clutch()
    number = bench.start()
    one = entry(1, eggs=(eggs(MOULD, "3"),))
    stored = bench.enter(number, one)
    assert bench.desk.enter(number, one) == Already(stored.finding.number)
    assert bench.rows("SELECT count(*) FROM box_finding") == [(1,)]
    assert bench.rows("SELECT egg, what, reason FROM egg_event") == [(3, "removed", "mould")]
    other = bench.refused(number, replace(one, remark="other words"))
    assert other.field == "entry_id"


def test_the_register_and_the_entry_stand_or_fall_together(bench: Bench) -> None:
    """Egg 3 can be removed, egg 9 of eight eggs cannot: nothing of it is stored."""
    bench.clutch()
    number = bench.start()
    refused = bench.refused(number, entry(1, medium=Medium.DRY, eggs=(eggs(MOULD, "3"), eggs(WATCH, "9"))))
    assert (refused.field, "has no egg '9'" in refused.reason) == ("eggs", True)
    assert bench.rows("SELECT count(*) FROM box_finding") == [(0,)]
    assert bench.rows("SELECT count(*) FROM egg_event") == [(0,)]


def test_what_was_queued_is_kept_also_where_the_register_takes_nothing_of_its_eggs(bench: Bench) -> None:
    bench.clutch()
    number = bench.start()
    bench.enter(number, entry(1, eggs=(eggs(MOULD, "3"),)))
    stored = bench.enter(number, entry(2, who="ben", water_ml=40.0, eggs=(eggs(WATCH, "3"),)), queued=True)
    assert "Not taken of Juniper: on watch" in stored.said[0]
    view = bench.desk.sheet(N1)
    assert view is not None
    assert view.state is not None
    assert view.state.water_ml == 40.0
    assert [each.seen.stated.state for each in view.state.not_taken] == [EggState.WATCH]
    done = bench.desk.finish(number, "ana")
    assert isinstance(done, Summary)
    assert [each.names for each in done.not_taken] == [("3",)]


def test_a_correction_takes_the_place_of_an_entry_and_of_what_it_said_of_eggs(bench: Bench) -> None:
    bench.clutch()
    number = bench.start()
    bench.enter(number, entry(1, water_ml=400.0, eggs=(eggs(MOULD, "3"),)))
    bench.now_ms += MINUTE_MS
    bench.enter(number, entry(2, water_ml=40.0, corrects=entry(1).entry_id, eggs=(eggs(WATCH, "3"),)))
    view = bench.desk.sheet(N1)
    assert view is not None
    assert view.state is not None
    assert view.sheet.clutch is not None
    assert (view.state.water_ml, len(view.state.findings)) == (40.0, 2)
    assert (view.sheet.clutch.counts.lost, view.sheet.clutch.watched) == (0, ("3",))
    assert bench.refused(number, entry(3, remark="again", corrects=entry(1).entry_id)).field == "corrects"
    bench.enter(number, entry(4, corrects=entry(2).entry_id, who="ana", remark=""))
    view = bench.desk.sheet(N1)
    assert view is not None
    assert view.state is not None
    assert view.sheet.clutch is not None
    assert (view.state.at_ms, view.state.water_ml, view.sheet.clutch.counts.watch) == (0, 0, 0)


def test_a_correction_for_another_box_is_refused(bench: Bench) -> None:
    bench.clutch("Clover", S1)
    bench.clutch("Sorrel", S2)
    number = bench.start("south")
    bench.enter(number, entry(1, S1))
    assert bench.refused(number, entry(2, S2, medium=Medium.WET, corrects=entry(1).entry_id)).field == "corrects"


def test_two_people_on_one_box_are_both_kept_and_the_later_word_counts(bench: Bench) -> None:
    bench.clutch()
    number = bench.start(who="ana")
    bench.enter(number, entry(1, who="ana", medium=Medium.DRY, lid=Lid.BEADS))
    bench.now_ms += 3 * MINUTE_MS
    bench.enter(number, entry(2, who="ben", medium=Medium.WET, water_ml=None))
    view = bench.desk.sheet(N1)
    assert view is not None
    assert view.state is not None
    assert (view.state.medium, view.state.lid, view.state.who) == (Medium.WET, Lid.BEADS, ("ana", "ben"))
    [one] = view.state.disagreements
    assert (one.what, one.earlier_who, one.later_who) == ("medium", "ana", "ben")


def test_an_entry_that_comes_after_the_end_is_taken_and_marked(bench: Bench) -> None:
    bench.clutch()
    number = bench.start()
    made_ms = bench.now_ms + 5 * MINUTE_MS
    bench.now_ms += 20 * MINUTE_MS
    assert isinstance(bench.desk.finish(number, "ben"), Summary)
    bench.now_ms += 2 * HOUR_MS
    stored = bench.enter(number, entry(1, made_ms=made_ms, all_well=True), queued=True)
    assert (stored.finding.late, stored.finding.at_ms) == (True, made_ms)
    done = bench.desk.summary(number)
    assert done is not None
    assert (done.late, done.seen, done.not_seen) == (1, 1, ())


def test_a_clock_that_is_wrong_is_told_and_the_time_of_arrival_counts(bench: Bench) -> None:
    bench.clutch()
    number = bench.start()
    bench.now_ms += 10 * MINUTE_MS
    for seq, made_ms in enumerate((bench.now_ms + HOUR_MS, START_MS - DAY_MS), start=1):
        stored = bench.enter(number, entry(seq, made_ms=made_ms, remark="seen"))
        assert stored.finding.at_ms == bench.now_ms
        assert stored.finding.clock is (Clock.AHEAD if seq == 1 else Clock.BEFORE_THE_ROUND)
        assert "Set the clock" in stored.said[0]


def test_a_clutch_on_a_shelf_without_a_box_is_a_stop_of_its_own(bench: Bench) -> None:
    first = bench.clutch("Clover", "south/deep")
    second = bench.clutch("Sorrel", "south/deep")
    number = bench.start("south")
    keys = [each.stop.key for each in bench.desk.walk().boxes]
    assert keys == [S1, S2, f"south/deep@{first}", f"south/deep@{second}"]
    bench.enter(number, entry(1, f"south/deep@{second}", eggs=(eggs(WATCH, "1"),)))
    assert bench.rows("SELECT clutch_id FROM egg_event") == [(second,)]
    assert bench.refused(number, entry(2, "south/deep")).field == "box"
    assert bench.refused(number, entry(3, "south/deep@77")).field == "box"


def test_a_box_of_another_incubator_or_none_at_all_is_refused(bench: Bench) -> None:
    bench.clutch()
    number = bench.start()
    for box in (S1, "north/upper/N9", "", "north"):
        assert bench.refused(number, entry(1, box, remark="seen")).field == "box"
    assert bench.refused(99, entry(1)).field == "round"
    assert bench.desk.sheet("north/upper/N9") is None


def test_of_an_empty_box_no_eggs_can_be_told(bench: Bench) -> None:
    number = bench.start()
    assert bench.refused(number, entry(1)).field == "eggs"
    assert bench.refused(number, entry(1, eggs=(EggsSeen(WATCH, 1),))).field == "eggs"
    bench.enter(number, entry(1, remark="cleaned"))


def test_what_was_found_last_time_is_shown_next_time_and_ranks_the_box(bench: Bench) -> None:
    bench.clutch("Clover", S1)
    bench.clutch("Sorrel", S2)
    number = bench.start("south")
    bench.enter(number, entry(1, S1))
    bench.enter(number, entry(2, S2, medium=Medium.DRY, remark="felt like dust"))
    bench.desk.finish(number, "ana")
    looked_ms = bench.now_ms
    bench.now_ms += 3 * DAY_MS
    bench.start("south")
    walk = bench.desk.walk()
    assert [each.stop.key for each in walk.by_need] == [S2, S1]
    assert walk.by_need[0].need.kind is NeedClass.DRYING
    assert [each.stop.key for each in walk.short] == [S2]
    view = bench.desk.sheet(S2)
    assert view is not None
    assert view.sheet.last is not None
    assert (view.sheet.last.medium, view.sheet.last.remarks[0].text) == (Medium.DRY, "felt like dust")
    assert (view.sheet.since_ms, view.state) == (looked_ms, None)


def test_another_clutch_in_the_box_has_no_part_in_what_was_found_before(bench: Bench) -> None:
    bench.clutch("Clover", S1)
    number = bench.start("south")
    bench.enter(number, entry(1, S1, medium=Medium.WET))
    bench.desk.finish(number, "ana")
    bench.now_ms += DAY_MS
    clover = bench.rows("SELECT clutch_id FROM clutch")[0][0]
    assert isinstance(clover, int)
    bench.journal.write(lambda conn: register.close_clutch(conn, clover, bench.now_ms, "ana", "", bench.now_ms))
    bench.now_ms += 2 * DAY_MS
    bench.clutch("Sorrel", S1, days_ago=-2, laid_from_ms=START_MS, laid_to_ms=START_MS)
    view = bench.desk.sheet(S1)
    assert view is not None
    assert view.sheet.clutch is not None
    assert (view.sheet.clutch.label, view.sheet.last, view.sheet.since_why) == ("Sorrel", None, "the clutch came here")


@pytest.mark.parametrize("order", list(permutations(range(4)))[::5])
def test_the_order_of_arrival_changes_nothing_of_what_stands(bench: Bench, order: tuple[int, ...]) -> None:
    bench.clutch()
    number = bench.start()
    bench.now_ms += 20 * MINUTE_MS
    sent = [
        entry(1, medium=Medium.DRY, water_ml=400.0, made_ms=START_MS + MINUTE_MS),
        entry(2, water_ml=40.0, corrects=entry(1).entry_id, made_ms=START_MS + 2 * MINUTE_MS),
        entry(3, who="ben", lid=Lid.BEADS, wiped=True, made_ms=START_MS + 3 * MINUTE_MS),
        entry(4, who="ben", medium=Medium.CLUMPS, eggs=(eggs(WATCH, "2"),), made_ms=START_MS + 4 * MINUTE_MS),
    ]
    for index in (*order, *order[:2]):
        bench.desk.enter(number, sent[index], queued=True)
    view = bench.desk.sheet(N1)
    assert view is not None
    assert view.state is not None
    assert view.sheet.clutch is not None
    state = view.state
    assert (state.medium, state.lid, state.wiped, state.water_ml) == (Medium.CLUMPS, Lid.BEADS, True, 40.0)
    assert [each.entry.entry_id for each in state.findings] == [each.entry_id for each in sent]
    assert view.sheet.clutch.watched == ("2",)
