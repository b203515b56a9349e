"""What hand and eye said in the last round, for the sheet of a hand-over: boxes, eggs, remarks, what was left out."""

from dataclasses import replace
from zoneinfo import ZoneInfo

from daemon.clutches import register
from daemon.clutches.eggs import EggState, Stated
from daemon.round_last import LastRounds
from daemon.rounds.last import LastRound
from daemon.rounds.last_said import BoxSaid
from daemon.rounds.values import Lid, Medium
from dashboards.hand_over_lines import round_lines
from dashboards.rounds_last import last_round_view
from tests.dashboards import samples
from tests.rounds.bench import MOULD, N1, S1, S2, WATCH, Bench, eggs, entry

UTC = ZoneInfo("UTC")
PIPPED, HATCHED = Stated(EggState.PIPPED), Stated(EggState.HATCHED)


def last(bench: Bench) -> LastRound:
    with bench.journal.read() as conn:
        found = LastRounds(bench.site, bench.profiles).read(conn, bench.now_ms)
    assert found is not None
    return found


def lines(found: LastRound) -> list[tuple[str, str]]:
    overview = replace(samples.overview(), last_round=found)
    return [(each.name, each.text) for each in round_lines(overview, UTC)][1:]


def test_a_box_that_felt_dry_is_told_with_its_water_and_the_remark(bench: Bench) -> None:
    bench.clutch("Juniper")
    number = bench.start("north")
    bench.enter(number, entry(1, medium=Medium.DRY, lid=Lid.DRY, water_ml=50.0, remark="top left looked dented"))
    bench.desk.finish(number, "ana")
    assert lines(last(bench)) == [
        (
            "upper shelf, box N1 (Juniper)",
            "Medium dry, falls apart; “top left looked dented”; 50 ml of water added.",
        )
    ]


def test_what_was_left_out_and_what_nobody_looked_at_stand_first(bench: Bench) -> None:
    bench.clutch("Clover", S1)
    bench.clutch("Cobra", S2, venomous=True)
    bench.clutch("Fern", "south/deep")
    number = bench.start("south")
    bench.enter(number, entry(1, S1, medium=Medium.CLUMPS, lid=Lid.BEADS))
    bench.enter(number, entry(2, S2, skipped="Only a trained handler may"))
    bench.desk.finish(number, "ana")
    assert lines(last(bench)) == [
        ("Nobody looked at", "deep shelf (Fern)."),
        ("low shelf, the blue box (Cobra)", "Trained handlers only. Left out: Only a trained handler may."),
        ("low shelf, box S1 (Clover)", "Lid beads of water."),
    ]


def test_pipped_and_hatched_eggs_are_counted_by_what_was_said_of_them_last(bench: Bench) -> None:
    bench.clutch("Juniper")
    number = bench.start("north")
    bench.enter(number, entry(1, eggs=(eggs(PIPPED, "1", "2", "3"),)))
    bench.enter(number, entry(2, eggs=(eggs(HATCHED, "1"), eggs(MOULD, "4"), eggs(WATCH, "5"))))
    bench.desk.finish(number, "ana")
    found = last(bench)
    assert (found.hatched, found.pipped, found.removed, found.watched) == (1, 2, 1, 1)
    view = last_round_view(found, bench.now_ms, UTC)
    assert view is not None
    assert "1 egg removed, 1 egg hatched, 2 eggs pipped, 1 egg put on watch." in view.text
    [(_, told)] = lines(found)
    assert told == "Eggs 1, 2 and 3 pipped; egg 1 hatched; egg 4 removed: mould; egg 5 on watch."


def test_a_box_that_is_as_it_should_be_is_not_named(bench: Bench) -> None:
    bench.clutch("Juniper")
    number = bench.start("north")
    bench.enter(number, entry(1))
    bench.desk.finish(number, "ana")
    assert (last(bench).said, last(bench).not_seen) == ((), ())


def test_of_two_cabinets_the_names_say_which(bench: Bench) -> None:
    bench.clutch("Juniper", N1)
    bench.clutch("Clover", S1)
    bench.clutch("Fern", S2)
    numbers = [bench.start("north"), bench.start("south")]
    # A round in which nobody looked at anything is none of which something is told.
    bench.enter(numbers[1], entry(1, S2))
    for number in numbers:
        bench.desk.finish(number, "ana")
    assert last(bench).not_seen == (
        "North cabinet, upper shelf, box N1 (Juniper)",
        "South cabinet, low shelf, box S1 (Clover)",
    )


def test_a_clutch_that_was_taken_away_keeps_what_was_said_of_it(bench: Bench) -> None:
    clutch = bench.clutch("Juniper")
    number = bench.start("north")
    bench.enter(number, entry(1, medium=Medium.WET))
    bench.now_ms += 60_000

    bench.journal.write(lambda conn: register.move_clutch(conn, clutch, S1, bench.now_ms, "ana", "", bench.now_ms))
    bench.now_ms += 60_000
    bench.desk.finish(number, "ana")
    assert [(each.name, each.label, each.words) for each in last(bench).said] == [
        ("upper shelf, box N1", "Juniper", ("medium wet, water comes out",))
    ]


def test_what_has_no_room_in_a_line_is_counted_or_cut_with_a_sign() -> None:
    many = tuple(f"low shelf, box S{number} (Clutch {number})" for number in range(40))
    long = BoxSaid("x" * 90, "y" * 90, venomous=True, words=("“" + "word " * 90 + "”",))
    found = LastRound((1,), ("A",), "Ben", samples.NOW_MS, 0, 40, 0, 0, 0, "", said=(long,), not_seen=many)
    unseen, said = lines(found)
    assert len(unseen[1]) <= 131
    named = unseen[1].count("(Clutch")
    assert unseen[1].endswith(f"; and {40 - named} more.")
    assert len(said[1]) <= 130
    assert said[1].endswith("…")
