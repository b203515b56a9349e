"""The water of the simulated incubator: published values of moist air, a balance at rest, and bookkeeping."""

from dataclasses import replace

import pytest

from sensors.simulation.events import Event, EventKind
from sensors.simulation.incubator import IncubatorModel
from sensors.simulation.moist_air import dew_point_c, equilibrium_density_kg_m3, saturation_pressure_pa
from sensors.simulation.parameters import BoxParameters, IncubatorParameters, RoomParameters, ZoneParameters

HOUR_MS = 3_600_000
STEADY_ROOM = RoomParameters(mean_c=20.0, swing_k=0.0, wander_k=0.0)
BOX = BoxParameters(place="north/shelf/N1", zone="north/shelf")
SHELVES = (
    ZoneParameters(place="north/shelf", stratification=0.05),
    ZoneParameters(place="north/floor", stratification=-0.05),
)
CABINET = IncubatorParameters(place="north", room=STEADY_ROOM, zones=SHELVES, boxes=(BOX,))


def cabinet(box: BoxParameters) -> IncubatorParameters:
    return replace(CABINET, boxes=(box,))


def saturation_density_kg_m3(temperature_c: float) -> float:
    return equilibrium_density_kg_m3(temperature_c, temperature_c)


def dew_point_at(model: IncubatorModel, place: str) -> float:
    climate = model.climate(place)
    density = climate.relative_humidity_pct / 100.0 * saturation_density_kg_m3(climate.air_temperature_c)
    return dew_point_c(density, climate.air_temperature_c)


@pytest.mark.parametrize(("temperature_c", "pressure_pa"), [(5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3)])
def test_saturation_pressure_agrees_with_the_ashrae_table(temperature_c: float, pressure_pa: float) -> None:
    # ASHRAE Handbook of Fundamentals 2017, chapter 1, table 3, as quoted in the tests of PsychroLib.
    assert saturation_pressure_pa(temperature_c) == pytest.approx(pressure_pa, rel=1e-3)


@pytest.mark.parametrize(("temperature_c", "grams"), [(10.0, 9.4), (20.0, 17.3), (25.0, 23.0), (30.0, 30.4)])
def test_saturation_density_agrees_with_printed_tables(temperature_c: float, grams: float) -> None:
    # 25 degrees: OpenStax College Physics, table 13.5; the others: geolinde.musin.de, both printed to 0.1 g/m3.
    assert saturation_density_kg_m3(temperature_c) * 1000 == pytest.approx(grams, abs=0.06)


def test_dew_point_agrees_with_a_published_example() -> None:
    # PsychroLib's documentation: 25 degree Celsius and 80 % have a dew point of 21.309397163661785.
    assert dew_point_c(0.8 * saturation_density_kg_m3(25.0), 25.0) == pytest.approx(21.3094, abs=0.01)


def test_dew_point_of_saturated_air_is_its_temperature() -> None:
    assert dew_point_c(saturation_density_kg_m3(31.0), 31.0) == pytest.approx(31.0, abs=1e-9)


def test_humidity_at_rest_is_what_tray_and_room_make_of_it() -> None:
    model = IncubatorModel(replace(CABINET, boxes=(), temperature_factor=1.0), 1)
    model.advance_to(72 * HOUR_MS)
    air_c = model.true_state.air_c
    # At rest what the tray gives, k (w_sat - w), leaves with the air, X (w - w_room): a weighted mean.
    tray, exchange = CABINET.tray_m3_s, CABINET.volume_m3 * CABINET.exchange_per_h / 3600.0
    room = 0.45 * saturation_density_kg_m3(20.0)
    density = (tray * saturation_density_kg_m3(air_c) + exchange * room) / (tray + exchange)
    expected = 100.0 * density / saturation_density_kg_m3(air_c)
    assert 60.0 < expected < 90.0
    assert model.climate("north").relative_humidity_pct == pytest.approx(expected, abs=0.01)


def test_water_evaporated_is_carried_off_or_stored_through_every_event() -> None:
    events = [
        Event(2 * HOUR_MS, EventKind.DOOR_OPEN, 2 * HOUR_MS + 180_000),
        Event(5 * HOUR_MS, EventKind.MAINS_LOST, 12 * HOUR_MS),
        Event(14 * HOUR_MS, EventKind.HEATER_STUCK_ON, 16 * HOUR_MS),
        Event(18 * HOUR_MS, EventKind.ROOM_CHANGE, change_k=-10.0),
    ]
    model = IncubatorModel(replace(CABINET, room=RoomParameters()), 5, events=events)
    before_kg = model.true_state.stored_water_kg
    for minute in range(11, 15 * 24 * 60, 11):
        model.advance_to(minute * 60_000)
        ledger = model.vapour_ledger
        stored_kg = model.true_state.stored_water_kg - before_kg
        assert ledger.evaporated_kg - ledger.exchanged_kg == pytest.approx(stored_kg, abs=1e-12)
    assert model.vapour_ledger.exchanged_kg > 0.05


