"""The heat of the simulated incubator against Newton's law, solved by linear algebra, and its bookkeeping."""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.linalg import expm

from sensors.simulation.events import Event, EventKind
from sensors.simulation.incubator import IncubatorModel
from sensors.simulation.parameters import (
    BoxParameters,
    IncubatorParameters,
    RoomParameters,
    Thermostat,
    ThermostatKind,
    ZoneParameters,
)

HOUR_MS = 3_600_000
STEADY_ROOM = RoomParameters(mean_c=20.0, swing_k=0.0, wander_k=0.0)
PLAIN = IncubatorParameters(place="north", room=STEADY_ROOM)
BOXED = replace(
    PLAIN,
    zones=(ZoneParameters(place="north/upper", stratification=0.05), ZoneParameters(place="north/lower")),
    boxes=(
        BoxParameters(place="north/upper/N1", zone="north/upper"),
        BoxParameters(place="north/lower/N2", zone="north/lower", capacity_j_k=2_500.0),
    ),
)
HEATER_OFF = Event(0, EventKind.HEATER_STUCK_OFF)


def loss_w_k(parameters: IncubatorParameters) -> float:
    """Wall and exchanged air; dry air at 20 degree Celsius has 1.204 kg/m3 and 1006 J/(kg K)."""
    return parameters.wall_loss_w_k + 1.204 * 1006.0 * parameters.volume_m3 * parameters.exchange_per_h / 3600.0


def system_matrix(parameters: IncubatorParameters) -> NDArray[np.float64]:
    """Give A of d(T - room)/dt = A (T - room), Newton's law of cooling for lumped capacities; air first."""
    slopes = {zone.place: zone.stratification for zone in parameters.zones}
    nodes = [(parameters.contents_capacity_j_k, parameters.contents_conductance_w_k, 0.0)]
    nodes += [(box.capacity_j_k, box.conductance_w_k, slopes[box.zone]) for box in parameters.boxes]
    matrix = np.zeros((len(nodes) + 1, len(nodes) + 1))
    matrix[0, 0] = -loss_w_k(parameters) / parameters.air_capacity_j_k
    for row, (capacity, conductance, slope) in enumerate(nodes, start=1):
        matrix[0, 0] -= conductance * (1 + slope) / parameters.air_capacity_j_k
        matrix[0, row] = conductance / parameters.air_capacity_j_k
        matrix[row, 0] = conductance * (1 + slope) / capacity
        matrix[row, row] = -conductance / capacity
    return matrix


@pytest.mark.parametrize("parameters", [PLAIN, BOXED], ids=["two masses", "four masses"])
def test_late_cooling_has_the_slowest_eigenvalue_of_the_system(parameters: IncubatorParameters) -> None:
    slowest_per_s = max(np.linalg.eig(system_matrix(parameters)).eigenvalues.real)
    model = IncubatorModel(parameters, 1, events=[HEATER_OFF])
    model.advance_to(20 * HOUR_MS)
    early_k = model.true_state.air_c - 20.0
    model.advance_to(24 * HOUR_MS)
    late_k = model.true_state.air_c - 20.0
    assert math.log(late_k / early_k) / (4 * 3600) == pytest.approx(slowest_per_s, rel=1e-4)


@pytest.mark.parametrize("parameters", [PLAIN, BOXED], ids=["two masses", "four masses"])
@pytest.mark.parametrize("minutes", [2, 10, 60, 300])
def test_the_whole_cooling_curve_is_the_matrix_exponential(parameters: IncubatorParameters, minutes: int) -> None:
    matrix = system_matrix(parameters)
    exact = 20.0 + expm(matrix * minutes * 60.0) @ np.full(len(matrix), 10.0)
    model = IncubatorModel(parameters, 1, events=[HEATER_OFF])
    model.advance_to(minutes * 60_000)
    places = [box.place for box in parameters.boxes]
    simulated = [
        model.true_state.air_c,
        model.true_state.contents_c,
        *(model.climate(place).air_temperature_c for place in places),
    ]
    assert simulated == pytest.approx(list(exact), abs=0.01)


def test_steady_heater_power_is_what_the_walls_lose() -> None:
    model = IncubatorModel(PLAIN, 1)
    model.advance_to(72 * HOUR_MS)
    state = model.true_state
    # Balance at rest: full x (1/2 + (set - T)/band) = loss x (T - room), solved for T.
    loss, full, band, wanted = loss_w_k(PLAIN), PLAIN.heater_w, PLAIN.thermostat.band_k, PLAIN.thermostat.set_point_c
    air_c = (full / 2 + full / band * wanted + loss * 20.0) / (full / band + loss)
    assert state.air_c == pytest.approx(air_c, abs=1e-6)
    assert state.heater_w == pytest.approx(loss * (air_c - 20.0), rel=1e-6)
    assert state.contents_c == pytest.approx(air_c, abs=1e-6)


