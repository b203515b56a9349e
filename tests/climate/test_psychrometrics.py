"""Vapour, dew point and humidity against published values, and the words for input that cannot be right."""

import math

import pytest

from daemon.climate.psychrometrics import (
    absolute_humidity_g_m3,
    dew_point_c,
    saturation_vapour_pressure_pa,
    vapour_pressure_deficit_pa,
    vapour_pressure_pa,
)
from tests.support.tables import read_table

DEW_POINTS = read_table("dewpoint-check.csv")
PRESSURES = read_table("saturation-pressure-check.csv")
MOIST_AIR = read_table("moist-air-check.csv")


def test_saturation_pressure_gives_the_check_value_of_the_release_at_300_k() -> None:
    # IAPWS R7-97(2012), table 35: 0.353658941e-2 MPa, nine figures.
    assert saturation_vapour_pressure_pa(300 - 273.15) == pytest.approx(3536.58941, abs=5e-6)


def test_dew_point_gives_the_check_value_of_the_release_at_a_tenth_of_a_megapascal() -> None:
    # IAPWS R7-97(2012), table 36: 372.755919 K at 0.1 MPa, nine figures. The humidity makes exactly that pressure.
    humidity_pct = 100 * 1e5 / saturation_vapour_pressure_pa(100.0)
    assert dew_point_c(100.0, humidity_pct) + 273.15 == pytest.approx(372.755919, abs=5e-7)


@pytest.mark.parametrize("row", PRESSURES, ids=lambda row: f"{row['temperature_c']}C-{row['source'][:12]}")
def test_saturation_pressure_agrees_with_the_published_table(row: dict[str, str]) -> None:
    expected = float(row["saturation_vapour_pressure_pa"])
    number, unit = row["tolerance"].split()
    tolerance_pa = float(number) if unit == "Pa" else expected * float(number) / 100
    actual = saturation_vapour_pressure_pa(float(row["temperature_c"]))
    assert actual == pytest.approx(expected, abs=tolerance_pa), row["source"]


@pytest.mark.parametrize(
    "row",
    [row for row in DEW_POINTS if row["kind"] != "published_misprint"],
    ids=lambda row: f"{row['temperature_c']}C-{row['relative_humidity_pct']}pct-{row['kind']}",
)
def test_dew_point_agrees_with_the_published_table(row: dict[str, str]) -> None:
    actual = dew_point_c(float(row["temperature_c"]), float(row["relative_humidity_pct"]))
    assert actual == pytest.approx(float(row["dew_point_c"]), abs=float(row["tolerance_k"])), row["source"]


def test_dew_point_does_not_follow_the_misprint_of_the_leaflet() -> None:
    # The leaflet prints 23.7 for 30 °C and 65 %, but 21.4 for 60 % and 23.9 for 70 %: the step before would be 2.3 K
    # and the step after 0.2 K. CoolProp (HAPropsSI 22.7037) and PsychroLib (22.7007) both say 22.70.
    (row,) = [row for row in DEW_POINTS if row["kind"] == "published_misprint"]
    actual = dew_point_c(float(row["temperature_c"]), float(row["relative_humidity_pct"]))
    assert actual == pytest.approx(22.70, abs=0.005)
    assert float(row["dew_point_c"]) - actual == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize(
    "row", MOIST_AIR, ids=lambda row: f"{row['temperature_c']}C-{row['relative_humidity_pct']}pct-{row['surface_c']}C"
)
def test_moist_air_agrees_with_the_published_table(row: dict[str, str]) -> None:
    air = float(row["temperature_c"]), float(row["relative_humidity_pct"])
    saturation_pa = float(row["saturation_vapour_pressure_pa"])
    tolerance_pa = 1e-4 * saturation_pa + 0.005
    assert saturation_vapour_pressure_pa(air[0]) == pytest.approx(saturation_pa, abs=tolerance_pa)
    assert vapour_pressure_pa(*air) == pytest.approx(float(row["vapour_pressure_pa"]), abs=tolerance_pa)
    assert vapour_pressure_deficit_pa(*air) == pytest.approx(float(row["vapour_pressure_deficit_pa"]), abs=tolerance_pa)
    assert absolute_humidity_g_m3(*air) == pytest.approx(float(row["absolute_humidity_g_m3"]), rel=1.1e-4)
    assert absolute_humidity_g_m3(*air) == pytest.approx(float(row["absolute_humidity_real_gas_g_m3"]), rel=0.006)
    assert dew_point_c(*air) == pytest.approx(float(row["dew_point_c"]), abs=0.002)


@pytest.mark.parametrize(
    ("temperature_c", "printed_g_m3", "source"),
    [
        (0.0, 4.8, "teaching page on humidity of a geography institute (geolinde)"),
        (10.0, 9.4, "teaching page on humidity of a geography institute (geolinde)"),
        (20.0, 17.3, "teaching page on humidity of a geography institute (geolinde)"),
        (30.0, 30.4, "teaching page on humidity of a geography institute (geolinde)"),
        (25.0, 23.0, "OpenStax, College Physics, table 13.5"),
    ],
)
def test_saturated_air_holds_the_vapour_that_textbooks_print(
    temperature_c: float, printed_g_m3: float, source: str
) -> None:
    # Printed to 0.1 g/m3; 0.01 more for the last figure of a book that started from a rounded pressure.
    assert absolute_humidity_g_m3(temperature_c, 100) == pytest.approx(printed_g_m3, abs=0.06), source


@pytest.mark.parametrize("temperature_c", [-40.0, -5.5, 0.0, 0.01, 21.37, 31.5, 60.0, 100.0])
def test_saturated_air_is_at_its_dew_point(temperature_c: float) -> None:
    assert dew_point_c(temperature_c, 100) == pytest.approx(temperature_c, abs=1e-8)
    assert vapour_pressure_deficit_pa(temperature_c, 100) == 0


@pytest.mark.parametrize("humidity_pct", [0.0, -3.0, math.nan, -math.inf])
def test_air_without_vapour_is_refused_with_the_range(humidity_pct: float) -> None:
    with pytest.raises(ValueError, match=r"outside 1\.5 to 100 %.*check the probe"):
        dew_point_c(28.0, humidity_pct)


@pytest.mark.parametrize("humidity_pct", [100.01, 250.0, math.inf])
def test_more_than_saturated_air_is_refused_with_what_to_do(humidity_pct: float) -> None:
    with pytest.raises(ValueError, match=r"outside 1\.5 to 100 %.*use 100"):
        vapour_pressure_pa(28.0, humidity_pct)


def test_a_fraction_is_neither_taken_as_percent_nor_guessed() -> None:
    with pytest.raises(ValueError, match=r"Give percent, not a fraction: 0\.85 would be 85 %"):
        dew_point_c(28.0, 0.85)
    with pytest.raises(ValueError, match="Give percent, not a fraction"):
        vapour_pressure_deficit_pa(28.0, 1.0)


@pytest.mark.parametrize("temperature_c", [-40.1, 100.1, 301.15, math.nan, math.inf, -math.inf])
def test_a_temperature_out_of_range_is_refused_with_the_range(temperature_c: float) -> None:
    with pytest.raises(ValueError, match=r"outside -40 to 100 °C.*check the probe"):
        absolute_humidity_g_m3(temperature_c, 80)
