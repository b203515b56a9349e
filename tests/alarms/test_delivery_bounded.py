"""A call that hangs does not hold its caller, and hanging calls do not pile up."""

import threading
from collections.abc import Iterator

import pytest

from daemon.alarms.bounded import MOST_HANGING, BoundedCalls, OverdueError
from tests.support.processes import wait_until


@pytest.fixture
def leave() -> Iterator[threading.Event]:
    event = threading.Event()
    yield event
    event.set()


def test_the_result_of_a_call_comes_back() -> None:
    assert BoundedCalls[int]("call", 30).run(lambda: 42) == 42


def test_the_exception_of_a_call_comes_back_even_where_it_is_a_time_out_of_its_own() -> None:
    def fail() -> int:
        raise TimeoutError("mine")

    with pytest.raises(TimeoutError, match="mine"):
        BoundedCalls[int]("call", 30).run(fail)


def test_no_more_than_a_few_calls_hang_at_a_time_and_one_that_ends_makes_room(leave: threading.Event) -> None:
    started: list[int] = []

    def hang() -> bool:
        started.append(1)
        return leave.wait(60)

    calls = BoundedCalls[bool]("call", 0.05)
    for _ in range(MOST_HANGING + 2):
        with pytest.raises(OverdueError):
            calls.run(hang)
    # The last thread may get to its first line only after its caller has stopped waiting.
    wait_until(lambda: len(started) >= MOST_HANGING, "every call to begin")
    assert len(started) == MOST_HANGING
    leave.set()
    for thread in [thread for thread in threading.enumerate() if thread.name == "call"]:
        thread.join(10)
    calls._limit_s = 30
    assert calls.run(lambda: True) is True
