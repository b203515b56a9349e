"""When a keeper hears that the broker's certificate runs out, and that it is over."""

from collections.abc import Iterator
from datetime import UTC
from pathlib import Path

import pytest

from config.words import AlarmKind
from daemon.alarms.definitions import DEFINITIONS
from daemon.arrival import BrokerState
from daemon.boards import Boards
from daemon.standing.certificate import Known, certificate_ending
from daemon.standing.found import Found
from daemon.standing.machine import MachineFacts
from daemon.standing.stepper import StandingWatch
from daemon.standing_sources.certificate import CertificateSource
from daemon.storage import status
from sensors.board_state import BoardState
from sensors.reading import BoardSaid
from tests.standing.powered import MINUTE_MS, START_MS, Powered, powered

NOW = 1_790_000_000_000
"""21 September 2026, 14:13:20 UTC"""
HOUR_MS = 60 * MINUTE_MS
DAY_MS = 24 * HOUR_MS
KIND, SUBJECT = AlarmKind.CERTIFICATE_ENDING, "broker-certificate"
ENDS_MS, NEW_MS = START_MS + DAY_MS, START_MS + 825 * DAY_MS


def found(*ends_ms: int | None, may_be_on: bool = False) -> Found | None:
    known = [Known(f"probe-{number}", each) for number, each in enumerate(ends_ms)]
    return certificate_ending(known, NOW, UTC, may_be_on=may_be_on)


def test_it_is_told_thirty_days_before_and_after_the_end() -> None:
    assert found(NOW + 30 * DAY_MS + 1) is None
    soon = found(NOW + 90 * DAY_MS, NOW + 30 * DAY_MS)
    assert soon is not None
    assert (soon.kind, soon.subject, soon.known) == (KIND, SUBJECT, True)
    assert soon.reason == "the broker's certificate, as probe-1 saw it, is good until 21 Oct 2026 14:13"
    assert found(NOW - HOUR_MS) is not None


def test_only_somebody_who_is_connected_ends_it() -> None:
    assert found(NOW + 800 * DAY_MS, may_be_on=True) is None
    assert found(None, may_be_on=True) is None, "without TLS no certificate can run out"
    waits = found(may_be_on=True)
    assert waits is not None
    assert not waits.known
    assert found() is None


class Watched:
    """A house of boards, looked at once a minute as the evaluation does."""

    def __init__(self, house: Powered) -> None:
        self.house, self.boards, self.now_ms = house, Boards(), START_MS
        self.broker = BrokerState(True, "", START_MS, True)
        self.start()

    def start(self) -> None:
        """The service starts: what boards say is not known before the broker has given it again."""
        facts = lambda: MachineFacts(self.broker, starting=False, up_ms=0)  # noqa: E731
        self.source = CertificateSource(self.house.site, facts, self.boards)
        self.watch = StandingWatch(DEFINITIONS)

    def says(self, probe: str, ends_ms: int | None, *, online: bool = True) -> None:
        ends_s = None if ends_ms is None else ends_ms / 1000
        self.boards.heard(BoardSaid(probe, BoardState(certificate_ends_s=ends_s), self.now_ms))
        self.house.journal.write(lambda conn: status.set_probe_status(conn, probe, online, self.now_ms))

    def minutes(self, count: int, *measuring: str) -> list[str]:
        """Let time go by, in which some probes measure; gives what became of the alarm."""
        told = []
        for _ in range(count):
            self.now_ms += MINUTE_MS
            for probe in measuring:
                self.house.say(f"{probe}/t", 28.0, self.now_ms, self.now_ms, MINUTE_MS)
            self.house.on = {(KIND, SUBJECT)} if self.watch.is_on(KIND, SUBJECT) else set()
            at_look = self.house.look(self.source, self.now_ms)
            told += [each.change.value for each in self.watch.look(self.source.kinds, at_look, self.now_ms)]
        return told


@pytest.fixture
def watched(tmp_path: Path) -> Iterator[Watched]:
    with powered(tmp_path) as house:
        yield Watched(house)


def test_it_stays_on_while_the_boards_are_away_and_is_over_with_a_new_certificate(watched: Watched) -> None:
    watched.says("north-air", ENDS_MS)
    assert watched.minutes(10, "north-air") == ["raised"]
    # Its network is gone for a while; then the certificate has run out, and it cannot come back.
    watched.says("north-air", ENDS_MS, online=False)
    assert watched.minutes(30) == []
    watched.says("north-air", ENDS_MS)
    assert watched.minutes(30, "north-air") == []
    watched.says("north-air", ENDS_MS, online=False)
    watched.now_ms = ENDS_MS + 3 * DAY_MS
    assert watched.minutes(30) == []
    watched.says("north-air", NEW_MS)
    assert watched.minutes(10, "north-air") == ["cleared"]


def test_boards_that_connect_one_after_the_other_are_no_end_and_no_beginning(watched: Watched) -> None:
    for probe in ("north-air", "south-air"):
        watched.says(probe, ENDS_MS)
    assert watched.minutes(10, "north-air", "south-air") == ["raised"]
    watched.says("north-air", NEW_MS)
    assert watched.minutes(10, "north-air", "south-air") == [], "the other is still connected by the old one"
    watched.says("south-air", ENDS_MS, online=False)
    assert watched.minutes(2, "north-air") == []
    watched.says("south-air", NEW_MS)
    assert watched.minutes(10, "north-air", "south-air") == ["cleared"]


def test_a_board_that_never_comes_back_does_not_hold_it_on(watched: Watched) -> None:
    """A broker that lost its power keeps `online` of it, and what it said last."""
    for probe in ("north-air", "south-air"):
        watched.says(probe, ENDS_MS)
    assert watched.minutes(10, "north-air", "south-air") == ["raised"]
    watched.says("north-air", NEW_MS)
    assert watched.minutes(30, "north-air") == ["cleared"]


def test_the_own_connection_counts_and_one_that_is_lost_says_nothing(watched: Watched) -> None:
    watched.broker = BrokerState(True, "", START_MS, True, ENDS_MS)
    assert watched.minutes(10) == ["raised"]
    watched.broker = BrokerState(False, "", watched.now_ms, True)
    assert watched.minutes(30) == []
    watched.now_ms += 3 * DAY_MS
    assert watched.minutes(1) == [], "for days nobody could hear anything"
    watched.broker = BrokerState(True, "", watched.now_ms, True, NEW_MS)
    assert watched.minutes(10) == ["cleared"]


def test_a_house_without_tls_forgets_it_after_a_day(watched: Watched) -> None:
    watched.broker = BrokerState(True, "", START_MS, True, ENDS_MS)
    assert watched.minutes(10) == ["raised"]
    watched.broker = BrokerState(True, "", watched.now_ms, True)
    assert watched.minutes(30) == []
    watched.now_ms += DAY_MS
    assert watched.minutes(10) == ["cleared"]


def test_a_board_without_tls_is_an_end(watched: Watched) -> None:
    watched.says("north-air", ENDS_MS)
    assert watched.minutes(10, "north-air") == ["raised"]
    watched.says("north-air", None)
    assert watched.minutes(10, "north-air") == ["cleared"]
