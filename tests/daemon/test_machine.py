"""The machine as the evaluation sees it: a real disk, clocks that are set, and the alarms that come of it."""

import os
from dataclasses import replace
from pathlib import Path

import pytest

from config.words import AlarmKind
from daemon.arrival import BrokerState
from daemon.evaluate import Evaluator
from daemon.machine import DISK_OLD_S, STARTING_S, Machine
from daemon.standing.machine import MachineFacts
from daemon.standing_sources.all_of import sources_of
from daemon.standing_sources.machine import MachineSource
from daemon.storage import alarm_log
from tests.daemon.kept import START_MS, Kept
from tests.daemon.test_clock_steps import Clocks
from tests.support.processes import wait_until

AWAY = BrokerState(False, "cannot reach a:1883 (connection refused)", START_MS)
HERE = BrokerState(True, "connected to a:1883", START_MS, ever=True)


def machine(folder: Path, clocks: Clocks, broker: BrokerState = HERE) -> Machine:
    return Machine(folder, lambda: broker, clocks, lambda: clocks.steady_s, lambda: clocks.steady_s)


def test_the_room_on_a_real_disk_is_what_the_system_says(tmp_path: Path) -> None:
    looked = machine(tmp_path, Clocks())
    looked.look_at_disk()
    disk = looked.facts().disk
    assert disk is not None
    # https://pubs.opengroup.org/onlinepubs/9799919799/basedefs/sys_statvfs.h.html: blocks of f_frsize bytes.
    system = os.statvfs(tmp_path)
    assert disk.total_bytes == system.f_blocks * system.f_frsize
    assert abs(disk.free_bytes - system.f_bavail * system.f_frsize) < disk.total_bytes / 10
    assert disk.fills_bytes_per_h is None


def test_what_was_seen_long_ago_says_nothing_and_a_look_that_fails_is_no_news(tmp_path: Path) -> None:
    clocks = Clocks()
    looked = machine(tmp_path, clocks)
    assert looked.facts().disk is None
    looked.look_at_disk()
    clocks.pass_s(DISK_OLD_S - 1)
    assert looked.facts().disk is not None
    clocks.pass_s(1)
    assert looked.facts().disk is None


def test_the_thread_looks_at_once_and_goes_on_although_the_folder_is_gone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("daemon.machine.DISK_EVERY_S", 0.01)
    folder = tmp_path / "journal"
    looked = machine(folder, Clocks())
    looked.start()
    wait_until(lambda: "cannot be read" in caplog.text, "the warning")
    folder.mkdir()
    wait_until(lambda: looked.facts().disk is not None, "the look after it")
    looked.stop()
    assert caplog.text.count("cannot be read") == 1


@pytest.mark.parametrize("rate", [1.0, 60.0])
def test_a_clock_that_was_set_is_remembered_for_a_quarter_of_an_hour_of_its_own(tmp_path: Path, rate: float) -> None:
    clocks = Clocks(rate)
    looked = machine(tmp_path, clocks)
    assert looked.facts().clock_sets == []
    clocks.set_by_ms = -3_600_000
    clocks.pass_s(10 / rate)
    [seen] = looked.facts().clock_sets
    assert (seen.by_ms, seen.at_ms, seen.ago_ms) == (-3_600_000, clocks.now_ms(), 0)
    clocks.pass_s(899 / rate)
    assert [each.ago_ms for each in looked.facts().clock_sets] == [899_000]
    clocks.pass_s(1 / rate)
    assert looked.facts().clock_sets == []


def test_a_broker_that_has_never_answered_is_no_news_right_after_the_start(tmp_path: Path) -> None:
    clocks = Clocks()
    looked = machine(tmp_path, clocks, AWAY)
    assert looked.facts().starting
    assert not machine(tmp_path, clocks, replace(AWAY, ever=True)).facts().starting
    clocks.pass_s(STARTING_S)
    assert not looked.facts().starting


