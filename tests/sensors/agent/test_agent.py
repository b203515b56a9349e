"""The agent as a real process on a real broker: what arrives, what it says of itself, how little it needs."""

import json
import resource
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.sensors.agent.boards import DEVICE, board
from tests.sensors.agent.listening import MEASURE, STATE, STATUS, Listener, listening, state_of, stored
from tests.support.household import now_ms
from tests.support.mosquitto import Mosquitto
from tests.support.processes import Service, free_port, wait_until
from tests.support.sysfs import FRAME_25_C, Sysfs, w1_slave

LARGEST_MB = 40
"""Resident memory that a board of 512 MB can spare."""
NEVER = ("numpy", "pydantic", "fastapi", "uvicorn", "jinja2", "starlette", "typer", "rich", "sqlite3", "daemon")
"""What the agent must not bring with it; `dashboards` and `requests` would come with these."""


@contextmanager
def running(file: Path, log: Path) -> Iterator[Service]:
    service = Service([sys.executable, "-P", "-m", "sensors.agent", str(file)], log)
    service.start()
    try:
        yield service
    finally:
        service.stop()


def state(listener: Listener) -> dict[str, object]:
    found = listener.of(STATE)
    return state_of(found[-1]) if found else {}


def resident_mb(pid: int) -> float:
    [line] = [line for line in Path(f"/proc/{pid}/status").read_text().splitlines() if line.startswith("VmRSS:")]
    return int(line.split()[1]) / 1024


@pytest.mark.services
def test_readings_arrive_with_their_times_and_the_broker_hears_when_it_goes(
    tmp_path: Path, mosquitto: Mosquitto
) -> None:
    began_ms = now_ms()
    file = board(tmp_path, mosquitto.port, interval_s=0.2)
    with listening(mosquitto) as listener, running(file, tmp_path / "agent.log") as agent:
        wait_until(lambda: len(listener.of(MEASURE)) >= 10, f"ten readings; {agent.output()}", 30)
        assert listener.of(STATUS) == [b"online"]
        wait_until(lambda: state(listener).get("clock") == "right", "the clock to be told as right")
        assert agent.process is not None
        assert resident_mb(agent.process.pid) <= LARGEST_MB
        agent.kill()
        wait_until(lambda: listener.of(STATUS) == [b"online", b"offline"], "the Last Will")
        agent.start()
        wait_until(lambda: listener.of(STATUS) == [b"online", b"offline", b"online"], "online again", 30)
        before = len(listener.of(MEASURE))
        wait_until(lambda: len(listener.of(MEASURE)) > before + 5, "more readings")
        assert agent.stop() == 0, agent.output()
        wait_until(lambda: listener.of(STATUS)[-1] == b"offline", "the goodbye")
        sent = listener.of(MEASURE)
    numbers = list(dict.fromkeys(listener.numbers()))
    assert numbers == list(range(1, len(numbers) + 1))
    found, _ = stored(tmp_path, sent, now_ms())
    assert len(found) == len(numbers)
    assert {value for _, value in found} == {25.062}
    assert began_ms <= found[0][0] <= found[-1][0] <= now_ms()
    assert {record["vs"] for payload in sent for record in json.loads(payload) if record.get("n") == "boot"} == {
        Path("/proc/sys/kernel/random/boot_id").read_text().replace("-", "")[:8]
    }


@pytest.mark.services
def test_a_fault_is_told_and_is_no_reading_and_a_sensor_that_comes_back_is_one(
    tmp_path: Path, mosquitto: Mosquitto
) -> None:
    file = board(tmp_path, mosquitto.port, interval_s=0.2)
    sysfs = Sysfs(tmp_path / "sys")
    with listening(mosquitto) as listener, running(file, tmp_path / "agent.log") as agent:
        wait_until(lambda: len(listener.of(MEASURE)) >= 2, "readings", 30)
        sysfs.one_wire(DEVICE, {"w1_slave": w1_slave("50 05 4b 46 7f ff 0c 10 1c", 85_000)})
        wait_until(lambda: "fault/t" in state(listener), "the fault to be told")
        assert str(state(listener)["fault/t"]).startswith("power-on: exactly 85 °C is what stands there")
        before = len(listener.of(MEASURE))
        sysfs.one_wire(DEVICE, {"w1_slave": w1_slave(FRAME_25_C, 26_000)})
        wait_until(lambda: "fault/t" not in state(listener), "the fault to be over")
        wait_until(lambda: len(listener.of(MEASURE)) > before, "readings again")
        assert agent.stop() == 0
        values = {json.loads(payload)[0]["v"] for payload in listener.of(MEASURE)}
    assert values == {25.062, 26.0}
    assert agent.output().count("channel t gives no value: exactly 85") == 1
    assert agent.output().count("channel t gives values again") == 1


