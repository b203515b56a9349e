"""Every query of the dashboards for Grafana, put to a real InfluxDB that two sites write to.

Both sites were set up alike: the same incubators, places, probes, channels and clutch labels. One name begins with the
other, and has signs in it that mean something in a pattern.
"""

import shutil
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

from daemon.development.heat_interval import HeatPiece
from daemon.mirror.points import Origin
from daemon.mirror_client import MirrorClient
from daemon.mirror_filling import fill
from daemon.mirror_query import MirrorReader
from daemon.storage import alarm_log, heat, identity
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.heat import HeatHour
from sensors.reading import Reading
from tests.conftest import require
from tests.mirror.house import AIR, HOUR_MS, HUMIDITY, MINUTE_MS, Mirrored, real_ms
from tests.support.grafana import ALL, FILES, Target, dashboard, filled_in, targets
from tests.support.influxdb import InfluxDb

pytestmark = pytest.mark.services

ALDER, BIRCH = "Alder Lane", "Alder Lane (barn) 1/2"
MINUTES = {ALDER: 150, BIRCH: 75}
HEAT_HOURS = {ALDER: 7, BIRCH: 4}
ON = {ALDER: 1, BIRCH: 2}
DAY_MS = 24 * HOUR_MS
CELL_MS = 10 * MINUTE_MS


class Fleet(NamedTuple):
    """An InfluxDB with two sites in it, and the moment up to which they measured."""

    house: Mirrored
    now_ms: int

    def times(self, site: str) -> list[int]:
        """When a site measured: each minute up to now, but for half an hour."""
        gap = range(MINUTES[site] - 39, MINUTES[site] - 9)
        return [self.now_ms - MINUTE_MS * ago for ago in range(MINUTES[site], 0, -1) if ago not in gap]

    def hours(self, site: str) -> list[int]:
        """The hours of heat of a site; the fourth from the end is missing where there are more."""
        last = self.now_ms // HOUR_MS * HOUR_MS
        listed = [last - HOUR_MS * ago for ago in range(HEAT_HOURS[site], 0, -1)]
        return listed[:-4] + listed[-3:] if len(listed) > 4 else listed

    def rows(self, target: Target, sites: Sequence[str]) -> list[dict[str, object]]:
        """What a query finds of a day: every row with a value in it or with something counted, and its tags."""
        first_ms = self.now_ms - DAY_MS
        values = {"site": sites, "incubator": [ALL], "clutch": ["Juniper"]}
        query = filled_in(target, values, first_ms, self.now_ms + MINUTE_MS)
        with MirrorReader(self.house.settings) as reader:
            return [
                {**each.tags, **dict(zip(each.columns, row, strict=True))}
                for each in reader.ask(query)
                for row in each.rows
                if any(
                    value is not None and (name, value) != ("count", 0)
                    for name, value in zip(each.columns[1:], row[1:], strict=True)
                )
            ]


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Fleet]:
    folder = tmp_path_factory.mktemp("fleet")
    engine = InfluxDb(folder / "influxdb", require(shutil.which("influxd"), "InfluxDB"))
    engine.start()
    try:
        yield _fleet(folder, engine)
    finally:
        engine.stop()


