"""A collector of metrics asks a real daemon with a key of its own, while readings come in over a real broker."""

from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from prometheus_client.parser import text_string_to_metric_families

from tests.support.household import MINUTE_MS, House, Probe, now_ms, pack, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until

pytestmark = pytest.mark.services


@pytest.fixture
def house(tmp_path: Path, mosquitto: Mosquitto) -> Iterator[House]:
    home = House(write_site(tmp_path / "site", mosquitto.port))
    yield home
    home.service.stop()


def figures(house: House) -> dict[str, float]:
    """The samples without regard to labels; of several with one name the last."""
    families = text_string_to_metric_families(house.read("/metrics").text)
    return {sample.name: sample.value for family in families for sample in family.samples}


def test_a_scrape_shows_what_was_just_measured_and_how_the_daemon_is(house: House, mosquitto: Mosquitto) -> None:
    house.start()
    probe = Probe(mosquitto.port)
    sent_ms = now_ms()
    probe.send([pack(sent_ms - MINUTE_MS, {"air": 28.4, "rh": 81.0}), pack(sent_ms, {"air": 28.5, "rh": 82.0}), b"{"])
    house.settle(3)
    wait_until(lambda: figures(house).get("clutchwarden_temperature_celsius") == 28.5, "the newest reading", 60)
    found = figures(house)
    assert found["clutchwarden_relative_humidity_ratio"] == 0.82
    assert found["clutchwarden_samples_stored_total"] == 4
    assert found["clutchwarden_broker_connected"] == found["clutchwarden_healthy"] == 1
    assert found["clutchwarden_evaluation_waiting_readings"] == found["clutchwarden_evaluation_lag_seconds"] == 0
    assert 0 <= found["clutchwarden_reading_age_seconds"] < 60
    assert found["clutchwarden_journal_size_bytes"] > 0
    wait_until(lambda: "clutchwarden_journal_disk_free_bytes" in figures(house), "a look at the disk", 60)

    mosquitto.stop()
    wait_until(lambda: figures(house)["clutchwarden_broker_connected"] == 0, "the broker to be missed", 60)
    assert figures(house)["clutchwarden_healthy"] == 0
    assert httpx.get(f"{house.url}/metrics", timeout=60).status_code == 401
    probe.close()
