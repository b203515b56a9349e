"""Saturated salts as humidity standards: what air over each of them has, how sure that is, and how it is handled.

In a closed jar, air over a slush of salt and water settles at a humidity that depends on the salt and, a little, on the
temperature. Values: L. Greenspan, Humidity Fixed Points of Binary Saturated Aqueous Solutions, J. Res. Natl. Bur.
Stand. 81A (1977) 89-96, as polynomials in t/°C. The printed table cuts the polynomial off after two decimals. The paper
itself was not read here: the coefficients are as three public transcriptions give them, the values of NaCl and MgCl2
from 20 to 30 °C also as a transcription of the printed table, and what is from memory is named with each salt. Two of
the transcriptions have one coefficient of LiCl with a wrong sign, which makes the polynomial miss the printed 11.3 %.

The paper's plus or minus has no coverage factor in what was read, so it counts as the half-width of a rectangle
(JCGM 100:2008, 4.3.7). Valid from 20 to 35 °C here, the span of the figures that were read. Waiting times: a humidity
calibrator's user guide. Cautions: common practice, no source; the safety data sheet of your salt decides.
"""

import math
from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise

from config.errors import StatedError

LOWEST_C = 20.0
HIGHEST_C = 35.0
SETTLING_H = 24
"""For which a fresh slush stands in its closed jar before it is used, hours."""
EQUAL_WITHIN_K = 0.5
"""Within which probe and salt must have the same temperature."""
_TABLE_C = (20.0, 25.0, 30.0, 35.0)
_DAMP_FROM_PCT = 70.0
_DRY_MINUTES, _DAMP_MINUTES = (10, 30), (20, 40)


@dataclass(frozen=True, slots=True)
class Salt:
    """One salt. `printed_limits_pct` are the plus or minus at 20, 25, 30 and 35 °C.

    The value follows from `coefficients` of t/°C in rising powers; where no polynomial was found, from `printed_pct`
    at the same four temperatures by straight lines.
    """

    key: str
    formula: str
    name: str
    coefficients: tuple[float, ...]
    printed_limits_pct: tuple[float, float, float, float]
    from_memory: str
    caution: str
    printed_pct: tuple[float, ...] = ()

    def minutes(self) -> tuple[int, int]:
        """For how long a probe stays in the jar before it is read, minutes: at least, and rather."""
        return _DAMP_MINUTES if self._value_pct(25.0) >= _DAMP_FROM_PCT else _DRY_MINUTES

    def relative_humidity_pct(self, temperature_c: float) -> float:
        """Relative humidity over the salt, percent, at 20 to 35 °C. Raises StatedError outside."""
        _refuse_outside(temperature_c)
        return self._value_pct(temperature_c)

    def limits_pct(self, temperature_c: float) -> float:
        """Plus or minus of that humidity, percent; straight between the four temperatures. Raises StatedError."""
        _refuse_outside(temperature_c)
        return _between(self.printed_limits_pct, temperature_c)

    def _value_pct(self, temperature_c: float) -> float:
        if self.printed_pct:
            return _between(self.printed_pct, temperature_c)
        return math.fsum(factor * temperature_c**power for power, factor in enumerate(self.coefficients))


@dataclass(frozen=True, slots=True)
class FixedPoint:
    """The humidity at the probe over a salt, percent, and its standard uncertainty (k = 1) in two parts.

    `salt_u_pct` is that of the salt; `mismatch_u_pct` comes from probe and salt not being equally warm.
    """

    salt: Salt
    temperature_c: float
    relative_humidity_pct: float
    salt_u_pct: float
    mismatch_u_pct: float

    @property
    def standard_uncertainty_pct(self) -> float:
        """Both parts together: JCGM 100:2008, 5.1.2, equation 10."""
        return math.hypot(self.salt_u_pct, self.mismatch_u_pct)


def fixed_point(salt: Salt, temperature_c: float, difference_k: float) -> FixedPoint:
    """Give what a probe over a salt should say, at a temperature, °C.

    `difference_k`: within plus or minus so much probe and salt are equally warm, K. Raises StatedError where the
    temperature is outside 20 to 35 °C, or where the difference is too large to mean anything.
    """
    if not 0 <= difference_k <= EQUAL_WITHIN_K:
        raise StatedError(
            f"probe and salt differ by ±{difference_k:g} K, and each kelvin is 5 to 6 % of the reading",
            f"Let both stand together until they are equal within {EQUAL_WITHIN_K:g} K, then read.",
        )
    value_pct = salt.relative_humidity_pct(temperature_c)
    mismatch_pct = value_pct * relative_slope_per_k(temperature_c) * difference_k
    return FixedPoint(
        salt, temperature_c, value_pct, salt.limits_pct(temperature_c) / math.sqrt(3), mismatch_pct / math.sqrt(3)
    )


