"""What an alarm means for a probe in the air around the incubators: no egg lies there. Pure.

Without it forecasts rest on the stated temperature of the room, or are unknown; nothing else is lost.
"""

from dataclasses import replace

from config.words import AlarmKind, Priority
from daemon.alarms.definitions import AlarmDefinition


def of_room(definition: AlarmDefinition) -> AlarmDefinition:
    """Give the definition of an alarm about the probe as it holds for the room's."""
    silent = definition.kind is AlarmKind.NO_DATA
    return replace(
        definition,
        priority=Priority.LOW,
        consequence="No egg is in danger by this. Forecasts are less exact without the temperature of the room.",
        first_action="Check the plug, power and network of the room's probe."
        if silent
        else "Compare the room's probe with another thermometer, then check its plug and cable.",
        time_available="unknown, look today",
    )
