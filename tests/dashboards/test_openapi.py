"""The description of the addresses for programs: whole, in plain words, and beside every page that shows data."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from starlette.routing import BaseRoute

from dashboards.access.cookies import PLAIN_NAME, SECURE_NAME
from dashboards.access.policy import needed_role
from tests.support.whole import WholeHouse, whole_house

TWINS: Mapping[str, str] = {
    "/": "/api/overview",
    "/alarms": "/api/alarms",
    "/alarms/of/{key:path}": "/api/alarms/of/{key}",
    "/alarms/journal": "/api/alarms/journal",
    "/alarms/metrics": "/api/alarms/metrics",
    "/clutches": "/api/clutches",
    "/clutches/{number}": "/api/clutches/{number}",
    "/placement": "/api/placement",
    "/charts": "/api/series",
    "/incidents": "/api/incidents",
    "/incidents/{number}": "/api/incidents/{number}",
    "/incidents/{number}/sheet.html": "/api/incidents/{number}",
    "/review": "/api/review",
    "/review/sheet.html": "/api/review",
    "/messages": "/api/messages",
    "/inbox": "/api/inbox",
    "/people": "/api/people",
    "/set-up/people": "/api/people",
    "/set-up/probes": "/api/probes",
    "/set-up/probes/{probe_id}": "/api/probes/{probe_id}",
    "/set-up/calibration": "/api/calibrations",
    "/set-up/calibration/{channel:path}": "/api/calibrations",
    "/set-up/species": "/api/species",
    "/rounds": "/api/rounds",
    "/rounds/{walk}/summary": "/api/rounds/{number}",
    "/set-up/accounts": "/api/set-up/accounts",
    "/set-up/audit": "/api/set-up/audit",
    "/set-up/backups": "/api/backups",
    "/reports": "/api/reports",
    "/set-up/species/{species_id}": "/api/species/{species_id}",
}
"""Each page that shows data, and the same data for programs."""
FOR_PEOPLE_ALONE = (
    *("/sign-in", "/welcome", "/account", "/a/"),
    *("/rounds/", "/set-up/take-up", "/clutches/new", "/clutches/table", "/clutches/{number}/", "/boxes", "/labels"),
    *("/hand-over", "/set-up/hand-over", "/set-up/calendar", "/calendar/", "/reports/"),
)
"""Signing in, one's own account, and links that carry a secret for one person: a program has a key of
its own. And pages on which somebody works: what a round or a new probe has come to is in the twins of the others.
The hand-over and the reports are paper of what the twins of the others say, and a calendar is for programs already."""
WITHOUT_DATA = {"/set-up"}


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WholeHouse]:
    with whole_house(tmp_path_factory.mktemp("whole")) as made:
        yield made


@pytest.fixture(scope="module")
def document(house: WholeHouse) -> dict[str, Any]:
    found: dict[str, Any] = house.look("/openapi.json").json()
    return found


def operations(document: Mapping[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, item in document["paths"].items():
        for method, operation in item.items():
            yield method, path, operation


def all_routes(routes: list[BaseRoute]) -> Iterator[BaseRoute]:
    for route in routes:
        inner = getattr(route, "original_router", None)
        if inner is not None:
            yield from all_routes(inner.routes)
        else:
            yield route


def pages(house: WholeHouse) -> set[str]:
    """The paths that give a page to people."""
    return {
        str(getattr(route, "path", ""))
        for route in all_routes(house.app.routes)
        if "GET" in (getattr(route, "methods", None) or ())
        and not getattr(route, "include_in_schema", True)
        and not re.search(r"events(/|$)|\.js$|\.toml$|/openapi\.json$", str(getattr(route, "path", "")))
    }


def test_every_page_that_shows_data_has_its_twin_for_programs(house: WholeHouse, document: Mapping[str, Any]) -> None:
    shown = pages(house)
    assert shown
    without = {each for each in shown if each not in TWINS and not each.startswith(FOR_PEOPLE_ALONE)}
    assert without == WITHOUT_DATA
    assert set(TWINS) <= shown
    assert set(TWINS.values()) <= set(document["paths"])


def test_every_address_says_in_words_what_it_gives(document: Mapping[str, Any]) -> None:
    tags = {each["name"] for each in document["tags"]}
    summaries = [operation["summary"] for _, _, operation in operations(document)]
    assert len(set(summaries)) == len(summaries)
    for method, path, operation in operations(document):
        where = f"{method} {path}"
        assert operation["description"].endswith("."), where
        assert operation["summary"][0].isupper(), where
        # The words that FastAPI makes of a function's name say nothing.
        assert not operation["summary"].startswith("Api "), where
        assert set(operation["tags"]) <= tags, where
        for parameter in operation.get("parameters", []):
            assert parameter["schema"], where
        for status, answer in operation["responses"].items():
            assert answer["description"], f"{where} {status}"


def test_every_value_of_the_answers_is_described_by_its_model(document: Mapping[str, Any]) -> None:
    ours = {name: one for name, one in document["components"]["schemas"].items() if name.endswith("Json")}
    assert len(ours) > 30
    for name, one in ours.items():
        assert one.get("description"), name
        assert one["properties"], name


def test_what_needs_a_visitor_says_so_and_how_to_be_one(document: Mapping[str, Any]) -> None:
    schemes = document["components"]["securitySchemes"]
    assert schemes["session"]["name"] == SECURE_NAME
    assert PLAIN_NAME in schemes["session"]["description"]
    assert (schemes["key"]["type"], schemes["key"]["scheme"]) == ("http", "bearer")
    assert document["security"] == [{"session": []}, {"key": []}]
    opened = set()
    for method, path, operation in operations(document):
        if needed_role(method.upper(), path) is None:
            assert operation["security"] == []
            opened.add(f"{method} {path}")
        else:
            assert {"401", "403"} <= operation["responses"].keys()
    assert opened == {"get /health", "post /inbox/messages"}


def test_the_description_itself_needs_a_viewer() -> None:
    assert needed_role("GET", "/openapi.json") is not None
    assert needed_role("GET", "/metrics") is not None
