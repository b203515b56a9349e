"""Two probes of the same air that no longer agree as they used to. Pure.

Two probes of one incubator never read the same: one lies higher, one in a lidded box. So what counts is not their
offset but a change of it, against the median of its hourly values in the last seven days. It has to be

- more than 1.0 K, and more than four combined standard uncertainties of the two;
- more than twice what the offset strays on its own, for nine hours of ten;
- seen while both have been calm: their medians of three half hours in a row within 0.5 K. In an outage, or after a
  round, a box follows the air around it by hours, and nothing is wrong with either.

Calibrations are dated, and a new one moves the offset: hours before the newest calibration of either do not count, and
an alarm from before it ends. Once on, 0.7 of the change holds it. All figures are project choices; a false alarm about
probes is worse than none, since nobody can tell it from a true one without a third thermometer.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from statistics import median
from typing import NamedTuple

from config.words import AlarmKind, Quantity
from daemon.alarms.figures import value_text
from daemon.standing.found import Found

LEAST_CHANGE_K = 1.0
UNCERTAINTIES = 4.0
STRAYING = 2.0
CALM_K = 0.5
HELD_SHARE = 0.7
FEWEST_HOURS = 48
CALM_BLOCKS = 3
_NINE_OF_TEN = 0.9
_KELVIN_TO_FAHRENHEIT = 9 / 5


class Probe(NamedTuple):
    """One air temperature channel of a pair.

    `hours`: the median of each hour by its number, °C. `newest`: the medians of the last half hours, the newest last,
    °C; empty where it is silent. `u_k`: standard uncertainty (k = 1). `calibrated_hour`: the hour from which its newest
    calibration counts, 0 without one. All °C are corrected by that one.
    """

    channel: str
    name: str
    hours: Mapping[int, float]
    newest: Sequence[float]
    u_k: float
    calibrated_hour: int


class Usual(NamedTuple):
    """The usual offset of a pair, K, and how far it strays from that for nine hours of ten."""

    offset_k: float
    strays_k: float


def subject_of(one: str, other: str) -> str:
    """Give the subject of a pair: the same whichever comes first."""
    return "+".join(sorted((one, other)))


def usual_of(one: Probe, other: Probe) -> Usual | None:
    """Give the usual offset, one less other; None for fewer than 48 hours of both under their present calibrations."""
    begins = max(one.calibrated_hour, other.calibrated_hour)
    shared = [hour for hour in one.hours.keys() & other.hours.keys() if hour >= begins]
    if len(shared) < FEWEST_HOURS:
        return None
    offsets = [one.hours[hour] - other.hours[hour] for hour in shared]
    offset_k = median(offsets)
    strays = sorted(abs(each - offset_k) for each in offsets)
    return Usual(offset_k, strays[int(_NINE_OF_TEN * (len(strays) - 1))])


def disagree(
    one: Probe, other: Probe, usual: Usual | None, place: str, *, is_on: bool, fahrenheit: bool
) -> Found | None:
    """Give the alarm of a pair in one place; None where they agree, or where nothing can be said and none is on.

    `usual` is None where it is not known yet.
    """
    kind, subject = AlarmKind.PROBES_DISAGREE, subject_of(one.channel, other.channel)
    if usual is None and _calibrated_lately(one, other):
        return None
    if not (usual is not None and _is_calm(one.newest) and _is_calm(other.newest)):
        reason = "one of them is silent or moves, so they cannot be compared"
        return Found(kind, subject, reason, place, known=False) if is_on else None
    offset_k = one.newest[-1] - other.newest[-1]
    changed_k = abs(offset_k - usual.offset_k)
    least_k = max(LEAST_CHANGE_K, UNCERTAINTIES * math.hypot(one.u_k, other.u_k), STRAYING * usual.strays_k)
    if changed_k <= least_k * (HELD_SHARE if is_on else 1.0):
        return None
    return Found(kind, subject, _reason(one, other, usual, fahrenheit), place)


def one_for_all(found: Sequence[Found], pairs: int, is_on: Callable[[str], bool]) -> list[Found]:
    """Give one alarm where a probe differs from most of those that are compared with it: then it is that probe.

    `found` are the alarms of so many pairs that share one probe. One that is on already goes on.
    """
    known = [each for each in found if each.known]
    if len(known) <= max(1, pairs / 2):
        return list(found)
    first = next((each for each in known if is_on(each.subject)), known[0])
    reason = f"{first.reason}; so with {len(known) - 1} more"
    return [replace(first, reason=reason), *(each for each in found if not each.known)]


def _calibrated_lately(one: Probe, other: Probe) -> bool:
    """Tell whether a new calibration is why the usual offset is not known."""
    shared = one.hours.keys() & other.hours.keys()
    return len(shared) >= FEWEST_HOURS and usual_of(one, other) is None


def _is_calm(newest: Sequence[float]) -> bool:
    last = newest[-CALM_BLOCKS:]
    return len(last) == CALM_BLOCKS and max(last) - min(last) <= CALM_K


def _reason(one: Probe, other: Probe, usual: Usual, fahrenheit: bool) -> str:
    """`upper shelf 29.1 °C, box N1 31.4 °C; they usually lie 0.2 °C apart`."""
    values = (value_text(each.newest[-1], Quantity.AIR_TEMPERATURE, fahrenheit) for each in (one, other))
    told = ", ".join(f"{each.name} {value}" for each, value in zip((one, other), values, strict=True))
    apart = abs(usual.offset_k) * (_KELVIN_TO_FAHRENHEIT if fahrenheit else 1.0)
    return f"{told}; they usually lie {apart:.1f} {'°F' if fahrenheit else '°C'} apart"
