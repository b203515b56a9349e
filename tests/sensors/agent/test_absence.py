"""A day without a broker, without a right clock, and with kills: complete, in order, once, with the true times."""

import random
import sys
import time
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

import pytest

from sensors.agent.packs import measure_pack
from sensors.agent.plan import ChannelPlan, ProbePlan
from sensors.agent.process import Agent
from sensors.agent.sampling import Sampling
from sensors.agent.spool import Settled
from sensors.agent.spool_line import SpoolLine
from sensors.agent.stated import load_plan
from sensors.agent.timekeeper import Timekeeper
from sensors.linux.addresses import OneWire
from sensors.reading import Outcome
from sensors.sender import LARGEST_WINDOW
from tests.sensors.agent.boards import DAY_MS, DEVICE, START_MS, TestClocks, board, sample, spool_in
from tests.sensors.agent.listening import STATUS, listening, number_of, stored
from tests.support.mosquitto import Mosquitto
from tests.support.processes import Service, free_port, wait_until
from tests.support.sysfs import FRAME_25_C, Sysfs, w1_slave

BEAT_MS = 240_000
HOUR = 15
"""beats"""


class Day:
    """A probe whose thermometer shows another value at each beat, and whose clock the test moves."""

    def __init__(self, folder: Path, clocks: TestClocks, *, own: bool = False) -> None:
        self.clocks = clocks
        self.sysfs = Sysfs(folder / "sys")
        self.spool = spool_in(folder / "spool", boot=clocks.boot)
        self.timekeeper = Timekeeper(clocks.boot, {}, 0, own=own)
        plan = ProbePlan("north-air", BEAT_MS, (ChannelPlan("t", OneWire(DEVICE)),))
        self.sampling = Sampling(plan, self.sysfs.root, self.spool, self.timekeeper, clocks)
        self.line = SpoolLine(self.spool, self.timekeeper)
        self.beat = 0

    def go_on(self, beats: int) -> None:
        for _ in range(beats):
            self.beat += 1
            self.clocks.at_ms = self.beat * BEAT_MS
            clocks = self.clocks
            self.timekeeper.look(clocks.steady_ms(), clocks.wall_ms(), clocks.synchronised())
            self.sysfs.one_wire(DEVICE, {"w1_slave": w1_slave(FRAME_25_C, 25_000 + self.beat)})
            self.sampling.beat()

    def sent(self) -> list[bytes]:
        """All that a broker would be given now; none of it is acknowledged."""
        self.line.rewind()
        sent = []
        while (following := self.line.next()) is not None:
            sent.append(following[1])
        return sent


def expected(beats: range) -> list[tuple[int, float]]:
    return [(START_MS + beat * BEAT_MS, (25_000 + beat) / 1000) for beat in beats]


def test_a_day_without_a_broker_and_without_a_right_clock_is_dated_truly_and_stored_once(tmp_path: Path) -> None:
    # The clock begins in 1970 and nobody vouches for it; after 20 hours a time service sets it.
    clocks = TestClocks(synchronised=False)
    clocks.wrong_ms = -START_MS
    day = Day(tmp_path, clocks)
    day.go_on(20 * HOUR)
    assert day.sent() == []
    assert day.spool.waiting == 20 * HOUR
    clocks.wrong_ms, clocks.is_synchronised = 0, True
    day.go_on(4 * HOUR)
    sent = day.sent()
    assert [number_of(payload) for payload in sent] == list(range(1, 24 * HOUR + 1))
    # The connection broke, and everything is sent a second time: byte for byte the same.
    assert day.sent() == sent
    found, outcomes = stored(tmp_path, sent + sent, START_MS + DAY_MS)
    assert found == expected(range(1, 24 * HOUR + 1))
    assert outcomes == Counter({Outcome.STORED: 24 * HOUR, Outcome.DUPLICATE: 24 * HOUR})


def test_a_clock_that_is_set_back_by_hand_changes_no_time(tmp_path: Path) -> None:
    clocks = TestClocks()
    day = Day(tmp_path, clocks)
    day.go_on(10)
    clocks.wrong_ms, clocks.is_synchronised = -3_600_000, False
    day.go_on(10)
    assert stored(tmp_path, day.sent(), START_MS + DAY_MS)[0] == expected(range(1, 21))


def test_a_start_whose_clock_never_was_right_is_counted_as_lost_and_never_dated_by_a_guess(tmp_path: Path) -> None:
    first = TestClocks(boot="first", synchronised=False)
    first.wrong_ms = -START_MS
    Day(tmp_path, first).go_on(30)
    # The board starts anew, an hour later; now there is a network.
    day = Day(tmp_path, TestClocks(boot="second", start_ms=START_MS + 3_600_000))
    day.go_on(5)
    sent = day.sent()
    assert [number_of(payload) for payload in sent] == [31, 32, 33, 34, 35]
    assert day.spool.counts[Settled.UNDATED] == 30
    found, _ = stored(tmp_path, sent, START_MS + DAY_MS)
    assert [moment for moment, _ in found] == [START_MS + 3_600_000 + beat * BEAT_MS for beat in range(1, 6)]


