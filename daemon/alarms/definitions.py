"""One definition for each kind of alarm: how urgent, how patient, and what the keeper does first.

An alarm without a defined response is not an alarm (ISA-18.2 definition of alarm; UK HSE, Better alarm handling,
Chemicals Sheet 6). A definition with an empty text therefore cannot be made.

Delays and deadbands are this project's starting values, for still air above boxes of moist medium: common practice,
no source. Their meaning is that of OPC 10000-9 (IEC 62541-9) 5.8.2 and B.1.5. Heat is given the shorter delays
because too much of it harms embryos sooner than the same step of cold; a keeper may tune each kind in the site file.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from config.site import AlarmTuning
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


def tuned(kind: AlarmKind, tunings: Mapping[AlarmKind, AlarmTuning]) -> AlarmDefinition:
    """Give the definition of a kind with the keeper's own figures in place of the built-in ones.

    Raises ValueError, with the reason, where a figure is not allowed for that kind.
    """
    definition = DEFINITIONS[kind]
    tuning = tunings.get(kind)
    if tuning is None:
        return definition
    return replace(
        definition,
        on_delay_s=definition.on_delay_s if tuning.on_delay_s is None else tuning.on_delay_s,
        off_delay_s=definition.off_delay_s if tuning.off_delay_s is None else tuning.off_delay_s,
        deadband=definition.deadband if tuning.deadband is None else tuning.deadband,
    )


_ALL = (
    AlarmDefinition(
        kind=AlarmKind.TEMPERATURE_LETHAL_HIGH,
        priority=Priority.CRITICAL,
        on_delay_s=60,
        off_delay_s=300,
        deadband=0.3,
        at_once_beyond=1.0,
        cause="A thermostat stuck on, heat set too high, or a hot room or sun on the incubator.",
        consequence="Embryos may die or be malformed.",
        first_action="Unplug the heat with dry hands and open it; if it smokes stay out, call for help.",
        time_available="minutes, go now",
    ),
    AlarmDefinition(
        kind=AlarmKind.TEMPERATURE_LETHAL_LOW,
        priority=Priority.CRITICAL,
        on_delay_s=300,
        off_delay_s=600,
        deadband=0.3,
        at_once_beyond=None,
        cause="No mains, a failed heater or thermostat, or an incubator left open in a cold room.",
        consequence="Embryos may die; those that live develop late.",
        first_action="Close the incubator, then check with dry hands whether its heat has power.",
        time_available="unknown, go now",
    ),
    AlarmDefinition(
        kind=AlarmKind.TEMPERATURE_HIGH,
        priority=Priority.HIGH,
        on_delay_s=300,
        off_delay_s=600,
        deadband=0.2,
        at_once_beyond=None,
        cause="A warm room, a thermostat set too high, or more heat than the incubator loses.",
        consequence="Faster development, and stress that adds up; it may go on to the lethal limit.",
        first_action="Check the room and the thermostat setting, and let some warm air out.",
        time_available="unknown, look within the hour",
    ),
    AlarmDefinition(
        kind=AlarmKind.TEMPERATURE_LOW,
        priority=Priority.LOW,
        on_delay_s=900,
        off_delay_s=600,
        deadband=0.2,
        at_once_beyond=None,
        cause="A door left open, a cold room, a thermostat set too low, or weak heat.",
        consequence="Slower development and a later hatch; it may go on to the lethal limit.",
        first_action="Check that it is closed and that its heat and thermostat are on.",
        time_available="usually hours, look today",
    ),
    AlarmDefinition(
        kind=AlarmKind.HUMIDITY_HIGH,
        priority=Priority.LOW,
        on_delay_s=1800,
        off_delay_s=1800,
        deadband=3.0,
        at_once_beyond=None,
        cause="Too much water in tray or medium, no air exchange, or a probe that has become wet.",
        consequence="Water may settle on eggs, and mould may follow.",
        first_action="Look for wet medium or water under the lid, and let some air in.",
        time_available="usually a day, look today",
    ),
    AlarmDefinition(
        kind=AlarmKind.HUMIDITY_LOW,
        priority=Priority.LOW,
        on_delay_s=1800,
        off_delay_s=1800,
        deadband=3.0,
        at_once_beyond=None,
        cause="An empty water tray, dry medium, an open lid, or dry room air.",
        consequence="Eggs lose water and dent.",
        first_action="Unplug the heat, add water at the edges, then plug it in again.",
        time_available="usually a day, look today",
    ),
    AlarmDefinition(
        kind=AlarmKind.NO_DATA,
        priority=Priority.HIGH,
        on_delay_s=0,
        off_delay_s=0,
        deadband=0,
        at_once_beyond=None,
        cause="A probe, its power, its network or the broker has stopped.",
        consequence="Nobody would be told if the eggs became too hot or too cold.",
        first_action="Read another thermometer in there, then check the probe and its power.",
        time_available="unknown, look now",
    ),
    AlarmDefinition(
        kind=AlarmKind.PROBE_FAULT,
        priority=Priority.LOW,
        # one wet contact or one bad read repeats for a few minutes; longer than this it wants a hand on it
        on_delay_s=600,
        off_delay_s=0,
        deadband=0,
        at_once_beyond=None,
        cause="A loose plug, a broken cable, water in the probe, or a worn-out probe.",
        consequence="Its readings are not used, so this place is not watched by it.",
        first_action="Compare with another instrument, then check the probe's plug and cable.",
        time_available="unknown, look today",
    ),
)

DEFINITIONS: Mapping[AlarmKind, AlarmDefinition] = MappingProxyType({each.kind: each for each in _ALL})
"""The built-in definition of every kind."""
