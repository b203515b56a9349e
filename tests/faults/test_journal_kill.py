"""A process that is killed while it stores: all that it had confirmed is there, nothing is there by half."""

import random
import resource
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

import pytest

from config.words import Quantity
from daemon.storage import samples
from daemon.storage.journal import Journal, JournalError
from sensors.reading import ChannelKey, Reading

AIR = ChannelKey("north-air/t", "north-air", "t", Quantity.AIR_TEMPERATURE)
BATCH = 200


def _batch(number: int) -> list[Reading]:
    times = range(number * BATCH, (number + 1) * BATCH)
    return [Reading(AIR.channel, at_ms, at_ms, 20 + at_ms % 97 / 8, 0) for at_ms in times]


def _store(journal: Journal, number: int) -> None:
    def work(conn: sqlite3.Connection) -> None:
        samples.append(conn, samples.channel_ids(conn, [AIR]), _batch(number))

    journal.write(work)


def _say(text: object) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def child_stores_for_ever(path: Path) -> None:
    """Say the number of each batch once it is committed."""
    with Journal.open(path) as journal:
        number = 0
        while True:
            _store(journal, number)
            _say(number)
            number += 1


def child_stops_in_the_middle(path: Path) -> None:
    """Commit batch 0, then wait for ever with half of batch 1 written and not committed."""
    with Journal.open(path) as journal:
        _store(journal, 0)

        def half(conn: sqlite3.Connection) -> None:
            samples.append(conn, samples.channel_ids(conn, [AIR]), _batch(1)[: BATCH // 2])
            _say("in the middle")
            sys.stdin.read()

        journal.write(half)


def child_meets_a_real_write_error(path: Path) -> None:
    """Let the system refuse writes beyond a file size, then allow them again."""
    with Journal.open(path) as journal:
        _store(journal, 0)
        size = path.with_name(f"{path.name}-wal").stat().st_size
        hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
        resource.setrlimit(resource.RLIMIT_FSIZE, (size + 1000, hard))
        try:
            _store(journal, 1)
        except JournalError as error:
            _say(error.why)
        with journal.read() as conn:
            _say(samples.count(conn))
        resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
        _store(journal, 1)
        with journal.read() as conn:
            _say(samples.count(conn))


@contextmanager
def _child(name: str, path: Path) -> Iterator[tuple[subprocess.Popen[str], IO[str]]]:
    process = subprocess.Popen(
        [sys.executable, __file__, name, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    try:
        yield process, process.stdout
    finally:
        process.kill()
        process.communicate()


def _numbers_after_recovery(path: Path) -> list[int]:
    """Reopen, let SQLite check every page, and give the numbers of the batches found, each of which must be whole."""
    with Journal.open(path) as journal:
        assert journal.write(lambda conn: conn.execute("PRAGMA integrity_check").fetchall()) == [("ok",)]
        with journal.read() as conn:
            found = samples.after(conn, 0, 10_000_000)
    numbers = sorted({row.measured_at_ms // BATCH for row in found})
    expected = [reading for number in numbers for reading in _batch(number)]
    assert [(row.measured_at_ms, row.value) for row in found] == [(one.measured_at_ms, one.value) for one in expected]
    return numbers


@pytest.mark.parametrize("confirmed_first", [0, *random.Random(2026).sample(range(1, 60), 5)])
def test_what_was_confirmed_before_a_kill_is_there_after_it(tmp_path: Path, confirmed_first: int) -> None:
    path = tmp_path / "journal.sqlite3"
    with _child("child_stores_for_ever", path) as (process, output):
        said = [int(output.readline()) for _ in range(confirmed_first)]
        process.send_signal(signal.SIGKILL)
        rest = output.read().splitlines()
        assert process.wait() == -signal.SIGKILL
    # What it said between the last line read and the kill is still in the pipe. Each line is one write, so none is cut.
    said += [int(line) for line in rest]
    numbers = _numbers_after_recovery(path)
    assert numbers[: len(said)] == said
    # At most the one batch that was committed and not yet said.
    assert len(numbers) <= len(said) + 1


def test_two_kills_in_a_row_lose_nothing_either(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    said: list[int] = []
    for _ in range(2):
        with _child("child_stores_for_ever", path) as (process, output):
            said += [int(output.readline()) for _ in range(10)]
            process.send_signal(signal.SIGKILL)
            said += [int(line) for line in output.read().splitlines()]
    assert set(said) <= set(_numbers_after_recovery(path))


def test_a_batch_that_was_half_written_at_the_kill_is_not_there(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    with _child("child_stops_in_the_middle", path) as (process, output):
        assert output.readline() == "in the middle\n"
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert _numbers_after_recovery(path) == [0]


def test_a_write_that_the_system_refuses_is_told_and_the_same_journal_goes_on_afterwards(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    with _child("child_meets_a_real_write_error", path) as (process, output):
        lines = output.read().splitlines()
        assert process.wait() == 0
    assert lines == ["the disk reports an input/output error", str(BATCH), str(2 * BATCH)]
    assert _numbers_after_recovery(path) == [0, 1]


if __name__ == "__main__":
    globals()[sys.argv[1]](Path(sys.argv[2]))
