"""Calls past the outbox: of what is given while another call is settled nothing is lost."""

import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from types import FrameType
from typing import Any

import pytest

from config.words import Priority
from daemon.alarms.delivery import Delivered, GiveUp, MessageKind, MessageStatus, OutgoingMessage, SendResult, TryAgain
from daemon.direct_calls import DirectCalls
from tests.support.processes import wait_until

PATIENCE_S = 0.3
"""So long a call may be held up by another one before it is let go on."""


def message(number: int, kind: MessageKind = MessageKind.ALARM) -> OutgoingMessage:
    return OutgoingMessage(
        message_id=f"m{number}",
        kind=kind,
        status=MessageStatus.ACTUAL,
        site="Test house",
        place="Test house",
        priority=Priority.CRITICAL,
        headline=f"number {number}",
        body="The journal cannot be written.",
    )


@dataclass
class Held:
    """A way to Ana that holds each call until it is let go, and then says `result`."""

    result: SendResult = field(default_factory=Delivered)
    sent: list[str] = field(default_factory=list)
    go: threading.Semaphore = field(default_factory=lambda: threading.Semaphore(0))

    def send(self, sent: OutgoingMessage) -> SendResult:
        self.sent.append(sent.message_id)
        assert self.go.acquire(timeout=20)
        return self.result


def opened() -> tuple[DirectCalls, Held]:
    way = Held()
    return DirectCalls({"ana/0": way}, lambda: 0), way


@pytest.mark.parametrize("result", [Delivered(), GiveUp("gone")])
def test_what_is_given_during_a_call_is_told_after_it(result: SendResult) -> None:
    calls, way = opened()
    way.result = result
    calls.tell({"ana/0": message(1)})
    wait_until(lambda: way.sent == ["m1"], "the first call")
    calls.tell({"ana/0": message(2)})
    way.go.release(2)
    wait_until(lambda: way.sent == ["m1", "m2"], "the second call")
    calls.stop()


def at_line(number: int, act: Callable[[], None]) -> Callable[[FrameType, str, Any], Any]:
    """A trace function that acts once, before the line of this number that `_settle` comes to."""
    left = number

    def trace(frame: FrameType, event: str, _argument: object) -> Any:
        nonlocal left
        if frame.f_code.co_name != "_settle":
            return None
        if event == "line":
            left -= 1
            if left == 0:
                act()
        return trace

    return trace


@pytest.mark.parametrize("number", [1, 2, 3])
def test_what_is_given_at_any_moment_of_settling_is_kept(number: int) -> None:
    """Another thread gives something newer before each line: it must wait, or find nothing that it could lose to."""
    calls, way = opened()
    [ours] = calls._ways.values()
    old, new = message(1), message(2)
    ours._message = old
    given = threading.Thread(target=ours.give, args=(new,))
    reached = []

    def give() -> None:
        reached.append(number)
        given.start()
        given.join(PATIENCE_S)

    def settle() -> None:
        sys.settrace(at_line(number, give))
        ours._settle(old)
        sys.settrace(None)

    settling = threading.Thread(target=settle)
    settling.start()
    settling.join(20)
    given.join(20)
    assert reached == [number]
    # Its call is held, so it is there until that is let go.
    assert ours._message is new
    calls.stop()
    way.go.release()


def test_that_it_is_over_is_told_only_to_whom_was_told_that_it_began() -> None:
    calls, way = opened()
    calls.tell({"ana/0": replace(message(1), kind=MessageKind.CLEARED)})
    calls.tell({"ana/0": message(2)})
    wait_until(lambda: way.sent == ["m2"], "the call")
    way.go.release()
    wait_until(lambda: all(each.reached for each in calls._ways.values()), "the answer")
    calls.tell({"ana/0": message(3, MessageKind.CLEARED)})
    way.go.release()
    wait_until(lambda: way.sent == ["m2", "m3"], "that it is over")
    calls.stop()


def test_that_it_is_over_is_told_also_where_the_answer_to_the_first_call_was_lost() -> None:
    calls, way = opened()
    way.result = TryAgain("the receiver did not answer in time")
    calls.tell({"ana/0": message(1)})
    wait_until(lambda: way.sent == ["m1"], "the call")
    calls.tell({"ana/0": message(2, MessageKind.CLEARED)})
    way.go.release(2)
    wait_until(lambda: way.sent == ["m1", "m2"], "that it is over")
    calls.stop()
