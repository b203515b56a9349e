"""Single attempts of delivery, without a thread and without chance, by a clock that stands still."""

from collections.abc import Callable

from pydantic import SecretStr

from config.words import Priority
from daemon.alarms.courier import Courier
from daemon.alarms.webhook import WebhookChannel
from daemon.storage.journal import Journal
from tests.alarms.outboxes import NOW_MS, Row, put, rows
from tests.support.receiver import Manner

FIRST_S = {Priority.CRITICAL: 5, Priority.HIGH: 15, Priority.LOW: 60}
"""Seconds to the second attempt, by priority."""

PATIENCE_S = {Manner.HANG: (0.2, 60.0), Manner.DRIP_HEADERS: (60.0, 0.5)}
"""Time-out and end of the whole attempt, so far apart that only the one that is meant can end it."""

Turn = Callable[[], float]


class Clock:
    """Stands still until a test moves it."""

    at_ms = NOW_MS

    def now_ms(self) -> int:
        return self.at_ms


def worker(journal: Journal, clock: Clock, url: str, timeout_s: float = 10.0, attempt_s: float | None = None) -> Turn:
    """One turn of the worker of `ada/0`, without a thread and without chance."""
    channel = WebhookChannel(SecretStr(url), timeout_s, lambda: clock.at_ms / 1000, attempt_s=attempt_s)
    return Courier(journal, {"ada/0": channel}, clock.now_ms, jitter=lambda: 0.0)._workers[0]._step


def after_one(
    journal: Journal,
    clock: Clock,
    url: str,
    priority: Priority,
    timeout_s: float = 10.0,
    attempt_s: float | None = None,
) -> Row:
    """What the outbox says of a message after one attempt."""
    put(journal, "m", priority=priority)
    worker(journal, clock, url, timeout_s, attempt_s)()
    return rows(journal)["m"]


def wait_s(row: Row) -> float | None:
    """Seconds from the attempt, which took no time by the clock of the test, to the next one."""
    return None if row.next_attempt_at_ms is None else (row.next_attempt_at_ms - NOW_MS) / 1000
