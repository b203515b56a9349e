"""A damped temperature: what eggs and medium have come to while the air around them moved. Pure.

A first-order lag, dy/dt = (x - y) / time constant, where x runs straight from one good reading to the next. For a
straight line the equation has an exact answer, so readings may come at any times and none of them is lost or doubled:

    y1 = x1 + (y0 - x0) * e - (x1 - x0) * (1 - e) / u,  with u = step / time constant and e = exp(-u)

The damped value is a weighted mean of what was read, so it never leaves the range of the readings it is made of.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from math import expm1
from typing import Any, NamedTuple

from daemon.alarms.state_json import INTEGER, StateError

LONGEST_BRIDGE_MS = 30 * 60_000
"""What is assumed of two readings further apart than this: nothing. The same as for heat, where it may be set."""


@dataclass(frozen=True, slots=True)
class Lag:
    """How a channel is damped: its time constant (0: not at all) and the longest step that a line may bridge, ms.

    Raises ValueError for a figure that nothing could be damped by.
    """

    time_constant_ms: float
    bridge_ms: float = LONGEST_BRIDGE_MS

    def __post_init__(self) -> None:
        if not (math.isfinite(self.time_constant_ms) and self.time_constant_ms >= 0 and self.bridge_ms > 0):
            raise ValueError(f"{self}: the time constant must be 0 or more, the bridge more than 0")

    @property
    def time_constant_s(self) -> float:
        """The time constant in seconds, the unit of the delays of alarms."""
        return self.time_constant_ms / 1000


class Damped(NamedTuple):
    """The newest good reading of a channel, when it was measured (UTC ms), and what the damped one has come to, °C."""

    at_ms: int
    value_c: float
    damped_c: float


def after(before: Damped | None, lag: Lag, at_ms: int, value_c: float) -> Damped:
    """Take one good reading, °C. One that is not newer than the newest changes nothing.

    After a step longer than the bridge nobody knows what the air did: it begins again at the reading itself, and so it
    does without damping.
    """
    return after_all(Damped(at_ms, value_c, value_c) if before is None else before, lag, ((at_ms, value_c),))


def after_all(before: Damped, lag: Lag, readings: Iterable[tuple[int, float]]) -> Damped:
    """Take good readings, (UTC ms, °C) in the order of their arrival: the same as one by one, for less."""
    newest_ms, newest_c, damped_c = before
    time_constant_ms, bridge_ms = lag.time_constant_ms, lag.bridge_ms
    for at_ms, value_c in readings:
        step_ms = at_ms - newest_ms
        if step_ms <= 0:
            continue
        if step_ms > bridge_ms or not time_constant_ms:
            damped_c = value_c
        else:
            steps = step_ms / time_constant_ms
            # expm1 keeps all figures where the step is short against the time constant, as it mostly is.
            gained = -expm1(-steps)
            damped_c = value_c + (damped_c - newest_c) * (1.0 - gained) - (value_c - newest_c) * gained / steps
        newest_ms, newest_c = at_ms, value_c
    return Damped(newest_ms, newest_c, damped_c)


def at_latest(damped: Damped | None, now_ms: int) -> Damped | None:
    """Give it with no time after `now_ms`: a clock that was ahead must not make every reading of now a late one."""
    return damped if damped is None or damped.at_ms <= now_ms else damped._replace(at_ms=now_ms)


def to_fields(damped: Damped) -> dict[str, Any]:
    """Give what the journal keeps."""
    return damped._asdict()


def from_fields(found: Any) -> Damped:
    """Read what `to_fields` gave. Raises StateError where it is not exactly that."""
    if not isinstance(found, dict) or found.keys() != set(Damped._fields):
        raise StateError("a damped temperature", f"it is {found!r}")
    figures = (found["value_c"], found["damped_c"])
    if type(found["at_ms"]) not in INTEGER or any(
        type(each) not in (int, float) or not math.isfinite(each) for each in figures
    ):
        raise StateError("a damped temperature", f"it is {found!r}")
    return Damped(**found)
