"""Start and stop real services for a test: free ports, own folders, readiness by asking, an end in any case."""

import contextlib
import itertools
import os
import signal
import socket
import subprocess
import time
from collections.abc import Callable, Sequence
from pathlib import Path

_PAUSE_S = 0.02


_SLICE = 2_000
_WORKER = int(os.environ.get("PYTEST_XDIST_WORKER", "gw-1").removeprefix("gw")) + 1
_PORTS = range(20_000 + _WORKER % 5 * _SLICE, 20_000 + (_WORKER % 5 + 1) * _SLICE)
"""Below what a kernel hands out to outgoing connections (Linux: from 32,768), so that none of those takes one first;
and for each process of the tests its own, so that no two of them find the same one free at the same moment."""
_turns = itertools.count(os.getpid() * 97)


def free_port() -> int:
    """A TCP port on the loopback that nobody listens on at this moment, and that comes round again only much later."""
    for turn in _turns:
        port = _PORTS[turn % len(_PORTS)]
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port
    raise AssertionError("the count of turns has no end")


def answers(port: int, host: str = "127.0.0.1") -> bool:
    """True where something accepts connections on the port."""
    with contextlib.suppress(OSError), socket.create_connection((host, port), timeout=0.5):
        return True
    return False


def wait_until(condition: Callable[[], bool], what: str, seconds: float = 45.0) -> None:
    """Ask again and again until the condition holds; fail with `what` when the time is up."""
    deadline = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > deadline:
            raise AssertionError(f"waited {seconds:g} s in vain for: {what}")
        time.sleep(_PAUSE_S)


class Service:
    """One child process with its output in a file."""

    def __init__(self, command: Sequence[str], log: Path, environment: dict[str, str] | None = None) -> None:
        self.command = list(command)
        self.log = log
        self.environment = environment
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start the process; its output goes to the log file."""
        with self.log.open("ab") as output:
            self.process = subprocess.Popen(
                self.command, stdout=output, stderr=subprocess.STDOUT, env={**os.environ, **(self.environment or {})}
            )

    @property
    def running(self) -> bool:
        """True while the process lives."""
        return self.process is not None and self.process.poll() is None

    def stop(self, *, how: signal.Signals = signal.SIGTERM, seconds: float = 60.0) -> int | None:
        """End the process and give its exit code; a process that does not end in time is killed."""
        if self.process is None:
            return None
        if self.process.poll() is None:
            self.process.send_signal(how)
            try:
                self.process.wait(seconds)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
        return self.process.returncode

    def pause(self) -> None:
        """Let the process stand still; its connections stay open. `kill` ends that too."""
        if self.process is not None:
            self.process.send_signal(signal.SIGSTOP)

    def kill(self) -> None:
        """End the process at once, as a power cut does."""
        self.stop(how=signal.SIGKILL)

    def output(self) -> str:
        """What the process has written so far."""
        return self.log.read_text(errors="replace") if self.log.exists() else ""
