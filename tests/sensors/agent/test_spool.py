"""The spool on a real disk: order, bounds, restarts and damage."""

import logging
import os
import random
from contextlib import nullcontext
from pathlib import Path

import pytest

from sensors.agent.lines import Line, encode
from sensors.agent.plan import Bounds
from sensors.agent.spool import Settled
from tests.sensors.agent.boards import BOOT, DAY_MS, drained, sample, spool_in
from tests.sensors.agent.filled import SMALL, fill, largest_file, segments, settle


def test_what_was_put_in_comes_out_in_order_also_after_a_restart(tmp_path: Path) -> None:
    first = spool_in(tmp_path)
    first.append([sample(number) for number in range(1, 4)])
    fill(first, range(4, 8))
    assert drained(first) == [1, 2, 3, 4, 5, 6, 7]
    # No goodbye: as after a kill.
    second = spool_in(tmp_path, boot="another")
    assert second.waiting == 7
    second.append([sample(8)])
    assert drained(second) == [1, 2, 3, 4, 5, 6, 7, 8]
    lines = [second.next(7), second.next(6)]
    assert [line.boot for line in lines if line is not None] == ["another", BOOT]


def test_what_the_broker_has_is_not_sent_again_after_a_goodbye(tmp_path: Path) -> None:
    spool = spool_in(tmp_path)
    fill(spool, range(1, 11))
    settle(spool, range(1, 5))
    spool.settle(7, Settled.SENT)
    assert (spool.acknowledged, spool.waiting) == (4, 5)
    spool.close()
    again = spool_in(tmp_path)
    assert again.acknowledged == 4
    assert drained(again) == [5, 6, 7, 8, 9, 10]
    settle(again, range(5, 11))
    again.close()
    last = spool_in(tmp_path)
    assert last.waiting == 0
    last.append([sample(11)])
    assert drained(last) == [11]


def test_segments_that_the_broker_has_are_removed(tmp_path: Path) -> None:
    spool = spool_in(tmp_path, SMALL)
    fill(spool, range(1, 4_001))
    count = len(segments(tmp_path))
    assert count > 2
    settle(spool, range(1, 4_001))
    assert len(segments(tmp_path)) == 1
    assert spool.counts[Settled.GIVEN_UP] == 0


