"""Pure: which calls reached nobody, or nobody for long. Times are UTC ms."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from daemon.review.values import Span
from daemon.storage.call_fates import CallFate

LONG_MS = 10 * 60_000
"""A receiver that was restarted, or a router, has come back by then. Project choice, as for contacts that fail."""
REACH_BACK_MS = 8 * 24 * 3_600_000
"""A call may be tried for a day, one of the highest priority for longer. Project choice."""


class FailedCall(NamedTuple):
    """A call that nobody took from `span.from_ms` on; `gave_up`: nobody tries any more and nobody took it."""

    span: Span
    contacts: tuple[str, ...]
    occurrence: str
    error: str
    gave_up: bool


def failed(messages: Iterable[CallFate], now_ms: int) -> list[FailedCall]:
    """Give the calls that failed. What was written at one moment for one incident is one call, by all its ways."""
    calls: dict[tuple[int, str], list[CallFate]] = {}
    for message in messages:
        calls.setdefault((message.created_ms, message.incident), []).append(message)
    return [call for _, ways in sorted(calls.items()) if (call := _failed(ways, now_ms)) is not None]


def _failed(ways: Sequence[CallFate], now_ms: int) -> FailedCall | None:
    created_ms = ways[0].created_ms
    tried = [each for each in ways if each.attempts]
    if not tried:
        # It waits for the end of quiet hours, or was over before anybody could be called.
        return None
    taken = [each for each in tried if each.state == "delivered" and each.last_attempt_ms is not None]
    waits = any(each.state == "waiting" for each in tried)
    last_ms = max((each.last_attempt_ms or created_ms for each in tried), default=created_ms)
    if taken:
        first = min(taken, key=lambda each: each.last_attempt_ms or 0)
        end_ms: int | None = first.last_attempt_ms
        # One attempt that worked was late because it had to wait, not because it failed.
        if first.attempts == 1 and all(each.attempts <= 1 for each in tried):
            return None
    else:
        end_ms = None if waits else last_ms
    gave_up = not taken and not waits and any(each.state == "abandoned" for each in tried)
    if not gave_up and (now_ms if end_ms is None else end_ms) - created_ms <= LONG_MS:
        return None
    error = next((each.error for each in reversed(tried) if each.error and each.state != "superseded"), "")
    contacts = tuple(dict.fromkeys(each.contact for each in tried))
    end_ms = None if end_ms is None else max(end_ms, created_ms)
    return FailedCall(Span(created_ms, end_ms), contacts, ways[0].occurrence, error, gave_up)
