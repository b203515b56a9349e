"""Can this value be true? Judged by the value alone, then against what the same channel said before. Pure.

A suspect reading is kept with its flag. The rules, each with the reason for its number; where no source is named, the
number is our own choice:

- **Range.** Air and surfaces of a room with incubators: -30 to 60 °C. Humidity: 0 to 102 %, because a wetted capacitive
  element may read a little above 100 % within its stated accuracy; the value is kept as said.
- **Fault values** of 1-wire thermometers: exactly 85 °C is the power-up content of the register (DS18B20 data sheet,
  figure on the memory map), 127.9375 °C (07FFh, also written 127.937 and 127.94) means too little power (Linux kernel
  documentation, w1_therm), -127 °C is what common microcontroller libraries return for a missing probe. Exactly 0 may
  be a data line stuck low, whose all-zero frame passes the checksum (CRC-8 of zeros is zero): a fault when the last
  good reading was more than 5 K, or 10 % RH, away.
- **Speed.** More than 2 K/min over 1 K of noise, or 30 % RH per minute over 10 % RH, since the last good reading. Three
  such readings in a row that agree with each other, each as near to the one before as the same rule allows, are the new
  level: the third is good again. Otherwise a true step, as after an outage, would stay suspect.
- **Stuck.** The bit-identical value for 6 h, in at least 100 readings without a gap over 2 h; for 24 h where the value
  is one of a coarse probe, a tenth of a degree or humidity (often told in whole percents), which a steady box rightly
  holds for hours. Humidity from 99 % up is exempt: a saturated element rests against its end.

- **Contacts** (mains, door) are 0 or 1 and may be so for a season: nothing but another value is suspect.

A reading not newer than the newest (late, from a spool, or delivered twice) is judged by value alone and changes
nothing.
"""

import math
from typing import NamedTuple

from config.celsius import looks_like_fahrenheit
from config.words import Quantity
from sensors.reading import Quality

_MINUTE_MS = 60_000.0
_HOUR_MS = 3_600_000
_STUCK_READINGS = 100
_STUCK_LONGEST_GAP_MS = 2 * _HOUR_MS
_STUCK_COARSE_MS = 24 * _HOUR_MS
_AGREEING = 3

_GOOD = Quality.GOOD
_MAINS, _DOOR = Quantity.MAINS, Quantity.DOOR
_RELATIVE_HUMIDITY = Quantity.RELATIVE_HUMIDITY
"""Looked up once: access to a member of an enumeration is slow where it happens for every reading."""

_FAULT_VALUES = (
    (85.0, "85 °C is what a 1-wire thermometer says after a loss of power, before it has measured"),
    (127.9375, "127.94 °C is what a 1-wire thermometer says when it gets too little power"),
    (127.937, "127.94 °C is what a 1-wire thermometer says when it gets too little power"),
    (127.94, "127.94 °C is what a 1-wire thermometer says when it gets too little power"),
    (-127.0, "-127 °C is what probe programs say when the thermometer is missing"),
)
_EXACT = 1e-6
"""Equal within this: a fault value may have come through a conversion of units."""

_FAHRENHEIT_TO = 122.0
_KELVIN_FROM, _KELVIN_TO = 273.15, 333.15


class Memory(NamedTuple):
    """What the judge keeps of one channel. Times are UTC milliseconds since the epoch.

    The newest reading; the last good one, if any; the run of identical values; and the row of too fast readings that
    agree with each other (`row` of them, the last being `row_value` at `row_ms`).
    """

    newest_ms: int
    good_ms: int | None
    good_value: float
    run_value: float
    run_since_ms: int
    run_readings: int
    row: int
    row_ms: int
    row_value: float


class _Bounds(NamedTuple):
    low: float
    high: float
    unit: str
    noise: float
    per_minute: float
    far: float
    stuck_ms: int
    stuck_below: float


_TEMPERATURE = _Bounds(-30.0, 60.0, "°C", 1.0, 2.0, 5.0, 6 * _HOUR_MS, math.inf)
_HUMIDITY = _Bounds(0.0, 102.0, "% RH", 10.0, 30.0, 10.0, 24 * _HOUR_MS, 99.0)


