"""What a real daemon tells the service manager: ready when it is, alive while it evaluates, and when it ends.

What is said, and when: sd_notify(3) and sd_watchdog_enabled(3).
"""

import signal
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import httpx
import pytest

from config.notify import Notifier
from daemon import manager_patience
from tests.support.household import House, write_site
from tests.support.manager import Manager, abstract
from tests.support.processes import Service, free_port, wait_until

WATCHDOG_S = 4.0


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[Manager]:
    with Manager(abstract(tmp_path)) as listening:
        yield listening


class Daemon:
    """A house whose broker is away, started by a manager. `hang`: while it is there, nothing is evaluated."""

    def __init__(self, folder: Path, manager: Manager, watchdog_s: float | None = None) -> None:
        self.house = House(write_site(folder / "site", free_port()))
        self.hang = folder / "hang"
        command = [sys.executable, "-m", "tests.support.standing_still", str(self.hang), "run", str(self.house.folder)]
        self.service = Service(command, folder / "daemon.log", manager.environment(watchdog_s))
        self.service.start()

    def answers(self) -> bool:
        try:
            return httpx.get(f"{self.house.url}/health", timeout=10).status_code < 600
        except httpx.TransportError:
            return False


def test_ready_is_said_when_pages_answer_and_what_follows_until_the_end(tmp_path: Path, manager: Manager) -> None:
    daemon = Daemon(tmp_path, manager)
    try:
        manager.wait_for("READY", alive=lambda: daemon.service.running)
        assert daemon.answers(), "ready before the pages answer"
        assert daemon.house.journal_path.exists()
        wait_until(lambda: "no broker" in manager.statuses()[-1], "a sentence", 60)
        assert manager.statuses()[-1] == "Test house: 2 channels, no reading yet, no broker; no alarm"
        assert daemon.service.process is not None
        daemon.service.process.send_signal(signal.SIGHUP)
        manager.wait_for("READY", 2)
        [taken_up] = [each.words for each in manager.said if "RELOADING" in each.words]
        assert int(taken_up["MONOTONIC_USEC"]) > 0
        (daemon.house.folder / "settings.toml").write_text("[broker]\nport = 0\n")
        daemon.service.process.send_signal(signal.SIGHUP)
        manager.wait_for("READY", 3)
        wait_until(lambda: any("stated before" in each for each in manager.statuses()), "that it goes on", 60)
        # Nobody asked for a watchdog.
        assert manager.count("WATCHDOG") == manager.count("STOPPING") == 0
        assert daemon.service.stop(seconds=60) == 0
        assert manager.count("STOPPING") == 1
    finally:
        daemon.service.kill()


def test_the_watchdog_is_fed_by_the_evaluation_alone_and_an_end_by_it_leaves_where_each_thread_stood(
    tmp_path: Path, manager: Manager
) -> None:
    daemon = Daemon(tmp_path, manager, WATCHDOG_S)
    try:
        manager.wait_for("WATCHDOG", 3, alive=lambda: daemon.service.running)
        fed_s = manager.times("WATCHDOG")
        # The shortest of the pauses: a machine under load may hold up any single word.
        assert min(after - before for before, after in pairwise(fed_s)) <= WATCHDOG_S / 2
        daemon.hang.touch()
        # A round that was under way may end; from then on nothing feeds, though the pages live.
        with pytest.raises(AssertionError, match="in vain"):
            wait_until(lambda: manager.count("WATCHDOG") > len(fed_s) + 1, "a round", 2.5)
        assert daemon.answers()
        assert daemon.service.stop(how=signal.SIGABRT) == -signal.SIGABRT
        assert 'evaluation.py", line' in daemon.service.output()
    finally:
        daemon.service.kill()


def test_nothing_is_said_without_a_manager_and_nothing_that_goes_wrong_is_raised(tmp_path: Path) -> None:
    for environment in (
        {},
        {"NOTIFY_SOCKET": str(tmp_path / "nobody")},
        {"NOTIFY_SOCKET": "x" * 300, "WATCHDOG_USEC": "9" * 400},
    ):
        told = Notifier(environment)
        told.ready("Begun.")
        told.alive()
        told.stopping()
        assert told.listens == bool(environment)


def test_words_are_those_of_the_protocol_and_a_sentence_stays_one_line(tmp_path: Path) -> None:
    name = str(tmp_path / "notify")
    with Manager(name) as manager:
        told = Notifier({"NOTIFY_SOCKET": name, "WATCHDOG_USEC": "40000000", "WATCHDOG_PID": "1"})
        told.alive()  # the watchdog is meant for another process
        told.ready("Begun.\nREADY=0")
        told.takes_longer(1.5)
        assert [each.words for each in manager.said] == [
            {"READY": "1", "STATUS": "Begun. READY=0"},
            {"EXTEND_TIMEOUT_USEC": "1500000"},
        ]


def test_a_start_that_works_on_the_journal_gets_more_time_and_only_until_it_has_started(
    tmp_path: Path, manager: Manager, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(manager_patience, "TOLD_EVERY_S", 0.0)
    monkeypatch.setattr(manager_patience, "_INSTRUCTIONS", 1_000)
    told = Notifier(manager.environment())
    with manager_patience.open_patiently(tmp_path / "journal.sqlite3", told) as journal:
        asked = manager.count("EXTEND_TIMEOUT_USEC")
        assert asked >= 1
        told.ready()
        counting = (
            "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 20000) SELECT max(i) FROM n"
        )
        assert journal.write(lambda conn: conn.execute(counting).fetchone()) == (20_000,)
    assert manager.count("EXTEND_TIMEOUT_USEC") == asked
