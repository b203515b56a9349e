"""When a keeper hears that the broker's certificate runs out."""

from collections.abc import Iterator
from datetime import UTC
from pathlib import Path

import pytest

from config.words import AlarmKind
from daemon.arrival import BrokerState
from daemon.boards import Boards
from daemon.standing.certificate import Known, certificate_ending
from daemon.standing.found import Found
from daemon.standing.machine import MachineFacts
from daemon.standing_sources.certificate import ALL_SAID_MS, CertificateSource
from daemon.storage import status
from sensors.board_state import BoardState
from sensors.reading import BoardSaid
from tests.standing.powered import START_MS, Powered, powered

NOW = 1_790_000_000_000
"""21 September 2026, 14:13:20 UTC"""
HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
KIND = AlarmKind.CERTIFICATE_ENDING


def found(*ends_ms: int, is_on: bool = False, asked: bool = True) -> Found | None:
    known = [Known(f"probe-{number}", each) for number, each in enumerate(ends_ms)]
    return certificate_ending(known, NOW, UTC, is_on=is_on, asked=asked)


def test_it_is_told_thirty_days_before_and_after_the_end() -> None:
    assert found(NOW + 30 * DAY_MS + 1) is None
    soon = found(NOW + 90 * DAY_MS, NOW + 30 * DAY_MS)
    assert soon is not None
    assert (soon.kind, soon.subject, soon.known) == (KIND, "broker-certificate", True)
    assert soon.reason == "the one by which probe-1 is connected ends 21 Oct 2026 14:13, in 30 d"
    late = found(NOW - HOUR_MS)
    assert late is not None
    assert late.reason == "the one by which probe-0 is connected ended 21 Sep 2026 13:13"


def test_it_is_over_with_a_new_one_and_after_a_start_not_before_all_have_said_theirs() -> None:
    assert found(NOW + 800 * DAY_MS, is_on=True) is None
    for ends_ms in ((), (NOW + 800 * DAY_MS,)):
        waits = found(*ends_ms, is_on=True, asked=False)
        assert waits is not None
        assert not waits.known
        assert found(*ends_ms, asked=False) is None


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Powered]:
    with powered(tmp_path) as made:
        yield made


def facts(*, connected: bool = True, ends_ms: int | None = None, up_ms: int = ALL_SAID_MS) -> MachineFacts:
    return MachineFacts(BrokerState(connected, "", START_MS, True, ends_ms), starting=False, up_ms=up_ms)


def hear(house: Powered, boards: Boards, probe: str, ends_ms: int, *, online: bool = True) -> None:
    boards.heard(BoardSaid(probe, BoardState(certificate_ends_s=ends_ms / 1000), START_MS))
    house.journal.write(lambda conn: status.set_probe_status(conn, probe, online, START_MS))


def test_boards_and_the_own_connection_count_while_they_are_there(house: Powered) -> None:
    boards, now = Boards(), [facts()]
    source = CertificateSource(house.site, lambda: now[0], boards)
    assert house.look(source, START_MS) == []
    hear(house, boards, "north-air", START_MS + DAY_MS, online=False)
    hear(house, boards, "south-air", START_MS + 800 * DAY_MS)
    assert house.look(source, START_MS) == [], "who is away may have seen one that is not in use any more"
    hear(house, boards, "north-air", START_MS + DAY_MS)
    [one] = house.look(source, START_MS)
    assert "by which north-air is connected" in one.reason
    # Made anew, and the broker started anew: the board connects again and says so.
    hear(house, boards, "north-air", START_MS + 825 * DAY_MS)
    house.on.add((KIND, "broker-certificate"))
    assert house.look(source, START_MS) == []
    now[0] = facts(ends_ms=START_MS + 2 * DAY_MS)
    [own] = house.look(source, START_MS)
    assert "by which this service is connected ends" in own.reason
    for not_yet in (facts(up_ms=ALL_SAID_MS - 1), facts(connected=False)):
        now[0] = not_yet
        [waits] = house.look(source, START_MS)
        assert not waits.known
