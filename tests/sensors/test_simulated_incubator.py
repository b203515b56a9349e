"""Events, room and repeatability of the simulated incubator."""

import math

import numpy as np
import pytest

from sensors.simulation.chance import standard_normals
from sensors.simulation.events import Event, EventKind, Schedule
from sensors.simulation.incubator import IncubatorModel, TrueState
from sensors.simulation.parameters import IncubatorParameters, RoomParameters
from sensors.simulation.room import Room

HOUR_MS = 3_600_000
CABINET = IncubatorParameters(place="north")


def trace(seed: int) -> list[TrueState]:
    model = IncubatorModel(CABINET, seed, events=[Event(HOUR_MS, EventKind.DOOR_OPEN, HOUR_MS + 90_000)])
    states = []
    for at_ms in range(60_000, 6 * HOUR_MS, 60_000):
        model.advance_to(at_ms)
        states.append(model.true_state)
    return states


def test_the_same_seed_gives_the_same_trace_and_another_seed_another() -> None:
    assert trace(7) == trace(7)
    assert trace(7) != trace(8)


def test_a_moment_that_has_passed_leaves_the_model_as_it_is() -> None:
    model = IncubatorModel(CABINET, 1)
    model.advance_to(HOUR_MS)
    before = model.true_state
    model.advance_to(HOUR_MS // 2)
    assert model.true_state == before


def test_events_begin_and_end_at_their_moment_not_at_a_step() -> None:
    events = [Event(100_001, EventKind.HEATER_STUCK_OFF, 100_002)]
    model = IncubatorModel(CABINET, 1, events=events)
    model.advance_to(100_001)
    assert model.true_state.heater_w > 0.0
    model.advance_to(100_002)
    assert model.true_state.heater_w == 0.0
    model.advance_to(100_003)
    assert model.true_state.heater_w > 0.0


def test_ending_a_kind_ends_what_goes_on_and_leaves_what_is_planned() -> None:
    planned = Event(500, EventKind.MAINS_LOST)
    schedule = Schedule([Event(100, EventKind.MAINS_LOST), planned, Event(100, EventKind.DOOR_OPEN)])
    schedule.end(EventKind.MAINS_LOST, 200)
    assert schedule.conditions(199).mains is False
    assert schedule.conditions(200).mains is True
    assert schedule.conditions(200).door_open is True
    assert schedule.conditions(500).mains is False
    assert [schedule.next_change_ms(at_ms) for at_ms in (0, 100, 200, 500)] == [100, 200, 500, None]


def test_an_event_added_while_running_takes_effect_from_its_moment() -> None:
    model = IncubatorModel(CABINET, 1)
    model.advance_to(HOUR_MS)
    model.add(Event(HOUR_MS + 10_000, EventKind.MAINS_LOST))
    model.advance_to(HOUR_MS + 10_000)
    assert model.true_state.heater_w > 0.0
    model.advance_to(HOUR_MS + 20_000)
    assert model.true_state.heater_w == 0.0
    model.end(EventKind.MAINS_LOST, HOUR_MS + 30_000)
    model.advance_to(HOUR_MS + 60_000)
    assert model.true_state.heater_w > 0.0


def test_a_colder_room_is_colder_by_what_was_said() -> None:
    steady = IncubatorParameters(place="north", room=RoomParameters(swing_k=0.0, wander_k=0.0))
    model = IncubatorModel(steady, 1, events=[Event(0, EventKind.ROOM_CHANGE, change_k=-4.5)])
    model.advance_to(HOUR_MS)
    assert model.true_state.room_c == pytest.approx(15.5)


def test_the_room_is_warmest_at_its_hour() -> None:
    room = Room(RoomParameters(mean_c=20.0, swing_k=1.5, wander_k=0.0, warmest_hour_utc=14.0), standard_normals(1))
    hourly_c = [room.advance(hour * HOUR_MS, 3600.0) for hour in range(24)]
    assert hourly_c.index(max(hourly_c)) == 14
    assert max(hourly_c) == pytest.approx(21.5)
    assert min(hourly_c) == pytest.approx(18.5)


@pytest.mark.parametrize("step_s", [30.0, 600.0])
def test_the_rooms_wander_has_its_spread_and_memory_at_any_step(step_s: float) -> None:
    # An Ornstein-Uhlenbeck process: deviation as stated, autocorrelation exp(-t/memory) (Gillespie 1996).
    memory_s = 3600.0
    parameters = RoomParameters(mean_c=0.0, swing_k=0.0, wander_k=0.4, wander_memory_s=memory_s)
    room = Room(parameters, standard_normals(4))
    values = np.array([room.advance(0, step_s) for _ in range(round(2_000 * memory_s / step_s))])
    apart = round(memory_s / step_s)
    assert values.std() == pytest.approx(0.4, rel=0.1)
    assert np.corrcoef(values[:-apart], values[apart:])[0, 1] == pytest.approx(math.exp(-1.0), abs=0.06)
