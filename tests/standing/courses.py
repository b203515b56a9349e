"""Courses of one air temperature channel for the rules, and a clock that looks at them as a daemon does."""

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from config.words import AlarmKind, Quantity
from daemon.alarm_transition import Transition
from daemon.alarms.definitions import DEFINITIONS
from daemon.alarms.limits import Limits
from daemon.standing.fast_change import KINDS as FAST
from daemon.standing.found import Found
from daemon.standing.stepper import StandingWatch
from daemon.standing.trend import Course, Point, Watched
from sensors.reading import ChannelKey

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
AIR = ChannelKey("north-air/t", "north-air", "t", Quantity.AIR_TEMPERATURE)
LIMITS = Limits(lethal_low_c=20.0, low_c=25.0, high_c=31.0, lethal_high_c=34.0)


def watched(limits: Limits = LIMITS, interval_s: float = 60.0, *, fahrenheit: bool = False) -> Watched:
    return Watched(AIR, "north/upper", interval_s, limits, fahrenheit)


def series(hours: float, of_hour: Callable[[float], float], every_s: float = 60.0) -> list[Point]:
    """Readings from time 0 on, of a temperature that depends on the hour."""
    count = round(hours * 3600 / every_s)
    return [(round(number * every_s * 1000), of_hour(number * every_s / 3600)) for number in range(count + 1)]


def noisy(readings: Sequence[Point], half_k: float, seed: int) -> list[Point]:
    """With noise anywhere within plus or minus so much."""
    chance = random.Random(seed)
    return [(at_ms, value + chance.uniform(-half_k, half_k)) for at_ms, value in readings]


def course(readings: Sequence[Point], now_ms: int, stale_after_ms: int = 3 * MINUTE_MS) -> Course:
    """What is known at a moment, thinned as a source thins it."""
    heard = [point for point in readings if point[0] <= now_ms]
    recent = [point for point in heard if point[0] >= now_ms - 30 * MINUTE_MS]
    before = {
        at_ms // (23 * MINUTE_MS): value
        for at_ms, value in reversed(heard)
        if now_ms - 24.5 * HOUR_MS <= at_ms < now_ms - 30 * MINUTE_MS
    }
    stale = not recent or now_ms - recent[-1][0] > stale_after_ms
    return Course(recent, [before[cell] for cell in sorted(before)], stale)


_DELAYED = {
    kind: replace(each, on_delay_s=max(each.on_delay_s, 120)) if kind in FAST else each
    for kind, each in DEFINITIONS.items()
}
"""A rate of change is told after two minutes: section 2.4 of the reference for alarms."""

Rule = Callable[[Course, Callable[[AlarmKind], bool]], Iterator[Found]]


def looks(rule: Rule, kinds: frozenset[AlarmKind], readings: Sequence[Point], until_ms: int = 0) -> list[Transition]:
    """Look once a minute from the second hour on until the end; give what is raised and cleared."""
    watch, found = StandingWatch(_DELAYED), []
    end_ms = max(until_ms, readings[-1][0])
    for now_ms in range(2 * HOUR_MS, end_ms + 1, MINUTE_MS):
        seen = rule(course(readings, now_ms), lambda kind: watch.is_on(kind, AIR.channel))
        found += watch.look(kinds, list(seen), now_ms)
    return found
