"""A simulated site, and the feed that plays it on a clock."""

import threading
from collections.abc import Callable, Mapping

import numpy as np
import pytest

from config.model import Box, ChannelSpec, Incubator, Probe, Site, Source, Zone
from config.words import Quantity
from sensors.feed import Command, Feed
from sensors.simulation.probes import FaultKind
from sensors.simulation.world import SimulatedSite, history

START_MS = 1_780_000_000_000
HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
AIR = ChannelSpec(name="t", quantity=Quantity.AIR_TEMPERATURE)
HUMIDITY = ChannelSpec(name="rh", quantity=Quantity.RELATIVE_HUMIDITY)
LID = ChannelSpec(name="lid", quantity=Quantity.SURFACE_TEMPERATURE)
NORTH = Incubator(
    id="north",
    name="North cabinet",
    room_temperature_c=19.0,
    temperature_factor=0.85,
    zones=(
        Zone(id="upper", name="upper shelf", boxes=(Box(id="N1"),)),
        Zone(id="lower", name="lower shelf", boxes=(Box(id="N2"),)),
    ),
)
SOUTH = Incubator(id="south", name="South cabinet")
UPPER = Probe(id="north-upper", place="north/upper", interval_s=60, channels=(AIR, HUMIDITY))
LOWER = Probe(id="north-lower", place="north/lower", interval_s=60, channels=(AIR, HUMIDITY))
BOX = Probe(id="north-n1", place="north/upper/N1", interval_s=300, channels=(AIR, HUMIDITY, LID))
FOREIGN = Probe(
    id="south-air",
    place="south",
    interval_s=120,
    channels=(AIR,),
    sources=(Source(topic="old/south", channel="t", unit="degC"),),
)
SITE = Site(name="Barn", time_zone="Europe/Zurich", incubators=(NORTH, SOUTH), probes=(UPPER, LOWER, BOX, FOREIGN))
SENT = list[tuple[str, int, dict[str, tuple[float, str]]]]


class Collector:
    """An outlet that keeps what it is given."""

    def __init__(self, probe_id: str, sent: SENT) -> None:
        self.probe_id, self.sent = probe_id, sent
        self.log: list[str] = []

    def start(self) -> None:
        self.log.append("start")

    def publish(self, measured_at_ms: int, values: Mapping[str, tuple[float, str]]) -> None:
        self.sent.append((self.probe_id, measured_at_ms, dict(values)))

    def flush(self, timeout_s: float) -> bool:
        self.log.append("flush" if timeout_s >= 0 else "impatient")
        return True

    def stop(self) -> None:
        self.log.append("stop")


class FakeTime(threading.Event):
    """A clock that only a wait moves on, `rate` times as far as was waited."""

    def __init__(self, rate: float) -> None:
        super().__init__()
        self.rate, self.now = rate, float(START_MS)
        self.waits: list[float] = []
        self.planned: list[tuple[int, Callable[[], None]]] = []

    def now_ms(self) -> int:
        return int(self.now)

    def wait(self, timeout: float | None = None) -> bool:
        assert timeout is not None
        self.waits.append(timeout)
        assert len(self.waits) < 100_000
        self.now += max(timeout * 1000 * self.rate, 1.0)
        due = [plan for plan in self.planned if plan[0] <= self.now]
        for plan in due:
            self.planned.remove(plan)
            plan[1]()
        return self.is_set()


class Stage:
    """A feed with collecting outlets on a fake clock."""

    def __init__(self, rate: float = 60.0) -> None:
        self.time = FakeTime(rate)
        self.sent: SENT = []
        self.outlets: list[Collector] = []
        self.world = SimulatedSite(SITE, START_MS, seed=3)
        self.feed = Feed(SITE, self.world, self._outlet, self.time.now_ms, rate)

    def _outlet(self, probe_id: str) -> Collector:
        self.outlets.append(Collector(probe_id, self.sent))
        return self.outlets[-1]

    def at(self, minutes: float, action: Callable[[], None]) -> None:
        self.time.planned.append((START_MS + round(minutes * 60_000), action))

    def of(self, probe_id: str, channel: str = "t") -> dict[int, float]:
        return {at_ms: values[channel][0] for probe, at_ms, values in self.sent if probe == probe_id}


