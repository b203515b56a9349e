"""What the boards say, in alarms about their readings: in the reason, and in what people are sent."""

from collections.abc import Iterator
from datetime import UTC
from pathlib import Path

import pytest

from config.words import AlarmKind
from daemon.board_looks import BoardLooks
from daemon.board_words import FAULTS, BoardNow, board_words, fault_words
from daemon.boards import BoardHeard, Boards
from daemon.clock_steps import ClockSteps
from daemon.evaluate import Evaluator
from daemon.storage import alarm_log, status
from sensors.board_state import BoardState
from sensors.linux.values import FaultKind
from sensors.reading import BoardSaid
from tests.standing.powered import AIR, BOX, MINUTE_MS, START_MS, Powered, powered

PERSON = """
[[person]]
id = "ana"
name = "Ana"
[[person.contact]]
kind = "webhook"
url = "http://127.0.0.1:9/x"
[messages]
test = false
digest = false
"""
FAULTY = BoardState(waiting=0, clock="right", faults={"t": "stuck-low: the data line stands at zero"})


def words(kind: AlarmKind, state: BoardState | None, online: tuple[bool, int] | None = (True, START_MS)) -> str:
    heard = None if state is None else BoardHeard(state, START_MS)
    return board_words(kind, ("t",), BoardNow(heard, online), START_MS + MINUTE_MS, UTC)


def test_every_kind_of_fault_has_words_for_a_keeper() -> None:
    assert set(FAULTS) == set(FaultKind)
    assert fault_words("stuck-low: whatever it says") == "the data line reads zero; check the cable"


def test_a_fault_that_is_none_of_ours_is_quoted_and_cut() -> None:
    assert fault_words("loose plug") == '"loose plug"'
    assert len(fault_words("x" * 200)) == 82


@pytest.mark.parametrize(
    ("state", "online", "expected"),
    [
        (None, None, ""),
        (FAULTY, None, ""),
        (None, (True, START_MS), ""),
        # START_MS is 28 May 2026, 20:26:40 UTC.
        (FAULTY, (False, START_MS), "its board left the network 20:26"),
        (None, (False, START_MS), "its board left the network 20:26"),
        (FAULTY, (True, START_MS), "its board says: the data line reads zero; check the cable"),
        (BoardState(clock="right"), (True, START_MS), "its board is on the network and reports no fault"),
        (
            BoardState(clock="not set yet"),
            (True, START_MS),
            "its board keeps all readings until its clock is set; check its network and time service",
        ),
    ],
)
def test_silence_is_explained_as_far_as_the_board_can(
    state: BoardState | None, online: tuple[bool, int] | None, expected: str
) -> None:
    assert words(AlarmKind.NO_DATA, state, online) == expected


def test_a_fault_of_values_is_explained_by_a_fault_alone() -> None:
    assert words(AlarmKind.PROBE_FAULT, FAULTY) == "its board says: the data line reads zero; check the cable"
    assert words(AlarmKind.PROBE_FAULT, BoardState(clock="right")) == ""
    assert words(AlarmKind.PROBE_FAULT, FAULTY, (False, START_MS)) == ""


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Powered]:
    with powered(tmp_path, extra=PERSON) as made:
        yield made


class Watched:
    """An evaluator with boards, on a clock of the test's own."""

    def __init__(self, house: Powered) -> None:
        self.house, self.boards, self.connected = house, Boards(), True
        self.now_ms = START_MS
        house.eggs()
        looks = BoardLooks(house.site, self.boards, lambda: self.connected)
        steps = ClockSteps(lambda: self.now_ms / 1000)
        self._evaluator = Evaluator(
            house.journal,
            house.site,
            house.settings,
            house.profiles,
            house.channels,
            START_MS,
            clock_steps=steps,
            boards=looks,
        )

    def until(self, minute: int) -> None:
        while self.now_ms < START_MS + minute * MINUTE_MS:
            self.now_ms += MINUTE_MS
            self._evaluator.step(lambda: self.now_ms)

    def online(self, probe: str, online: bool) -> None:
        self.house.journal.write(lambda conn: status.set_probe_status(conn, probe, online, self.now_ms))

    def reasons(self) -> dict[str, str]:
        with self.house.journal.read() as conn:
            return {each.alarm_key: each.reason for each in alarm_log.events(conn, 100) if each.event == "raised"}

    def bodies(self) -> list[str]:
        with self.house.journal.read() as conn:
            return [body for (body,) in conn.execute("SELECT body FROM outbox ORDER BY rowid")]


def test_the_alarm_says_what_the_board_knows_and_a_later_message_what_it_knows_by_then(house: Powered) -> None:
    watched = Watched(house)
    for channel in (AIR, BOX):
        house.say(channel, 27.0, START_MS, START_MS + 10 * MINUTE_MS, MINUTE_MS)
        watched.online(channel.partition("/")[0], True)
    watched.boards.heard(BoardSaid("north-box", FAULTY, START_MS))
    watched.until(14)
    reasons = watched.reasons()
    assert reasons[f"no-data:{BOX}"].startswith("its board says: the data line reads zero; check the cable; no good")
    assert reasons[f"no-data:{AIR}"].startswith("no good reading"), "a board that has not spoken says nothing"
    watched.online("north-box", False)
    watched.until(30)
    assert any("Why: its board says: the data line reads zero; check the cable" in body for body in watched.bodies())
    assert "Why: now its board left the network 20:40; its board says" in watched.bodies()[-1]


def test_without_a_broker_the_boards_know_nothing(house: Powered) -> None:
    watched = Watched(house)
    watched.connected = False
    house.say(BOX, 27.0, START_MS, START_MS + 10 * MINUTE_MS, MINUTE_MS)
    watched.online("north-box", False)
    watched.until(14)
    assert "board" not in watched.reasons()[f"no-data:{BOX}"]
