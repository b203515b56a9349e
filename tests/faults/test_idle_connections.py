"""Somebody opens connections to the pages by the thousand and says nothing. An alarm goes out all the same.

The process may have 256 descriptors open (setrlimit(2), RLIMIT_NOFILE), as on a small machine.
"""

import resource
import socket
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest

from tests.support.household import DAY_MS, MINUTE_MS, House, Probe, a_clutch, now_ms, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until
from tests.support.receiver import Receiver

pytestmark = pytest.mark.services

MAY_OPEN = 256
IDLE = 1_200
CRITICAL = 1
"""Of the three priorities of ISA-18.2 the highest, as messages carry it."""


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as started:
        yield started


@contextmanager
def idle_connections(url: str, count: int) -> Iterator[None]:
    """Hold connections to the pages, and say nothing on any of them."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, min(hard, 2 * count)), hard))
    address = urlsplit(url)
    with ExitStack() as held:
        for _ in range(count):
            held.enter_context(socket.create_connection((str(address.hostname), address.port or 0), timeout=10))
        yield
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def open_files(house: House) -> int:
    assert house.service.process is not None
    return len(list(Path(f"/proc/{house.service.process.pid}/fd").iterdir()))


def open_sockets(house: House) -> int:
    """The descriptors that are sockets, by the names that proc(5) gives them."""
    assert house.service.process is not None
    found = 0
    for each in Path(f"/proc/{house.service.process.pid}/fd").iterdir():
        # One may be closed between the list and the look at it.
        with suppress(FileNotFoundError):
            found += str(each.readlink()).startswith("socket:")
    return found


def is_served(house: House) -> bool:
    """True where the pages answer; whoever comes before the places are given back is cut off."""
    try:
        return house.read("/health").status_code in (200, 503)
    except httpx.TransportError:
        return False


def test_an_alarm_goes_out_while_1200_idle_connections_are_held(
    tmp_path: Path, mosquitto: Mosquitto, receiver: Receiver
) -> None:
    house = House(write_site(tmp_path / "site", mosquitto.port, receiver.url("/phone")))
    house.service.command = ["sh", "-c", f'ulimit -n {MAY_OPEN} && exec "$@"', "sh", *house.service.command]
    house.enter(a_clutch(now_ms() - 10 * DAY_MS))
    house.start()
    probe = Probe(mosquitto.port)
    try:
        began_ms = now_ms() - 40 * MINUTE_MS
        probe.temperatures((began_ms + number * MINUTE_MS, 28.0) for number in range(8))
        house.settle(8)
        with idle_connections(house.url, IDLE):
            # What the loop accepts in one go it may hold for a moment before it has looked at all of it.
            most = MAY_OPEN // 2 + 32
            wait_until(lambda: open_files(house) <= most, "the connections that are too many to be closed")
            probe.temperatures((began_ms + (8 + number) * MINUTE_MS, 39.5) for number in range(32))
            wait_until(lambda: bool(receiver.received), "the alarm at the receiver", 30)
            assert receiver.received[0].json()["priority"] == CRITICAL
        wait_until(lambda: is_served(house), "the pages to answer again")
        assert house.read("/").status_code == 200
        assert "out of system resource" not in house.service.output()
    finally:
        probe.close()
        house.service.stop()


def test_who_keeps_silent_is_cut_off_and_who_asks_is_served_meanwhile(tmp_path: Path, mosquitto: Mosquitto) -> None:
    house = House(write_site(tmp_path / "site", mosquitto.port))
    house.start()
    try:
        with idle_connections(house.url, 60):
            assert httpx.get(f"{house.url}/health", timeout=10).status_code in (200, 401, 503)
            before = open_sockets(house)
            # Ten seconds for a head is what the pages wait.
            wait_until(lambda: open_sockets(house) <= before - 60, "the idle ones to be cut off", 20)
    finally:
        house.service.stop()