def test_every_probe_reads_at_its_interval_also_one_with_a_foreign_source() -> None:
    counts = {probe.id: 0 for probe in SITE.probes}
    for _, probe_id, _ in history(SITE, START_MS, START_MS + HOUR_MS, seed=1):
        counts[probe_id] += 1
    assert counts == {"north-upper": 60, "north-lower": 60, "north-n1": 12, "south-air": 30}


def test_a_history_at_one_interval_is_in_order_and_complete() -> None:
    moments = [at_ms for at_ms, _, _ in history(SITE, START_MS, START_MS + HOUR_MS, seed=1, every_s=300)]
    assert moments == sorted(moments)
    assert len(moments) == 12 * len(SITE.probes)


def test_another_incubator_in_the_site_changes_no_reading_of_the_first() -> None:
    alone = SITE.model_copy(update={"incubators": (NORTH,), "probes": (UPPER,)})
    both = [row for row in history(SITE, START_MS, START_MS + HOUR_MS, seed=1) if row[1] == UPPER.id]
    assert list(history(alone, START_MS, START_MS + HOUR_MS, seed=1)) == both
    assert list(history(alone, START_MS, START_MS + HOUR_MS, seed=2)) != both


def test_incubators_run_at_their_set_points_and_the_box_is_steadier_and_damper() -> None:
    found: dict[str, list[dict[str, float]]] = {}
    set_points = {"north": 31.0, "south": 27.5}
    for _, probe_id, values in history(
        SITE, START_MS, START_MS + 2 * DAY_MS, seed=1, set_points_c=set_points, every_s=300
    ):
        found.setdefault(probe_id, []).append(values)
    means = {probe_id: float(np.mean([row["t"] for row in rows])) for probe_id, rows in found.items()}
    assert (means["north-upper"] + means["north-lower"]) / 2 == pytest.approx(31.0, abs=0.25)
    assert means["south-air"] == pytest.approx(27.5, abs=0.25)
    assert means["north-upper"] > means["north-lower"] + 0.5
    humidity = {
        name: float(np.mean([row["rh"] for row in found[name]])) for name in ("north-upper", "north-lower", "north-n1")
    }
    assert humidity["north-n1"] > humidity["north-lower"] > humidity["north-upper"]


def test_the_lid_of_a_box_lies_where_its_temperature_factor_puts_it() -> None:
    world = SimulatedSite(SITE, START_MS, seed=1)
    model = world.models["north"]
    model.advance_to(START_MS)
    state, climate = model.true_state, model.climate("north/upper/N1")
    # ISO 13788: f = (T_surface - T_outside)/(T_inside - T_outside); the incubator states 0.85 for its boxes.
    factor = (climate.surface_temperature_c - state.room_c) / (climate.air_temperature_c - state.room_c)
    assert factor == pytest.approx(0.85)


def test_the_feed_sends_each_reading_when_it_is_due_with_senml_units() -> None:
    stage = Stage()
    stage.feed.run(stage.time, duration_s=600)
    moments = [at_ms for _, at_ms, _ in stage.sent]
    assert moments == sorted(moments)
    assert list(stage.of("north-upper")) == [START_MS + minute * 60_000 for minute in range(10)]
    assert {name: unit for _, _, values in stage.sent for name, (_, unit) in values.items()} == {
        "t": "Cel",
        "rh": "%RH",
        "lid": "Cel",
    }
    assert all(outlet.log == ["start", "flush", "stop"] for outlet in stage.outlets)


def test_the_feed_waits_real_time_shortened_by_the_rate() -> None:
    stage = Stage(rate=60.0)
    stage.feed.run(stage.time, duration_s=600)
    # Nine minutes until the last reading, at sixty times real time.
    assert sum(stage.time.waits) == pytest.approx(9.0, abs=0.05)


