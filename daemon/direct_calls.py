"""Tells people past the outbox: for when the journal itself cannot be written.

Nothing waits for a call: each contact has a thread of its own, which is made when there is something to tell. What is
not accepted is tried again until it is, or until there is something newer to tell.
"""

import logging
import threading
from collections.abc import Callable, Mapping

from daemon.alarms.delivery import (
    Channel,
    Delivered,
    GiveUp,
    MessageKind,
    OutgoingMessage,
    SendResult,
    TryAgain,
    as_sent,
)

log = logging.getLogger("clutchwarden.direct")

AGAIN_S = 30.0
"""A call that was not accepted is made again after this."""


class DirectCalls:
    """The ways to everybody, by contact id. They must not be those of the courier: a way takes one call at a time."""

    def __init__(self, ways: Mapping[str, Channel], now_ms: Callable[[], int]) -> None:
        self._ways = {contact: _Way(contact, channel, now_ms) for contact, channel in ways.items()}

    def tell(self, messages: Mapping[str, OutgoingMessage]) -> None:
        """Have each contact told; returns at once. That it is over hears only who may have heard that it began."""
        for contact, message in messages.items():
            self._ways[contact].give(message)

    def stop(self) -> None:
        """End. A call under way ends by itself, unseen."""
        for way in self._ways.values():
            way.stop()


class _Way:
    """One contact and what it is to be told."""

    def __init__(self, contact: str, channel: Channel, now_ms: Callable[[], int]) -> None:
        self._contact = contact
        self._channel = channel
        self._now_ms = now_ms
        self._message: OutgoingMessage | None = None
        self._changing = threading.Lock()
        self._new = threading.Event()
        self._stopping = False
        self._thread: threading.Thread | None = None
        self.reached = False

    def give(self, message: OutgoingMessage) -> None:
        """Tell this, in place of what waits."""
        with self._changing:
            self._message = message
        self._new.set()
        if self._thread is None or not self._thread.is_alive():
            self._thread = threading.Thread(target=self._run, name=f"direct-{self._contact}", daemon=True)
            self._thread.start()

    def stop(self) -> None:
        """End at the next occasion."""
        self._stopping = True
        self._new.set()

    def _run(self) -> None:
        while not self._stopping:
            # Cleared before the message is taken, so that a newer one ends the wait below.
            self._new.clear()
            message = self._message
            if message is not None and (message.kind is not MessageKind.CLEARED or self.reached):
                result = self._send(message)
                self._say(result)
                if isinstance(result, Delivered):
                    self.reached = message.kind is not MessageKind.CLEARED
                elif isinstance(result, TryAgain):
                    # It may have arrived all the same, where only the answer was lost.
                    self.reached = True
                if not isinstance(result, TryAgain):
                    self._settle(message)
            self._new.wait(AGAIN_S)

    def _settle(self, message: OutgoingMessage) -> None:
        with self._changing:
            # Something newer may have been given meanwhile.
            if self._message is message:
                self._message = None

    def _send(self, message: OutgoingMessage) -> SendResult:
        try:
            return self._channel.send(as_sent(message, self._now_ms()))
        except Exception as error:  # noqa: BLE001 - nothing may end this thread; another's text may hold an address
            return TryAgain(f"fault in the program: {type(error).__name__}")

    def _say(self, result: SendResult) -> None:
        if isinstance(result, Delivered):
            log.warning("Told %s directly that the journal fails, or that it is over.", self._contact)
        else:
            after = "not tried again until the next call" if isinstance(result, GiveUp) else "tried again"
            log.error("Contact %s could not be told directly: %s; %s.", self._contact, result.error, after)