class Watched:
    """An evaluation over a real journal that judges these facts; a look a minute."""

    def __init__(self, kept: Kept) -> None:
        self.kept = kept
        self.facts = MachineFacts(HERE, False, 10**9)
        self.now_ms = START_MS
        self.restart()

    def restart(self) -> None:
        kept, source = self.kept, MachineSource(self.kept.site, lambda: self.facts)
        self.evaluator = Evaluator(
            kept.journal, kept.site, kept._settings, kept.profiles, kept._channels, START_MS, sources=(source,)
        )

    def minutes(self, count: int, **facts: object) -> list[tuple[str, str]]:
        """Let minutes pass with these facts; gives what happened, by kind."""
        self.facts = replace(self.facts, **facts)  # type: ignore[arg-type]
        before = len(self.events())
        for _ in range(count):
            self.now_ms += 60_000
            self.evaluator.step(lambda: self.now_ms)
        return [(event.alarm_key, event.event) for event in self.events()[before:]]

    def events(self) -> list[alarm_log.AlarmEvent]:
        with self.kept.journal.read() as conn:
            rows = alarm_log.events(conn, 1000)[::-1]
        return [row for row in rows if not row.alarm_key.startswith("no-data")]

    def bodies(self) -> list[str]:
        with self.kept.journal.read() as conn:
            return [body for (body,) in conn.execute("SELECT body FROM outbox ORDER BY rowid")]


@pytest.fixture
def watched(kept: Kept) -> Watched:
    return Watched(kept)


def test_a_lost_broker_is_told_after_two_minutes_and_is_over_when_it_is_back(watched: Watched) -> None:
    lost = replace(AWAY, since_ms=START_MS + 60_000)
    assert watched.minutes(2, broker=lost) == []
    assert watched.minutes(1) == [("broker-lost:broker", "raised")]
    assert watched.minutes(200) == []
    assert watched.minutes(3, broker=HERE) == [("broker-lost:broker", "cleared")]


def test_after_a_restart_with_an_alarm_on_a_broker_that_is_not_there_yet_ends_nothing(watched: Watched) -> None:
    assert watched.minutes(5, broker=AWAY) == [("broker-lost:broker", "raised")]
    watched.restart()
    assert watched.minutes(1, broker=replace(AWAY, detail="not connected yet"), starting=True) == []
    assert watched.minutes(3, broker=HERE, starting=False) == [("broker-lost:broker", "cleared")]


def test_the_messages_say_what_is_wrong_where_and_what_to_do(watched: Watched) -> None:
    watched.minutes(5, broker=AWAY)
    body, *_ = [each for each in watched.bodies() if "broker-lost" in each]
    assert "URGENT Test house: broker lost" in body
    assert "Why: cannot reach a:1883 (connection refused)." in body
    assert "start broker and network again" in body


def test_every_kind_that_the_source_may_find_is_one_that_it_answers_for(watched: Watched) -> None:
    assert MachineSource(watched.kept.site, lambda: watched.facts).kinds == {
        AlarmKind.BROKER_LOST,
        AlarmKind.CLOCK_STEPPED,
        AlarmKind.DISK_LOW,
    }
    watched.minutes(3, broker=AWAY)
    assert watched.evaluator.failing == ()


def test_no_two_sources_of_a_site_answer_for_the_same_kind(kept: Kept, tmp_path: Path) -> None:
    """What one of them found, the other would end."""
    looked = machine(tmp_path, Clocks())
    sources = sources_of(kept.site, kept._settings, kept.profiles, looked)
    kinds = [kind for source in sources for kind in source.kinds]
    assert sorted(kinds) == sorted(set(kinds))
    assert {AlarmKind.BROKER_LOST, AlarmKind.DELIVERY_FAILING} <= set(kinds)
    assert AlarmKind.JOURNAL_FAILING not in kinds


def test_each_alarm_about_what_watches_has_a_source_that_looks_for_it(kept: Kept, tmp_path: Path) -> None:
    sources = sources_of(kept.site, kept._settings, kept.profiles, machine(tmp_path, Clocks()))
    looked_for = {kind for each in sources for kind in each.kinds}
    assert set(AlarmKind) - looked_for == {
        # By each reading, and by how long none comes.
        *(AlarmKind.TEMPERATURE_LETHAL_HIGH, AlarmKind.TEMPERATURE_LETHAL_LOW, AlarmKind.TEMPERATURE_HIGH),
        *(AlarmKind.TEMPERATURE_LOW, AlarmKind.HUMIDITY_HIGH, AlarmKind.HUMIDITY_LOW),
        *(AlarmKind.NO_DATA, AlarmKind.PROBE_FAULT),
        # By its own guard: what cannot be stored needs another way.
        AlarmKind.JOURNAL_FAILING,
    }
