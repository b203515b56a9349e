"""Clutches that are moved during a round or after it: what was said of one never becomes something of another."""

from daemon.clutches import corrections, register
from daemon.rounds.summary import Summary
from daemon.rounds.values import Entry, Photo, Refused
from daemon.rounds.walk import Done
from tests.clutches.house import now as eggs_now
from tests.rounds.bench import DAY_MS, HOUR_MS, MOULD, S1, S2, START_MS, Bench, eggs, entry, uuid
from tests.rounds.test_photos import picture
from tests.support.household import MINUTE_MS

LATE = "The round had been ended before this arrived"


def lost(bench: Bench, clutch: int) -> list[str]:
    with bench.journal.read() as conn:
        return [name for name, words in eggs_now(conn, clutch).items() if words == "removed: mould"]


def swap(bench: Bench, one: int, other: int) -> None:
    at_ms = bench.now_ms
    bench.journal.write(lambda conn: corrections.swap_clutches(conn, one, other, at_ms, "ana", "", at_ms))
    bench.now_ms += MINUTE_MS


def two(bench: Bench) -> tuple[int, int, int]:
    """Juniper in S1 and Basil in S2, and the number of a round there that has begun a minute ago."""
    pair = bench.clutch("Juniper", S1), bench.clutch("Basil", S2)
    number = bench.start("south")
    bench.now_ms += MINUTE_MS
    return (*pair, number)


def finish(bench: Bench, number: int) -> Summary:
    bench.now_ms += MINUTE_MS
    done = bench.desk.finish(number, "ana")
    assert isinstance(done, Summary)
    return done


def test_a_correction_is_about_the_clutch_that_the_entry_was_about(bench: Bench) -> None:
    juniper, basil, number = two(bench)
    first = bench.enter(number, entry(1, S1, eggs=(eggs(MOULD, "1", "2"),))).finding
    finish(bench, number)
    bench.now_ms += HOUR_MS
    swap(bench, juniper, basil)
    second = bench.enter(number, entry(2, S1, corrects=uuid(1), eggs=(eggs(MOULD, "1", "2", "3"),))).finding
    assert (lost(bench, juniper), lost(bench, basil)) == (["1", "2", "3"], [])
    assert (second.clutch_id, second.at_ms) == (juniper, first.at_ms)
    summed = bench.desk.summary(number)
    assert summed is not None
    assert [(each.stop.label, each.names) for each in summed.eggs] == [("Juniper", ("1", "2", "3"))]


def test_a_late_entry_is_about_what_lay_there_at_the_end_of_the_round(bench: Bench) -> None:
    juniper, basil, number = two(bench)
    finish(bench, number)
    ended_ms = bench.now_ms
    bench.now_ms += HOUR_MS
    swap(bench, juniper, basil)
    stored = bench.enter(number, entry(1, S1, eggs=(eggs(MOULD, "4"),)))
    assert (lost(bench, juniper), lost(bench, basil)) == (["4"], [])
    assert (stored.finding.at_ms, stored.finding.late) == (ended_ms, True)


def test_a_correction_days_later_does_not_make_the_last_look_a_later_one(bench: Bench) -> None:
    bench.clutch("Juniper", S1)
    number = bench.start("south")
    bench.now_ms += MINUTE_MS
    looked_ms = bench.enter(number, entry(1, S1, water_ml=400.0)).finding.at_ms
    finish(bench, number)
    bench.now_ms += 5 * DAY_MS
    bench.enter(number, entry(2, S1, water_ml=40.0, corrects=uuid(1)))
    view = bench.desk.sheet(S1)
    assert view is not None
    assert view.sheet.last is not None
    assert (view.sheet.since_ms, view.sheet.last_looked_ms, view.sheet.last.water_ml) == (looked_ms, looked_ms, 40.0)


def test_the_entry_of_a_clutch_on_a_shelf_can_be_taken_back_after_it_was_moved(bench: Bench) -> None:
    clutch = bench.clutch("Juniper", "south/low")
    number, key = bench.start("south"), f"south/low@{clutch}"
    bench.now_ms += MINUTE_MS
    bench.enter(number, entry(1, key, eggs=(eggs(MOULD, "1"),)))
    finish(bench, number)
    at_ms = bench.now_ms
    bench.journal.write(lambda conn: register.move_clutch(conn, clutch, S1, at_ms, "ana", "", at_ms))
    bench.now_ms += MINUTE_MS
    bench.enter(number, Entry(uuid(2), key, "ana", corrects=uuid(1)))
    assert lost(bench, clutch) == []


def test_a_slow_clock_and_a_swap_leave_the_eggs_to_people(bench: Bench) -> None:
    """It arrives after the swap, and its clock says that it was made before the round: it may be about either."""
    juniper, basil, number = two(bench)
    made_ms = bench.now_ms - 5 * MINUTE_MS
    bench.now_ms += 20 * MINUTE_MS
    swap(bench, juniper, basil)
    stored = bench.enter(number, entry(1, S1, made_ms=made_ms, eggs=(eggs(MOULD, "4"),)), queued=True)
    assert (lost(bench, juniper), lost(bench, basil)) == ([], [])
    assert "nobody knows which it is about" in stored.said[-1]