def judge(memory: Memory | None, quantity: Quantity, value: float, measured_at_ms: int) -> tuple[Quality, Memory, str]:
    """Judge one reading in the canonical unit of its quantity.

    Returns the quality, what to remember for the next reading of the channel, and the reason in words, empty when good.
    Never good for a value that is not finite. Readings of a channel are expected in order of time; a late one is judged
    by its value alone.
    """
    if quantity is _MAINS or quantity is _DOOR:
        return _judge_contact(memory, value, measured_at_ms)
    temperature = quantity is not _RELATIVE_HUMIDITY
    bounds = _TEMPERATURE if temperature else _HUMIDITY
    if not bounds.low <= value <= bounds.high or value == 0.0:
        flags, reason = _by_value(bounds, value, memory, temperature=temperature)
    else:
        flags, reason = _GOOD, ""
    if memory is None:
        good_ms = measured_at_ms if flags is _GOOD else None
        return flags, Memory(measured_at_ms, good_ms, value, value, measured_at_ms, 1, 0, 0, 0.0), reason
    if measured_at_ms <= memory.newest_ms:
        return flags, memory, reason
    row = _row(bounds, memory, value, measured_at_ms) if flags is _GOOD else 0
    if row:
        flags, reason = Quality.TOO_FAST, _too_fast(bounds, memory, value, measured_at_ms)
    same = value == memory.run_value and measured_at_ms - memory.newest_ms <= _STUCK_LONGEST_GAP_MS
    since_ms, readings = (memory.run_since_ms, memory.run_readings + 1) if same else (measured_at_ms, 1)
    if readings >= _STUCK_READINGS and _is_stuck(bounds, value, measured_at_ms - since_ms):
        flags |= Quality.STUCK
        reason = reason or _stuck(bounds, value, measured_at_ms - since_ms)
    good_ms, good_value = (measured_at_ms, value) if flags is _GOOD else (memory.good_ms, memory.good_value)
    kept = Memory(measured_at_ms, good_ms, good_value, value, since_ms, readings, row, measured_at_ms, value)
    return flags, kept, reason


def _judge_contact(memory: Memory | None, value: float, measured_at_ms: int) -> tuple[Quality, Memory, str]:
    good = value in (0.0, 1.0)
    flags, reason = (
        (_GOOD, "") if good else (Quality.OUT_OF_RANGE, f"{value:g} is no state of a contact, which is 0 or 1")
    )
    if memory is not None and measured_at_ms <= memory.newest_ms:
        return flags, memory, reason
    before = (None, value) if memory is None else (memory.good_ms, memory.good_value)
    good_ms, good_value = (measured_at_ms, value) if good else before
    return flags, Memory(measured_at_ms, good_ms, good_value, value, measured_at_ms, 1, 0, 0, 0.0), reason


def _is_stuck(bounds: _Bounds, value: float, length_ms: int) -> bool:
    longest_ms = _STUCK_COARSE_MS if value == round(value, 1) else bounds.stuck_ms
    return length_ms >= longest_ms and value < bounds.stuck_below


def _stuck(bounds: _Bounds, value: float, length_ms: int) -> str:
    return f"exactly {value:g} {bounds.unit} for {length_ms // _HOUR_MS} h; a working probe moves a little"


def _row(bounds: _Bounds, memory: Memory, value: float, at_ms: int) -> int:
    """Give the place of a reading in the row of too fast ones; 0 where it is not too fast, or is believed again."""
    if memory.good_ms is None or _reachable(bounds, memory.good_value, memory.good_ms, value, at_ms):
        return 0
    agrees = memory.row and _reachable(bounds, memory.row_value, memory.row_ms, value, at_ms)
    row = memory.row + 1 if agrees else 1
    return 0 if row >= _AGREEING else row


def _reachable(bounds: _Bounds, before: float, before_ms: int, value: float, at_ms: int) -> bool:
    return abs(value - before) <= bounds.noise + bounds.per_minute * (at_ms - before_ms) / _MINUTE_MS


def _too_fast(bounds: _Bounds, memory: Memory, value: float, at_ms: int) -> str:
    seconds = (at_ms - (memory.good_ms or 0)) / 1000.0
    return (
        f"from {memory.good_value:g} to {value:g} {bounds.unit} in {seconds:.0f} s, faster than a box can; "
        f"believed when {_AGREEING} readings in a row agree"
    )


def _by_value(bounds: _Bounds, value: float, memory: Memory | None, *, temperature: bool) -> tuple[Quality, str]:
    """Judge a value that is out of range or exactly 0."""
    if value == 0.0:
        if memory is None or memory.good_ms is None or abs(memory.good_value) <= bounds.far:
            return _GOOD, ""
        reason = f"exactly 0 after {memory.good_value:g} {bounds.unit}: the data line of the probe may be stuck low"
        return Quality.FAULT_VALUE, reason
    if temperature:
        for fault, meaning in _FAULT_VALUES:
            if abs(value - fault) < _EXACT:
                return Quality.OUT_OF_RANGE | Quality.FAULT_VALUE, meaning
    reason = f"{value:g} {bounds.unit} is outside {bounds.low:g} to {bounds.high:g}, what a room with incubators can be"
    return Quality.OUT_OF_RANGE, reason + (_other_unit(value) if temperature else "")


def _other_unit(value: float) -> str:
    """Say which unit the number would make sense in. A word to the keeper only; the value is never changed."""
    advice = "check the unit that the probe states"
    if _KELVIN_FROM <= value <= _KELVIN_TO:
        return f"; {value:g} °C looks like kelvin: {value:g} K is {value - 273.15:.1f} °C; {advice}"
    fahrenheit = looks_like_fahrenheit(value) if value <= _FAHRENHEIT_TO else None
    return f"; {fahrenheit}; {advice}" if fahrenheit else ""