@pytest.mark.services
def test_a_disk_that_is_full_stops_no_reading_on_its_way(tmp_path: Path, mosquitto: Mosquitto) -> None:
    file = board(tmp_path, mosquitto.port, interval_s=0.2)
    with listening(mosquitto) as listener, running(file, tmp_path / "agent.log") as agent:
        wait_until(lambda: len(listener.of(MEASURE)) >= 2, "readings", 30)
        assert agent.process is not None
        pid = agent.process.pid
        limits = resource.prlimit(pid, resource.RLIMIT_FSIZE)
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (0, limits[1]))
        wait_until(lambda: state(listener).get("disk") == "file too large", "the disk's trouble to be told")
        before = len(listener.of(MEASURE))
        wait_until(lambda: len(listener.of(MEASURE)) > before + 5, "readings from memory")
        resource.prlimit(pid, resource.RLIMIT_FSIZE, limits)
        wait_until(lambda: state(listener).get("disk") == "well", "the disk to be well again")
        assert agent.stop() == 0
        numbers = list(dict.fromkeys(listener.numbers()))
    assert numbers == list(range(1, len(numbers) + 1))
    last = state(listener)
    assert (last["given-up"], last["damaged"], last["undated"]) == (0, 0, 0)


@pytest.mark.services
def test_without_a_right_clock_nothing_is_sent_and_everything_is_kept(tmp_path: Path, mosquitto: Mosquitto) -> None:
    # The clock of its own stands far before what was dated last, as after an empty battery.
    file = board(tmp_path, mosquitto.port, interval_s=0.1)
    spool = tmp_path / "spool"
    spool.mkdir()
    (spool / "clock.json").write_text(json.dumps({"newest_ms": now_ms() + 86_400_000, "starts": {}}))
    with listening(mosquitto) as listener, running(file, tmp_path / "agent.log") as agent:
        wait_until(lambda: state(listener).get("clock") == "not set yet", "the state", 30)
        wait_until(lambda: len(b"".join(path.read_bytes() for path in spool.glob("*/*.spool"))) > 2000, "readings kept")
        assert listener.of(MEASURE) == []
        assert "readings are kept, and sent once it is" in agent.output()
        assert agent.stop() == 0
        assert listener.of(MEASURE) == []


def test_a_second_agent_with_the_same_folder_and_a_folder_that_is_none_are_refused(tmp_path: Path) -> None:
    file = board(tmp_path, free_port(), interval_s=0.1)
    with running(file, tmp_path / "agent.log") as agent:
        wait_until((tmp_path / "spool" / "north-air").exists, agent.output(), 30)
        second = subprocess.run(
            [sys.executable, "-m", "sensors.agent", str(file)], capture_output=True, text=True, timeout=60, check=False
        )
    assert second.returncode == 2
    assert "Another agent already runs with the folder" in second.stderr
    file = board(tmp_path, free_port(), more=f'[spool]\nfolder = "{file}"\n')
    third = subprocess.run(
        [sys.executable, "-m", "sensors.agent", str(file)], capture_output=True, text=True, timeout=60, check=False
    )
    assert third.returncode == 2
    assert "for the spool cannot be used: file exists" in third.stderr


def test_the_agent_brings_nothing_large_with_it() -> None:
    program = "import sys, sensors.agent.__main__; print(*sorted({name.partition('.')[0] for name in sys.modules}))"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=True)
    loaded = set(done.stdout.split())
    assert "paho" in loaded
    assert loaded.isdisjoint((*NEVER, "dashboards", "requests", "amqtt", "apscheduler")), loaded


def test_the_command_reaches_the_agent(tmp_path: Path) -> None:
    Sysfs(tmp_path).one_wire(DEVICE, {"w1_slave": w1_slave(FRAME_25_C, 25_062)})
    done = subprocess.run(
        [sys.executable, "-m", "daemon.cli", "probe", "--list", "--sysfs", str(tmp_path)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (done.returncode, done.stdout) == (0, f"1-wire thermometer {DEVICE}: 25.06 °C\n"), done.stderr
