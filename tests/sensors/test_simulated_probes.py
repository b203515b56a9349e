"""The simulated probe: noise, resolution, offset, lag, and each way to fail."""

import math

import numpy as np
import pytest

from config.words import Quantity
from sensors.simulation.incubator import IncubatorModel, LocalClimate
from sensors.simulation.parameters import IncubatorParameters
from sensors.simulation.probes import DIGITAL, ONE_WIRE, FaultKind, ProbeCharacter, ProbeFault, SimulatedProbe
from sensors.simulation.run import due_times, simulate

CLIMATE = LocalClimate(30.0, 85.0, 27.5)
ALL = {"t": Quantity.AIR_TEMPERATURE, "rh": Quantity.RELATIVE_HUMIDITY, "lid": Quantity.SURFACE_TEMPERATURE}
IDEAL = ProbeCharacter()


def probe(character: ProbeCharacter = IDEAL, *faults: ProbeFault, seed: int = 1) -> SimulatedProbe:
    return SimulatedProbe("north-air", "north", ALL, character, seed, faults=faults)


def test_an_ideal_probe_reads_the_truth_of_each_quantity() -> None:
    assert probe().read(CLIMATE, 0) == {"t": 30.0, "rh": 85.0, "lid": 27.5}


def test_a_one_wire_probe_gives_sixteenths() -> None:
    device = SimulatedProbe("north-air", "north", {"t": Quantity.AIR_TEMPERATURE}, ONE_WIRE, 1)
    values = [device.read(LocalClimate(29.9 + at / 1000, 80.0, 25.0), at * 60_000) for at in range(200)]
    assert all(value is not None and (value["t"] * 16).is_integer() for value in values)
    assert len({value["t"] for value in values if value}) > 3


def test_a_digital_probe_gives_hundredths() -> None:
    values = probe(DIGITAL).read(LocalClimate(30.123456, 84.98765, 27.0), 0)
    assert values is not None
    assert all(value == round(value, 2) for value in values.values())


def test_noise_and_offset_are_as_stated() -> None:
    character = ProbeCharacter(
        temperature_noise_k=0.2, temperature_offset_k=-0.3, humidity_noise_pct=1.0, humidity_offset_pct=2.0
    )
    device = probe(character)
    readings = [values for at in range(20_000) if (values := device.read(CLIMATE, at * 1000))]
    temperatures, humidities = ([values[name] for values in readings] for name in ("t", "rh"))
    # Standard error of a mean of 20 000: 0.2/141 and 1/141; of a deviation about 0.5 %.
    assert np.mean(temperatures) == pytest.approx(29.7, abs=0.006)
    assert np.std(temperatures) == pytest.approx(0.2, rel=0.03)
    assert np.mean(humidities) == pytest.approx(87.0, abs=0.03)
    assert np.std(humidities) == pytest.approx(1.0, rel=0.03)


def test_a_step_is_followed_as_a_first_order_lag() -> None:
    device = probe(ProbeCharacter(lag_s=120.0, temperature_steps_per_k=10_000))
    device.read(CLIMATE, 0)
    for at_s in range(10, 121, 10):
        values = device.read(LocalClimate(40.0, 85.0, 27.5), at_s * 1000)
    assert values is not None
    # One time constant after a step of 10 K: 1 - 1/e of it.
    assert values["t"] == pytest.approx(30.0 + 10.0 * (1.0 - math.exp(-1.0)), abs=1e-3)


def test_humidity_never_leaves_nought_to_a_hundred() -> None:
    device = probe(ProbeCharacter(humidity_noise_pct=5.0))
    wet = [values["rh"] for at in range(500) if (values := device.read(LocalClimate(30.0, 99.9, 27.0), at))]
    assert max(wet) == 100.0
    dry = [values["rh"] for at in range(500) if (values := device.read(LocalClimate(30.0, 0.1, 27.0), at))]
    assert min(dry) == 0.0


@pytest.mark.parametrize(("kind", "value"), [(FaultKind.POWER_UP, 85.0), (FaultKind.DISCONNECTED, -127.0)])
def test_a_fault_value_replaces_the_temperatures_while_the_fault_lasts(kind: FaultKind, value: float) -> None:
    device = probe(IDEAL, ProbeFault(kind, 1000, 2000))
    assert device.read(CLIMATE, 999) == {"t": 30.0, "rh": 85.0, "lid": 27.5}
    assert device.read(CLIMATE, 1000) == {"t": value, "lid": value}
    assert device.read(CLIMATE, 2000) == {"t": 30.0, "rh": 85.0, "lid": 27.5}


def test_a_stuck_probe_repeats_its_last_values() -> None:
    device = probe(DIGITAL, ProbeFault(FaultKind.STUCK, 60_000))
    last = device.read(CLIMATE, 0)
    assert [device.read(LocalClimate(35.0, 60.0, 30.0), at * 60_000) for at in (1, 2, 3)] == [last] * 3


def test_a_silent_probe_gives_nothing_and_a_repaired_one_gives_the_truth() -> None:
    device = probe()
    device.fail(ProbeFault(FaultKind.SILENT, 0))
    assert device.read(CLIMATE, 1000) is None
    device.repair()
    assert device.read(CLIMATE, 2000) == {"t": 30.0, "rh": 85.0, "lid": 27.5}


def test_each_probe_keeps_to_its_own_grid() -> None:
    due = due_times([30, 50], 100)
    assert [next(due) for _ in range(7)] == [(100, 0), (100, 1), (130, 0), (150, 1), (160, 0), (190, 0), (200, 1)]


def test_readings_come_in_the_order_of_time_and_leave_a_silent_probe_out() -> None:
    quiet = SimulatedProbe("b", "north", ALL, DIGITAL, 2, interval_ms=50_000, faults=[ProbeFault(FaultKind.SILENT, 0)])
    loud = SimulatedProbe("a", "north", ALL, DIGITAL, 1, interval_ms=60_000)
    model = IncubatorModel(IncubatorParameters(place="north"), 1)
    readings = list(simulate(model, [loud, quiet], 0, 600_000))
    assert [(at_ms, name) for at_ms, name, _ in readings] == [(at * 60_000, "a") for at in range(10)]


def test_a_place_that_is_not_in_the_incubator_is_an_error() -> None:
    lost = SimulatedProbe("a", "south", ALL, DIGITAL, 1)
    with pytest.raises(KeyError, match="south"):
        list(simulate(IncubatorModel(IncubatorParameters(place="north"), 1), [lost], 0, 1000))
