"""Random streams of events for one alarm, as a person, a probe and a clock could make them."""

import random
from collections.abc import Callable

from config.words import Priority
from daemon.alarms.classes import HOUR_MS, MINUTE_MS, AlarmClass, Mode
from daemon.alarms.events import (
    Acknowledge,
    ConditionOff,
    ConditionOn,
    DataBack,
    DataLost,
    Event,
    FoundAfterwards,
    LimitChanged,
    RemoveFromService,
    Reset,
    ReturnToService,
    Shelve,
    SuppressOff,
    SuppressOn,
    TimePassed,
    Unshelve,
)
from tests.alarms.machine import Machine, known

Wish = Callable[[Machine], Event]
"""an event as it is made when its moment comes: an acknowledgement names what the person sees then"""

CLASSES = (
    AlarmClass("a", Priority.CRITICAL),
    AlarmClass("b", Priority.CRITICAL, latching=True, shelvable=False),
    AlarmClass("c", Priority.HIGH, suppressible_by=frozenset(Mode)),
    AlarmClass("d", Priority.HIGH, latching=True, suppressible_by=frozenset(Mode)),
    AlarmClass("e", Priority.LOW, suppressible_by=frozenset(Mode)),
)
STEPS_MIN = (0, 0.5, 1, 5, 10, 29, 30, 31, 60, 61, 240, 1500)


def wish(chance: random.Random, number: int) -> Wish:
    minutes = chance.choice((10, 20, 30, 60, 120, 2000))
    mode = chance.choice((Mode.ROUND, Mode.CAUSE, Mode.WORSE))
    note, once = chance.choice(("", "seen")), chance.random() < 0.3
    settle_ms = chance.choice((0, 15)) * MINUTE_MS
    on: Wish = lambda m: ConditionOn(f"o{number}", m.now_ms)  # noqa: E731 - one line for each event
    off: Wish = lambda _: ConditionOff()  # noqa: E731
    ack: Wish = lambda m: Acknowledge("ana", m.state.occurrence, m.state.version, note)  # noqa: E731
    return chance.choice(
        (
            *(on,) * 5,
            *(off,) * 5,
            *(ack,) * 3,
            lambda _: DataLost(),
            lambda _: DataBack(),
            lambda _: DataBack(),
            lambda m: Acknowledge("ana", m.state.occurrence, m.state.version - 1, note),
            lambda _: Reset("ana"),
            lambda m: Shelve("ana", "known", m.now_ms + minutes * MINUTE_MS, one_shot=once, second=note),
            lambda _: Unshelve("ana"),
            lambda m: SuppressOn(mode, "x", m.now_ms + minutes * MINUTE_MS, settle_ms),
            lambda _: SuppressOff(mode, "x"),
            lambda m: RemoveFromService("ana", "broken", "hand", m.now_ms + minutes * MINUTE_MS, eggs_inside=True),
            lambda _: ReturnToService("ana", "ice water"),
            lambda m: FoundAfterwards(f"l{number}", m.now_ms - HOUR_MS, m.now_ms - MINUTE_MS),
            lambda _: LimitChanged("ana", "new clutch", removed=once),
            lambda _: TimePassed(),
        )
    )


def trace(seed: int) -> tuple[AlarmClass, list[tuple[float, Wish]]]:
    chance = random.Random(seed)
    alarm = CLASSES[seed % len(CLASSES)]
    return alarm, [(chance.choice(STEPS_MIN), wish(chance, number)) for number in range(25)]


def run(seed: int, between: Callable[[Machine], None] = lambda _: None) -> Machine:
    """Lead an alarm through the trace of a seed, with something done after every event."""
    alarm, wishes = trace(seed)
    machine = known(alarm)
    for minutes, make in wishes:
        machine.wait(minutes)
        machine.do(make(machine))
        between(machine)
    return machine