def _fleet(folder: Path, engine: InfluxDb) -> Fleet:
    houses = [Mirrored(folder / name.replace("/", "-"), engine, name) for name in (ALDER, BIRCH)]
    made = Fleet(houses[0], real_ms() // MINUTE_MS * MINUTE_MS)
    for house in houses:
        _live(made, house)
        fill(house.journal, house.site, house.settings, real_ms, None, lambda _: lambda _: None)
        house.journal.close()
    return made


def _live(fleet: Fleet, house: Mirrored) -> None:
    """Let a site measure, alarm and warm its clutch."""
    name = house.site.name
    suspect_ms = fleet.now_ms - 5 * MINUTE_MS
    house.append(
        [
            Reading(key.channel, at_ms, at_ms + 300, value, 4 if key is AIR and at_ms == suspect_ms else 0)
            for at_ms in fleet.times(name)
            for key, value in ((AIR, 28.5), (HUMIDITY, 80.0))
        ]
    )
    keys = [f"temperature-high:{AIR.channel}", f"site-silent:{name}", f"temperature-low:{AIR.channel}"]
    began = [(keys[0], "raised"), (keys[1], "raised"), (keys[1], "cleared")]
    if ON[name] == 2:
        began.append((keys[2], "raised (explained by another alarm)"))
    for number, (key, event) in enumerate(began):
        at_ms = fleet.now_ms - (20 - number) * MINUTE_MS
        row = AlarmEvent(at_ms, at_ms + 5, key, f"{key}#{number // 2}", event, 31.5, 30.0, f"told at {name}")
        house.journal.write(lambda conn, row=row: alarm_log.append_event(conn, row))  # type: ignore[misc]
    clutch, piece = house.clutch(), HeatPiece(best_ch=2.0, linear_ms=HOUR_MS, covered_ms=HOUR_MS)
    hours = [HeatHour(at_ms, piece) for at_ms in fleet.hours(name)]
    house.journal.write(lambda conn: heat.put_hours(conn, clutch, hours))
    with house.journal.read() as conn:
        origin = Origin(name, identity.journal_id(conn))
    with MirrorClient(house.settings) as client:
        assert client.check(origin, fleet.now_ms).status == 204


def one(_fleet: Fleet, _site: str) -> int:
    return 1


def both_channels(_fleet: Fleet, _site: str) -> int:
    return 2


def open_alarms(_fleet: Fleet, site: str) -> int:
    return ON[site]


def kinds_raised(_fleet: Fleet, _site: str) -> int:
    return 2


def all_events(_fleet: Fleet, site: str) -> int:
    return 2 + ON[site]


def stretches(length_ms: int) -> Callable[[Fleet, str], int]:
    """How many stretches of time have readings in them."""
    return lambda fleet, site: len({at_ms // length_ms for at_ms in fleet.times(site)})


def stretches_of_climate(length_ms: int) -> Callable[[Fleet, str], int]:
    """How many have the start of ten minutes in them in which there are readings."""
    return lambda fleet, site: len({at_ms // CELL_MS * CELL_MS // length_ms for at_ms in fleet.times(site)})


def hours(fleet: Fleet, site: str) -> int:
    return len(fleet.hours(site))


def days_of_heat(fleet: Fleet, site: str) -> int:
    return len({at_ms // DAY_MS for at_ms in fleet.hours(site)})


FIVE, TEN = stretches(5 * MINUTE_MS), stretches(CELL_MS)
TEN_CLIMATE = stretches_of_climate(CELL_MS)
EXPECTED: dict[str, Callable[[Fleet, str], int]] = {
    "all-sites-1-A": one,
    "all-sites-2-A": open_alarms,
    "all-sites-3-A": FIVE,
    "all-sites-4-A": TEN_CLIMATE,
    "all-sites-5-A": kinds_raised,
    "all-sites-6-A": one,
    "one-site-1-A": both_channels,
    "one-site-2-A": open_alarms,
    "one-site-3-A": FIVE,
    "one-site-4-A": FIVE,
    "one-site-5-A": TEN_CLIMATE,
    "one-site-5-B": TEN_CLIMATE,
    "one-site-6-A": TEN_CLIMATE,
    "one-site-7-A": one,
    "one-site-8-A": all_events,
    "heat-of-a-clutch-1-A": one,
    "heat-of-a-clutch-1-B": one,
    "heat-of-a-clutch-1-C": one,
    "heat-of-a-clutch-2-A": hours,
    "heat-of-a-clutch-2-B": hours,
    "heat-of-a-clutch-2-C": hours,
    "heat-of-a-clutch-3-A": days_of_heat,
    "heat-of-a-clutch-4-A": days_of_heat,
    "mirror-1-A": one,
    "mirror-2-A": one,
    "mirror-3-A": TEN,
    "mirror-4-A": one,
    "mirror-5-A": one,
    "mirror-6-A": stretches_of_climate(HOUR_MS),
    "mirror-7-A": hours,
}


@pytest.mark.parametrize("target", [pytest.param(each, id=each.name) for each in targets()])
def test_every_query_finds_what_the_chosen_site_wrote_and_nothing_of_the_other(fleet: Fleet, target: Target) -> None:
    expected = EXPECTED[target.name]
    found = {site: fleet.rows(target, [site]) for site in (ALDER, BIRCH)}
    for site, rows in found.items():
        assert len(rows) == expected(fleet, site), rows
        assert {row["site"] for row in rows if "site" in row} <= {site}
        assert {row[name] for row in rows for name in ("why", "reason") if name in row} <= {f"told at {site}"}
    if '"site"' in target.query.partition("GROUP BY")[2]:
        together = fleet.rows(target, [ALDER, BIRCH])
        assert len(together) == sum(map(len, found.values()))
        assert len(fleet.rows(target, [ALL])) == len(together)


def test_every_query_has_a_number_that_it_is_held_to() -> None:
    assert {each.name for each in targets()} == set(EXPECTED)


def test_the_values_are_those_that_the_sites_stored(fleet: Fleet) -> None:
    named = {each.name: each for each in targets()}

    def of(name: str, site: str) -> list[dict[str, object]]:
        return fleet.rows(named[name], [site])

    assert {row["mean"] for row in of("all-sites-3-A", ALDER)} == {28.5}
    # Six hours of 2 °C·h each, one hour is missing: 2, 4 and so on up to 12.
    assert [row["cumulative_sum"] for row in of("heat-of-a-clutch-2-A", ALDER)] == [2.0, 4.0, 6.0, 8.0, 10.0, 12.0]
    assert [row["missing"] for row in of("mirror-4-A", BIRCH)] == [0.0]
    on = {row["alarm"]: (row["state"], row.get("where")) for row in of("all-sites-2-A", BIRCH)}
    assert on == {
        f"temperature-high:{AIR.channel}": ("raised", "north"),
        f"temperature-low:{AIR.channel}": ("raised (explained by another alarm)", "north"),
    }
    newest = {row["channel"]: (row["value"], row["came"], row["judged"]) for row in of("one-site-1-A", ALDER)}
    last_ms = fleet.times(ALDER)[-1] + 300
    assert newest == {AIR.channel: (28.5, last_ms, 0.0), HUMIDITY.channel: (80.0, last_ms, 0.0)}


def test_two_sites_of_one_name_and_a_probe_that_was_moved(fleet: Fleet, tmp_path: Path) -> None:
    """Each journal has its own alarms and channels; a channel stands there once, at the place where it is now."""
    engine, bucket = fleet.house.engine, "twins"
    engine.query(f"CREATE DATABASE {bucket}")
    houses = [Mirrored(tmp_path / each, engine, ALDER, bucket=bucket) for each in ("one", "other")]
    twins = Fleet(houses[0], fleet.now_ms)
    for house in houses:
        _live(twins, house)
        fill(house.journal, house.site, house.settings, real_ms, None, lambda _: lambda _: None)
        with house.journal.read() as conn:
            journal = identity.journal_id(conn)
        house.journal.close()
        tags = f"channel={AIR.channel},incubator=north,journal={journal},place=north,probe=north-air,site=Alder\\ Lane"
        fields = f"value=20,received_ms={fleet.now_ms - DAY_MS}i,seq=0i,quality=0i {fleet.now_ms - DAY_MS}"
        engine.write(bucket, f"reading,{tags},quantity=air_temperature {fields}")
    named = {each.name: each for each in targets()}
    for name in ("all-sites-2-A", "one-site-2-A"):
        assert [row["state"] for row in twins.rows(named[name], [ALDER])] == ["raised", "raised"]
    newest = twins.rows(named["one-site-1-A"], [ALDER])
    assert len(newest) == 4
    assert {(row["value"], row["where"]) for row in newest} == {(28.5, "north/upper"), (80.0, "north/upper")}


def test_what_can_be_chosen_is_what_the_sites_have(fleet: Fleet) -> None:
    for file in FILES:
        for variable in dashboard(file)["templating"]["list"]:
            asked = Target(file.stem, 0, "", variable["query"], "1m")
            query = filled_in(asked, {"site": [BIRCH]}, 0, 0)
            with MirrorReader(fleet.house.settings) as reader:
                found = [row[1] for each in reader.ask(query) for row in each.rows]
            wanted = {"site": [ALDER, BIRCH], "incubator": ["north"], "clutch": ["Juniper"]}
            assert found == wanted[variable["name"]]
