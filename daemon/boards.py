"""What the boards beside the incubators say of themselves, the newest of each, in memory.

The broker keeps it too (it is retained), and gives it again at each new connection; so nothing of it needs the journal
but what was lost, which must not be forgotten (`daemon/storage/status`).
"""

from typing import NamedTuple

from sensors.board_state import BoardState
from sensors.reading import BoardSaid


class BoardHeard(NamedTuple):
    """What a board said last, when that came, and since when its clock is known not to be right. UTC ms."""

    state: BoardState
    received_ms: int
    clock_wrong_ms: int | None = None


class Boards:
    """Written by the thread that listens, read by any. Bounded by the probes of the site."""

    def __init__(self) -> None:
        self._heard: dict[str, BoardHeard] = {}

    def heard(self, said: BoardSaid) -> None:
        """Take what a board says in place of what it said before."""
        before = self._heard.get(said.probe)
        wrong_ms = None
        if said.state.clock_is_right is False:
            since_ms = None if before is None else before.clock_wrong_ms
            wrong_ms = said.received_at_ms if since_ms is None else min(since_ms, said.received_at_ms)
        self._heard[said.probe] = BoardHeard(said.state, said.received_at_ms, wrong_ms)

    def of(self, probe: str) -> BoardHeard | None:
        """Give what a probe's board said last; None where nothing has come since the program was started."""
        return self._heard.get(probe)
