"""What the service brings to a real InfluxDB, and what it does where that is away, refuses or is slow."""

import json
import logging
import threading

import pytest

from daemon.climate.psychrometrics import dew_point_c
from daemon.storage import mirror
from sensors.reading import Reading
from tests.mirror.house import AIR, BUCKET, HOUR_MS, MINUTE_MS, START_MS, TOKEN, Mirrored
from tests.support.influxdb import Fault
from tests.support.processes import wait_until

pytestmark = pytest.mark.services


def copied(house: Mirrored, seconds: float = 20.0) -> None:
    with house.keeper():
        wait_until(house.has_all, "everything in the mirror", seconds)


def trouble(house: Mirrored) -> str:
    with house.journal.read() as conn:
        state = mirror.state(conn, house.target)
    return "" if state is None else state.trouble


def test_every_reading_comes_with_its_times_value_and_quality(house: Mirrored) -> None:
    house.store(0, 30)
    house.append([Reading(AIR.channel, START_MS + 31 * MINUTE_MS, START_MS + 40 * MINUTE_MS, 0.1 + 0.2, 9)])
    copied(house)
    rows = house.ask(f"SELECT * FROM reading WHERE channel = '{AIR.channel}'")
    assert len(rows) == 31
    last = rows[-1]
    assert (last["time"], last["value"], last["received_ms"], last["quality"], last["seq"]) == (
        START_MS + 31 * MINUTE_MS,
        0.30000000000000004,
        START_MS + 40 * MINUTE_MS,
        9,
        61,
    )
    tags = {name: last[name] for name in ("site", "incubator", "place", "probe", "quantity")}
    assert tags == {
        "site": "Test house",
        "incubator": "north",
        "place": "north/upper",
        "probe": "north-air",
        "quantity": "air_temperature",
    }
    assert house.differing() == []


def test_the_dew_point_of_each_ten_minutes_is_that_of_their_first_readings(house: Mirrored) -> None:
    house.store(0, 25)
    copied(house)
    found = house.ask("SELECT * FROM climate")
    assert [row["time"] for row in found] == [START_MS, START_MS + 10 * MINUTE_MS, START_MS + 20 * MINUTE_MS]
    first = house.ask(f"SELECT value FROM reading WHERE time = {START_MS}ms GROUP BY quantity")
    air_c, humidity_pct = (float(str(row["value"])) for row in first)
    assert found[0]["temperature_c"] == air_c
    assert found[0]["dew_point_c"] == pytest.approx(dew_point_c(air_c, humidity_pct), abs=1e-9)
    # ISO 13788 by hand: the surface is at 20 + 0.9 * (air - 20) here, so the margin is that less the dew point.
    surface_c = 20 + 0.9 * (air_c - 20)
    assert found[0]["margin_k"] == pytest.approx(surface_c - dew_point_c(air_c, humidity_pct), abs=1e-9)


def test_an_earlier_reading_that_comes_late_takes_the_place_of_the_first(house: Mirrored) -> None:
    house.store(5, 5)
    copied(house)
    house.store(0, 2)
    copied(house)
    [only] = house.ask("SELECT * FROM climate")
    assert only["time"] == START_MS
    first = house.ask(f"SELECT value FROM reading WHERE time = {START_MS}ms AND quantity = 'air_temperature'")
    assert only["temperature_c"] == first[0]["value"]


def test_alarm_events_come_with_their_words(house: Mirrored) -> None:
    house.event(1)
    house.event(2, reason="ça va, 30 °C = «warm»")
    copied(house)
    found = house.ask("SELECT * FROM alarm_event")
    assert [row["number"] for row in found] == [1, 2]
    assert [row["reason"] for row in found] == ['too warm, "really"\\', "ça va, 30 °C = «warm»"]
    assert {row["kind"] for row in found} == {"temperature-high"}
    assert {row["incubator"] for row in found} == {"north"}
    assert found[0]["value"] == 31.5
    assert house.differing() == []


