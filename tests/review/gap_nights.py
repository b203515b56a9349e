"""A thousand cabinets at once, by an account of their heat of its own (nothing of `sensors.simulation`).

Two lumps, air and contents, by explicit Euler steps of ten seconds:

    Ca Ta' = P - U (Ta - room) - G (Ta - Tc)        Cc Tc' = G (Ta - Tc)

and a closed box that follows the air, Tb' = (Ta - Tb)/lag, with a lag of half an hour to two hours;
with an on-off thermostat, a room that swings over the day and wanders, and readings with noise in steps of 1/16 K.
Before the gap each cabinet cools for two hours and is heated again, which is what a service has learned from.
"""

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Minutes = NDArray[np.int64]

MINUTE_MS, HOUR_MS = 60_000, 3_600_000
STEP_S, PER_MINUTE = 10.0, 6
GAP_FROM_MIN = 9 * 60
BEHIND_MIN = 40
LEARNING_MIN = range(60, 180)
"""Minutes without heat, long before the gap."""


class Story(Enum):
    """What the heater did in the gap."""

    MAINS_LOST = "mains lost, and back shortly before the end"
    BACK_EARLY = "mains lost, and back some time before the end"
    NORMAL = "nothing happened but that nobody measured"
    FAILED = "the heater failed, and ran again"
    STUCK_ON = "the heater was stuck on"


@dataclass(frozen=True)
class Nights:
    """True air (of the cabinet, or of the box) and readings of it by minute (rows) and cabinet.

    The gap of each begins at `GAP_FROM_MIN`.
    """

    air_c: Array
    read_c: Array
    room_c: Array
    constant_h: Array
    gap_min: Minutes

    def truth(self, cabinet: int) -> Array:
        """The air of one cabinet in its gap, each minute from the reading before to the reading after."""
        return self.air_c[GAP_FROM_MIN : GAP_FROM_MIN + int(self.gap_min[cabinet]) + 1, cabinet]


@dataclass(frozen=True)
class _Heater:
    """From which minute until before which it is off, and stuck on, in each cabinet."""

    off_from: Array
    off_to: Array
    on_from: Array
    on_to: Array

    def power_w(self, minute: int, wanted_w: Array, full_w: Array) -> Array:
        is_off = (self.off_from <= minute) & (minute < self.off_to)
        is_stuck = (self.on_from <= minute) & (minute < self.on_to)
        return np.where(is_off | (minute in LEARNING_MIN), 0.0, np.where(is_stuck, full_w, wanted_w))


def nights(story: Story, count: int, seed: int, *, in_box: bool = False) -> Nights:
    """Let so many cabinets live through a story, with a probe in the air or in the box."""
    chance = np.random.default_rng(seed)
    loss, conductance = chance.uniform(1.2, 2.5, count), chance.uniform(6.0, 14.0, count)
    air_j, contents_j = chance.uniform(2e3, 5e3, count), chance.uniform(30e3, 70e3, count)
    full_w = chance.uniform(50.0, 90.0, count)
    set_c, half_band = chance.uniform(28.0, 31.0, count), chance.uniform(0.1, 0.4, count)
    gap_min = chance.integers(30, 10 * 60, count)
    heater = _heater(story, gap_min, chance)
    minutes = GAP_FROM_MIN + int(gap_min.max()) + BEHIND_MIN
    room_c = _room_c(minutes, count, chance)
    air, contents, box, heats = set_c.copy(), set_c.copy(), set_c.copy(), np.ones(count, bool)
    lag_s = chance.uniform(0.5, 2.0, count) * 3600
    air_c = np.empty((minutes, count))
    for step in range(minutes * PER_MINUTE):
        minute = step // PER_MINUTE
        if step % PER_MINUTE == 0:
            air_c[minute] = box if in_box else air
        heats = (air < set_c - half_band) | (heats & (air <= set_c + half_band))
        power = heater.power_w(minute, full_w * heats, full_w)
        inside = conductance * (air - contents)
        box = box + STEP_S / lag_s * (air - box)
        air = air + STEP_S / air_j * (power - loss * (air - room_c[minute]) - inside)
        contents = contents + STEP_S / contents_j * inside
    read_c = np.round((air_c + chance.normal(0, 0.03, air_c.shape)) * 16) / 16
    return Nights(air_c, read_c, room_c, _slowest_h(loss, conductance, air_j, contents_j), gap_min)


def _slowest_h(loss: Array, conductance: Array, air_j: Array, contents_j: Array) -> Array:
    """The time constant of a long cooling, hours: from the slower eigenvalue of the two equations."""
    trace = -(loss + conductance) / air_j - conductance / contents_j
    determinant = loss * conductance / (air_j * contents_j)
    slower: Array = (trace + np.sqrt(trace**2 - 4 * determinant)) / 2
    return -1 / slower / 3600


def _heater(story: Story, gap_min: Minutes, chance: np.random.Generator) -> _Heater:
    count = len(gap_min)
    begin, end = np.full(count, float(GAP_FROM_MIN)), GAP_FROM_MIN + gap_min.astype(float)
    first = begin + chance.uniform(0, 0.4, count) * gap_min
    last = begin + chance.uniform(0.5, 1.0, count) * gap_min
    never = np.full(count, np.inf)
    return {
        Story.MAINS_LOST: _Heater(begin, end - chance.integers(0, 6, count), never, never),
        Story.BACK_EARLY: _Heater(begin, last, never, never),
        Story.NORMAL: _Heater(never, never, never, never),
        Story.FAILED: _Heater(first, last, never, never),
        Story.STUCK_ON: _Heater(never, never, first, last),
    }[story]


def _room_c(minutes: int, count: int, chance: np.random.Generator) -> Array:
    """A swing over the day of up to 1 K, and a wander of 0.4 K that remembers four hours; its mean is around 20 °C."""
    days = np.arange(minutes)[:, None] / (24 * 60)
    swing = chance.uniform(0, 1, count) * np.sin(2 * np.pi * (days + chance.uniform(0, 1, count)))
    kept = math.exp(-60 / (4 * 3600))
    fresh = 0.4 * math.sqrt(1 - kept**2) * chance.standard_normal((minutes, count))
    wander = np.empty((minutes, count))
    state = chance.normal(0, 0.4, count)
    for minute in range(minutes):
        state = kept * state + fresh[minute]
        wander[minute] = state
    return chance.normal(20, 1.0, count) + swing + wander
