"""A box that is to be seen sooner is due then everywhere, with the reason, until it is seen again.

What is on watch is looked at three days after the end of the round, what is dry one day after (project choices:
AGAIN_LATER_DAYS, AGAIN_SOON_DAYS in daemon/rounds/summary.py).
"""

from collections.abc import Sequence
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from daemon.calendar_feed import Kind
from daemon.calendar_feed_entries import check_entries
from daemon.clutch_record import ClutchRecords
from daemon.clutches import register
from daemon.clutches.egg_changes import say_of_eggs
from daemon.clutches.eggs import EggState, Stated
from daemon.hand_over_sheet import due_of
from daemon.round_boxes import RoundBoxes
from daemon.round_sooner import SoonerChecks
from daemon.rounds.summary import BoxOfRound, Sooner
from daemon.rounds.values import Medium
from daemon.rounds_now import due_by
from dashboards.clutch_eggs import check_mark
from dashboards.clutch_json import clutch_record_json
from dashboards.hand_over_lines import due_lines
from dashboards.rounds_start import summary_view
from tests.rounds.bench import DAY_MS, N1, S1, S2, WATCH, Bench, eggs, entry
from tests.support.household import MINUTE_MS

UTC = ZoneInfo("UTC")
ON_WATCH = ("1 egg on watch",)


def a_round(bench: Bench, number: int, *entries: object) -> int:
    """A round of ten minutes with these entries; gives when it ended."""
    walk = bench.start("south")
    for each in entries:
        bench.enter(walk, each)  # type: ignore[arg-type]
    bench.now_ms += 10 * MINUTE_MS
    bench.desk.finish(walk, "ana")
    assert walk == number
    return bench.now_ms


def records(bench: Bench) -> ClutchRecords:
    return ClutchRecords(bench.journal, bench.site, bench.profiles, 1800)


def checks(bench: Bench, reader: ClutchRecords | None = None) -> dict[int, tuple[int | None, Sequence[str]]]:
    told = (reader or records(bench)).told(bench.now_ms)
    return {number: (each.next_check_ms, each.why) for number, each in told.items()}


def sooner(bench: Bench) -> list[Sooner]:
    reader = SoonerChecks(bench.site, bench.profiles, 1800.0)
    with bench.journal.read() as conn:
        lying = register.clutches(conn)
        return list(
            reader.read(conn, lying, due_by(conn, bench.site, lying, bench.now_ms).clutches_ms, bench.now_ms).values()
        )


