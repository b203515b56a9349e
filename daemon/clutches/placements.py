"""Pure: where a clutch lay when, from all that was ever said about it."""

from collections.abc import Iterable
from typing import NamedTuple

FOR_EVER_MS = 2**62


class Placement(NamedTuple):
    """From this moment on (UTC ms) the clutch lies in this place, until the next placement."""

    place: str
    from_ms: int


def placements_from(said: Iterable[Placement]) -> tuple[Placement, ...]:
    """Give the placements that hold, in order of time, from all statements in the order they were made.

    A later statement about the same moment takes the place of an earlier one. A move to where the clutch lay anyway is
    no move, so saying that it lay where it lay before takes a mistaken move back.
    """
    holding: dict[int, str] = {}
    for place, from_ms in said:
        holding[from_ms] = place
        before = ""
        for moment in sorted(holding):
            if holding[moment] == before:
                del holding[moment]
            else:
                before = holding[moment]
    return tuple(Placement(holding[moment], moment) for moment in sorted(holding))


def in_force(placements: Iterable[Placement], moment_ms: int) -> Placement | None:
    """Give the placement that holds at a moment; None before the first."""
    return max((one for one in placements if one.from_ms <= moment_ms), key=lambda one: one.from_ms, default=None)


def next_start_ms(placements: Iterable[Placement], moment_ms: int) -> int:
    """Give the start of the first placement after a moment; where none follows, a moment that never comes."""
    return min((one.from_ms for one in placements if one.from_ms > moment_ms), default=FOR_EVER_MS)
