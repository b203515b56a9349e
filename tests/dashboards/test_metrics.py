"""What a collector of metrics reads: parsed by the reference parsers of both formats, never by our own eyes."""

import math
import re
from collections.abc import Iterator
from dataclasses import replace

import httpx
import pytest
from prometheus_client import Metric
from prometheus_client.openmetrics import parser
from prometheus_client.parser import text_string_to_metric_families as plain

from config.words import AlarmKind, Priority, Quantity
from daemon.inside import Inside, MirrorNow
from daemon.overview import Overview
from daemon.storage.errors import JournalError
from dashboards.app import create_app
from sensors.board_state import BoardState
from sensors.reading import Outcome, Quality
from tests.dashboards import samples
from tests.dashboards.asking import ask

OPENMETRICS = "application/openmetrics-text"
ACCEPTED = f"{OPENMETRICS};version=1.0.0;q=0.5,text/plain;version=0.0.4;q=0.3,*/*;q=0.1"
INSIDE = Inside(
    version="1.2.3",
    messages={Outcome.STORED: 4_711, Outcome.MALFORMED: 2},
    alerts={"waiting": 1, "delivered": 9, "abandoned": 3, "superseded": 0},
    unevaluated=7,
    evaluation_lag_s=2.5,
    journal_bytes=4_096_000,
    disk_free_bytes=12_345_678_900,
)
NORTH = {"site": "Reptile room", "incubator": "north", "zone": "upper", "box": ""}
AIR = {**NORTH, "probe": "north-air", "channel": "north-air/t"}
Found = dict[str, list[tuple[dict[str, str], float]]]


def openmetrics(text: str) -> list[Metric]:
    """What the reference parser reads; it raises ValueError for whatever is against the rules."""
    return list(parser.text_string_to_metric_families(text))  # type: ignore[no-untyped-call]


def scraped(overview: Overview, inside: Inside = INSIDE, accept: str = ACCEPTED) -> httpx.Response:
    return ask(create_app(lambda: overview, inside=lambda: inside), "/metrics", headers={"Accept": accept})


def families(overview: Overview, inside: Inside = INSIDE) -> list[Metric]:
    return openmetrics(scraped(overview, inside).text)


def found(overview: Overview, inside: Inside = INSIDE) -> Found:
    """All samples by name: their labels and values."""
    by_name: Found = {}
    for family in families(overview, inside):
        for sample in family.samples:
            by_name.setdefault(sample.name, []).append((dict(sample.labels), sample.value))
    return by_name


def everything() -> Overview:
    mains = replace(samples.temperature(0.0), channel="power/mains", probe="power", quantity=Quantity.MAINS)
    door = replace(samples.temperature(1.0), channel="north-door/open", probe="north-door", quantity=Quantity.DOOR)
    surface = replace(samples.temperature(27.0), channel="lid/t", probe="lid", quantity=Quantity.SURFACE_TEMPERATURE)
    channels = (samples.temperature(), samples.humidity(), surface, mains, door)
    alarms = (samples.alarm(), samples.alarm(AlarmKind.HUMIDITY_LOW, Priority.LOW, state="shelved"))
    return replace(samples.overview(samples.incubator(*channels, alarms=alarms), samples.south()), room=samples.room())


def test_each_reading_is_there_in_its_base_unit_with_where_it_was_measured() -> None:
    shown = found(everything())
    temperatures = {labels["channel"]: (labels, value) for labels, value in shown["clutchwarden_temperature_celsius"]}
    assert temperatures["north-air/t"] == ({**AIR, "quantity": "air_temperature"}, 28.4)
    assert temperatures["lid/t"][0]["quantity"] == "surface_temperature"
    assert (temperatures["room-air/t"][0]["incubator"], temperatures["room-air/t"][1]) == ("room", 19.4)
    [(labels, humidity)] = shown["clutchwarden_relative_humidity_ratio"]
    assert (labels, humidity) == ({**AIR, "channel": "north-air/rh"}, 0.84)
    assert [value for _, value in shown["clutchwarden_mains_present"]] == [0.0]
    assert [value for _, value in shown["clutchwarden_door_open"]] == [1.0]
    assert (AIR, 20.0) in shown["clutchwarden_reading_age_seconds"]


def test_dew_points_and_clutches_are_there() -> None:
    box = replace(samples.clutch(), place="north/upper/N1")
    shown = found(samples.overview(replace(samples.incubator(), clutches=(box,))))
    assert shown["clutchwarden_dew_point_celsius"] == [(NORTH, 25.4)]
    assert shown["clutchwarden_dew_point_margin_kelvin"] == [(NORTH, 1.4)]
    ours = {"site": "Reptile room", "clutch": "1"}
    heats = [
        ({**ours, "estimate": name}, value) for name, value in (("low", 4_890.2), ("best", 5_012.4), ("high", 5_130.9))
    ]
    assert shown["clutchwarden_clutch_heat_degree_hours"] == heats
    assert shown["clutchwarden_clutch_development_ratio"] == [(ours, 0.28)]
    about = {
        "label": "Ada 2026-1",
        "species": "correlophus-ciliatus",
        "incubator": "north",
        "zone": "upper",
        "box": "N1",
    }
    assert shown["clutchwarden_clutch_info"] == [({**ours, **about}, 1.0)]


