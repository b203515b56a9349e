"""What agent and watcher tell the service manager, as real processes; and what the sentences of both look like."""

import sys
import threading
from dataclasses import replace
from pathlib import Path

import pytest

from daemon.cli import main
from daemon.commands import watch
from daemon.manager_text import status_sentence as status_sentence_of_daemon
from sensors.agent.clocks import SystemClocks
from sensors.agent.packs import State, status_sentence
from sensors.agent.plan import ChannelPlan, ProbePlan
from sensors.agent.sampling import Sampling
from sensors.agent.timekeeper import Timekeeper
from sensors.linux.addresses import ContactCommand
from tests.dashboards.samples import alarm, humidity, temperature, with_channels
from tests.sensors.agent.boards import board, spool_in
from tests.support.manager import Manager
from tests.support.processes import Service, free_port, wait_until
from tests.watcher.watching import LISTENING, Watching

WATCHDOG_S = 5.0
WELL = State(0, 0, 0, 0, 0, "right", "well", {})


def test_the_agent_is_ready_measures_and_ends_where_systemd_says(tmp_path: Path) -> None:
    name, state = str(tmp_path / "notify"), tmp_path / "state"
    with Manager(name) as manager:
        environment = manager.environment(WATCHDOG_S) | {"STATE_DIRECTORY": str(state)}
        file = board(tmp_path, free_port(), interval_s=0.2)
        agent = Service([sys.executable, "-P", "-m", "sensors.agent", str(file)], tmp_path / "agent.log", environment)
        agent.start()
        try:
            manager.wait_for("WATCHDOG", 2, alive=lambda: agent.running)
            words = [word for each in manager.said for word in each.words]
            assert words.index("READY") < words.index("WATCHDOG")
            assert manager.statuses()[0].startswith("Measuring: 1 probe; ")
            assert (state / "north-air").is_dir()
            assert not (tmp_path / "spool").exists()
            assert agent.stop(seconds=60) == 0
            assert manager.count("STOPPING") == 1
        finally:
            agent.kill()


def test_the_watcher_is_ready_steps_and_keeps_its_memory_where_systemd_says_and_answers_find_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    name, state = str(tmp_path / "notify"), tmp_path / "state"
    state.mkdir()
    with Manager(name) as manager:
        watching = Watching(tmp_path / "watch", LISTENING, "http://127.0.0.1:9/phone")
        watching.service.environment = manager.environment(WATCHDOG_S) | {"STATE_DIRECTORY": str(state)}
        watching.start()
        try:
            manager.wait_for("WATCHDOG", 2, alive=lambda: watching.service.running)
            wait_until(lambda: "Test house: silent or not well, and people were told." in manager.statuses(), "it", 30)
            # From a shell, which has nothing of what systemd gives to the service.
            monkeypatch.setattr(watch, "_OF_THE_SERVICE", state)
            monkeypatch.setattr(sys, "argv", ["clutchwarden", "watch", str(watching.file), "--answer", "--who", "Ana"])
            with pytest.raises(SystemExit) as ended:
                main()
            assert (ended.value.code, "Ana looks after it" in capsys.readouterr().out) == (0, True)
            assert watching.service.stop(seconds=60) == 0
            assert manager.count("READY") == manager.count("STOPPING") == 1
            assert [each.name for each in state.iterdir()] == ["watch.state.json"]
        finally:
            watching.service.kill()


def test_a_measurement_that_does_not_end_is_seen_by_who_feeds_the_watchdog(tmp_path: Path) -> None:
    slow = ContactCommand(("/bin/sleep", "20"), "1", "0", 2.0)
    clocks, plan = SystemClocks(), ProbePlan("north", 5_000, (ChannelPlan("door", slow),))
    sampling = Sampling(plan, tmp_path, spool_in(tmp_path / "spool"), Timekeeper(clocks.boot, {}, 0, own=True), clocks)
    assert not sampling.is_stuck(0)
    stop = threading.Event()
    thread = threading.Thread(target=sampling.run, args=(stop,), daemon=True)
    thread.start()
    wait_until(lambda: sampling.is_stuck(300), "a step that takes long", 30)
    assert not sampling.is_stuck(60_000)
    # Below zero, so that a step that has only just begun counts too.
    wait_until(lambda: not sampling.is_stuck(-1), "the end of it", 30)
    stop.set()
    thread.join(10)
    assert "did not end within 2 s" in sampling.faults["door"]


@pytest.mark.parametrize(
    ("states", "parts"),
    [
        ([WELL], ["1 probe", "0 readings wait for the broker"]),
        (
            [
                WELL._replace(waiting=1, clock="not set yet", faults={"t": "stale: x"}),
                WELL._replace(given_up=3, undated=1, disk="the disk is full"),
            ],
            [
                "2 probes",
                "1 reading waits for the broker",
                "4 lost",
                "1 channel gives no value",
                "the clock is not set yet",
                "disk: the disk is full",
            ],
        ),
    ],
)
def test_the_sentence_of_the_agent(states: list[State], parts: list[str]) -> None:
    assert status_sentence(states) == f"Measuring: {'; '.join(parts)}."


def test_the_sentence_of_the_daemon_has_figures_and_no_names_of_people_or_addresses() -> None:
    well = replace(with_channels(temperature(), humidity()), site_name="Alder Lane")
    assert status_sentence_of_daemon(well) == "Alder Lane: 2 channels, last reading 20 s ago; no alarm"
    old = with_channels(temperature(age_ms=7_260_000), alarms=(alarm(),))
    assert status_sentence_of_daemon(old).endswith(": 1 channel, last reading 121 min ago; 1 alarm")
    secret = ("cannot reach https://push.example/opal for Ana",)
    ill = replace(well, broker_connected=False, broker_detail=secret[0], troubles=secret)
    assert status_sentence_of_daemon(ill) == (
        "Alder Lane: 2 channels, last reading 20 s ago, no broker; no alarm; "
        "not well: the first page and the log say why"
    )