def test_an_on_off_thermostat_heats_for_the_share_of_time_that_the_loss_asks() -> None:
    parameters = replace(PLAIN, thermostat=Thermostat(kind=ThermostatKind.ON_OFF))
    model = IncubatorModel(parameters, 1, step_ms=5_000)
    model.advance_to(24 * HOUR_MS)
    before_j, on, airs = model.heat_ledger.heater_j, set(), []
    for at_ms in range(24 * HOUR_MS, 72 * HOUR_MS, 5_000):
        model.advance_to(at_ms + 5_000)
        on.add(model.true_state.heater_w)
        airs.append(model.true_state.air_c)
    mean_w = (model.heat_ledger.heater_j - before_j) / (48 * 3600)
    assert on == {0.0, 60.0}
    assert mean_w == pytest.approx(loss_w_k(PLAIN) * (float(np.mean(airs)) - 20.0), rel=0.01)
    assert min(airs) < 29.75
    assert max(airs) > 30.25


def test_heat_put_in_is_heat_lost_or_stored_through_every_event() -> None:
    events = [
        Event(1 * HOUR_MS, EventKind.DOOR_OPEN, 1 * HOUR_MS + 180_000),
        Event(3 * HOUR_MS, EventKind.HEATER_STUCK_ON, 5 * HOUR_MS),
        Event(6 * HOUR_MS, EventKind.MAINS_LOST, 9 * HOUR_MS),
        Event(10 * HOUR_MS, EventKind.ROOM_CHANGE, change_k=-6.0),
    ]
    model = IncubatorModel(replace(BOXED, room=RoomParameters()), 3, events=events)
    before_j = model.true_state.stored_heat_j
    for minute in range(7, 20 * 60, 7):
        model.advance_to(minute * 60_000)
        ledger = model.heat_ledger
        stored_j = model.true_state.stored_heat_j - before_j
        assert ledger.heater_j - ledger.lost_j == pytest.approx(stored_j, abs=1e-3)
    assert model.heat_ledger.heater_j > 1e5


def test_a_stuck_heater_ends_where_its_power_is_lost() -> None:
    model = IncubatorModel(BOXED, 1, events=[Event(0, EventKind.HEATER_STUCK_ON)])
    model.advance_to(200 * HOUR_MS)
    assert model.true_state.air_c - 20.0 == pytest.approx(60.0 / loss_w_k(BOXED), rel=1e-4)


def test_mains_lost_beats_a_heater_that_is_stuck_on() -> None:
    events = [Event(0, EventKind.HEATER_STUCK_ON), Event(0, EventKind.MAINS_LOST)]
    model = IncubatorModel(PLAIN, 1, events=events)
    model.advance_to(HOUR_MS)
    assert model.true_state.heater_w == 0.0
    assert model.true_state.air_c < 30.0


def test_an_opened_door_chills_the_air_but_hardly_a_box() -> None:
    events = [Event(24 * HOUR_MS, EventKind.DOOR_OPEN, 24 * HOUR_MS + 180_000)]
    model = IncubatorModel(BOXED, 1, events=events)
    model.advance_to(24 * HOUR_MS)
    box, air = "north/lower/N2", "north/lower"
    air_before_c, box_before_c = (model.climate(place).air_temperature_c for place in (air, box))
    model.advance_to(24 * HOUR_MS + 180_000)
    air_fall_k = air_before_c - model.climate(air).air_temperature_c
    box_fall_k = box_before_c - model.climate(box).air_temperature_c
    # Were the air as cold all the time as at the end, the box would follow as 1 - exp(-t/tau), tau = C/G.
    most_k = air_fall_k * -math.expm1(-180.0 / (2_500.0 / 0.6))
    assert air_fall_k > 2.0
    assert 0.0 < box_fall_k <= most_k


def test_the_upper_shelf_is_warmer_by_its_share_of_the_difference_to_the_room() -> None:
    model = IncubatorModel(BOXED, 1)
    model.advance_to(48 * HOUR_MS)
    mean_c = model.climate("north").air_temperature_c
    assert model.climate("north/upper").air_temperature_c == pytest.approx(mean_c + 0.05 * (mean_c - 20.0))
    assert model.climate("north/upper/N1").air_temperature_c > model.climate("north/lower/N2").air_temperature_c + 0.3


def test_a_box_on_a_shelf_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueError, match="north/attic, which is no zone of north"):
        replace(PLAIN, boxes=(BoxParameters(place="north/attic/N1", zone="north/attic"),))
