"""Adds what the boards say to alarms about their readings: where one is raised, and again in each later message.

It is what was known when somebody looked, as with standing conditions: a replay of the journal gives the same alarms
and events with their own reasons, without it.
"""

import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import replace
from zoneinfo import ZoneInfo

from config.site import Probe, Site
from config.words import Quantity
from daemon.alarm_transition import Transition
from daemon.alarms.conditions import Change
from daemon.board_words import ITS_BOARD, SHARPENED, BoardNow, board_words
from daemon.boards import Boards
from daemon.storage import status

RECENT_MS = 10 * 60_000
"""Of an alarm that was raised longer ago, as in a backlog, the board of now knows nothing."""


class BoardLooks:
    """The boards of one site. `is_connected`: whether what they say is heard at this moment."""

    def __init__(self, site: Site, boards: Boards, is_connected: Callable[[], bool]) -> None:
        self._zone = ZoneInfo(site.time_zone)
        self._probes = site.probes
        self._boards = boards
        self._is_connected = is_connected

    def sharpened(self, conn: sqlite3.Connection, found: Sequence[Transition], now_ms: int) -> list[Transition]:
        """Give the transitions, with a reason that says what the board knows."""
        return [self.said_now(conn, each, now_ms) if now_ms - each.at_ms < RECENT_MS else each for each in found]

    def said_now(self, conn: sqlite3.Connection, raised: Transition, now_ms: int) -> Transition:
        """Give an alarm with what the board says now in front of its reason, unless that is in it."""
        words = self._words(conn, raised, now_ms)
        if not words or words in raised.reason:
            return raised
        # What it said when the alarm was raised stays behind it.
        newer = "now " if raised.reason.startswith(ITS_BOARD) else ""
        return replace(raised, reason=f"{newer}{words}; {raised.reason}")

    def _words(self, conn: sqlite3.Connection, raised: Transition, now_ms: int) -> str:
        if raised.kind not in SHARPENED or raised.change is not Change.RAISED or not self._is_connected():
            return ""
        about = [(probe, names) for probe in self._probes if (names := _channels(raised, probe))]
        if not about:
            return ""
        said = status.probe_statuses(conn)
        told = {
            board_words(raised.kind, names, BoardNow(self._boards.of(probe.id), said.get(probe.id)), now_ms, self._zone)
            for probe, names in about
        }
        # Several boards that say different things are too much for a line; the page of each has it.
        return told.pop() if len(told) == 1 else ""


def _channels(raised: Transition, probe: Probe) -> tuple[str, ...]:
    """The channels of a probe that an alarm is about."""
    if raised.channel is not None:
        return (raised.channel.name,) if raised.channel.probe == probe.id else ()
    if probe.place.partition("/")[0] != raised.place:
        return ()
    return tuple(each.name for each in probe.channels if each.quantity is Quantity.AIR_TEMPERATURE)