def test_hours_of_heat_that_are_over_come_and_come_again_where_they_change(house: Mirrored) -> None:
    clutch = house.clutch()
    house.heat(clutch, 5, 2.5)
    now = [START_MS // HOUR_MS * HOUR_MS + 4 * HOUR_MS]
    with house.keeper(lambda: now[0]):
        wait_until(lambda: len(house.ask("SELECT * FROM heat")) == 4, "the four hours that are over")
    house.heat(clutch, 2, 3.5)
    now[0] += HOUR_MS
    with house.keeper(lambda: now[0]):
        wait_until(lambda: len(house.ask("SELECT * FROM heat")) == 5, "the fifth hour")
    found = house.ask("SELECT * FROM heat")
    assert [row["degree_hours_ch"] for row in found] == [3.5, 3.5, 2.5, 2.5, 2.5]
    assert {row["clutch"] for row in found} == {"Juniper"}


def test_after_a_restart_it_goes_on_where_it_was(house: Mirrored) -> None:
    house.store(0, 20)
    copied(house)
    before = len(house.engine.requests)
    house.store(20, 1)
    copied(house)
    written = [path for path, _ in house.engine.requests[before:] if path.startswith("/api/v2/write")]
    # One for the two readings and one for the climate that they bring.
    assert 1 <= len(written) <= 2
    assert house.differing() == []


@pytest.mark.parametrize("status", [401, 403, 404, 429, 500, 503])
def test_what_says_nothing_about_the_lines_is_waited_for(house: Mirrored, status: int) -> None:
    house.store(0, 20)
    house.engine.misbehave(Fault(status, b'{"message": "not now"}'))
    with house.keeper():
        wait_until(lambda: "not now" in trouble(house), "the trouble on record")
        house.engine.misbehave(None)
        wait_until(house.has_all, "everything in the mirror", 30)
        wait_until(lambda: not trouble(house), "the end of the trouble")
    assert house.differing() == []
    with house.journal.read() as conn:
        assert mirror.count_parked(conn, house.target) == 0


def test_an_engine_that_is_off_gets_everything_once_it_is_back(house: Mirrored) -> None:
    house.store(0, 20)
    house.engine.halt()
    with house.keeper():
        wait_until(lambda: bool(trouble(house)), "the trouble on record")
        house.store(20, 20)
        house.engine.resume()
        wait_until(house.has_all, "everything in the mirror", 30)
    assert house.differing() == []


def test_one_that_does_not_answer_is_given_up_and_tried_again(house: Mirrored) -> None:
    house.settings = house.settings.model_copy(update={"timeout_s": 0.3})
    house.store(0, 20)
    released = threading.Event()
    house.engine.misbehave(Fault(hangs=released))
    try:
        with house.keeper():
            wait_until(lambda: "did not answer in time" in trouble(house), "the trouble on record")
            house.engine.misbehave(None)
            wait_until(house.has_all, "everything in the mirror", 30)
    finally:
        released.set()
    assert house.differing() == []


def test_one_point_with_a_type_conflict_is_put_aside_and_the_others_come(house: Mirrored) -> None:
    old_ms = START_MS - 90 * 24 * HOUR_MS
    # In the shard of that old day the field is an integer already, so a real number conflicts there and there alone.
    conflict = f"reading,site=other value=1i {old_ms}"
    house.engine.write(BUCKET, conflict)
    house.store(0, 100)
    house.append([Reading(AIR.channel, old_ms, START_MS, 25.5, 0)])
    house.store(100, 100)
    copied(house)
    with house.journal.read() as conn:
        [parked] = mirror.parked(conn, house.target)
    assert (parked.source, parked.number) == ("reading", 201)
    assert "conflict" in parked.reason
    assert house.differing() == []
    assert len(house.ask(f"SELECT value FROM reading WHERE channel = '{AIR.channel}'")) == 200


def test_one_that_refuses_everything_is_waited_for_and_nothing_is_put_aside(house: Mirrored) -> None:
    house.store(0, 3)
    house.engine.misbehave(Fault(400, b'{"message": "I do not like it"}'))
    with house.keeper():
        wait_until(lambda: "I do not like it" in trouble(house), "the trouble on record")
        house.engine.misbehave(None)
        wait_until(house.has_all, "everything in the mirror", 30)
    with house.journal.read() as conn:
        assert mirror.count_parked(conn, house.target) == 0
    assert house.differing() == []


def test_it_stays_away_for_as_long_as_it_is_asked_to(house: Mirrored) -> None:
    house.store(0, 3)
    house.engine.misbehave(Fault(429, b"", {"Retry-After": "600"}))
    with house.keeper():
        wait_until(lambda: bool(trouble(house)), "the trouble on record")
        asked = len(house.engine.requests)
        # Without the wish it would have been tried three times more in this time: after 0.2, 0.4 and 0.8 s.
        with pytest.raises(AssertionError, match="in vain"):
            wait_until(lambda: len(house.engine.requests) > asked, "another try", 1.5)


def test_no_token_is_in_a_log_or_a_trouble(house: Mirrored, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    house.store(0, 3)
    told = json.dumps({"message": f"unauthorized: {TOKEN}"}).encode()
    house.engine.misbehave(Fault(401, told, {"X-Influxdb-Error": TOKEN}))
    with house.keeper():
        wait_until(lambda: bool(trouble(house)), "the trouble on record")
    assert house.engine.requests[-1][1] == f"Token {TOKEN}"
    assert TOKEN not in caplog.text
    assert TOKEN not in trouble(house)
