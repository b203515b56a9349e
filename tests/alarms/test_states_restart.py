"""X-24: a restart at any point gives the same final state and the same effects as none.

OPC 10000-9 (IEC 62541-9), 5.8.18: the state of a limit alarm is recovered; 5.8.17.1: where a shelf cannot be known, the
alarm is not shelved.
"""

import json
from collections import Counter
from functools import cache

import pytest

from daemon.alarms import state_store
from daemon.alarms.classes import MINUTE_MS, AlarmClass, Mode
from daemon.alarms.events import (
    Annunciate,
    DataBack,
    DataLost,
    Effect,
    RemoveFromService,
    Restarted,
    ReviewDue,
    Shelve,
    SuppressOn,
    Tell,
    TimePassed,
)
from daemon.alarms.state_json import StateError
from daemon.alarms.state_values import AlarmMemory, Condition
from tests.alarms.machine import Machine, bag, calls, known, messages
from tests.alarms.traces import CLASSES, run, trace

TRACES = 1000


@cache
def uninterrupted(seed: int) -> Machine:
    return run(seed)


def through_the_journal(machine: Machine) -> None:
    machine.restart()


def told(effects: list[Effect]) -> Counter[Effect]:
    return Counter(each for each in effects if isinstance(each, Annunciate | Tell))


def test_a_restart_after_every_event_of_a_thousand_traces_changes_nothing() -> None:
    for seed in range(TRACES):
        straight, cut = uninterrupted(seed), run(seed, through_the_journal)
        assert cut.state == straight.state
        assert bag(cut.effects) == bag(straight.effects)


def test_the_traces_lead_into_every_memory_and_call_people() -> None:
    """So that the tests above and below are about something."""
    seen: Counter[AlarmMemory] = Counter()
    for seed in range(100):
        run(seed, lambda machine: seen.update([machine.memory]))
    assert set(seen) == set(AlarmMemory)
    assert min(seen.values()) > 20
    assert sum(calls(run(seed).effects) for seed in range(100)) > 200


def restarted(machine: Machine) -> None:
    """Start the service again: nothing is known until the next reading, and the inputs show what still holds."""
    was_known = machine.state.known
    still = frozenset((each.mode, each.name) for each in machine.state.design)
    machine.restart().do(Restarted(still), DataBack() if was_known else DataLost())


def test_the_words_of_a_restart_call_nobody_again_and_lose_no_call() -> None:
    """Row 32 of the table, after every event of a thousand traces."""
    for seed in range(TRACES):
        straight, cut = uninterrupted(seed), run(seed, restarted)
        assert cut.state == straight.state
        assert told(cut.effects) == told(straight.effects)


def test_how_often_the_time_is_looked_at_changes_nothing() -> None:
    """A deadline happens at its own moment, whether somebody looks each second or after days."""
    for seed in range(TRACES // 4):
        alarm, wishes = trace(seed)
        rare, often = known(alarm), known(alarm)
        for minutes, make in wishes:
            rare.wait(minutes).do(TimePassed())
            rare.do(make(rare))
            for _ in range(5):
                often.wait(minutes / 5).do(TimePassed())
            often.now_ms = rare.now_ms
            often.do(make(often))
        assert often.state == rare.state
        assert told(often.effects) == told(rare.effects)


@pytest.mark.parametrize("alarm", CLASSES)
def test_what_became_due_during_an_outage_happens_at_its_own_moment(alarm: AlarmClass) -> None:
    machine = known(alarm)
    machine.on()
    machine.ack()
    acknowledged_ms = machine.now_ms
    after = machine.restart().wait(3 * 24 * 60).do(TimePassed())
    again = [each for each in after.effects if isinstance(each, Annunciate)]
    assert [each.at_ms for each in again] == [acknowledged_ms + alarm.realarm_ms]
    assert machine.memory is AlarmMemory.UNACKNOWLEDGED


def test_an_alarm_is_unknown_and_not_normal_before_its_first_reading() -> None:
    assert Machine(CLASSES[0]).state.condition is Condition.UNKNOWN
    machine = known(CLASSES[0])
    machine.on()
    machine.do(Restarted())
    assert machine.state.condition is Condition.UNKNOWN
    machine.off()
    assert machine.memory is AlarmMemory.UNACKNOWLEDGED


def test_a_designed_reason_that_is_not_shown_to_hold_after_a_restart_suppresses_no_more() -> None:
    machine = known(CLASSES[2])
    machine.do(SuppressOn(Mode.ROUND, "r", machine.now_ms + 20 * MINUTE_MS))
    machine.on()
    after = machine.restart().do(Restarted())
    assert messages(after.effects) == ["no longer suppressed, still on"]


def damaged(machine: Machine, **changes: object) -> str:
    return json.dumps(json.loads(state_store.to_json(machine.state)) | changes)


@pytest.mark.parametrize(
    "changes",
    [
        {"memory": "fine"},
        {"memory": "normal"},
        {"in_alarm": 1},
        {"version": 0},
        {"version": True},
        {"occurrence": ""},
        {"since_ms": "yesterday"},
        {"since_ms": 1.5},
        {"realarm_ms": 5},
        {"hidden": True},
        {"hidden": True, "memory": "normal"},
        {"design": [{"mode": "round in progress"}]},
        {"shelf": {"who": "ana"}},
        {"more": 1},
    ],
)
def test_a_state_that_is_not_as_written_is_refused_with_the_reason(changes: dict[str, object]) -> None:
    machine = known(CLASSES[2])
    machine.on()
    text = damaged(machine, **changes)
    with pytest.raises(StateError, match="start this alarm anew") as refusal:
        state_store.from_json(text)
    assert str(refusal.value).startswith("stored state of ")


@pytest.mark.parametrize(
    "changes", [{"shelf": {"who": "ana"}}, {"shelf": 7}, {"shelf": True}, {"design": 3}, {"design": [{}]}, {"out": []}]
)
def test_a_suppression_that_cannot_be_read_ends_and_what_is_on_is_told(changes: dict[str, object]) -> None:
    """X-25."""
    machine = known(CLASSES[2])
    machine.do(Shelve("ana", "known", machine.now_ms + 60 * MINUTE_MS))
    machine.on()
    text = damaged(machine, **{"shelf": None, **changes})
    restored = state_store.restore(text, machine.now_ms)
    assert len(restored.problems) == 1
    machine.state = restored.state
    after = machine.do(TimePassed())
    assert messages(after.effects) == ["no longer suppressed, still on"]
    assert machine.shown == "unacknowledged"


def test_a_good_text_is_restored_without_a_word() -> None:
    for seed in range(50):
        machine = run(seed)
        restored = state_store.restore(state_store.to_json(machine.state), machine.now_ms)
        assert restored == state_store.Restored(machine.state, ())


def test_reminders_that_an_outage_swallowed_come_as_one() -> None:
    machine = known(CLASSES[2])
    review_ms = machine.now_ms + 60 * MINUTE_MS
    machine.do(RemoveFromService("ana", "broken", "hand thermometer", review_ms, eggs_inside=True))
    after = machine.restart().wait(5 * 24 * 60).do(TimePassed())
    assert sum(isinstance(each, ReviewDue) for each in after.effects) == 1
