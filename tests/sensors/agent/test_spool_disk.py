"""The spool on a disk that is full or takes nothing: readings go on being sent, and what is lost is counted."""

import errno
import os
from pathlib import Path

import pytest

from sensors.agent.spool import MOST_IN_MEMORY, Settled
from tests.sensors.agent.boards import drained, sample, spool_in
from tests.sensors.agent.filled import SMALL, fill, largest_file, segments, settle


def test_a_disk_that_takes_nothing_does_not_stop_what_is_sent(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    spool = spool_in(tmp_path)
    fill(spool, range(1, 4))
    with largest_file(0):
        fill(spool, range(4, 9))
        assert spool.trouble == "file too large"
        assert drained(spool) == [1, 2, 3, 4, 5, 6, 7, 8]
        settle(spool, range(1, 6))
        assert drained(spool) == [6, 7, 8]
    spool.append([sample(9)])
    assert spool.trouble == ""
    assert "takes readings again" in caplog.text
    spool.close()
    assert drained(spool_in(tmp_path)) == [6, 7, 8, 9]
    assert spool.counts[Settled.DAMAGED] == 0


def test_a_file_that_may_not_grow_any_more_is_followed_by_another(tmp_path: Path) -> None:
    spool = spool_in(tmp_path)
    with largest_file(1_000):
        for number in range(1, 101):
            spool.append([sample(number)])
    assert spool.trouble == ""
    assert len(segments(tmp_path)) > 3
    assert all(path.read_bytes().endswith(b"\n") for path in segments(tmp_path))
    assert drained(spool_in(tmp_path)) == list(range(1, 101))


def test_memory_is_bounded_too_and_the_oldest_goes_counted(tmp_path: Path) -> None:
    spool = spool_in(tmp_path)
    with largest_file(0):
        fill(spool, range(1, MOST_IN_MEMORY + 51))
        assert segments(tmp_path) == []
        assert spool.counts[Settled.GIVEN_UP] == 50
        assert drained(spool) == list(range(51, MOST_IN_MEMORY + 51))


def test_a_full_disk_gets_room_at_the_cost_of_the_oldest_segment_and_of_no_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    spool = spool_in(tmp_path, SMALL)
    fill(spool, range(1, 4_001))
    before = segments(tmp_path)
    second = int(before[1].stem)
    real = os.write

    def full(opened: int, data: bytes) -> int:
        if Path(f"/proc/self/fd/{opened}").readlink().suffix == ".spool":
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(opened, data)

    monkeypatch.setattr(os, "write", full)
    for first in range(4_001, 4_101 + MOST_IN_MEMORY, 100):
        spool.append([sample(number) for number in range(first, first + 100)])
    assert spool.trouble == "no space left on device"
    assert segments(tmp_path) == before[1:]
    # The first segment for room, which another program took; then the oldest hundred of memory.
    assert spool.counts[Settled.GIVEN_UP] == second - 1 + 100
    monkeypatch.undo()
    spool.append([sample(4_101 + MOST_IN_MEMORY)])
    spool.close()
    last = 4_101 + MOST_IN_MEMORY
    again = spool_in(tmp_path, SMALL)
    assert drained(again) == [*range(second, 4_001), *range(4_101, last + 1)]
    assert again.counts == {Settled.GIVEN_UP: second - 1 + 100, Settled.DAMAGED: 0, Settled.UNDATED: 0}