def test_a_full_spool_gives_up_the_oldest_counts_it_and_says_so(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    spool = spool_in(tmp_path, SMALL)
    with caplog.at_level(logging.WARNING):
        for first in range(1, 30_001, 100):
            spool.append([sample(number) for number in range(first, first + 100)])
    assert sum(path.stat().st_size for path in segments(tmp_path)) <= SMALL.largest_bytes
    lost = spool.counts[Settled.GIVEN_UP]
    assert lost > 0
    assert drained(spool) == list(range(lost + 1, 30_001))
    assert spool.waiting == 30_000 - lost
    assert f"{lost} readings are lost by now (given up)" in caplog.text
    assert spool_in(tmp_path, SMALL).counts[Settled.GIVEN_UP] == lost


def test_what_is_older_than_the_stated_days_is_given_up(tmp_path: Path) -> None:
    now_ms = 0

    def age_ms(line: Line) -> int | None:
        return now_ms - line.steady_ms

    spool = spool_in(tmp_path, Bounds(64_000_000, 2 * DAY_MS), BOOT, age_ms)
    for number in range(1, 3 * 24 * 60 + 1, 10):
        now_ms = (number + 9) * 60_000
        spool.append([sample(each) for each in range(number, number + 10)])
    lost = spool.counts[Settled.GIVEN_UP]
    # Two days are 2,880 minutes; a sixteenth of that may stay longer, since whole segments go.
    assert 3 * 1440 - 2880 - 191 <= lost <= 3 * 1440 - 2880
    assert drained(spool) == list(range(lost + 1, 3 * 1440 + 1))


@pytest.mark.parametrize("torn", [1, 5, 20])
def test_an_end_torn_by_a_power_cut_is_cut_off_and_the_rest_is_whole(tmp_path: Path, torn: int) -> None:
    fill(spool_in(tmp_path), range(1, 6))
    [path] = segments(tmp_path)
    whole = path.read_bytes()
    path.write_bytes(whole[:-torn])
    spool = spool_in(tmp_path)
    assert drained(spool) == [1, 2, 3, 4]
    spool.append([sample(5)])
    assert drained(spool) == [1, 2, 3, 4, 5]
    assert spool.counts[Settled.DAMAGED] == 0


def test_damage_in_the_middle_costs_its_lines_alone_and_is_counted_once(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    fill(spool_in(tmp_path), range(1, 101))
    [path] = segments(tmp_path)
    lines = path.read_bytes().splitlines(keepends=True)
    lines[9] = lines[9][:15] + b"X" + lines[9][16:]
    lines[49] = b"\x00" * len(lines[49])
    path.write_bytes(b"".join(lines))
    spool = spool_in(tmp_path)
    # The zeros run into the line after them, which cannot be told from them.
    left = [number for number in range(1, 101) if number not in (10, 50, 51)]
    assert drained(spool) == left
    assert drained(spool) == left
    assert spool.counts[Settled.DAMAGED] == 3
    assert "lost by now (damaged)" in caplog.text
    settle(spool, range(1, 101))
    assert (spool.acknowledged, spool.waiting) == (100, 0)


def test_any_damage_leaves_whole_lines_in_order(tmp_path: Path) -> None:
    chance = random.Random(8)
    fill(spool_in(tmp_path), range(1, 201))
    [path] = segments(tmp_path)
    whole = path.read_bytes()
    for turn in range(30):
        folder = tmp_path / str(turn)
        folder.mkdir()
        spoiled = bytearray(whole)
        at = chance.randrange(len(spoiled))
        length = chance.randrange(1, 200)
        spoiled[at : at + length] = chance.randbytes(length)
        (folder / path.name).write_bytes(spoiled)
        spool = spool_in(folder)
        fill(spool, range(201, 204))
        numbers = drained(spool)
        assert numbers == sorted(set(numbers))
        assert len(numbers) >= 203 - 200 * 2 // len(encode(Line(1, BOOT, 1, None, "{}"))) - 3
        settle(spool, range(1, numbers[-1] + 1))
        assert spool.waiting == 0


@pytest.mark.parametrize("seed", range(12))
def test_whatever_happens_nothing_is_lost_uncounted_and_nothing_overtakes(tmp_path: Path, seed: int) -> None:
    """Measuring, answers of the broker in and out of order, kills, goodbyes and a disk that fails, by chance."""
    chance = random.Random(seed)
    spool, newest, at = spool_in(tmp_path, SMALL), 0, 0
    answered: set[int] = set()
    under_way: list[int] = []
    for _ in range(150):
        act = chance.choice(("measure", "measure", "send", "send", "answer", "answer", "fail", "kill", "goodbye"))
        if act in ("measure", "fail"):
            count = chance.randint(1, 120)
            with largest_file(0) if act == "fail" else nullcontext():
                spool.append([sample(number) for number in range(newest + 1, newest + count + 1)])
            newest += count
        elif act == "send":
            while len(under_way) < 10 and (line := spool.next(at)) is not None:
                assert line.number > at
                assert set(range(at + 1, line.number)) <= answered
                at = line.number
                under_way.append(at)
        elif act == "answer" and under_way:
            number = under_way.pop(chance.randrange(min(3, len(under_way))))
            spool.settle(number, Settled.SENT)
            answered.add(number)
        elif act in ("kill", "goodbye"):
            # What is in memory alone is lost by a kill; that is another test.
            spool.append([])
            if act == "goodbye":
                spool.close()
            spool, under_way = spool_in(tmp_path, SMALL), []
            at = spool.acknowledged
            assert set(range(1, at + 1)) <= answered
    left = set(drained(spool))
    assert left | answered == set(range(1, newest + 1))
    assert sum(spool.counts.values()) == 0


def test_a_whole_segment_that_is_gone_is_counted(tmp_path: Path) -> None:
    spool = spool_in(tmp_path, SMALL)
    fill(spool, range(1, 4_001))
    spool.close()
    paths = segments(tmp_path)
    paths[1].unlink()
    first, after = (int(path.stem) for path in (paths[1], paths[2]))
    again = spool_in(tmp_path, SMALL)
    assert drained(again) == [*range(1, first), *range(after, 4_001)]
    assert again.counts[Settled.DAMAGED] == after - first


def test_a_memory_of_the_broker_that_cannot_be_read_sends_again_and_loses_nothing(tmp_path: Path) -> None:
    spool = spool_in(tmp_path)
    fill(spool, range(1, 11))
    settle(spool, range(1, 6))
    spool.close()
    for content in (b"", b"\xff\xfe", b"[]", b'{"acknowledged": -4}', b'{"acknowledged": "9"}'):
        (tmp_path / "spool.json").write_bytes(content)
        assert drained(spool_in(tmp_path)) == list(range(1, 11))


def test_a_folder_that_cannot_be_used_is_said_at_the_beginning(tmp_path: Path) -> None:
    (tmp_path / "spool").write_text("a file")
    with pytest.raises(OSError, match="exists"):
        spool_in(tmp_path / "spool")


def test_files_of_others_in_the_folder_are_left_alone(tmp_path: Path) -> None:
    (tmp_path / "notes.spool").write_text("mine")
    fill(spool_in(tmp_path), range(1, 4))
    assert drained(spool_in(tmp_path)) == [1, 2, 3]
    assert (tmp_path / "notes.spool").read_text() == "mine"


def test_each_append_is_on_the_disk_before_it_returns(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    synced: list[int] = []
    real = os.fsync

    def counted(opened: int) -> None:
        real(opened)
        synced.append(os.fstat(opened).st_size)

    monkeypatch.setattr(os, "fsync", counted)
    spool = spool_in(tmp_path)
    spool.append([sample(1), sample(2)])
    [path] = segments(tmp_path)
    assert synced[-1] == path.stat().st_size
    before = len(synced)
    spool.append([sample(3), sample(4), sample(5)])
    assert len(synced) == before + 1
    assert synced[-1] == path.stat().st_size
