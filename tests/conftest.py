"""Fixtures that every room shares: the real services, each on a free port and in a folder of its own."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from tests.support import mosquitto as mosquitto_support
from tests.support.hashes import with_full_work, with_little_work
from tests.support.influxdb import InfluxDb
from tests.support.mosquitto import Mosquitto

# No example has to end by a clock on the wall: it goes on also while other programs have the processor.
settings.register_profile("without a clock", deadline=None)
settings.load_profile("without a clock")


def require(executable: str | None, name: str) -> str:
    """The program's path; without it the test skips, or fails where all services are asked for."""
    if executable:
        return executable
    sentence = f"{name} is not installed; deploy/test-services.sh brings it"
    if os.environ.get("CLUTCHWARDEN_REQUIRE_SERVICES") == "1":
        pytest.fail(sentence)
    pytest.skip(sentence)


@pytest.fixture(scope="session", autouse=True)
def little_work() -> Iterator[None]:
    """Hash passwords with little work in the process of the tests; a daemon of its own goes by its own parameters."""
    with pytest.MonkeyPatch.context() as patch:
        with_little_work(patch)
        yield


@pytest.fixture
def full_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """For tests of that work: passwords are hashed as clutchwarden does."""
    with_full_work(monkeypatch)


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Mosquitto]:
    """A running Mosquitto of the test's own."""
    broker = Mosquitto(tmp_path / "mosquitto", require(mosquitto_support.program(), "Mosquitto"))
    broker.start()
    yield broker
    broker.stop()


@pytest.fixture
def influxdb(tmp_path: Path) -> Iterator[InfluxDb]:
    """A running InfluxDB of the test's own, reachable for influxdb-client."""
    engine = InfluxDb(tmp_path / "influxdb", require(shutil.which("influxd"), "InfluxDB"))
    engine.start()
    yield engine
    engine.stop()


@pytest.fixture(scope="session")
def chromium() -> str:
    """The path of Chromium."""
    return require(shutil.which("chromium") or shutil.which("chromium-browser"), "Chromium")
