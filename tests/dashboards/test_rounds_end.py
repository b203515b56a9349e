"""A round with boxes that nobody has seen is ended only after a question, without any script."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest

from tests.dashboards.test_rounds import Pages
from tests.rounds.bench import N1, S1, S2, WATCH, eggs, entry

ASKED = "Not ended yet."


@pytest.fixture
def pages(tmp_path: Path) -> Iterator[Pages]:
    made = Pages(tmp_path / "site")
    with made.bench.journal:
        for label, place in (("Juniper", N1), ("Clover", S1), ("Sorrel <b>", S2)):
            made.bench.clutch(label, place)
        yield made


def test_the_end_asks_first_and_names_what_nobody_has_seen(pages: Pages) -> None:
    pages.bench.start("south")
    assert ASKED not in pages.get("/rounds/1/summary").text
    asked = pages.send("/rounds/1/end", {"note": "cold hands"})
    assert asked.status_code == 422
    assert "Not seen: Clover, Sorrel <b>. This round does not count for them." in unescape(asked.text)
    assert "<b>Not ended yet.</b>" in asked.text
    assert "Sorrel <b>" not in asked.text
    assert [each.number for each in pages.bench.desk.running()] == [1]
    # What was typed is there yet, the way back leads to the first of them, and the button says what it does.
    assert ">cold hands</textarea>" in asked.text
    assert f'href="/rounds/1/box/{S1}">Back to Clover</a>' in asked.text
    found = re.search(r'<button id="end" name="(\w+)" value="(\w+)">End the round all the same</button>', asked.text)
    assert found is not None
    ended = pages.send("/rounds/1/end", {"note": "cold hands", found[1]: found[2]})
    assert (ended.status_code, ended.headers["location"]) == (303, "/rounds/1/summary")
    assert pages.bench.desk.running() == ()
    assert "cold hands" in pages.get("/rounds/1/summary").text


def test_with_all_boxes_done_one_tap_ends(pages: Pages) -> None:
    pages.bench.start("south")
    pages.bench.enter(1, entry(1, S1))
    asked = pages.send("/rounds/1/end", {})
    assert "Not seen: Sorrel <b>. This round does not count for it." in unescape(asked.text)
    # One that was left out with a reason was decided on.
    pages.bench.enter(1, entry(2, S2, skipped="lid stuck"))
    assert pages.send("/rounds/1/end", {}).status_code == 303
    assert pages.bench.desk.running() == ()


def test_several_rounds_are_asked_for_together_and_ended_ones_not_at_all(pages: Pages) -> None:
    pages.bench.start("north", "south")
    pages.bench.enter(2, entry(1, S1))
    asked = pages.send("/rounds/1,2/end", {})
    assert "Not seen: Juniper, Sorrel <b>. This round does not count for them." in unescape(asked.text)
    assert "End all of these rounds all the same" in asked.text
    assert f'href="/rounds/1,2/box/{N1}">Back to Juniper</a>' in asked.text
    pages.bench.desk.finish(1, "ben")
    pages.bench.enter(2, entry(2, S2))
    # Juniper was not seen in a round that is over: nothing can be done about it here any more.
    assert pages.send("/rounds/1,2/end", {}).status_code == 303


def test_the_summary_marks_a_venomous_box_that_is_to_be_seen_sooner(pages: Pages) -> None:
    pages.bench.clutch("Cobra", "third/mid/T1", venomous=True)
    pages.bench.start("third", "south")
    pages.bench.enter(1, entry(1, "third/mid/T1", through_lid=True, eggs=(eggs(WATCH, "4"),)))
    pages.bench.enter(2, entry(2, S1, eggs=(eggs(WATCH, "4"),)))
    page = pages.get("/rounds/1,2/summary").text
    lines = [line for line in re.findall(r"<li>(.*?)</li>", page) if " by " in line and "on watch" in line]
    venomous = [line for line in lines if "</svg> Venomous</b>" in line]
    assert len(venomous) == 1
    assert "Cobra" in venomous[0]
    assert any("Clover" in line for line in lines)
