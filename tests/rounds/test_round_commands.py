"""`clutchwarden round walk|box|find|show`, beside a journal that is open elsewhere."""

import pytest
from freezegun import freeze_time
from typer.testing import CliRunner, Result

from daemon import cli
from daemon.clock import as_datetime
from daemon.rounds.values import Medium
from tests.rounds.bench import N1, S1, S2, Bench, entry
from tests.support.household import MINUTE_MS


def call(bench: Bench, *arguments: str) -> Result:
    with freeze_time(as_datetime(bench.now_ms), ignore=["sqlite3"]):
        return CliRunner().invoke(cli.app, ["round", *arguments, "--site", str(bench.folder)])


@pytest.fixture
def south(bench: Bench) -> Bench:
    bench.clutch("Clover", S1)
    bench.clutch("Sorrel", S2)
    assert call(bench, "start", "south", "--who", "ana").exit_code == 0
    return bench


def test_the_way_from_start_to_summary(south: Bench) -> None:
    """1 780 000 000 s is 28 May 2026, 22:26 in Madrid; three days on is 31 May, a week 4 June."""
    walked = call(south, "walk").stdout
    assert walked.splitlines()[0].startswith(f"[ ]  1. {S1}  Clover, ")
    assert "2 boxes with a clutch are still to be seen." in walked
    found = call(
        south,
        *("find", "S1", "--medium", "dry", "--water-ml", "40", "--where", "edges", "--lid", "dripping", "--wiped"),
        *("--remove", "2:mould", "--watch", "5,6", "--note", "smells", "--who", "ana"),
    )
    assert found.exit_code == 0, found.output
    assert "medium dry, falls apart, lid dripping, wiped, 40 ml along the edges" in found.stdout
    assert "egg 2: removed: mould" in found.stdout
    assert f"Next: {S2} (Sorrel)." in found.stdout
    south.now_ms += 6 * MINUTE_MS
    done = call(south, "find", "Sorrel", "--all-well", "--who", "ben")
    assert "All boxes are done. When it is closed again: clutchwarden round end south" in done.stdout
    assert "round show 1" in call(south, "end", "south", "--who", "ana").stdout
    shown = call(south, "show").stdout
    assert "Round no. 1 in South cabinet by ana and ben, took 6 min." in shown
    assert "2 of 2 boxes with a clutch seen." in shown
    assert "low shelf, box S1, Clover: 5 and 6 on watch" in shown
    assert "low shelf, box S1, 31 May: 2 eggs on watch and the lid was dripping" in shown
    assert "Water: 40 ml." in shown
    assert "Next round due 4 Jun." in shown


def test_the_end_says_which_boxes_were_not_seen_and_ends(south: Bench) -> None:
    assert call(south, "find", "S1", "--all-well", "--who", "ana").exit_code == 0
    ended = call(south, "end", "south", "--who", "ana")
    assert (ended.exit_code, "is ended after" in ended.stdout) == (0, True)
    assert "Not seen: Sorrel. This round does not count for it." in ended.stdout
    assert south.desk.running() == ()
    assert call(south, "start", "south", "--who", "ana").exit_code == 0
    assert (
        "Not seen: Clover, Sorrel. This round does not count for them."
        in call(south, "end", "south", "--who", "ana").stdout
    )


def test_the_box_shows_what_is_known_and_what_to_mind(south: Bench) -> None:
    shown = call(south, "box", S1).stdout
    assert "South cabinet, low shelf, box S1: Clover, " in shown
    assert "Salmonella" in shown
    assert "Do not turn eggs. (Aubret et al. 2015" in shown
    assert "8 of 8 eggs inside, 0 on watch" in shown


def test_of_venomous_animals_the_caution_comes_first(bench: Bench) -> None:
    bench.clutch("Kaa", S1, venomous=True)
    call(bench, "start", "south", "--who", "ana")
    assert call(bench, "box", S1).stdout.splitlines()[0] == "! Venomous: trained handlers only."
    assert "VENOMOUS, trained handlers only: Kaa" in call(bench, "walk").stdout
    refused = call(bench, "find", "S1", "--all-well", "--who", "ana")
    assert refused.exit_code == 2
    assert "Kaa is venomous: trained handlers only" in refused.stderr
    assert call(bench, "find", "S1", "--all-well", "--through-lid", "--who", "ana").exit_code == 0
    assert call(bench, "find", "S1", "--medium", "dry", "--trained-handler", "--who", "ana").exit_code == 0


REFUSED = {
    "an unknown box": (("find", "S7", "--all-well"), "Known here: south/low/S1, south/low/S2."),
    "an unknown reason": (("find", "S1", "--remove", "2:mold"), 'Did you mean "mould"?'),
    "no reason": (("find", "S1", "--remove", "2"), "an egg is removed for a reason"),
    "an unknown egg": (("find", "S1", "--watch", "99"), "has no egg '99'"),
    "more eggs than there are": (("find", "S1", "--remove", "9x:mould"), "there are only 8"),
    "nothing": (
        (
            "find",
            "S1",
        ),
        "nothing is entered",
    ),
    "another round": (("find", "S1", "--all-well", "--round", "9"), "There is no round no. 9"),
    "a box nobody knows": (("box", "S9"), "There is no box 'S9'"),
    "a round nobody knows": (("show", "9"), "No such round on record"),
    "everything and one": (("start", "south", "--all"), "Name one incubator, or give --all"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_is_refused_with_what_to_do(south: Bench, name: str) -> None:
    arguments, why = REFUSED[name]
    refused = call(south, *arguments)
    assert refused.exit_code == 2
    assert why in refused.stderr


def test_eggs_by_number_without_saying_which(south: Bench) -> None:
    assert "eggs 8, 7 and 6: removed: infertile" in call(south, "find", "S1", "--remove", "3x:infertile").stdout


def test_without_a_round_it_says_how_to_start_one(bench: Bench) -> None:
    for arguments in (("walk",), ("find", "N1", "--all-well")):
        refused = call(bench, *arguments)
        assert refused.exit_code == 2
        assert "clutchwarden round start" in refused.stderr
    assert call(bench, "show").exit_code == 2


def test_all_incubators_at_once_and_the_few_that_matter(bench: Bench) -> None:
    bench.clutch("Clover", S1)
    bench.clutch()
    number = bench.start("south")
    bench.enter(number, entry(1, S1, medium=Medium.DRY))
    bench.desk.finish(number, "ana")
    begun = call(bench, "start", "--all", "--who", "ana").stdout
    assert [f"Round no. {number}" in begun for number in (2, 3, 4)] == [True, True, True]
    assert call(bench, "walk", "--by-need").stdout.startswith(f"[ ]  1. {S1}")
    short = call(bench, "walk", "--short").stdout
    assert S1 in short
    assert "third/mid/T1" not in short
    assert N1 in short  # nobody has looked there for twenty days
