"""Where a round begins, who goes on with it, and what its end lifts and sums up."""

from daemon.clutches.eggs import EggState, Stated
from daemon.round_desk import Started
from daemon.rounds.summary import Summary
from daemon.rounds.values import EggsSeen, Refused, Where
from daemon.storage import rounds
from tests.rounds.bench import DAY_MS, MOULD, N1, S1, S2, START_MS, WATCH, Bench, eggs, entry
from tests.support.household import MINUTE_MS


def test_a_round_through_all_incubators_walks_them_as_they_stand_in_the_site_file(bench: Bench) -> None:
    bench.clutch()
    bench.clutch("Clover", S2)
    started = bench.desk.start("ana")
    assert isinstance(started, Started)
    assert [each.round.incubator for each in started.rounds] == ["north", "south", "third"]
    walk = bench.desk.walk()
    assert [each.stop.key for each in walk.boxes] == [N1, S1, S2, "third/mid/T1"]
    assert [each.stop.is_empty for each in walk.boxes] == [False, True, False, True]
    following = walk.after(N1)
    assert following is not None
    assert following.stop.key == S2


def test_all_incubators_or_none_are_started(bench: Bench) -> None:
    bench.start("south")
    refused = bench.desk.start("ben", ("north", "south"))
    assert isinstance(refused, Refused)
    assert "started by ana" in refused.reason
    assert [each.round.incubator for each in bench.desk.running()] == ["south"]
    unknown = bench.desk.start("ben", ("nrth",))
    assert isinstance(unknown, Refused)
    assert 'Did you mean "north"?' in unknown.hint


def test_the_round_is_gone_on_with_by_somebody_else_and_summed_up(bench: Bench) -> None:
    bench.clutch("Clover", S1)
    bench.clutch("Sorrel", S2)
    number = bench.start("south", who="ana")
    seen = (eggs(MOULD, "2"), eggs(WATCH, "4"), EggsSeen(Stated(EggState.PIPPED), 1))
    bench.enter(number, entry(1, S1, who="ana", water_ml=40.0, water_where=Where.EDGES, eggs=seen))
    bench.now_ms += 12 * MINUTE_MS
    bench.enter(number, entry(2, S2, who="ben", skipped="lid stuck"))
    done = bench.desk.finish(number, "ben", "cold hands")
    assert isinstance(done, Summary)
    assert (done.boxes, done.seen, done.water_ml, done.duration_ms) == (2, 1, 40.0, 12 * MINUTE_MS)
    assert [(each.words, each.names) for each in done.removed] == [("removed: mould", ("2",))]
    assert [(each.stop.key, each.names) for each in done.on_watch] == [(S1, ("4",))]
    assert [(each.stop.key, each.why, each.who) for each in done.skipped] == [(S2, "lid stuck", "ben")]
    assert done.not_seen == ()
    [sooner] = done.sooner
    # A pipped egg is looked at the next day, one on watch after three: project choices.
    assert (sooner.stop.key, sooner.at_ms) == (S1, bench.now_ms + DAY_MS)
    assert any("pipped" in why for why in sooner.why)
    assert any("on watch" in why for why in sooner.why)
    assert done.next_due_ms == bench.now_ms + 7 * DAY_MS
    again = bench.desk.finish(number, "ana")
    assert isinstance(again, Refused)
    assert "ended by ben" in again.reason


def test_figures_end_where_the_round_begins(bench: Bench) -> None:
    """The air of an open box is no air of the box."""
    bench.clutch()
    bench.start()
    bench.now_ms += 10 * MINUTE_MS
    view = bench.desk.sheet(N1)
    assert view is not None
    assert view.sheet.until_ms == START_MS


def test_every_incubator_says_what_goes_on_and_when_a_round_is_due(bench: Bench) -> None:
    bench.clutch(days_ago=3)
    bench.start()
    north, south, _ = bench.desk.incubators()
    assert (north.going_on is not None, north.clutches, north.due_ms) == (True, 1, START_MS + 4 * DAY_MS)
    assert (south.going_on, south.boxes, south.due_ms) == (None, 2, None)


def test_ending_a_round_lifts_what_it_held_back(bench: Bench) -> None:
    """The settle time of 15 min is a project choice (daemon/alarms/round_suppression.py)."""
    bench.clutch()
    number = bench.start()
    bench.now_ms += 5 * MINUTE_MS
    bench.desk.finish(number, "ana")
    assert bench.desk.running() == ()
    with bench.journal.read() as conn:
        [found] = rounds.not_settled(conn, bench.now_ms)
    assert found.told_again_ms == bench.now_ms + 15 * MINUTE_MS