def test_the_pages_of_all_clutches_read_what_a_round_found_once(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    numbers = [bench.clutch("Clover", S1), bench.clutch("Sorrel", S2)]
    a_round(bench, 1, entry(1, S1, eggs=(eggs(WATCH, "4"),)), entry(2, S2))
    read, asked = RoundBoxes.of_round, []

    def counted(*given: Any) -> list[BoxOfRound]:
        asked.append(given)
        return read(*given)

    monkeypatch.setattr(RoundBoxes, "of_round", counted)
    reader = records(bench)
    for number in (*numbers, *numbers):
        record = reader.one(number, bench.now_ms)
        assert record is not None
        assert (record.told.why == ON_WATCH) is (number == numbers[0])
    assert len(asked) == 1
    # What is entered later is read by whoever asks next, and serves the others too.
    bench.enter(1, entry(3, S2, eggs=(eggs(WATCH, "1"),)))
    assert [reader.one(number, bench.now_ms).told.why for number in numbers] == [ON_WATCH, ON_WATCH]  # type: ignore[union-attr]
    assert len(asked) == 2


def test_the_list_and_the_page_and_programs_are_told_the_earlier_day_and_why(bench: Bench) -> None:
    clover, sorrel = bench.clutch("Clover", S1), bench.clutch("Sorrel", S2)
    ended_ms = a_round(bench, 1, entry(1, S1, eggs=(eggs(WATCH, "4"),)), entry(2, S2))
    found = checks(bench)
    assert found == {clover: (ended_ms + 3 * DAY_MS, ON_WATCH), sorrel: (ended_ms + 7 * DAY_MS, ())}
    summary = bench.desk.summary(1)
    assert summary is not None
    assert [(each.stop.label, each.at_ms, each.why) for each in summary.sooner] == [("Clover", *found[clover])]
    record = records(bench).one(clover, bench.now_ms)
    assert record is not None
    assert (record.told.next_check_ms, record.told.why) == found[clover]
    told = clutch_record_json(record)
    assert (told.next_check_ms, told.next_check_why) == (found[clover][0], list(ON_WATCH))
    # The round began on 28 May 2026 at 20:26 UTC.
    mark = check_mark(record.told, bench.now_ms, UTC)
    assert mark is not None
    assert mark.word.replace("\u00a0", " ") == "next check 31 May: 1 egg on watch"
    late = check_mark(record.told, bench.now_ms + 4 * DAY_MS, UTC)
    assert late is not None
    assert late.word.replace("\u00a0", " ") == "check was due 31 May: 1 egg on watch"


def test_it_stays_until_the_box_is_seen_again_and_no_longer(bench: Bench) -> None:
    clover, reader = bench.clutch("Clover", S1), records(bench)
    bench.clutch("Sorrel", S2)
    first_ms = a_round(bench, 1, entry(1, S1, medium=Medium.DRY), entry(2, S2))
    dry = (first_ms + DAY_MS, ("felt dry, and no water was added"))
    assert checks(bench, reader)[clover] == (dry[0], ("felt dry, and no water was added",))
    # Neither a round without a word of it, nor one that left it out, has seen it.
    bench.now_ms += DAY_MS
    a_round(bench, 2, entry(3, S2))
    a_round(bench, 3, entry(4, S1, skipped="lid stuck"))
    assert checks(bench, reader)[clover] == (dry[0], ("felt dry, and no water was added",))
    last_ms = a_round(bench, 4, entry(5, S1))
    assert checks(bench, reader)[clover] == (last_ms + 7 * DAY_MS, ())


def test_an_egg_that_is_sound_again_and_a_closed_clutch_ask_for_nobody(bench: Bench) -> None:
    clover, reader = bench.clutch("Clover", S1), records(bench)
    ended_ms = a_round(bench, 1, entry(1, S1, eggs=(eggs(WATCH, "4"),)))
    assert checks(bench, reader)[clover] == (ended_ms + 3 * DAY_MS, ON_WATCH)
    bench.now_ms += DAY_MS
    walk = bench.start("south")
    bench.enter(walk, entry(2, S1, eggs=(eggs(Stated(EggState.SOUND), "4"),)))
    # The round goes on: the day is that of the last one yet, and nothing is on watch any more.
    assert checks(bench, reader)[clover] == (ended_ms + 7 * DAY_MS, ())
    bench.desk.finish(walk, "ana")
    bench.journal.write(lambda conn: register.close_clutch(conn, clover, bench.now_ms, "ana", "", bench.now_ms))
    assert checks(bench, reader) == {}


def test_a_clutch_that_was_moved_since_keeps_its_day(bench: Bench) -> None:
    clover, reader = bench.clutch("Clover", S1), records(bench)
    ended_ms = a_round(bench, 1, entry(1, S1, eggs=(eggs(WATCH, "4"),)))
    before = checks(bench, reader)
    bench.now_ms += MINUTE_MS
    bench.journal.write(
        lambda conn: register.move_clutch(conn, clover, "south/deep", bench.now_ms, "ana", "", bench.now_ms)
    )
    assert checks(bench, reader) == before == {clover: (ended_ms + 3 * DAY_MS, ON_WATCH)}
    # Whoever is sent there is sent to where it lies by now.
    assert [each.stop.whole_name for each in sooner(bench)] == ["South cabinet, deep shelf"]


def test_what_was_said_of_eggs_after_the_round_counts_from_then(bench: Bench) -> None:
    clover = bench.clutch("Clover", S1)
    ended_ms = a_round(bench, 1, entry(1, S1))
    bench.now_ms += 2 * DAY_MS
    for stated, egg in ((WATCH, "2"), (Stated(EggState.PIPPED), "3")):
        bench.journal.write(
            lambda conn, stated=stated, egg=egg: say_of_eggs(  # type: ignore[misc]
                conn, clover, stated, (egg,), bench.now_ms, "ana", bench.now_ms
            )
        )
    assert checks(bench) == {clover: (ended_ms + 3 * DAY_MS, ("1 egg pipped", "1 egg on watch"))}
    summary = bench.desk.summary(1)
    assert summary is not None
    assert [each.at_ms for each in summary.sooner] == [ended_ms + 3 * DAY_MS]


def test_of_two_rounds_at_once_the_later_look_counts(bench: Bench) -> None:
    clover = bench.clutch("Clover", S1)
    north = bench.start("north", "south")
    bench.enter(north + 1, entry(1, S1))
    bench.now_ms += MINUTE_MS
    bench.journal.write(lambda conn: register.move_clutch(conn, clover, N1, bench.now_ms, "ana", "", bench.now_ms))
    bench.now_ms += MINUTE_MS
    bench.enter(north, entry(2, N1, medium=Medium.DRY))
    for each in (north, north + 1):
        bench.desk.finish(each, "ana")
    assert [each.why for each in sooner(bench)] == [("felt dry, and no water was added",)]
    # So does one in a round that is begun later.
    bench.now_ms += DAY_MS
    later = bench.start("north")
    bench.enter(later, entry(3, N1))
    bench.desk.finish(later, "ana")
    assert sooner(bench) == []


def test_the_hand_over_and_the_calendar_have_it_as_an_entry_of_its_own(bench: Bench) -> None:
    cobra = bench.clutch("Cobra <b>", S1, venomous=True)
    bench.clutch("Sorrel", S2)
    ended_ms = a_round(bench, 1, entry(1, S1, through_lid=True, eggs=(eggs(WATCH, "4"),)), entry(2, S2))
    those = sooner(bench)
    due = due_of({"south": ended_ms + 7 * DAY_MS}, {"south": "South cabinet"}, those, [], bench.now_ms)
    assert [(each.what, each.at_ms, each.why, each.venomous) for each in due] == [
        ("Look at Cobra <b>", ended_ms + 3 * DAY_MS, "1 egg on watch", True),
        ("Round: South cabinet", ended_ms + 7 * DAY_MS, "", False),
    ]
    line, round_line = due_lines(due, UTC, bench.now_ms)
    assert line.text.startswith("Trained handlers only. ")
    assert line.text.endswith(": 1 egg on watch.")
    assert (line.mark is not None, round_line.mark) == (True, None)
    [shown] = check_entries(those, UTC)
    assert (shown.key, shown.kind, shown.summary) == (f"check/{cobra}", Kind.ROUND, "Look at Cobra <b>")
    assert shown.first_day == shown.last_day == date(2026, 5, 31)
    assert shown.description.startswith("Venomous: trained handlers only. South cabinet, low shelf, box S1: 1 egg on w")


def test_the_summary_marks_a_venomous_box_among_those_to_see_sooner(bench: Bench) -> None:
    bench.clutch("Cobra", S1, venomous=True)
    bench.clutch("Sorrel", S2)
    a_round(bench, 1, entry(1, S1, through_lid=True, eggs=(eggs(WATCH, "4"),)), entry(2, S2, medium=Medium.DRY))
    found = bench.desk.summary(1)
    assert found is not None
    [part] = [each for each in summary_view(found, "South", UTC).parts if each.heading == "Boxes to see sooner"]
    assert [line.partition(" ")[0] for line in part.lines] == ["Sorrel", "Cobra"]
    assert part.venomous == (1,)
