"""What rounds found in the box of a clutch, and what was said of its eggs, among what happened to it."""

from daemon.clutch_record import ClutchRecords
from daemon.clutch_record_values import ClutchRecord
from daemon.clutches.desk import RegisterDesk
from daemon.rounds.values import Lid, Medium, Where
from dashboards.clutch_page import PHOTOS_OPEN, clutch_page_view
from tests.rounds.bench import DAY_MS, HOUR_MS, MOULD, N1, S1, START_MS, Bench, eggs, entry, uuid
from tests.rounds.test_photos import picture


def record(bench: Bench, number: int) -> ClutchRecord:
    found = ClutchRecords(bench.journal, bench.site, bench.profiles, 1800).one(number, bench.now_ms)
    assert found is not None
    return found


def told(bench: Bench, number: int) -> list[tuple[str, str, str]]:
    events = record(bench, number).events
    return [(each.kind, each.what, each.why) for each in events if each.kind in ("found", "eggs")]


def test_what_was_found_and_what_became_of_eggs_stand_there_in_words(bench: Bench) -> None:
    number = bench.clutch()
    walk = bench.start(who="ana")
    first = entry(
        1,
        medium=Medium.CLUMPS,
        lid=Lid.BEADS,
        wiped=True,
        water_ml=25.0,
        water_where=Where.EDGES,
        eggs=(eggs(MOULD, "3"),),
    )
    bench.enter(walk, first)
    bench.enter(walk, entry(2, who="ben", remark="N1 smells a little"))
    felt = "lid beads of water, wiped, 25 ml along the edges, eggs looked at"
    assert told(bench, number) == [
        (
            "found",
            f"Found by ana and ben: medium clumps, holds together, {felt}",
            "N1 smells a little (ben)",
        ),
        ("eggs", "Egg 3 removed: mould, by ana", ""),
    ]


def test_what_was_taken_back_or_corrected_is_not_told(bench: Bench) -> None:
    number = bench.clutch()
    walk = bench.start()
    bench.enter(walk, entry(1, medium=Medium.DRY, eggs=(eggs(MOULD, "3", "4"),)))
    bench.enter(walk, entry(2, medium=Medium.WET, corrects=uuid(1)))
    assert told(bench, number) == [("found", "Found by ana: medium wet, water comes out", "")]


def test_each_round_has_one_and_a_box_that_was_left_out_says_why(bench: Bench) -> None:
    number = bench.clutch()
    for each in range(2):
        walk = bench.start()
        bench.enter(walk, entry(each, skipped="No time") if each else entry(each, all_well=True))
        bench.now_ms += HOUR_MS // 4
        bench.desk.finish(walk, "ana")
        bench.now_ms += DAY_MS
    assert [what for _, what, _ in told(bench, number)] == [
        "Found by ana: medium clumps, holds together, lid dry, eggs looked at",
        "Left out by ana: No time",
    ]


def test_after_a_swap_each_clutch_has_what_was_found_of_it(bench: Bench) -> None:
    one, other = bench.clutch("Ada", N1), bench.clutch("Bea", S1)
    walk = bench.start("north", "south")
    bench.enter(walk, entry(1, N1, medium=Medium.DRY))
    bench.now_ms += HOUR_MS // 6
    RegisterDesk(bench.journal, bench.site, bench.profiles, lambda: bench.now_ms).swap(one, other, "ana")
    bench.now_ms += HOUR_MS // 6
    bench.enter(walk, entry(2, N1, medium=Medium.WET))
    assert [what for _, what, _ in told(bench, one)] == ["Found by ana: medium dry, falls apart"]
    assert [what for _, what, _ in told(bench, other)] == ["Found by ana: medium wet, water comes out"]


def test_what_was_said_of_eggs_outside_of_rounds_stands_there_by_the_marks_of_the_eggs(bench: Bench) -> None:
    number = bench.clutch()
    desk = RegisterDesk(bench.journal, bench.site, bench.profiles, lambda: bench.now_ms)
    desk.mark(number, {"2": "B"}, "ana")
    bench.now_ms += HOUR_MS
    desk.say_of_eggs(number, "watch", ("B", "5"), "ana", "a soft spot", START_MS + HOUR_MS)
    assert told(bench, number) == [("eggs", "Eggs B and 5 on watch, by ana", "a soft spot")]


def test_its_photos_stand_on_its_page_the_newest_first_and_older_ones_folded(bench: Bench) -> None:
    number = bench.clutch()
    walk = bench.start()
    for each in range(PHOTOS_OPEN + 2):
        bench.now_ms += 1_000
        bench.desk.add_photo(walk, N1, uuid(each), picture(300, 200), "ana")
    view = clutch_page_view(record(bench, number))
    assert view.photos[0].path == f"/rounds/photos/{uuid(PHOTOS_OPEN + 1)}/page"
    assert view.photos[0].small_path == f"/rounds/photos/{uuid(PHOTOS_OPEN + 1)}?small=1"
    assert f"round no. {walk}" in view.photos[0].caption
    assert view.photos[0].words.startswith("Photo by ana, ")
    assert [each.path for each in view.older_photos] == [f"/rounds/photos/{uuid(each)}/page" for each in (1, 0)]
