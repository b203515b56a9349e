"""What one kind of alarm means: how urgent, how patient, and what the keeper does first.

An alarm without a defined response is not an alarm (ISA-18.2 definition of alarm; UK HSE, Better alarm handling,
Chemicals Sheet 6). A definition with an empty text therefore cannot be made.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from config.words import AlarmKind, Priority

LONGEST_LETHAL_ON_DELAY_S: Mapping[AlarmKind, float] = MappingProxyType(
    {AlarmKind.TEMPERATURE_LETHAL_HIGH: 300.0, AlarmKind.TEMPERATURE_LETHAL_LOW: 900.0}
)
"""A lethal limit may not wait longer than this (s): patience there costs the eggs. Project choice, no source."""

LONGEST_FIRST_ACTION = 90
"""Characters of a first action, so that it fits into a message that is read on a lock screen."""

LONGEST_TIME_AVAILABLE = 40
"""Characters of the time available. It stands behind "Time left:" until a forecast for the place takes its place."""

_TEXTS = ("cause", "consequence", "first_action", "time_available")


@dataclass(frozen=True, slots=True)
class AlarmDefinition:
    """What one kind of alarm means. Delays in seconds; deadband and `at_once_beyond` in °C, or %RH for humidity.

    `at_once_beyond`: a single good reading this far past the limit raises the alarm without the on-delay.
    For NO_DATA and PROBE_FAULT the way back is a count of good readings, so off-delay and deadband are 0.

    Raises ValueError for an empty text, a negative or infinite figure, or a lethal limit made too patient.
    """

    kind: AlarmKind
    priority: Priority
    on_delay_s: float
    off_delay_s: float
    deadband: float
    at_once_beyond: float | None
    cause: str
    consequence: str
    first_action: str
    time_available: str

    def __post_init__(self) -> None:
        for name in _TEXTS:
            if not getattr(self, name).strip():
                raise ValueError(f"alarm {self.kind}: {name} is empty; an alarm nobody can answer is not an alarm")
        if len(self.first_action) > LONGEST_FIRST_ACTION:
            raise ValueError(
                f"alarm {self.kind}: first_action has {len(self.first_action)} characters; "
                f"use at most {LONGEST_FIRST_ACTION}, for a lock screen"
            )
        if len(self.time_available) > LONGEST_TIME_AVAILABLE:
            raise ValueError(f"alarm {self.kind}: time_available is longer than {LONGEST_TIME_AVAILABLE} characters")
        for name in ("on_delay_s", "off_delay_s", "deadband"):
            figure = getattr(self, name)
            if not (math.isfinite(figure) and figure >= 0):
                raise ValueError(f"alarm {self.kind}: {name} is {figure}; use a number that is 0 or more")
        if self.at_once_beyond is not None and not (math.isfinite(self.at_once_beyond) and self.at_once_beyond > 0):
            raise ValueError(f"alarm {self.kind}: at_once_beyond is {self.at_once_beyond}; use more than 0, or none")
        longest = LONGEST_LETHAL_ON_DELAY_S.get(self.kind)
        if longest is not None and self.on_delay_s > longest:
            raise ValueError(
                f"alarm {self.kind}: on_delay_s is {self.on_delay_s:g}, but a lethal limit may wait at most "
                f"{longest:g} s; eggs can be lost while an alarm waits. Use {longest:g} or less"
            )