def test_alarms_are_counted_by_state_and_priority_and_none_is_known_to_be_none() -> None:
    counted = {(each["state"], each["priority"]): value for each, value in found(everything())["clutchwarden_alarms"]}
    assert {key: value for key, value in counted.items() if value} == {("unacknowledged", "2"): 1, ("shelved", "3"): 1}
    assert len(counted) == 8 * 3  # the states of ISA-18.2 but normal, by the three priorities
    assert ("normal", "1") not in counted


def test_the_daemon_tells_of_itself() -> None:
    overview = replace(samples.overview(), samples_stored=123_456, broker_connected=False)
    shown = found(overview)
    site = {"site": "Reptile room"}
    assert shown["clutchwarden_samples_stored_total"] == [(site, 123_456)]
    assert shown["clutchwarden_broker_connected"] == [(site, 0.0)]
    assert shown["clutchwarden_healthy"] == [(site, 0.0)]
    assert shown["clutchwarden_outbox_waiting_messages"] == [(site, 1)]
    assert shown["clutchwarden_journal_size_bytes"] == [(site, 4_096_000)]
    assert shown["clutchwarden_journal_disk_free_bytes"] == [(site, 12_345_678_900)]
    assert shown["clutchwarden_evaluation_lag_seconds"] == [(site, 2.5)]
    assert shown["clutchwarden_evaluation_waiting_readings"] == [(site, 7)]
    assert shown["clutchwarden_build_info"] == [({**site, "version": "1.2.3"}, 1.0)]
    messages = {labels["outcome"]: value for labels, value in shown["clutchwarden_probe_messages_total"]}
    assert (messages["stored"], messages["rejected: malformed"], messages["duplicate"]) == (4_711, 2, 0)
    alerts = {labels["outcome"]: value for labels, value in shown["clutchwarden_alert_messages_total"]}
    assert alerts == {"delivered": 9, "abandoned": 3, "superseded": 0}
    assert not any("mirror" in name for name in shown)


def test_a_mirror_tells_how_far_behind_it_is() -> None:
    shown = found(samples.overview(), replace(INSIDE, mirror=MirrorNow(12, 90.5, 3)))
    site = {"site": "Reptile room"}
    assert shown["clutchwarden_mirror_waiting_readings"] == [(site, 12)]
    assert shown["clutchwarden_mirror_lag_seconds"] == [(site, 90.5)]
    assert shown["clutchwarden_mirror_parked_points"] == [(site, 3)]


@pytest.mark.parametrize(
    "channel",
    [
        samples.temperature(None),
        samples.temperature(85.0, quality=int(Quality.FAULT_VALUE)),
        samples.temperature(28.4, age_ms=samples.OLD_AFTER_MS + 1),
    ],
    ids=["never heard", "suspect", "old"],
)
def test_what_is_not_known_has_no_sample(channel: object) -> None:
    overview = samples.with_channels(channel)  # type: ignore[arg-type]
    shown = found(overview)
    assert "clutchwarden_temperature_celsius" not in shown


def test_a_silent_or_suspect_probe_shows_by_its_age_and_its_mark() -> None:
    silent = found(samples.with_channels(samples.temperature(age_ms=3_600_000)))
    assert silent["clutchwarden_reading_age_seconds"] == [(AIR, 3_600.0)]
    suspect = found(samples.with_channels(samples.temperature(85.0, quality=int(Quality.FAULT_VALUE))))
    assert suspect["clutchwarden_reading_suspect"] == [(AIR, 1.0)]
    assert "clutchwarden_reading_age_seconds" not in found(samples.with_channels(samples.temperature(None)))


def test_an_old_dew_point_an_unknown_surface_and_an_unknown_disk_are_absent() -> None:
    old = replace(samples.climate(), measured_at_ms=samples.NOW_MS - samples.OLD_AFTER_MS - 1)
    assert "clutchwarden_dew_point_celsius" not in found(
        samples.overview(replace(samples.incubator(), climates=(old,)))
    )
    bare = found(samples.overview(replace(samples.incubator(), climates=(samples.climate(None),))))
    assert "clutchwarden_dew_point_celsius" in bare
    assert "clutchwarden_dew_point_margin_kelvin" not in bare
    assert "clutchwarden_journal_disk_free_bytes" not in found(everything(), replace(INSIDE, disk_free_bytes=None))
    eggs = found(samples.overview(replace(samples.incubator(), clutches=(samples.days_only_clutch(),))))
    assert "clutchwarden_clutch_info" in eggs
    assert not {"clutchwarden_clutch_heat_degree_hours", "clutchwarden_clutch_development_ratio"} & eggs.keys()


