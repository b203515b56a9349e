"""After a save the page that follows says what was saved, although it mostly still shows what stood there before."""

import re
from pathlib import Path

import pytest

from dashboards import said as kept
from tests.support.probed import probed_house
from tests.support.upkept import AIR, UpkeptHouse, hidden, upkept_house, words

PEOPLE, PROBES = "/set-up/people", "/set-up/probes"


@pytest.fixture(autouse=True)
def _nothing_said_before() -> None:
    """What other tests of this process did under the same guard is still told for half a minute."""
    kept._said.clear()


def said(html: str) -> str:
    found = re.search(r'<p class="said" role="status">(.*?)</p>', html, re.DOTALL)
    return words(found[1]) if found else ""


def test_who_was_added_and_which_quiet_hours_were_set_is_said(tmp_path: Path) -> None:
    with upkept_house(tmp_path) as house:
        assert said(house.look(PEOPLE).text) == ""
        for fields, told in (
            ({"act": "add", "name": "Jonas", "kind": "webhook"}, "Saved: person jonas added."),
            ({"act": "quiet", "start": "22:00", "end": "06:00"}, "Saved: quiet hours."),
        ):
            mark = hidden(house.look(PEOPLE).text)["mark"]
            assert house.send(PEOPLE, {"mark": mark, **fields}).status_code == 303
            assert said(house.look(PEOPLE).text).startswith(told)


def test_the_page_waits_for_the_new_start_and_then_says_that_it_counts(tmp_path: Path) -> None:
    with upkept_house(tmp_path) as house:
        mark = hidden(house.look(PEOPLE).text)["mark"]
        assert house.send(PEOPLE, {"mark": mark, "act": "quiet", "start": "22:00", "end": "06:00"}).status_code == 303
        before = house.look(PEOPLE).text
        assert "/static/anew.js" in before
        assert "Load it again then" in said(before)
        anew = UpkeptHouse(house.journal, house.folder, None)
        after = anew.look(PEOPLE).text
        assert said(after) == "Saved: quiet hours. It counts now."
        assert "Quiet hours 22:00 to 06:00" in words(after)
        assert "/static/anew.js" not in after
        made = [re.search(r'data-made="([^"]+)"', each) for each in (before, after)]
        assert all(made)
        assert len({each[1] for each in made if each}) == 2


def test_what_was_saved_as_it_was_changes_nothing_and_says_so(tmp_path: Path) -> None:
    with upkept_house(tmp_path) as house:
        mark = hidden(house.look(PEOPLE).text)["mark"]
        fields = {"mark": mark, "act": "change", "person": "ana", "name": "Ana"}
        assert house.send(PEOPLE, fields).status_code == 303
        html = house.look(PEOPLE).text
        assert said(html).startswith("Nothing was changed")
        assert "/static/anew.js" not in html


def test_which_probe_was_taken_up_is_said_and_nothing_where_it_was_refused(tmp_path: Path) -> None:
    with probed_house(tmp_path) as house:
        house.arrive("hut/t", b"23.4")
        fields = {"topic": "hut/t", "id": "hut", "place": "room", "interval_s": "60", "plain": "air_temperature|Cel"}
        assert house.send("/set-up/take-up", {**fields, "place": ""}).status_code == 422
        assert said(house.look(PROBES).text) == ""
        assert house.send("/set-up/take-up", fields).status_code == 303
        assert said(house.look(PROBES).text).startswith("Saved: probe hut taken up.")


def test_a_refused_calibration_and_what_would_change_are_jumped_to(tmp_path: Path) -> None:
    with upkept_house(tmp_path) as house:
        path = f"/set-up/calibration/{AIR}"
        assert f'action="{path}#look-here"' in house.look(path).text
        refused = house.send(path, {"wanted": "one-point", "reference": "warm", "accuracy": "0.1"})
        assert refused.status_code == 422
        assert re.search(r'<form [^>]*id="look-here"', refused.text)
        fields = {"wanted": "one-point", "reference": "29.9", "reading": "30.2", "accuracy": "0.1", "shown": "raw"}
        offered = house.send(path, fields)
        assert offered.status_code == 200
        assert re.search(r'id="look-here"><b>Not stored yet', offered.text)
