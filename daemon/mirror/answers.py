"""What an answer of a target means, and which of many lines it will not have. Pure.

A request with one bad line is answered as if all were bad (HTTP 400 or 422), although some engines store the others.
Such a batch is halved until the bad lines stand alone: with one bad line in 5,000 that takes some 25 requests, and
writing a point once more changes nothing. Everything else (not signed in, too many requests, away, too slow) says
nothing about the lines, so it is waited for.
"""

import re
from collections.abc import Callable
from enum import StrEnum
from typing import NamedTuple

_TAKEN = range(200, 300)
_AT_FAULT = frozenset({400, 422})
_TOO_LARGE = 413
_PAST_RETENTION = "retention policy"
_LONGEST = 300
NOTHING_TAKEN = 20
"""So many lines refused, one by one, and none taken yet: then it is the target and not the lines. Project choice."""
_CAUSES = {
    401: "it does not accept the token",
    403: "the token may not write there",
    404: "it has no such database or bucket",
    429: "it asks for fewer requests",
    503: "it is not ready",
}


class Answer(NamedTuple):
    """An answer; `status` 0 where there was none. `reason`: what it said, in a line, without token or address."""

    status: int
    reason: str = ""
    asked_s: float | None = None

    @property
    def told(self) -> str:
        """The answer in words."""
        cause = _CAUSES.get(self.status, f"it answered {self.status}" if self.status else "")
        return ": ".join(each for each in (cause, self.reason) if each)


class Meaning(StrEnum):
    """What follows from an answer."""

    TAKEN = "taken"
    PAST = "past"
    """taken, but for points that are older than the target keeps any"""
    REFUSED = "refused"
    TOO_LARGE = "too large"
    WAIT = "wait"


class Refused(NamedTuple):
    """A line that the target will not have, by its place in the batch, and why."""

    place: int
    reason: str


class Settled(NamedTuple):
    """What became of a batch. With `wait` it is not done, and has to be sent again as a whole."""

    refused: tuple[Refused, ...] = ()
    wait: Answer | None = None
    any_taken: bool = True


def meaning(answer: Answer) -> Meaning:
    """Judge an answer to lines that were written."""
    if answer.status in _TAKEN:
        return Meaning.TAKEN
    if answer.status in _AT_FAULT:
        return Meaning.PAST if _PAST_RETENTION in answer.reason else Meaning.REFUSED
    return Meaning.TOO_LARGE if answer.status == _TOO_LARGE else Meaning.WAIT


def settle(count: int, send: Callable[[int, int], Answer]) -> Settled:
    """Send lines 0 to `count`; halve what is refused until the bad ones stand alone. `send` takes first and end."""
    waiting, refused, any_taken = [(0, count)], list[Refused](), False
    while waiting:
        first, end = waiting.pop()
        if first == end:
            continue
        answer = send(first, end)
        match meaning(answer):
            case Meaning.TAKEN | Meaning.PAST:
                any_taken = True
            case Meaning.WAIT:
                return Settled((), answer, any_taken)
            case _ if end - first > 1:
                middle = (first + end) // 2
                waiting += [(middle, end), (first, middle)]
            case _:
                refused.append(Refused(first, answer.reason or answer.told))
                if not any_taken and len(refused) >= NOTHING_TAKEN:
                    return Settled((), answer, any_taken=False)
    return Settled(tuple(refused), None, any_taken or not count)


def one_line(text: str, secret: str = "") -> str:
    """Give what a server said as one short line, without the secret where it repeats that."""
    told = text.replace(secret, "***") if secret else text
    return re.sub(r"\s+", " ", told).strip()[:_LONGEST]
