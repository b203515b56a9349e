"""The form of the dashboards for Grafana, and of what puts them in place."""

import itertools
import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from dashboards.rendering import STATIC
from tests.support.grafana import FILES, FOLDER, Target, chosen, dashboard, documented, targets, unknown_names

# What Grafana comes with; anything else would have to be downloaded.
PANELS = {"table", "timeseries", "stat"}
# As they are in links and bookmarks of people: they stay.
ADDRESSES = {
    "all-sites": "clutchwarden-fleet",
    "one-site": "clutchwarden-site",
    "heat-of-a-clutch": "clutchwarden-clutch",
    "mirror": "clutchwarden-mirror",
}
EVERY = [pytest.param(file, id=file.stem) for file in FILES]
EVERY_TARGET = [pytest.param(each, id=each.name) for each in targets()]


def settings(name: str) -> Any:
    return yaml.safe_load((FOLDER / "provisioning" / name / "clutchwarden.yaml").read_text())


def values_of(found: Any, key: str) -> list[Any]:
    """Every value of a key, at any depth."""
    if isinstance(found, dict):
        here = [found[key]] if key in found else []
        return here + [each for value in found.values() for each in values_of(value, key)]
    return [each for value in found for each in values_of(value, key)] if isinstance(found, list) else []


def test_they_are_found_at_the_addresses_that_they_always_had() -> None:
    assert {file.stem: dashboard(file)["uid"] for file in FILES} == ADDRESSES


@pytest.mark.parametrize("file", EVERY)
def test_every_panel_says_what_it_shows_in_which_unit_and_from_where(file: Path) -> None:
    found = dashboard(file)
    [source] = settings("datasources")["datasources"]
    numbers = [panel["id"] for panel in found["panels"]]
    assert len(set(numbers)) == len(numbers)
    assert found["schemaVersion"] == 39
    for panel in found["panels"]:
        assert panel["type"] in PANELS
        assert len(panel["title"]) > 5
        assert panel["description"].endswith(".")
        assert panel["fieldConfig"]["defaults"]["unit"]
        assert panel["targets"]
    assert {(each["type"], each["uid"]) for each in values_of(found, "datasource")} == {(source["type"], source["uid"])}


@pytest.mark.parametrize("file", EVERY)
def test_no_two_panels_lie_over_one_another(file: Path) -> None:
    places = [panel["gridPos"] for panel in dashboard(file)["panels"]]
    for one in places:
        assert 0 <= one["x"] < one["x"] + one["w"] <= 24
    for one, other in itertools.combinations(places, 2):
        beside = one["x"] + one["w"] <= other["x"] or other["x"] + other["w"] <= one["x"]
        below = one["y"] + one["h"] <= other["y"] or other["y"] + other["h"] <= one["y"]
        assert beside or below, (one, other)


@pytest.mark.parametrize("file", EVERY)
def test_every_variable_and_link_leads_somewhere(file: Path) -> None:
    found = dashboard(file)
    variables = {each["name"]: each for each in found["templating"]["list"]}
    schema, asked = documented(), set()
    for query in values_of(found["panels"], "query") + values_of(found["templating"], "query"):
        asked |= set(re.findall(r"\$\{(\w+):regex\}", query))
    assert asked == set(variables)
    for each in variables.values():
        assert re.fullmatch(r'SHOW TAG VALUES FROM "\w+" WITH KEY = "\w+"( WHERE .*)?', each["query"])
        assert unknown_names(each["query"], schema) == set()
        assert each["includeAll"] == each["multi"] == (each.get("allValue") == ".*")
    assert {each["url"].removeprefix("/d/") for each in found["links"]} == set(ADDRESSES.values()) - {found["uid"]}


@pytest.mark.parametrize("target", EVERY_TARGET)
def test_every_query_asks_one_site_for_what_the_mirror_is_said_to_hold(target: Target) -> None:
    query = target.query
    assert unknown_names(query, documented()) == set()
    assert query.count('"site" =~ /^${site:regex}$/') == query.count('FROM "')
    assert "$timeFilter" in query or re.search(r"time > now\(\) - \d+[hd]", query)
    # What is not known is a gap. To have counted none is known: 0. Sums that go on leave out what is missing, and their
    # line is broken there.
    if "GROUP BY time(" in query:
        of = next((each for each in ("cumulative_sum", "count") if f"SELECT {each}(" in query), "")
        assert query.endswith({"cumulative_sum": "fill(none)", "count": "fill(0)", "": "fill(null)"}[of])


def test_a_name_that_the_mirror_has_not_is_found() -> None:
    schema = documented()
    assert {"reading", "climate", "heat", "alarm_event", "mirror_check"} == set(schema)
    assert unknown_names('SELECT mean("valeu") FROM "reading" GROUP BY "place"', schema) == {"valeu"}
    assert unknown_names('SELECT mean("value") AS "v" FROM "reading" WHERE "clutch" = \'a\'', schema) == {"clutch"}
    assert unknown_names('SELECT "up" FROM "readings"', schema) == {"up", "readings"}


@pytest.mark.parametrize("file", EVERY)
def test_a_gap_stays_a_gap(file: Path) -> None:
    for panel in dashboard(file)["panels"]:
        if panel["type"] == "timeseries":
            custom = panel["fieldConfig"]["defaults"]["custom"]
            assert custom["spanNulls"] is False
            sums = any("cumulative_sum" in each["query"] for each in panel["targets"])
            # An hour and a half, in ms: points further apart have an hour missing between them.
            assert custom.get("insertNulls") == (5_400_000 if sums else None)


@pytest.mark.parametrize("file", EVERY)
def test_colours_are_those_of_the_pages_and_never_alone(file: Path) -> None:
    found = dashboard(file)
    palette = set(re.findall(r"#[0-9a-f]{6}", (STATIC / "page.css").read_text()))
    text = file.read_text()
    assert set(re.findall(r"#[0-9a-fA-F]{6}", text)) <= palette
    for mappings in values_of(found, "mappings"):
        for each in mappings:
            of = each["options"]
            results = [of["result"]] if each["type"] == "range" else list(of.values())
            assert all(result["text"] for result in results)
    for panel in found["panels"]:
        if "thresholds" in panel["fieldConfig"]["defaults"]:
            assert "water settles at 0 K" in panel["title"]
            assert panel["fieldConfig"]["defaults"]["custom"]["thresholdsStyle"] == {"mode": "dashed"}


def test_what_puts_them_in_place_has_no_login_data_in_it() -> None:
    [source] = settings("datasources")["datasources"]
    stated = (source["url"], source["jsonData"]["dbName"], *source["secureJsonData"].values())
    assert stated == ("${GF_CLUTCHWARDEN_URL}", "${GF_CLUTCHWARDEN_BUCKET}", "Token ${GF_CLUTCHWARDEN_TOKEN}")
    assert (source["type"], source["access"], source["jsonData"]["version"]) == ("influxdb", "proxy", "InfluxQL")
    assert not {"user", "password", "basicAuth"} & set(source)
    [provider] = settings("dashboards")["providers"]
    assert (provider["type"], provider["options"]["path"]) == ("file", "/etc/grafana/clutchwarden")
    readme = (FOLDER / "README.md").read_text()
    assert provider["options"]["path"] in readme
    assert "schema version 39" in readme


def test_a_name_is_no_pattern() -> None:
    assert chosen(["a.b (c)/d"]) == r"a\.b \(c\)\/d"
    assert chosen(["a", "b+"]) == r"(a|b\+)"
    assert chosen([".*"]) == ".*"
