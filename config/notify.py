"""Tells the system's service manager how this process fares, by the protocol of sd_notify(3).

It stands here since daemon, agent and watcher have only this room in common. Each word is one datagram to the socket
that NOTIFY_SOCKET names; without that variable nothing is said to anybody. What is said holds no secret.
"""

import contextlib
import faulthandler
import os
import socket
import time
from collections.abc import Mapping

_LONGEST_S = 1.0
"""A manager that does not read must not hold up whoever watches eggs."""
_LONGEST_STATUS = 400
_FED_WITHIN = 5
"""sd_watchdog_enabled(3) asks for every half of the time; a word that is lost or late must not matter."""


class Notifier:
    """The way to the service manager. Safe to use from any thread; nothing that goes wrong on the way is raised."""

    def __init__(self, environment: Mapping[str, str] = os.environ) -> None:
        name = environment.get("NOTIFY_SOCKET", "")
        # An @ stands for the zero byte with which a socket begins that is in no folder.
        self._address = f"\0{name[1:]}" if name.startswith("@") else name
        self.watchdog_s = _watchdog_s(environment) if self._address else None
        """how long `alive` may be missing before this process is killed, seconds; None where nobody looks"""
        self._alive_s = float("-inf")
        self.started = False
        """whether what this process is there for goes on; no while it starts, takes up something anew or ends"""

    @property
    def listens(self) -> bool:
        """True where there is somebody to tell."""
        return bool(self._address)

    def ready(self, sentence: str = "") -> None:
        """It has started, or has taken up what was stated anew."""
        self.started = True
        self._say("READY=1", *_status(sentence))

    def reloading(self) -> None:
        """It takes up what is stated now; `ready` follows."""
        # The manager tells by the time whether this comes after its own wish.
        self.started = False
        self._say("RELOADING=1", f"MONOTONIC_USEC={time.monotonic_ns() // 1000}")

    def stopping(self) -> None:
        """It ends."""
        self.started = False
        self._say("STOPPING=1", *_status("Ending."))

    def status(self, sentence: str) -> None:
        """Say in a sentence how it goes."""
        self._say(*_status(sentence))

    def alive(self) -> None:
        """What this process is there for has just gone round once more. Said as often as is needed, not more."""
        now_s = time.monotonic()
        if self.watchdog_s is not None and now_s - self._alive_s >= self.watchdog_s / _FED_WITHIN:
            self._alive_s = now_s
            self._say("WATCHDOG=1")

    def takes_longer(self, seconds: float) -> None:
        """Starting, taking up or ending goes on, and may take so many seconds from now."""
        self._say(f"EXTEND_TIMEOUT_USEC={round(seconds * 1_000_000)}")

    def _say(self, *lines: str) -> None:
        if not self._address:
            return
        with contextlib.suppress(OSError, ValueError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as way:
            way.settimeout(_LONGEST_S)
            way.sendto("\n".join(lines).encode(), self._address)


def say_where_it_stands_when_aborted() -> None:
    """Let a watchdog that ends this process by SIGABRT leave in the log where each of its threads stood."""
    # Without a file behind standard error there is nowhere to write to.
    with contextlib.suppress(OSError, ValueError, RuntimeError):
        faulthandler.enable()


def _status(sentence: str) -> tuple[str, ...]:
    line = " ".join(sentence.split())[:_LONGEST_STATUS]
    return (f"STATUS={line}",) if line else ()


def _watchdog_s(environment: Mapping[str, str]) -> float | None:
    pid = environment.get("WATCHDOG_PID", "")
    with contextlib.suppress(ValueError, OverflowError):
        microseconds = int(environment.get("WATCHDOG_USEC", ""))
        if microseconds > 0 and (not pid or int(pid) == os.getpid()):
            return microseconds / 1_000_000
    return None
