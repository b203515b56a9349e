"""What an alarm about a probe itself means where no egg depends on its readings: a contact, a room's thermometer. Pure.

A silent contact hides no heat and no cold: the thermometers still tell of both, only later.
"""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from config.model import ROOM
from config.words import AlarmKind, Priority, Quantity
from daemon.alarms.definition import AlarmDefinition
from daemon.alarms.room_probe import of_room

_UNNOTICED: Mapping[Quantity, str] = MappingProxyType(
    {
        Quantity.MAINS: "A power cut is noticed later, by the cold or by silent probes.",
        Quantity.DOOR: "A door left open is noticed later, by the cold.",
    }
)
_ABOUT_THE_PROBE = frozenset({AlarmKind.NO_DATA, AlarmKind.PROBE_FAULT})


def of_probe(definition: AlarmDefinition, place: str, quantity: Quantity | None) -> AlarmDefinition:
    """Give the definition of an alarm as it holds for the probe that it is about; None: it is about no channel."""
    if quantity is not None and quantity in _UNNOTICED and definition.kind in _ABOUT_THE_PROBE:
        return replace(
            definition,
            priority=Priority.LOW,
            cause="The contact's battery or supply, its cable or its network.",
            consequence=_UNNOTICED[quantity],
            first_action=f"Check battery, plug and network of the {quantity.value} contact.",
            time_available="unknown, look today",
        )
    return of_room(definition) if place == ROOM else definition


def is_minor(place: str, quantity: Quantity | None) -> bool:
    """True where the silence of a probe is no matter of hours."""
    return place == ROOM or quantity in _UNNOTICED
