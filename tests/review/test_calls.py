"""Which calls reached nobody. One call is all that was written at one moment for one incident."""

import pytest

from daemon.review.calls import failed
from daemon.review.values import Span
from daemon.storage.call_fates import CallFate

MINUTE_MS = 60_000
NOW_MS = 100 * MINUTE_MS


def way(state: str, attempts: int, last_min: float | None, contact: str = "ana/0", error: str = "") -> CallFate:
    last_ms = None if last_min is None else round(last_min * MINUTE_MS)
    return CallFate("i", 0, contact, state, attempts, last_ms, error, "no-data:a/t:0")


# Ten minutes are patience, as for contacts that fail: a router that is started anew has come back.
@pytest.mark.parametrize(
    ("ways", "span", "gave_up"),
    [
        ([way("delivered", 1, 0.1)], None, False),
        ([way("delivered", 3, 9)], None, False),
        ([way("delivered", 5, 40)], Span(0, 40 * MINUTE_MS), False),
        # It waited for the end of quiet hours and went through at once.
        ([way("delivered", 1, 90)], None, False),
        ([way("waiting", 0, None)], None, False),
        ([way("waiting", 4, 99)], Span(0, None), False),
        ([way("abandoned", 1, 0.1, error="no such address")], Span(0, 6_000), True),
        # One way of two worked.
        ([way("abandoned", 1, 0.1), way("delivered", 1, 0.2, "ben/0")], None, False),
        ([way("abandoned", 1, 0.1), way("delivered", 6, 30, "ben/0")], Span(0, 30 * MINUTE_MS), False),
        ([way("abandoned", 1, 0.1), way("waiting", 2, 50, "ben/0")], Span(0, None), False),
        # Over before anybody could be called, or acknowledged meanwhile.
        ([way("superseded", 0, None)], None, False),
        ([way("superseded", 3, 5)], None, False),
        ([way("superseded", 8, 30)], Span(0, 30 * MINUTE_MS), False),
    ],
)
def test_a_call_that_nobody_took(ways: list[CallFate], span: Span | None, gave_up: bool) -> None:
    found = failed(ways, NOW_MS)
    assert [(call.span, call.gave_up) for call in found] == ([] if span is None else [(span, gave_up)])


def test_calls_of_other_moments_are_other_calls() -> None:
    ways = [way("abandoned", 1, 0.1), way("delivered", 1, 6)._replace(created_ms=5 * MINUTE_MS)]
    [call] = failed(ways, NOW_MS)
    assert (call.contacts, call.occurrence) == (("ana/0",), "no-data:a/t:0")