def test_the_agent_that_begins_again_dates_as_the_one_before_it(tmp_path: Path) -> None:
    plan = load_plan(board(tmp_path, free_port(), clock="synchronised"))

    def moment_of(clocks: TestClocks) -> int | None:
        agent = Agent(plan, clocks)
        agent.stop()
        agent.run()
        return agent._timekeeper.placed(clocks.boot, 1_000)

    first = TestClocks()
    first.at_ms = 5_000
    assert moment_of(first) == START_MS + 1_000
    # The same start of the board, but the network is gone and the clock was set back by hand.
    again = TestClocks(synchronised=False)
    again.at_ms, again.wrong_ms = 9_000, -3_600_000
    assert moment_of(again) == START_MS + 1_000
    # Another start of the board, whose clock begins in 1970: nothing is known of it.
    other = TestClocks(boot="other", start_ms=0, synchronised=False)
    other.at_ms = 2_000
    assert moment_of(other) is None
    # A file of clocks that cannot be understood is begun anew, and guesses nothing.
    (plan.folder / "clock.json").write_bytes(b"\x00\x00")
    assert moment_of(again) is None


def test_what_waits_for_the_time_holds_up_nothing_that_is_given_up(tmp_path: Path) -> None:
    spool = spool_in(tmp_path)
    spool.append([sample(1), sample(2, START_MS)])
    line = SpoolLine(spool, Timekeeper("5f0c11d2", {}, 0, own=False))
    assert line.next() is None
    spool.settle(1, Settled.GIVEN_UP)
    following = line.next()
    assert following is not None
    waiting = spool.next(1)
    assert waiting is not None
    assert following == (2, measure_pack(waiting, START_MS))


RATE = 2880.0
"""A day in half a minute."""
INTERVAL_S = 120
KILLS = 8


def is_complete_and_stored_once(folder: Path, sent: Sequence[bytes], last: int) -> None:
    """Check what arrived of a day of readings of two channels; `last`: the last one that was acknowledged."""
    first_seen = list(dict.fromkeys(number_of(payload) for payload in sent))
    # A goodbye that could not wait for the broker leaves readings that arrived and were not acknowledged.
    count = len(first_seen)
    assert first_seen == list(range(1, count + 1))
    assert last <= count <= last + LARGEST_WINDOW
    found, outcomes = stored(folder, sent, START_MS + 10 * DAY_MS)
    moments = sorted({moment for moment, _ in found})
    assert len(moments) == count
    assert len(found) == 2 * count
    assert set(outcomes) <= {Outcome.STORED, Outcome.DUPLICATE}
    assert outcomes[Outcome.STORED] == count
    assert all(after > before for before, after in pairwise(moments))
    assert moments[-1] - moments[0] > 0.9 * DAY_MS


@pytest.mark.services
@pytest.mark.timeout(300)
def test_killed_at_random_on_a_day_without_a_broker_and_while_it_sends(tmp_path: Path, mosquitto: Mosquitto) -> None:
    chance = random.Random(20)
    said = tmp_path / "said"
    door = tmp_path / "door.sh"
    door.write_text(f"#!/bin/sh\necho x >> {said}\necho 1\n")
    door.chmod(0o755)
    more = f'\n[[probe.channel]]\nname = "door"\nkind = "command"\ncommand = ["{door}"]\ntimeout_s = 30\n'
    file = board(tmp_path, mosquitto.port, interval_s=INTERVAL_S)
    file.write_text(file.read_text() + more)
    origin_ms = round(time.monotonic() * 1000)
    command = [sys.executable, "-m", "tests.support.fast_agent", str(file), str(RATE), str(origin_ms)]
    agent = Service(command, tmp_path / "agent.log")

    def measured() -> int:
        return len(said.read_bytes()) // 2 if said.exists() else 0

    def hours() -> float:
        return (time.monotonic() * 1000 - origin_ms) * RATE / 3_600_000

    with listening(mosquitto) as listener:
        mosquitto.stop()
        agent.start()
        wait_until(lambda: measured() > 0, f"the first reading; {agent.output()[-500:]}", 60)
        first_hours = hours()
        for _ in range(KILLS):
            wanted = measured() + chance.randint(1, 60)
            wait_until(lambda wanted=wanted: measured() >= wanted, f"{wanted} readings; {agent.output()[-500:]}", 60)  # type: ignore[misc]
            agent.kill()
            agent.start()
        wait_until(lambda: hours() >= first_hours + 24, "a day to be over", 60)
        agent.kill()
        assert listener.numbers() == []
        mosquitto.start()
        for _ in range(3):
            before = len(listener.found)
            agent.start()
            wait_until(lambda before=before: len(listener.found) > before + 20, agent.output()[-500:], 60)  # type: ignore[misc]
            agent.kill()
            # By the Last Will all that the killed one had sent is there.
            wait_until(lambda: listener.of(STATUS)[-1:] == [b"offline"], "the Last Will")
        before = max(listener.numbers())
        connections = agent.output().count("is connected")
        agent.start()
        count = measured()
        # Before that, the word to end may come while it is still starting.
        wait_until(lambda: agent.output().count("is connected") > connections, "its connection", 60)
        enough = max(before + 1, count - KILLS - 4)
        wait_until(lambda: max(listener.numbers()) >= enough, "all that was measured", 60)
        arrived = max(listener.numbers())
        assert agent.stop() == 0, agent.output()
        left = spool_in(tmp_path / "spool" / "north-air")
        last = left.acknowledged
        # What was measured since, or was under way in the moment of the goodbye, waits for the next start.
        assert last >= arrived - LARGEST_WINDOW
        wait_until(lambda: last in listener.numbers(), "the last reading")
        sent = [payload for topic, payload in listener.found if topic.endswith("/measure")]
    # A kill between measuring and the disk may cost the reading of that moment, and no other.
    assert measured() - (KILLS + 4) <= last + left.waiting <= measured()
    is_complete_and_stored_once(tmp_path, sent, last)
