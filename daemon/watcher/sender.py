"""Sends the watcher's messages, one thread per contact. The newest message takes the place of one not yet accepted.

Every message is complete alone, so what was not accepted before is not missed; and after a final refusal the next
repetition tries anew.
"""

import dataclasses
import logging
import random
import threading
import time
from collections.abc import Callable, Mapping

from config.words import Priority
from daemon.alarms.delivery import (
    Channel,
    Delivered,
    GiveUp,
    OutgoingMessage,
    SendResult,
    TryAgain,
    as_sent,
    next_attempt,
)

log = logging.getLogger("clutchwarden.watcher")


class Sender:
    """The ways to everybody. `settled` is called, from any thread, when a message is done with."""

    def __init__(self, channels: Mapping[str, Channel], now_ms: Callable[[], int], settled: Callable[[], None]) -> None:
        self._workers = {name: _Worker(name, channel, now_ms, settled) for name, channel in channels.items()}

    def start(self) -> None:
        """Begin to send."""
        for worker in self._workers.values():
            worker.thread.start()

    def send(self, message: OutgoingMessage) -> None:
        """Send a message to everybody, each copy with an id of its own. Returns at once."""
        for name in self._workers:
            self.send_to(name, dataclasses.replace(message, message_id=f"{message.message_id}-{name}"))

    def send_to(self, contact: str, message: OutgoingMessage) -> None:
        """Send a message to one contact; one that is no longer named is passed over."""
        worker = self._workers.get(contact)
        if worker is not None:
            worker.take(message)

    def unsent(self) -> dict[str, OutgoingMessage]:
        """Give what no receiver has accepted yet, by contact."""
        return {name: message for name, worker in self._workers.items() if (message := worker.waiting) is not None}

    def stop(self, seconds: float) -> None:
        """End; what is unsent is sent by the next run."""
        until = time.monotonic() + seconds
        for worker in self._workers.values():
            worker.end()
        for worker in self._workers.values():
            if worker.thread.is_alive():
                worker.thread.join(max(0.0, until - time.monotonic()))


class _Worker:
    """The thread of one contact."""

    def __init__(self, name: str, channel: Channel, now_ms: Callable[[], int], settled: Callable[[], None]) -> None:
        self._name = name
        self._channel = channel
        self._now_ms = now_ms
        self._settled = settled
        self._changed = threading.Condition()
        self._stopping = False
        self.waiting: OutgoingMessage | None = None
        self.thread = threading.Thread(target=self._run, name=f"sender-{name}", daemon=True)

    def take(self, message: OutgoingMessage) -> None:
        with self._changed:
            self.waiting = message
            self._changed.notify()

    def end(self) -> None:
        with self._changed:
            self._stopping = True
            self._changed.notify()

    def _run(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._stopping or self.waiting is not None)
                message = self.waiting
                if self._stopping or message is None:
                    return
            self._until_settled(message)

    def _until_settled(self, message: OutgoingMessage) -> None:
        """Try until the message is accepted, refused for good, or another one has taken its place."""
        attempts, begun_s = 0, time.monotonic()
        while True:
            result = self._attempt(message)
            attempts += 1
            if not isinstance(result, TryAgain):
                self._settle(message, result)
                return
            spent_ms = round((time.monotonic() - begun_s) * 1000)
            plan = next_attempt(
                Priority.CRITICAL,
                attempts,
                0,
                spent_ms,
                after_s=result.after_s,
                jitter=random.random(),  # noqa: S311
            )
            log.warning("Not delivered to %s: %s; %s.", self._name, result.error, plan.reason)
            with self._changed:
                self._changed.wait_for(
                    lambda: self._stopping or self.waiting is not message, (plan.wait_ms or 0) / 1000
                )
                if self._stopping or self.waiting is not message:
                    return

    def _attempt(self, message: OutgoingMessage) -> SendResult:
        try:
            return self._channel.send(as_sent(message, self._now_ms()))
        except Exception as error:  # noqa: BLE001 - whatever a channel does, the next attempt must be made
            # The error's own text may hold an address.
            return TryAgain(f"fault in the program: {type(error).__name__}; please report it")

    def _settle(self, message: OutgoingMessage, result: Delivered | GiveUp) -> None:
        if isinstance(result, Delivered):
            log.info("Message %s delivered to %s.", message.message_id, self._name)
        else:
            log.error("Not delivered to %s: %s; the next message is tried all the same.", self._name, result.error)
        with self._changed:
            if self.waiting is message:
                self.waiting = None
        self._settled()
