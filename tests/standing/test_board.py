"""When a keeper has to know something of a board: what it has lost, its room, its disk and its clock."""

from collections.abc import Iterator
from datetime import UTC
from pathlib import Path

import pytest

from config.words import AlarmKind
from daemon.boards import BoardHeard, Boards
from daemon.standing.board import BoardFacts, board_trouble
from daemon.standing.found import Found
from daemon.standing_sources.boards import BoardSource
from daemon.storage import status
from daemon.storage.status import Losses
from sensors.board_state import BoardState
from sensors.reading import BoardSaid
from tests.standing.powered import START_MS, Powered, powered

NOW = 1_790_000_000_000
"""21 September 2026, 14:13:20 UTC"""
MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
ON = (AlarmKind.BOARD_TROUBLE, "north-air")


def found(
    state: BoardState | None = None,
    *,
    online: bool | None = True,
    clock_wrong_ms: int | None = None,
    lost: int = 0,
    lost_ms: int | None = None,
    listened_ms: int = NOW - HOUR_MS,
    is_on: bool = False,
) -> Found | None:
    heard = None if state is None else BoardHeard(state, NOW - MINUTE_MS, clock_wrong_ms)
    facts = BoardFacts("north-air", "north", heard, online, listened_ms, lost, lost_ms)
    return board_trouble(facts, NOW, UTC, is_on=is_on)


@pytest.mark.parametrize("online", [True, False, None])
def test_a_board_that_is_well_or_says_nothing_is_none(online: bool | None) -> None:
    assert found(BoardState(waiting=3, full=0.79, clock="right"), online=online) is None
    assert found(online=online) is None


def test_what_was_lost_is_told_for_a_day() -> None:
    told = found(BoardState(), lost=1412, lost_ms=NOW - 2 * HOUR_MS)
    assert told is not None
    assert (told.kind, told.subject, told.about) == (*ON, "board of north-air")
    assert told.reason == "1,412 readings have been lost on the board in all, which it last told 12:13"
    assert found(online=False, lost=1, lost_ms=NOW - 23 * HOUR_MS) is not None, "also where it is away"
    assert found(BoardState(), lost=1, lost_ms=NOW - 24 * HOUR_MS, is_on=True) is None
    assert found(BoardState(), lost=9) is None, "what it had lost before it was heard first"


def test_room_that_gets_short_is_told_with_what_waits_and_has_to_be_better_before_it_is_over() -> None:
    full = BoardState(waiting=4210, oldest_s=2 * 86_400 + 4 * 3600, full=0.8)
    told = found(full)
    assert told is not None
    assert told.reason == ("its room for unsent readings is 80 % full: 4,210 readings wait, the oldest for 2 d 4 h")
    assert found(BoardState(full=0.79)) is None
    assert found(BoardState(full=0.7), is_on=True) is not None
    assert found(BoardState(full=0.69), is_on=True) is None


def test_a_clock_gets_an_hour_and_a_disk_none() -> None:
    wrong = BoardState(clock="not set yet")
    assert found(wrong, clock_wrong_ms=NOW - 59 * MINUTE_MS) is None
    told = found(wrong, clock_wrong_ms=NOW - 60 * MINUTE_MS)
    assert told is not None
    assert told.reason == "its clock has not been right since 13:13 or before, so its readings wait there"
    broken = found(BoardState(disk="read-only file system"))
    assert broken is not None
    assert '"read-only file system"' in broken.reason


def test_of_a_board_that_is_away_nothing_begins_and_for_a_day_nothing_ends() -> None:
    full = BoardState(full=0.9)
    assert found(full, online=False) is None
    for state, online in ((full, False), (full, None), (None, True), (None, None)):
        waits = found(state, online=online, is_on=True)
        assert waits is not None
        assert not waits.known
    assert found(None, is_on=True, listened_ms=NOW - 24 * HOUR_MS) is None


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Powered]:
    with powered(tmp_path) as made:
        yield made


def test_losses_are_kept_over_a_restart_and_the_first_word_of_a_board_is_no_growth(house: Powered) -> None:
    for lost, at_ms in ((7, 1), (7, 2), (9, 3), (0, 4), (2, 5)):
        house.journal.write(lambda conn, lost=lost, at=at_ms: status.note_losses(conn, "north-air", lost, at))  # type: ignore[misc]
        with house.journal.read() as conn:
            known = status.losses(conn)
        assert known == {"north-air": Losses(lost, {1: None, 2: None, 3: 3, 4: 3, 5: 5}[at_ms])}


def test_only_boards_beside_eggs_are_looked_at(house: Powered) -> None:
    boards = Boards()
    source = BoardSource(house.site, boards)
    for probe in ("north-air", "south-air"):
        boards.heard(BoardSaid(probe, BoardState(full=0.95), START_MS))
        house.journal.write(lambda conn, probe=probe: status.set_probe_status(conn, probe, True, START_MS))  # type: ignore[misc]
    assert house.look(source, START_MS + MINUTE_MS) == []
    house.eggs()
    [one] = house.look(source, START_MS + MINUTE_MS)
    assert (one.kind, one.subject, one.place) == (*ON, "north/upper")


def test_a_clock_that_is_wrong_is_so_since_it_was_heard_first() -> None:
    boards = Boards()
    for at_ms, clock in ((5, "not set yet"), (9, "not set yet"), (12, "right"), (15, "not set yet")):
        boards.heard(BoardSaid("p", BoardState(clock=clock), at_ms))
        heard = boards.of("p")
        assert heard is not None
        assert heard.clock_wrong_ms == {5: 5, 9: 5, 12: None, 15: 15}[at_ms]
