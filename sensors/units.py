"""Units of probes, and the way from each to the canonical unit: degree Celsius and percent relative humidity.

A unit is never guessed from the size of a number: 82 declared as degree Celsius stays 82 °C, and the judgement says
that it looks like Fahrenheit. SenML's names are those of RFC 8428 section 12.1; they are case-sensitive. Foreign
sources have no unit in the message, so the site file states it, and may also use `degC`, `degF` and `percent`.

Contacts have no unit to convert: see `sensors/contacts.py`.

Sources: 0 °C = 273.15 K, BIPM SI Brochure (9th edition) section 2.3.1; t/°C = (t/°F - 32)/1.8, NIST SP 811 (2008)
appendix B.8.
"""

from collections.abc import Callable, Mapping

from config.words import Quantity

_DECIMALS = 9
"""Rounding of converted values: takes away the dust of binary arithmetic, far below any probe's resolution."""


class UnitError(ValueError):
    """A unit that does not belong to the quantity, with what to send instead."""

    def __init__(self, reason: str, hint: str) -> None:
        super().__init__(f"{reason}; {hint}")
        self.reason = reason
        self.hint = hint


def _as_is(value: float) -> float:
    return value


def _from_kelvin(value: float) -> float:
    return round(value - 273.15, _DECIMALS)


def _from_fahrenheit(value: float) -> float:
    return round((value - 32.0) / 1.8, _DECIMALS)


def _from_ratio(value: float) -> float:
    return round(value * 100.0, _DECIMALS)


_TEMPERATURE: Mapping[str, Callable[[float], float]] = {
    "Cel": _as_is,
    "K": _from_kelvin,
    "degC": _as_is,
    "degF": _from_fahrenheit,
}
_HUMIDITY: Mapping[str, Callable[[float], float]] = {"%RH": _as_is, "/": _from_ratio, "percent": _as_is}
_SENML_TEMPERATURE = {unit: _TEMPERATURE[unit] for unit in ("Cel", "K")}
_SENML_HUMIDITY = {unit: _HUMIDITY[unit] for unit in ("%RH", "/")}
_Units = Mapping[Quantity, Mapping[str, Callable[[float], float]]]
_UNITS: _Units = {
    Quantity.AIR_TEMPERATURE: _TEMPERATURE,
    Quantity.SURFACE_TEMPERATURE: _TEMPERATURE,
    Quantity.RELATIVE_HUMIDITY: _HUMIDITY,
    Quantity.MAINS: {},
    Quantity.DOOR: {},
}
_SENML_UNITS: _Units = {
    Quantity.AIR_TEMPERATURE: _SENML_TEMPERATURE,
    Quantity.SURFACE_TEMPERATURE: _SENML_TEMPERATURE,
    Quantity.RELATIVE_HUMIDITY: _SENML_HUMIDITY,
    Quantity.MAINS: {},
    Quantity.DOOR: {},
}


def to_canonical(quantity: Quantity, value: float, unit: str) -> float:
    """Convert a value to degree Celsius or percent relative humidity.

    Raises
    ------
    UnitError
        The unit is unknown or belongs to another quantity. A `%` is refused on purpose: in SenML it is a ratio from 0
        to 1 (RFC 8428 section 12.1), and people read it as a percentage.
    """
    known = _UNITS[quantity]
    convert = known.get(unit)
    if convert is None:
        raise UnitError(_reason(quantity, unit), f"state {_listed(known)}")
    return convert(value)


def senml_to_canonical(quantity: Quantity, value: float, unit: str | None) -> float:
    """Convert a SenML value; only SenML's own unit names count, and a missing unit is refused.

    Raises
    ------
    UnitError
        No unit, or one that is not SenML's for this quantity.
    """
    known = _SENML_UNITS[quantity]
    convert = known.get(unit or "")
    if convert is not None:
        return convert(value)
    hint = f"send u or bu as {_listed(known)}"
    if unit is None:
        raise UnitError("the record has no unit, and a unit is never guessed", hint)
    if unit == "%":
        hint += " (in SenML a % is a ratio from 0 to 1, which nobody expects)"
    if unit == "degF":
        hint += " (SenML knows no Fahrenheit)"
    raise UnitError(_reason(quantity, unit), hint)


def _listed(known: Mapping[str, object]) -> str:
    return f"{' or '.join(known)}, exactly as written here" if known else "nothing: a contact is not converted"


def _reason(quantity: Quantity, unit: str) -> str:
    shown = repr(unit[:20])
    return f"{shown} is not a unit of {quantity.value.replace('_', ' ')}"
