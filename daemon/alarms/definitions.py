"""One definition for each kind of alarm, and the keeper's own figures in place of the built-in ones.

Delays and deadbands are this project's starting values, for still air above boxes of moist medium: common practice,
no source. Their meaning is that of OPC 10000-9 (IEC 62541-9) 5.8.2 and B.1.5. Heat is given the shorter delays
because too much of it harms embryos sooner than the same step of cold; a keeper may tune each kind in the site file.
"""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from config.site import AlarmTuning
from config.words import AlarmKind, Priority
from daemon.alarms.definition import AlarmDefinition
from daemon.alarms.definitions_backup import BACKUP
from daemon.alarms.definitions_standing import STANDING

__all__ = ["DEFINITIONS", "AlarmDefinition", "tuned"]


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

DEFINITIONS: Mapping[AlarmKind, AlarmDefinition] = MappingProxyType(
    {each.kind: each for each in (*_ALL, *STANDING, *BACKUP)}
)
"""The built-in definition of every kind."""
