"""The usual pack, read without detours: what nearly every message of a probe is.

A pack is usual where each record has a name that is a declared channel as it stands, a plain number and a unit, and
where time is absolute. It is then resolved here in one pass, to exactly what `sensors.senml` and the decoder make of
it; anything else is left to them. A test holds the two together.
"""

from collections.abc import Mapping
from typing import Any

from config.words import Quantity
from sensors.arrival import Measured
from sensors.reading import ChannelKey

_USUAL = frozenset({"n", "u", "v", "t", "bt", "bu"})
_UNITS = {Quantity.AIR_TEMPERATURE: "Cel", Quantity.SURFACE_TEMPERATURE: "Cel", Quantity.RELATIVE_HUMIDITY: "%RH"}
"""A contact is not among them: it has rules of its own and speaks seldom."""
_ABSOLUTE_FROM_S = 2.0**28
_LARGEST_TIME_S = 1e15
_LARGEST_VALUE = 1e300


def usual_pack(document: Any, names: Mapping[str, ChannelKey]) -> list[Measured] | None:
    """The values of a usual pack, in its own order; None where the pack is another one, good or bad."""
    if type(document) is not list or not document:
        return None
    base_s, base_unit = 0.0, None
    found = []
    for members in document:
        if type(members) is not dict or not members.keys() <= _USUAL:
            return None
        base_s, base_unit = members.get("bt", base_s), members.get("bu", base_unit)
        name, value, offset_s = members.get("n"), members.get("v"), members.get("t", 0.0)
        if not (type(name) is str and type(value) is float and type(base_s) is float and type(offset_s) is float):
            return None
        key, time_s = names.get(name), base_s + offset_s
        if key is None or not (_ABSOLUTE_FROM_S <= time_s < _LARGEST_TIME_S and abs(value) < _LARGEST_VALUE):
            return None
        unit = _UNITS.get(key.quantity)
        if unit is None or members.get("u", base_unit) != unit:
            return None
        found.append(Measured(key, value, round(time_s * 1000.0), True))
    return found
