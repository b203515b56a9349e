"""A call that may hang, with an end to the waiting.

The time-outs of HTTP libraries count from byte to byte: a server that sends one byte now and then holds its caller
for ever. So an attempt runs in a thread of its own, and the caller stops waiting when the time is up.
"""

import threading
from collections.abc import Callable
from concurrent.futures import Future, wait
from typing import Generic, TypeVar

T = TypeVar("T")
MOST_HANGING = 3


class OverdueError(Exception):
    """No result in time. The call may still come to an end, unseen."""


class BoundedCalls(Generic[T]):
    """Runs calls for at most `limit_s` seconds each; one at a time, from one thread."""

    def __init__(self, name: str, limit_s: float) -> None:
        self._name = name
        self._limit_s = limit_s
        self._hanging: list[Future[T]] = []

    def run(self, work: Callable[[], T]) -> T:
        """Give the result of the call, or raise its exception.

        Raises OverdueError when the time is up, and at once where `MOST_HANGING` earlier calls still hang.
        """
        self._hanging = [earlier for earlier in self._hanging if not earlier.done()]
        if len(self._hanging) >= MOST_HANGING:
            raise OverdueError(f"{MOST_HANGING} earlier attempts still hang")
        future: Future[T] = Future()
        threading.Thread(target=_fulfil, args=(future, work), name=self._name, daemon=True).start()
        if wait([future], self._limit_s).not_done:
            self._hanging.append(future)
            raise OverdueError(f"no result within {self._limit_s:g} s")
        return future.result()


def _fulfil(future: Future[T], work: Callable[[], T]) -> None:
    try:
        future.set_result(work())
    except Exception as error:  # noqa: BLE001 - carried over to the caller, who judges it
        future.set_exception(error)