def relative_slope_per_k(temperature_c: float) -> float:
    """Relative change of the saturation vapour pressure per kelvin, 1/K, around 0.06.

    So much of its reading a probe loses for each kelvin that it is warmer than the salt. It is d ln e/dt of the Magnus
    formula of WMO-No. 8, annex 4.B, e = const * exp(17.62 t/(243.12 + t)), t in °C.
    """
    return 17.62 * 243.12 / (243.12 + temperature_c) ** 2


def salt_named(word: str) -> Salt:
    """Give a salt by its formula, in capital or small letters. Raises StatedError."""
    found = SALTS.get(word.strip().lower())
    if found is None:
        known = ", ".join(salt.formula for salt in SALTS.values())
        raise StatedError(f"{word!r} is not a salt that is known here", f"Known: {known}.")
    return found


def _refuse_outside(temperature_c: float) -> None:
    if not LOWEST_C <= temperature_c <= HIGHEST_C:
        raise StatedError(
            f"{temperature_c:g} °C is outside {LOWEST_C:g} to {HIGHEST_C:g} °C, for which the salts are stated",
            "Bring jar and probe into that span, for example into the incubator, and let them stand.",
        )


def _between(values: tuple[float, ...], temperature_c: float) -> float:
    place = min(bisect_right(_TABLE_C, temperature_c), len(_TABLE_C) - 1) - 1
    (low_c, low), (high_c, high) = list(pairwise(zip(_TABLE_C, values, strict=True)))[place]
    return low + (high - low) * (temperature_c - low_c) / (high_c - low_c)


_MILD = "Irritates eyes and wounds."
_ALL = (
    Salt(
        "licl",
        "LiCl",
        "lithium chloride",
        (11.2323, 0.00824245, -0.214890e-3),
        (0.31, 0.27, 0.24, 0.22),
        "the second decimal of the ±",
        "Harmful when swallowed; irritates skin and eyes. Store and use it above 18 °C only: a solution that was "
        "colder changes for good and must not be used again. It draws water from the air, so keep it closed.",
    ),
    Salt(
        "mgcl2",
        "MgCl2",
        "magnesium chloride (hexahydrate)",
        (33.6686, -0.00797397, -0.108988e-2),
        (0.18, 0.16, 0.14, 0.13),
        "the second decimal of the ± at 35 °C",
        _MILD,
    ),
    Salt(
        "nabr",
        "NaBr",
        "sodium bromide",
        (),
        # Printed, from memory: 0.44, 0.40, 0.38, 0.38. The only other figures that were read differ by up to 1.1.
        (1.2, 1.2, 1.2, 1.2),
        "all values; the ± is widened to the distance from the CRC Handbook's fit",
        "Harmful when swallowed.",
        (59.14, 57.57, 56.03, 54.55),
    ),
    Salt(
        "nacl",
        "NaCl",
        "sodium chloride: pure salt, without iodine and without agents against caking",
        (75.5164, 0.0398321, -0.265459e-2, 0.2848e-4),
        (0.14, 0.12, 0.11, 0.12),
        "the second decimal of the ± at 35 °C",
        _MILD,
    ),
    Salt(
        "kcl",
        "KCl",
        "potassium chloride",
        (88.6190, -0.193340, 0.899706e-3),
        (0.29, 0.26, 0.25, 0.25),
        "the ±",
        _MILD,
    ),
    Salt(
        "kno3",
        "KNO3",
        "potassium nitrate",
        (96.3361, 0.0112371, -0.484514e-2),
        (0.66, 0.55, 0.60, 0.83),
        "the ±",
        "Feeds fire: keep it from anything that burns, from acids and from heat. Its sale is restricted in places.",
    ),
    Salt(
        "k2so4",
        "K2SO4",
        "potassium sulfate",
        (98.7792, -0.0590502),
        (0.53, 0.45, 0.40, 0.38),
        "the second decimal of the ±",
        _MILD + " Its air is nearly saturated: take the probe out once it is read, before water settles on it.",
    ),
)
SALTS = {salt.key: salt for salt in _ALL}
"""The salts by key, the driest first."""

USUAL_PAIR = ("nacl", "k2so4")
"""Lies around 80 to 95 %, where boxes are kept. MgCl2 with NaCl would be extrapolated from there."""

CAUTIONS = (
    "Salts are chemicals: do not eat or taste them, wear gloves and goggles, follow the safety data sheet.",
    "Keep salts and jars away from children, animals, eggs and food, and wash your hands afterwards.",
    "Salt water ruins electronics and bridges mains parts: no jar above or beside them.",
    "The sensing element must never touch the slush. Dispose of it as the data sheet and local rules say.",
)
