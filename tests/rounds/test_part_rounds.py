"""A round that was ended early, or by mistake, leaves due what nobody looked at."""

from dataclasses import replace

from config.check import check_site
from daemon.clutches import register
from daemon.round_seen import seen_by_incubator
from daemon.rounds.state import says_anything, state_of
from daemon.rounds.summary import Summary
from daemon.rounds.values import Medium
from tests.rounds.bench import DAY_MS, N1, S1, S2, START_MS, Bench, entry
from tests.support.household import MINUTE_MS

_WELL: dict[str, object] = {"all_well": True}
_SAID: tuple[dict[str, object], ...] = (_WELL, {"skipped": "lid stuck"}, {"remark": "smells"}, {"water_ml": 20.0})
EVERY_MS = 7 * DAY_MS
CAME_MS = START_MS - 20 * DAY_MS


def due_ms(bench: Bench, incubator: str = "south") -> int | None:
    return next(each.due_ms for each in bench.desk.incubators() if each.incubator == incubator)


def finish(bench: Bench, number: int) -> Summary:
    bench.now_ms += 10 * MINUTE_MS
    done = bench.desk.finish(number, "ana")
    assert isinstance(done, Summary)
    return done


def two(bench: Bench) -> None:
    bench.clutch("Clover", S1)
    bench.clutch("Sorrel", S2)


def test_a_round_ended_by_mistake_moves_nothing(bench: Bench) -> None:
    two(bench)
    number = bench.start("south")
    done = bench.desk.finish(number, "ana")
    assert isinstance(done, Summary)
    assert (done.seen, done.boxes, done.next_due_ms) == (0, 2, CAME_MS + EVERY_MS)
    assert due_ms(bench) == CAME_MS + EVERY_MS


def test_two_part_rounds_are_a_whole_one_and_the_first_of_them_tells_when_the_next_is_due(bench: Bench) -> None:
    two(bench)
    first = bench.start("south")
    bench.enter(first, entry(1, S1))
    assert finish(bench, first).next_due_ms == CAME_MS + EVERY_MS
    first_ms = bench.now_ms
    bench.now_ms += DAY_MS
    second = bench.start("south")
    bench.enter(second, entry(2, S2))
    # While it goes on its summary says what would be due if it were ended now.
    going = bench.desk.summary(second)
    assert going is not None
    assert (going.next_due_ms, due_ms(bench)) == (first_ms + EVERY_MS, CAME_MS + EVERY_MS)
    assert finish(bench, second).next_due_ms == first_ms + EVERY_MS


def test_what_was_left_out_with_a_reason_counts_and_what_was_taken_back_does_not(bench: Bench) -> None:
    two(bench)
    number = bench.start("south")
    bench.enter(number, entry(1, S1, skipped="hatching, not to be opened"))
    bench.enter(number, entry(2, S2))
    bench.enter(number, replace(entry(3, S2), all_well=False, corrects=entry(2, S2).entry_id))
    assert finish(bench, number).next_due_ms == CAME_MS + EVERY_MS
    with bench.journal.read() as conn:
        here = seen_by_incubator(conn, bench.site, register.clutches(conn), bench.now_ms)["south"]
    assert {each.label: each.at_ms for each in here} == {"Clover": bench.now_ms, "Sorrel": CAME_MS}
    # What is written down again after the end counts with its round.
    bench.enter(number, entry(4, S2), queued=True)
    assert due_ms(bench) == bench.now_ms + EVERY_MS


def test_the_round_before_one_that_was_taken_back_counts(bench: Bench) -> None:
    bench.clutch()
    first = bench.start()
    bench.enter(first, entry(1, N1))
    finish(bench, first)
    first_ms = bench.now_ms
    for number in range(2, 12, 2):
        bench.now_ms += DAY_MS
        later = bench.start()
        bench.enter(later, entry(number, N1))
        bench.enter(later, replace(entry(number + 1, N1), all_well=False, corrects=entry(number, N1).entry_id))
        finish(bench, later)
    assert due_ms(bench, "north") == first_ms + EVERY_MS


def test_a_box_is_to_be_seen_sooner_by_its_own_day_and_not_by_that_of_another(bench: Bench) -> None:
    """Sorrel is due since long; that Clover felt dry is told all the same."""
    two(bench)
    number = bench.start("south")
    bench.enter(number, entry(1, S1, medium=Medium.DRY))
    done = finish(bench, number)
    assert done.next_due_ms is not None
    assert done.next_due_ms < bench.now_ms
    assert [(each.stop.label, each.at_ms) for each in done.sooner] == [("Clover", bench.now_ms + DAY_MS)]


def test_whether_anything_stands_is_told_as_the_whole_state_tells_it(bench: Bench) -> None:
    """Property: over all pairs of entries that say something, nothing, or take the first back."""
    bench.clutch()
    number, found = bench.start(), []
    for index, more in enumerate(_SAID):
        kept = bench.enter(number, entry(3 * index + 1, N1, "ana", **more)).finding
        back = bench.enter(number, replace(entry(3 * index + 2, N1), all_well=False, corrects=kept.entry.entry_id))
        found += [[kept], [kept, back.finding], [back.finding, kept], [back.finding]]
    for those in [*found, *(one + other for one in found for other in found), []]:
        assert says_anything(those) is bool(state_of(N1, those).at_ms)
    assert {says_anything(those) for those in found} == {True, False}


def test_a_clutch_whose_place_is_gone_from_the_site_keeps_no_round_due(bench: Bench) -> None:
    two(bench)
    number = bench.start("south")
    bench.enter(number, entry(1, S1))
    bench.enter(number, entry(2, S2))
    finish(bench, number)
    file = bench.folder / "site.toml"
    file.write_text(file.read_text().replace('[[incubator.zone.box]]\nid = "S2"\nname = "the blue box"\n', ""))
    checked = check_site(bench.folder)
    assert checked.site is not None
    bench.site = checked.site
    bench.desk = bench.new_desk()
    bench.now_ms += EVERY_MS
    again = bench.start("south")
    bench.enter(again, entry(3, S1))
    assert finish(bench, again).next_due_ms == bench.now_ms + EVERY_MS == due_ms(bench)


def test_a_round_by_a_clock_that_was_ahead_puts_no_round_off(bench: Bench) -> None:
    bench.clutch("Clover", S1)
    first = bench.start("south")
    bench.enter(first, entry(1, S1))
    finish(bench, first)
    first_ms = bench.now_ms
    bench.now_ms += 400 * DAY_MS
    ahead = bench.start("south")
    bench.enter(ahead, entry(2, S1))
    finish(bench, ahead)
    bench.now_ms = first_ms + DAY_MS
    assert due_ms(bench) == first_ms + EVERY_MS