def test_with_the_clutch_that_the_page_showed_a_slow_clock_does_no_harm(bench: Bench) -> None:
    juniper, basil, number = two(bench)
    made_ms = bench.now_ms - 5 * MINUTE_MS
    bench.now_ms += 20 * MINUTE_MS
    swap(bench, juniper, basil)
    one = entry(1, S1, made_ms=made_ms, eggs=(eggs(MOULD, "4"),))
    bench.desk.enter(number, one, queued=True, clutch_id=juniper)
    assert (lost(bench, juniper), lost(bench, basil)) == (["4"], [])


def test_a_page_that_shows_another_clutch_than_lies_there_is_refused(bench: Bench) -> None:
    juniper, basil, number = two(bench)
    swap(bench, juniper, basil)
    one = entry(1, S1, eggs=(eggs(MOULD, "4"),))
    assert "another clutch" in str(bench.desk.enter(number, one, clutch_id=juniper))
    stored = bench.desk.enter(number, one, queued=True, clutch_id=juniper)
    assert "another clutch" in str(stored)
    assert (lost(bench, juniper), lost(bench, basil)) == ([], [])


def test_a_swap_during_the_round_takes_what_was_seen_along(bench: Bench) -> None:
    juniper, basil, number = two(bench)
    bench.enter(number, entry(1, S1, remark="fine"))
    swap(bench, juniper, basil)
    walked = {each.stop.key: (each.stop.label, each.done) for each in bench.desk.walk().boxes}
    assert walked == {S1: ("Basil", Done.OPEN), S2: ("Juniper", Done.SEEN)}
    views = [bench.desk.sheet(key) for key in (S1, S2)]
    assert [None if view is None else view.state is not None for view in views] == [False, True]
    # The entry was made at S1, and may be corrected where its clutch lies now.
    bench.enter(number, entry(2, S2, remark="one dented", corrects=uuid(1)))
    done = finish(bench, number)
    assert (done.seen, [each.label for each in done.not_seen]) == (1, ["Basil"])
    bench.now_ms += DAY_MS
    view = bench.desk.sheet(S1)
    assert view is not None
    assert (view.stop.label, view.sheet.last) == ("Basil", None)


def test_what_was_found_of_a_clutch_that_left_during_the_round_is_told_of_it(bench: Bench) -> None:
    juniper, _, number = two(bench)
    bench.enter(number, entry(1, S1, eggs=(eggs(MOULD, "1"),)))
    at_ms = bench.now_ms
    bench.journal.write(lambda conn: register.move_clutch(conn, juniper, "third/mid/T1", at_ms, "ana", "", at_ms))
    bench.now_ms += MINUTE_MS
    bench.clutch("Fig", S1, days_ago=(START_MS - at_ms) / DAY_MS)
    done = finish(bench, number)
    assert [(each.stop.label, each.names) for each in done.removed] == [("Juniper", ("1",))]
    assert [each.stop.key for each in bench.desk.walk([number]).boxes] == [S1, S2]


def test_a_key_with_a_number_that_no_journal_has_is_refused(bench: Bench) -> None:
    number = bench.start("south")
    for key in (f"south/low@{'9' * 30}", f"south/low@{'1' * 5000}"):
        assert bench.refused(number, entry(1, key)).field == "box"
        assert bench.desk.sheet(key) is None


def test_a_photo_is_of_the_clutch_that_stood_on_the_page_whatever_the_clock_of_the_phone_says(bench: Bench) -> None:
    juniper, basil, number = two(bench)
    made_ms = bench.now_ms
    bench.now_ms += MINUTE_MS
    swap(bench, juniper, basil)

    def photographed(photo: int, made_ms: int | None, shown: int | None, box: str = S1) -> int | None:
        done = bench.desk.add_photo(number, box, uuid(photo), picture(30, 20), "ana", made_ms=made_ms, shown=shown)
        assert isinstance(done, Photo), done
        return done.clutch_id

    assert photographed(1, made_ms, juniper) == juniper
    # The clock of the phone is an hour ahead: by the time of its arrival Basil lies there.
    assert photographed(2, made_ms + HOUR_MS, juniper) == juniper
    assert photographed(3, made_ms + HOUR_MS, None) == basil
    # A clutch that never lay there during the round, or is none at all, is not believed.
    assert photographed(4, made_ms, basil) == juniper
    assert photographed(5, made_ms, 99) == juniper
    assert photographed(6, made_ms, 0) == juniper
    refused = bench.desk.add_photo(number, "north/upper/N1", uuid(7), picture(30, 20), "ana", shown=juniper)
    assert isinstance(refused, Refused)
