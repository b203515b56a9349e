"""Alarms for programs: by state, one of them, page by page through their journal, and their measures."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
import pytest

from tests.support.called import HIGH, LETHAL
from tests.support.whole import ODD, WholeHouse, whole_house

ONE, JOURNAL, MEASURES = "/api/alarms/of/", "/api/alarms/journal", "/api/alarms/metrics"


@pytest.fixture
def house(tmp_path: Path) -> Iterator[WholeHouse]:
    with whole_house(tmp_path) as made:
        yield made


def look(house: WholeHouse, path: str) -> httpx.Response:
    return house.look(path)


def read(house: WholeHouse, path: str) -> dict[str, Any]:
    answer = look(house, path)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def by_group(house: WholeHouse) -> dict[str, list[dict[str, Any]]]:
    return {each["group"]: each["alarms"] for each in read(house, "/api/alarms")["groups"]}


def test_every_alarm_stands_under_its_state_with_all_that_people_read(house: WholeHouse) -> None:
    groups = by_group(house)
    [lethal] = groups["unacknowledged"]
    assert (lethal["key"], lethal["priority"], lethal["state"]) == (LETHAL, 1, "unacknowledged")
    assert (lethal["value"], lethal["limit"], lethal["unit"]) == (41.0, 34.0, "Cel")
    assert [each["name"] for each in lethal["called"]] == ["Ana", "Ben"]
    [high] = groups["suppressed"]
    assert high["key"] == HIGH
    assert high["suppressed_by_design"][0]["mode"] == "a more severe alarm of the same place is on"
    assert (high["shelf"]["who"], high["shelf"]["reason"]) == ("Ben", ODD)
    assert groups["acknowledged"] == []
    [running] = read(house, "/api/alarms")["rounds"]
    assert (running["incubator"], running["who"], running["is_overdue"]) == ("North cabinet", "Ana", False)


def test_one_that_is_acknowledged_moves_and_says_by_whom(house: WholeHouse) -> None:
    called = house.house
    called.journal.write(lambda conn: called.work.acknowledge(conn, [LETHAL], "ana", "seen", called.now_ms))
    [lethal] = by_group(house)["acknowledged"]
    assert (lethal["acknowledged_by"], lethal["acknowledged_ms"], lethal["waits"]) == ("Ana", called.now_ms, False)


def test_one_alarm_is_given_with_its_newest_steps_and_after_its_end_with_these_alone(house: WholeHouse) -> None:
    path = f"{ONE}{quote(LETHAL)}"
    found = read(house, path)
    assert found["alarm"]["key"] == LETHAL
    assert {each["alarm"] for each in found["steps"]} == {LETHAL}
    called = house.house
    called.journal.write(lambda conn: called.work.acknowledge(conn, [LETHAL], "ana", "seen", called.now_ms))
    assert read(house, path)["steps"][0]["event"] == "acknowledge"


@pytest.mark.parametrize("key", ["x", "no-data:nowhere/air", "<b>", "a/b/c", "%00", quote("ü:ß")])
def test_an_alarm_that_never_was_is_answered_with_where_to_look(house: WholeHouse, key: str) -> None:
    answer = look(house, f"{ONE}{key}")
    assert answer.status_code == 404
    assert "/api/alarms" in answer.json()["detail"]


def test_the_journal_is_read_page_by_page_without_a_gap_and_without_one_twice(house: WholeHouse) -> None:
    whole = read(house, f"{JOURNAL}?limit=500")
    assert whole["next"] is None
    numbers: list[int] = []
    path: str | None = f"{JOURNAL}?limit=2"
    while path is not None:
        page = read(house, path)
        numbers += [each["number"] for each in page["steps"]]
        path = page["next"]
    assert numbers == [each["number"] for each in whole["steps"]]
    assert numbers == sorted(numbers, reverse=True)
    assert len(numbers) > 3


def test_the_journal_of_one_alarm_has_its_steps_alone(house: WholeHouse) -> None:
    steps = read(house, f"{JOURNAL}?alarm={quote(HIGH)}")["steps"]
    assert steps
    assert {each["alarm"] for each in steps} == {HIGH}
    assert read(house, f"{JOURNAL}?alarm=nothing")["steps"] == []
    shelved = next(each for each in steps if each["event"] == "shelve")
    assert (shelved["who"], shelved["accepted"]) == ("Ben", True)


@pytest.mark.parametrize(
    "query", ["after=0", "after=-1", "after=x", f"after={2**63}", "limit=0", "limit=501", f"alarm={'a' * 301}"]
)
def test_an_odd_wish_is_refused_with_the_name_of_what_is_wrong(house: WholeHouse, query: str) -> None:
    answer = look(house, f"{JOURNAL}?{query}")
    assert answer.status_code == 422
    assert [each["loc"] for each in answer.json()["detail"]] == [["query", query.partition("=")[0]]]


def test_the_measures_count_what_people_were_called_for(house: WholeHouse) -> None:
    """Two alarms called people: too warm, then dangerously hot; nobody has acknowledged the second."""
    found = read(house, f"{MEASURES}?days=1")
    assert found["days"] == 1
    performance = found["performance"]
    assert performance["by_priority"] == {"1": 1, "2": 1, "3": 0}
    assert performance["annunciations"] == 2
    assert performance["too_little"].startswith("too little data")
    assert performance["per_day"] is None
    assert performance["answered"]["1"] == {"count": 0, "median_min": None, "p95_min": None, "open": 1}
    assert found["diagnosis"]["most_frequent"] == [[HIGH, 1], [LETHAL, 1]]
    assert look(house, f"{MEASURES}?days=0").status_code == 422


def test_looking_changes_nothing(house: WholeHouse) -> None:
    paths = ("/api/alarms", f"{ONE}{quote(LETHAL)}", JOURNAL, MEASURES, "/api/overview", "/metrics", "/api/messages")
    for path in paths:
        look(house, path)  # when a key was seen last is written, once in some minutes
    before = house.house.everything()
    for path in paths:
        assert look(house, path).status_code == 200
    assert house.house.everything() == before


def test_the_overview_says_what_nobody_is_told_of_and_who_makes_a_round(house: WholeHouse) -> None:
    found = read(house, "/api/overview")
    untold = {(each["key"], each["state"]) for each in found["untold"]}
    assert (HIGH, "shelved") in untold
    assert (HIGH, "suppressed by design") in untold
    shelved = next(each for each in found["untold"] if each["state"] == "shelved")
    assert (shelved["who"], shelved["why"]) == ("Ben", ODD)
    assert [each["who"] for each in found["rounds"]] == ["Ana"]
    assert found["whole_site_alarms"] == []