def test_a_feed_that_fell_behind_catches_up_in_order_without_waiting_or_drifting() -> None:
    stage = Stage()
    stage.time.now = START_MS + 2 * HOUR_MS
    stage.feed.run(stage.time, duration_s=2 * 3600)
    assert stage.time.waits == []
    assert list(stage.of("north-upper")) == [START_MS + minute * 60_000 for minute in range(120)]
    assert [at_ms for _, at_ms, _ in stage.sent] == sorted(at_ms for _, at_ms, _ in stage.sent)


def test_a_feed_goes_on_where_a_history_has_ended() -> None:
    stage = Stage()
    past = list(stage.world.readings(START_MS + HOUR_MS, every_s=300))
    stage.time.now = START_MS + HOUR_MS
    stage.feed.run(stage.time, duration_s=300)
    assert past[-1][0] < START_MS + HOUR_MS == stage.sent[0][1]
    last_c = next(values["t"] for _, probe, values in reversed(past) if probe == "north-upper")
    assert stage.of("north-upper")[START_MS + HOUR_MS] == pytest.approx(last_c, abs=0.15)


def test_stop_ends_the_feed_while_it_waits() -> None:
    stage = Stage()
    stage.at(3.5, stage.time.set)
    stage.feed.run(stage.time)
    assert max(stage.of("north-upper")) == START_MS + 3 * 60_000
    assert all(outlet.log[-1] == "stop" for outlet in stage.outlets)


def test_a_heater_that_fails_cools_its_incubator_only_and_restored_warms_it_again() -> None:
    stage = Stage()
    stage.at(60, lambda: stage.feed.command("north", "heater-fails"))
    stage.at(240, lambda: stage.feed.command("north", Command.HEATER_RESTORED))
    stage.feed.run(stage.time, duration_s=12 * 3600)
    north, south = stage.of("north-upper"), stage.of("south-air")
    before, cold, again = (START_MS + minutes * 60_000 for minutes in (60, 240, 700))
    assert north[cold] < north[before] - 2.0
    assert north[again] == pytest.approx(north[before], abs=0.3)
    assert abs(south[cold] - south[before]) < 0.3


def test_a_heater_that_sticks_on_after_it_failed_heats() -> None:
    stage = Stage()
    stage.feed.command("south", Command.HEATER_FAILS)
    stage.feed.command("south", Command.HEATER_STICKS_ON)
    stage.feed.run(stage.time, duration_s=2 * 3600)
    south = stage.of("south-air")
    assert south[max(south)] > south[START_MS] + 2.0


def test_an_opened_door_and_lost_mains_end_when_told() -> None:
    stage = Stage()
    stage.feed.command("south", Command.DOOR_OPENED)
    stage.feed.command("south", Command.MAINS_LOST)
    stage.at(10, lambda: stage.feed.command("south", Command.DOOR_CLOSED))
    stage.at(10, lambda: stage.feed.command("south", Command.MAINS_RESTORED))
    stage.feed.run(stage.time, duration_s=6 * 3600)
    south = stage.of("south-air")
    assert south[START_MS + 10 * 60_000] < south[START_MS] - 3.0
    assert south[max(south)] == pytest.approx(29.0, abs=0.3)


def test_a_failed_probe_is_silent_and_a_repaired_one_speaks_again() -> None:
    stage = Stage()
    stage.at(2.5, lambda: stage.feed.fail_probe("north-upper", FaultKind.SILENT))
    stage.at(5.5, lambda: stage.feed.fail_probe("north-upper", None))
    stage.feed.run(stage.time, duration_s=480)
    minutes = [(at_ms - START_MS) // 60_000 for at_ms in stage.of("north-upper")]
    assert minutes == [0, 1, 2, 6, 7]


def test_what_is_not_there_is_named_with_what_is() -> None:
    feed = Stage().feed
    with pytest.raises(ValueError, match="there is no incubator 'west'; there are north, south"):
        feed.command("west", Command.MAINS_LOST)
    with pytest.raises(ValueError, match="'explode' is none of heater-fails, heater-sticks-on"):
        feed.command("north", "explode")
    with pytest.raises(ValueError, match="there is no probe 'x'; there are north-upper"):
        feed.fail_probe("x", None)
    with pytest.raises(ValueError, match="above 0"):
        Stage(rate=0.0)
