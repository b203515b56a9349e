"""The whole daemon on a disk that takes nothing more: people hear of it, nothing is lost, and it mends itself.

The limit is the system's own on the size of what a process writes (setrlimit(2), RLIMIT_FSIZE): every write to a file
fails from then on, until there is room again.

X-41 of the checks in tests/alarms/README.md.
"""

import resource
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.household import House, Probe, now_ms, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until
from tests.support.receiver import Receiver

pytestmark = pytest.mark.services

QUICK = """
[alarm.journal-failing]
on_delay_s = 2
off_delay_s = 1
"""


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as started:
        yield started


def let_write(house: House, largest_file_bytes: int) -> None:
    """Let the daemon make no file larger than this."""
    assert house.service.process is not None
    pid = house.service.process.pid
    _, hard = resource.prlimit(pid, resource.RLIMIT_FSIZE)
    resource.prlimit(pid, resource.RLIMIT_FSIZE, (largest_file_bytes, hard))


def test_a_disk_that_takes_nothing_is_told_at_once_stops_the_heartbeat_and_costs_no_reading(
    tmp_path: Path, mosquitto: Mosquitto, receiver: Receiver
) -> None:
    folder = write_site(tmp_path / "site", mosquitto.port, receiver.url("/phone"), QUICK)
    with Receiver() as check, (folder / "settings.toml").open("a") as settings:
        urls = f'url = "{check.url("/well")}"\nfail_url = "{check.url("/unwell")}"'
        settings.write(f"[heartbeat]\n{urls}\nevery_s = 1\n")
        settings.flush()
        house = House(folder)
        house.start()
        probe = Probe(mosquitto.port)
        try:
            began_ms = now_ms() - 100_000
            probe.temperatures((began_ms + number * 1000, 28.0) for number in range(20))
            house.settle(20)
            wait_until(lambda: "/well" in paths(check), "a heartbeat", 30)
            let_write(house, 0)
            probe.temperatures((began_ms + number * 1000, 28.0) for number in range(20, 40))
            [alarm] = receiver.wait_for(1, 60)
            assert alarm.json()["headline"] == "CRITICAL Test house: readings cannot be stored"
            assert "Why: the disk" in alarm.json()["body"]
            so_far = len(check.received)
            check.wait_for(so_far + 3, 30)
            assert set(paths(check)[so_far:]) == {"/unwell"}
            assert any("cannot be" in reason for reason in check.received[-1].json()["reasons"])
            let_write(house, resource.RLIM_INFINITY)
            wait_until(lambda: len(receiver.received) >= 2, "the end of it", 60)
            assert [each.json()["kind"] for each in receiver.received] == ["alarm", "cleared"]
            house.settle(40)
            assert [at_ms for _, at_ms, _, _ in house.stored()] == [began_ms + number * 1000 for number in range(40)]
            wait_until(lambda: paths(check)[-1] == "/well", "the heartbeat after it", 30)
        finally:
            probe.close()
            house.service.stop()


def paths(check: Receiver) -> list[str]:
    """What the outside check was asked, in order."""
    return [each.path for each in check.received]