def values(metrics: list[Metric]) -> Iterator[float]:
    return (sample.value for family in metrics for sample in family.samples)


def test_names_and_units_keep_the_rules_of_openmetrics() -> None:
    """OpenMetrics 1.0: names by its ABNF, a unit ends the name, base units, a counter ends in _total, no NaN here."""
    metrics = families(everything())
    base_units = {"celsius", "kelvin", "ratio", "seconds", "bytes", "degree_hours", ""}  # degree hours: project choice
    for family in metrics:
        assert re.fullmatch(r"clutchwarden_[a-z_]*[a-z]", family.name)
        assert family.unit in base_units
        assert not family.unit or family.name.endswith(f"_{family.unit}")
        assert family.documentation.endswith(".") or family.documentation.endswith(").")
        assert {sample.name.removeprefix(family.name) for sample in family.samples} <= {
            "counter": {"_total"},
            "info": {"_info"},
            "gauge": {""},
        }[family.type]
        for sample in family.samples:
            assert all(re.fullmatch("[a-z_]+", name) and not name.startswith("__") for name in sample.labels)
    assert len({family.name for family in metrics}) == len(metrics)
    assert all(math.isfinite(value) for value in values(metrics))


def test_the_number_of_series_is_bounded_by_the_site() -> None:
    overview = everything()
    count = sum(len(family.samples) for family in families(overview))
    channels = sum(len(each.channels) for each in overview.watched)
    climates = sum(len(each.climates) for each in overview.incubators)
    clutches = sum(len(each.clutches) for each in overview.incubators)
    assert count <= 3 * channels + 2 * climates + 5 * clutches + 55
    noisy = replace(INSIDE, messages=dict.fromkeys(Outcome, 10**9))
    many = samples.overview(samples.incubator(alarms=(samples.alarm(),) * 500))
    assert len(list(values(families(many, noisy)))) == len(
        list(values(families(samples.overview(samples.incubator()), INSIDE)))
    )


def test_text_of_people_cannot_break_a_line() -> None:
    hostile = 'Ada "1"\n\\ } evil 1'
    labels, _ = found(samples.overview(replace(samples.incubator(), clutches=(samples.clutch(hostile),))))[
        "clutchwarden_clutch_info"
    ][0]
    assert labels["label"] == hostile


@pytest.mark.parametrize(
    ("accept", "is_openmetrics"),
    [
        (ACCEPTED, True),
        (f"{OPENMETRICS}; version=1.0.0; charset=utf-8", True),
        ("text/plain", False),
        ("", False),
        ("*/*", False),
        (f"{OPENMETRICS};q=0, text/plain", False),
        (f"{OPENMETRICS.upper()};version=abc", True),
        (f"text/plain;version=1.x;;,{OPENMETRICS}x", False),
    ],
)
def test_the_format_follows_the_accept_header_however_odd(accept: str, is_openmetrics: bool) -> None:
    answer = scraped(everything(), accept=accept)
    assert answer.status_code == 200
    if is_openmetrics:
        assert answer.headers["content-type"] == "application/openmetrics-text; version=1.0.0; charset=utf-8"
        assert answer.text.endswith("# EOF\n")
        assert openmetrics(answer.text)
    else:
        assert answer.headers["content-type"] == "text/plain; version=0.0.4; charset=utf-8"
        names = {family.name for family in plain(answer.text)}
        assert {"clutchwarden_temperature_celsius", "clutchwarden_samples_stored"} <= names


def test_a_journal_that_cannot_be_read_gives_no_figures() -> None:
    def failing() -> Inside:
        raise JournalError("cannot read the journal", "/j", "the disk is gone", "Look at the cable.")

    answer = ask(create_app(samples.overview, inside=failing), "/metrics")
    assert answer.status_code == 503
    assert "clutchwarden_" not in answer.text


def test_boards_that_have_spoken_have_what_waits_there_and_what_they_lost() -> None:
    boards = {"north-air": BoardState(waiting=12, full=0.25, given_up=3, undated=4), "south-air": BoardState()}
    by_name = found(samples.overview(), replace(INSIDE, boards=boards))
    north, south = ({"site": "Reptile room", "probe": probe} for probe in boards)
    assert by_name["clutchwarden_board_waiting_readings"] == [(north, 12)]
    assert by_name["clutchwarden_board_spool_full_ratio"] == [(north, 0.25)]
    assert by_name["clutchwarden_board_lost_readings_total"] == [(north, 7), (south, 0)]