@pytest.mark.parametrize("surfaces", [1.0, 0.0], ids=["cold surfaces take water", "only fog takes water"])
def test_no_place_is_ever_above_saturation(surfaces: float) -> None:
    events = [
        Event(2 * HOUR_MS, EventKind.HEATER_STUCK_ON, 6 * HOUR_MS),
        Event(6 * HOUR_MS, EventKind.MAINS_LOST, 20 * HOUR_MS),
        Event(8 * HOUR_MS, EventKind.ROOM_CHANGE, change_k=-12.0),
        Event(9 * HOUR_MS, EventKind.DOOR_OPEN, 9 * HOUR_MS + 300_000),
    ]
    soaked = replace(BOX, medium_m3_s=7e-5, water_activity=1.0, lid_m3_s=surfaces * BOX.lid_m3_s)
    wet = replace(cabinet(soaked), tray_m3_s=1e-3, surface_m3_s=surfaces * CABINET.surface_m3_s)
    model = IncubatorModel(wet, 2, events=events)
    highest = 0.0
    for minute in range(36 * 60):
        model.advance_to(minute * 60_000)
        for place in ("north", "north/shelf", "north/floor", BOX.place):
            highest = max(highest, model.climate(place).relative_humidity_pct)
    assert 95.0 < highest <= 100.0 + 1e-9


def test_a_box_is_more_humid_than_its_shelf() -> None:
    model = IncubatorModel(CABINET, 1)
    model.advance_to(48 * HOUR_MS)
    assert model.climate(BOX.place).relative_humidity_pct > model.climate("north/shelf").relative_humidity_pct + 5.0


def test_condensation_on_the_lid_brings_the_dew_point_down_to_the_lid() -> None:
    # A closed box without a source: vapour above saturation at the lid settles there and nowhere else.
    closed = replace(BOX, medium_m3_s=0.0, exchange_per_h=0.0, temperature_factor=0.7)
    model = IncubatorModel(cabinet(closed), 1)
    start = model.climate(BOX.place)
    assert dew_point_at(model, BOX.place) > start.surface_temperature_c + 0.5
    water_kg = model.true_state.stored_water_kg
    model.advance_to(1 * HOUR_MS)
    lid_c = model.climate(BOX.place).surface_temperature_c
    assert dew_point_at(model, BOX.place) == pytest.approx(lid_c, abs=0.02)
    assert model.true_state.stored_water_kg > water_kg - 1e-3


def test_over_damp_medium_the_air_stays_between_medium_and_condensing_lid() -> None:
    model = IncubatorModel(cabinet(replace(BOX, temperature_factor=0.8)), 1)
    # Medium and lid are two conductances in series: the vapour pressure lies above the lid's by no more than
    # k_medium/(k_medium + k_lid) of the way to the medium's. What leaves the box by exchange only lowers it.
    share = BOX.medium_m3_s / (BOX.medium_m3_s + BOX.lid_m3_s)
    model.advance_to(6 * HOUR_MS)
    for minute in range(6 * 60, 48 * 60, 5):
        model.advance_to(minute * 60_000)
        inside_c, humidity_pct, lid_c = model.climate(BOX.place)
        medium_pa = BOX.water_activity * saturation_pressure_pa(inside_c)
        lid_pa = saturation_pressure_pa(lid_c)
        above_pa = humidity_pct / 100.0 * saturation_pressure_pa(inside_c) - lid_pa
        assert 0.0 < above_pa < share * (medium_pa - lid_pa)
        assert dew_point_at(model, BOX.place) < lid_c + 0.2


def test_a_lid_as_warm_as_the_box_stays_dry() -> None:
    warm = replace(CABINET, temperature_factor=1.0, boxes=(replace(BOX, temperature_factor=1.0),))
    model = IncubatorModel(warm, 1)
    model.advance_to(48 * HOUR_MS)
    held_kg = sum(
        volume * model.climate(place).relative_humidity_pct / 100.0 * saturation_density_kg_m3(inside_c)
        for volume, place in ((CABINET.volume_m3, "north"), (BOX.volume_m3, BOX.place))
        for inside_c in (model.climate(place).air_temperature_c,)
    )
    assert model.true_state.stored_water_kg == pytest.approx(held_kg, rel=1e-9)
