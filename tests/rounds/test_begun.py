"""A box of which somebody spoke of an egg alone is begun: it stays on the walk until medium or lid is said."""

from typing import Any
from zoneinfo import ZoneInfo

import pytest

from daemon.commands.round_text import walk_lines
from daemon.rounds.values import Lid, Medium
from daemon.rounds.walk import Done, Walk
from dashboards.rounds_walk import Order, next_path, walk_page
from tests.rounds.bench import MOULD, S1, S2, START_MS, Bench, eggs, entry

UTC = ZoneInfo("UTC")


def walk(bench: Bench, number: int) -> Walk:
    return bench.desk.walk([number])


def done(bench: Bench, number: int) -> dict[str, Done]:
    return {each.stop.key: each.done for each in walk(bench, number).boxes}


def test_an_egg_alone_begins_a_box_and_leads_back_to_it(bench: Bench) -> None:
    bench.clutch("Clover", S1)
    bench.clutch("Sorrel", S2)
    number = bench.start("south")
    bench.enter(number, entry(1, S1, eggs=(eggs(MOULD, "1"),)))
    bench.enter(number, entry(2, S2))
    found = walk(bench, number)
    assert done(bench, number) == {S1: Done.BEGUN, S2: Done.SEEN}
    assert [each.stop.label for each in found.still_open] == ["Clover"]
    assert any(line.startswith("[~]") for line in walk_lines(found.boxes))
    assert any(line.strip() == "begun: say medium and lid" for line in walk_lines(found.boxes))
    page = walk_page(found, {"south": "South cabinet"}, Order.STAND, START_MS, UTC)
    assert (page.done, page.counted) == (1, 2)
    assert [each.mark.word for each in page.rows] == ["begun: say medium and lid", "done"]
    for order in Order:
        # The short round has only boxes that need anything: there the way leads to the list.
        assert S1 in next_path(found, S2, order) or order is Order.SHORT
    assert page.next_path == page.rows[0].path
    # Somebody has looked into it all the same: it is no box that nobody saw.
    summary = bench.desk.summary(number)
    assert summary is not None
    assert (summary.seen, summary.not_seen, [each.label for each in summary.half_said]) == (2, (), ["Clover"])


@pytest.mark.parametrize(
    "more", [{"medium": Medium.DRY}, {"lid": Lid.BEADS}, {"wiped": True}, {"water_ml": 10.0}, {"all_well": True}]
)
def test_a_word_on_the_box_makes_it_done(bench: Bench, more: dict[str, Any]) -> None:
    bench.clutch("Clover", S1)
    number = bench.start("south")
    bench.enter(number, entry(1, S1, eggs=(eggs(MOULD, "1"),)))
    assert done(bench, number)[S1] is Done.BEGUN
    bench.enter(number, entry(2, S1, **more))
    assert done(bench, number)[S1] is Done.SEEN


def test_nobody_is_sent_back_to_open_a_box_with_venomous_animals(bench: Bench) -> None:
    bench.clutch("Cobra", S1, venomous=True)
    number = bench.start("south")
    bench.enter(number, entry(1, S1, eggs=(eggs(MOULD, "1"),), trained_handler=True))
    assert done(bench, number)[S1] is Done.SEEN
