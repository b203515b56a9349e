"""A service manager of the test's own: a datagram socket that keeps what a process says by sd_notify(3)."""

import os
import socket
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import TracebackType
from typing import NamedTuple, Self

from tests.support.processes import wait_until


class Said(NamedTuple):
    """One datagram: when it came (monotonic seconds), and what stood in it."""

    at_s: float
    words: dict[str, str]


class Manager:
    """Listens from its making on. `name`: the path of a socket, or with an @ before it one that is in no folder."""

    def __init__(self, name: str) -> None:
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(f"\0{name[1:]}" if name.startswith("@") else name)
        self._socket.setblocking(False)
        self._name = name
        self._said: list[Said] = []

    def environment(self, watchdog_s: float | None = None) -> dict[str, str]:
        """What a process gets from a manager."""
        watchdog = {} if watchdog_s is None else {"WATCHDOG_USEC": str(round(watchdog_s * 1_000_000))}
        return {"NOTIFY_SOCKET": self._name, **watchdog}

    @property
    def said(self) -> list[Said]:
        """Everything so far. What waited is dated now: ask often where times matter."""
        self._said += self._waiting()
        return self._said

    def _waiting(self) -> Iterator[Said]:
        while True:
            try:
                datagram = self._socket.recv(4096)
            except BlockingIOError:
                return
            yield Said(time.monotonic(), dict(line.split("=", 1) for line in datagram.decode().splitlines()))

    def count(self, word: str) -> int:
        """How often a word came."""
        return sum(word in each.words for each in self.said)

    def times(self, word: str) -> list[float]:
        """When a word came."""
        return [each.at_s for each in self.said if word in each.words]

    def statuses(self) -> list[str]:
        """Every sentence."""
        return [each.words["STATUS"] for each in self.said if "STATUS" in each.words]

    def wait_for(self, word: str, times: int = 1, alive: Callable[[], bool] = lambda: True) -> None:
        """Wait until a word has come so often."""
        wait_until(lambda: self.count(word) >= times or not alive(), f"{word}, {times} times", 60)
        assert self.count(word) >= times, self.said

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._socket.close()


def abstract(folder: Path) -> str:
    """A name for a socket in no folder, that no other test has."""
    return f"@clutchwarden-test-{os.getpid()}-{folder.name}"
