"""The promise of a course: its interval covers the truth in 95 of 100 gaps at least, over a thousand cabinets."""

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pytest

from daemon.climate.cooling import RoomAir, TimeConstant
from daemon.climate.cooling_now import rate_k_h
from daemon.review.beyond import Lines, outside
from daemon.review.course import GapCourse
from daemon.review.estimate import gap_course
from daemon.review.gap_values import Around, HeatOff, Known
from daemon.review.passive import FastestRise, Passive
from daemon.review.rises import fastest_rise
from daemon.review.values import Bounds, Span
from tests.review.gap_nights import GAP_FROM_MIN, MINUTE_MS, Array, Nights, Story, nights

CABINETS = 1000
PROMISED = 0.95
LEAST = CABINETS * PROMISED - 2.6 * math.sqrt(CABINETS * PROMISED * (1 - PROMISED))
"""So many of a thousand cover where each does with 95 %, but for one run in two hundred (normal to the binomial)."""
ROOM_U_K, CONSTANT_U = 1.5, 0.1
"""Of the room as it is stated, and of a time constant as a share of it."""
READING_K, PROBE_U_K = 0.1, 0.2


class Case(NamedTuple):
    """A gap with its course and its truth, a reading each minute."""

    course: GapCourse
    minutes_ms: Array
    truth_c: Array
    start_c: float


def cases(story: Story, seed: int, *, heat_off: bool, room_probe: bool = False, in_box: bool = False) -> Iterator[Case]:
    """What a service makes of each night: the room as the keeper stated it, the time constant by and large."""
    night = nights(story, CABINETS, seed, in_box=in_box)
    chance = np.random.default_rng(seed + 1)
    for cabinet in range(CABINETS):
        first, last = GAP_FROM_MIN, GAP_FROM_MIN + int(night.gap_min[cabinet])
        read = night.read_c[:, cabinet]
        behind = [(at * MINUTE_MS, float(read[at])) for at in range(last, last + 31)]
        slope = rate_k_h(behind)
        assert slope is not None
        sure = abs(slope.value) > 2 * slope.standard_uncertainty
        around = Around(
            first * MINUTE_MS,
            last * MINUTE_MS,
            Known(first * MINUTE_MS, float(read[first])),
            Known(last * MINUTE_MS, float(read[last])),
            slope.value if sure else None,
        )
        constant_h = night.constant_h[cabinet] * (1 + CONSTANT_U * chance.standard_normal())
        rooms = (RoomAir(20.0, ROOM_U_K, measured=False),) * 3
        if room_probe:
            meanwhile = night.room_c[first : last + 1, cabinet]
            coldest, mean, warmest = (
                RoomAir(float(each), PROBE_U_K, measured=True)
                for each in (meanwhile.min(), meanwhile.mean(), meanwhile.max())
            )
            rooms = (coldest, mean, warmest)
        passive = Passive.of(rooms, TimeConstant(constant_h, CONSTANT_U * constant_h, 5), in_box=in_box)
        off = HeatOff(Span(around.from_ms, None), "", "The mains were lost.") if heat_off else None
        course = gap_course(around, passive, rise_before(night, cabinet), off)
        yield Case(
            course, np.arange(first, last + 1, dtype=np.float64) * MINUTE_MS, night.truth(cabinet), float(read[first])
        )


def rise_before(night: Nights, cabinet: int) -> FastestRise | None:
    """What the recovery before the gap told of the heater."""
    cells = night.read_c[:GAP_FROM_MIN, cabinet].reshape(-1, 10)
    return fastest_rise(np.arange(len(cells)), cells.min(axis=1), cells.max(axis=1), cells.mean(axis=1))


def true_beyond(case: Case, limit_c: float, *, above: bool) -> tuple[float, float]:
    lines = Lines(case.minutes_ms[:-1], case.minutes_ms[1:], case.truth_c[:-1], case.truth_c[1:])
    return outside(lines, limit_c, above=above)


def holds(bounds: Bounds, truth: float, slack: float) -> bool:
    return bounds.low - slack <= truth <= bounds.high + slack


STORIES = [
    (Story.MAINS_LOST, True, False),
    (Story.BACK_EARLY, True, False),
    (Story.NORMAL, False, False),
    (Story.FAILED, False, False),
    (Story.STUCK_ON, False, False),
    (Story.MAINS_LOST, False, False),
    (Story.MAINS_LOST, True, True),
    (Story.FAILED, False, True),
    (Story.STUCK_ON, False, True),
]
"""What happened, whether anything showed that the heat was off, and whether the probe lay in a box."""


@pytest.mark.parametrize(("story", "heat_off", "in_box"), STORIES)
def test_the_interval_covers_the_truth_as_often_as_it_promises(story: Story, heat_off: bool, in_box: bool) -> None:
    covered = dict.fromkeys(["low time", "low heat", "high time", "high heat", "coldest", "hottest"], 0)
    inside = 0.0
    for case in cases(story, 7, heat_off=heat_off, in_box=in_box):
        course = case.course
        for side, above, limit_c in (("low", False, case.start_c - 2.0), ("high", True, case.start_c + 2.0)):
            time_ms, degree_hours = true_beyond(case, limit_c, above=above)
            covered[f"{side} time"] += holds(course.time_beyond_ms(limit_c, above=above), time_ms, MINUTE_MS)
            covered[f"{side} heat"] += holds(course.degree_hours_beyond(limit_c, above=above), degree_hours, 0.01)
        covered["coldest"] += holds(course.coldest_c, float(case.truth_c.min()), READING_K)
        covered["hottest"] += holds(course.hottest_c, float(case.truth_c.max()), READING_K)
        low_c, high_c = (np.interp(case.minutes_ms, course.at_ms, each) for each in (course.low_c, course.high_c))
        is_inside = (case.truth_c >= low_c - READING_K) & (case.truth_c <= high_c + READING_K)
        inside += float(is_inside.mean())
    assert {name: number for name, number in covered.items() if number < LEAST} == {}
    assert inside / CABINETS >= PROMISED


def test_what_is_known_to_be_off_is_told_much_closer() -> None:
    """With a probe in the room. Sums of degree-hours below: how wide the interval, how far off the best estimate is."""
    widths = {True: 0.0, False: 0.0}
    off_by = truths = 0.0
    for heat_off in widths:
        for case in cases(Story.MAINS_LOST, 11, heat_off=heat_off, room_probe=True):
            found = case.course.degree_hours_beyond(case.start_c - 2.0, above=False)
            widths[heat_off] += found.high - found.low
            _, truth = true_beyond(case, case.start_c - 2.0, above=False)
            if heat_off and found.best is not None:
                off_by, truths = off_by + abs(found.best - truth), truths + truth
    assert widths[True] < 0.85 * widths[False]
    assert off_by < 0.2 * truths
