"""The unit in which people type and read the values of a channel, beside the canonical one. Pure."""

from dataclasses import dataclass

from config.words import Quantity

_FAHRENHEIT_ZERO = 32.0
_FAHRENHEIT_STEP = 9 / 5
"""t/°F = 9/5 t/°C + 32 (NIST SP 811, 2008, appendix B.8)."""


@dataclass(frozen=True, slots=True)
class Scale:
    """Of one quantity. Canonical values are °C and % RH, differences K and % RH; `fahrenheit` touches no humidity."""

    quantity: Quantity
    fahrenheit: bool = False

    @property
    def unit(self) -> str:
        """The unit of a value."""
        if not self.quantity.is_temperature:
            return "% RH"
        return "°F" if self.fahrenheit else "°C"

    @property
    def difference_unit(self) -> str:
        """The unit of a difference between two values, as people read it: a kelvin is a step of one °C."""
        return self.unit

    def shown(self, value: float) -> float:
        """Give a canonical value in this unit."""
        return value * _FAHRENHEIT_STEP + _FAHRENHEIT_ZERO if self._is_other else value

    def shown_difference(self, difference: float) -> float:
        """Give a canonical difference in this unit; it is never shifted."""
        return difference * _FAHRENHEIT_STEP if self._is_other else difference

    def canonical(self, value: float) -> float:
        """Give the canonical value of what was typed in this unit."""
        return (value - _FAHRENHEIT_ZERO) / _FAHRENHEIT_STEP if self._is_other else value

    def canonical_difference(self, difference: float) -> float:
        """Give the canonical difference of what was typed in this unit."""
        return difference / _FAHRENHEIT_STEP if self._is_other else difference

    def shown_shift(self, gain: float, shift: float) -> float:
        """Give the shift of a line `gain * value + shift` where both its sides are in this unit."""
        return self.shown_difference(shift) + (1 - gain) * _FAHRENHEIT_ZERO if self._is_other else shift

    @property
    def _is_other(self) -> bool:
        return self.fahrenheit and self.quantity.is_temperature
