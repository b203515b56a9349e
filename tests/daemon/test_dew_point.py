"""`clutchwarden dew-point`: what a keeper types and what comes back."""

import json

import pytest
import typer
from typer.testing import CliRunner, Result

from daemon.commands import dew_point
from tests.support.tables import read_table

APP = typer.Typer()
APP.command()(dew_point.dew_point)
USUAL = ("--temperature", "30", "--humidity", "85")


def call(*arguments: str) -> Result:
    return CliRunner().invoke(APP, arguments)


def answered(*arguments: str) -> dict[str, float]:
    found = call(*arguments, "--json")
    assert found.exit_code == 0, found.stderr
    parsed: dict[str, float] = json.loads(found.stdout)
    return parsed


@pytest.mark.parametrize("row", read_table("moist-air-check.csv")[::2], ids=lambda row: row["dew_point_c"])
def test_json_holds_the_published_values(row: dict[str, str]) -> None:
    found = answered(
        "--temperature", row["temperature_c"], "--humidity", row["relative_humidity_pct"], "--surface", row["surface_c"]
    )
    saturated_pa = float(row["saturation_vapour_pressure_pa"])
    assert found["dew_point_c"] == pytest.approx(float(row["dew_point_c"]), abs=0.002)
    assert found["vapour_pressure_pa"] == pytest.approx(float(row["vapour_pressure_pa"]), abs=1e-4 * saturated_pa)
    assert found["vpd_pa"] == pytest.approx(float(row["vapour_pressure_deficit_pa"]), abs=1e-4 * saturated_pa)
    assert found["absolute_humidity_g_m3"] == pytest.approx(float(row["absolute_humidity_g_m3"]), rel=2e-4)
    assert found["margin_k"] == pytest.approx(float(row["margin_k"]), abs=0.002)


@pytest.mark.parametrize("row", read_table("dewpoint-uncertainty-check.csv"), ids=lambda row: row["dew_point_c"])
def test_json_holds_the_uncertainty_of_the_table_without_any_accuracy_given(row: dict[str, str]) -> None:
    found = answered("--temperature", row["temperature_c"], "--humidity", row["relative_humidity_pct"])
    assert found["dew_point_u_k"] == pytest.approx(float(row["u_of_limits_k"]), abs=6e-5)
    assert "margin_k" not in found


def test_people_read_the_spread_and_what_it_rests_on() -> None:
    said = call(*USUAL, "--humidity-accuracy", "3").stdout
    assert "27.2 ± " in said
    assert "85 % RH ± 3 %" in said
    assert "k = 2" in said
    assert "margin" not in said


def test_a_lid_gets_its_margin_by_probe_or_by_factor() -> None:
    # By hand: 20 + 0.8 (30 - 20) = 28 °C, so both surfaces are the same; the estimate is less sure.
    measured, estimated = answered(*USUAL, "--surface", "28"), answered(*USUAL, "--outside", "20", "--factor", "0.8")
    assert estimated["surface_temperature_c"] == pytest.approx(28)
    assert estimated["margin_k"] == pytest.approx(measured["margin_k"])
    assert estimated["margin_u_k"] > measured["margin_u_k"]
    assert measured["probability_of_water"] < estimated["probability_of_water"] < 0.5
    assert "chance of water" in call(*USUAL, "--surface", "26").stdout
    assert "over 99 %" in call(*USUAL, "--surface", "25").stdout
    assert "under 1 %" in call(*USUAL, "--surface", "29.9").stdout


def test_a_dew_point_below_zero_says_that_it_is_over_liquid_water() -> None:
    assert "liquid water" in call("--temperature", "15", "--humidity", "30").stdout
    assert "liquid water" not in call(*USUAL).stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--temperature", "30", "--humidity", "0"), "has no dew point"),
        (("--temperature", "30", "--humidity", "-5"), "outside 1.5 to 100"),
        (("--temperature", "30", "--humidity", "104"), "saturated air"),
        (("--temperature", "30", "--humidity", "0.85"), "0.85 would be 85 %"),
        (("--temperature", "86", "--humidity", "85"), "86 °F is 30.0 °C"),
        (("--temperature", "nan", "--humidity", "85"), "is not a temperature"),
        (("--temperature", "-60", "--humidity", "85"), "outside -40 to 100"),
        (("--temperature", "30", "--humidity", "nan"), "outside 1.5 to 100"),
        ((*USUAL, "--surface", "82"), "--surface: 82 °C looks like °F"),
        ((*USUAL, "--outside", "20"), "--factor is missing"),
        ((*USUAL, "--factor", "0.8"), "--outside is missing"),
        ((*USUAL, "--surface", "28", "--outside", "20", "--factor", "0.8"), "not both"),
        ((*USUAL, "--outside", "20", "--factor", "8"), "outside 0 to 1"),
        ((*USUAL, "--humidity-accuracy", "-2"), "is not one"),
    ],
)
def test_what_cannot_be_is_a_sentence_and_exit_2(arguments: tuple[str, ...], said: str) -> None:
    found = call(*arguments)
    assert found.exit_code == 2
    assert said in found.stderr
    assert found.stdout == ""


def test_a_measured_lid_and_room_give_the_temperature_factor_and_the_least_one() -> None:
    # ISO 13788 by hand: (28 - 20)/(30 - 20) = 0.8, and (27.1986 - 20)/10 = 0.720 (dew point by CoolProp, IAPWS-95).
    # GUM 5.1.2: slopes 0.1, -0.08 and -0.02 per kelvin with 0.2, 0.2 and 1.0 over the root of 3 give 0.0188.
    found = answered(*USUAL, "--surface", "28", "--outside", "20")
    assert found["temperature_factor"] == pytest.approx(0.8, abs=1e-9)
    assert found["temperature_factor_u"] == pytest.approx(0.0188, abs=5e-5)
    assert found["least_temperature_factor"] == pytest.approx(0.720, abs=5e-4)
    said = call(*USUAL, "--surface", "28", "--outside", "20").stdout
    assert "temperature factor 0.80 ± 0.04 of this lid, for site.toml" in said
    assert "temperature_factor" not in answered(*USUAL, "--outside", "20", "--factor", "0.8")


def test_a_room_as_warm_as_the_box_gives_no_factor_and_says_what_to_do() -> None:
    found = call(*USUAL, "--surface", "29.8", "--outside", "29.5")
    assert found.exit_code == 2
    assert "too alike for a temperature factor" in found.stderr
    assert "Measure when the room is colder" in found.stderr


def test_the_humidity_at_the_surface_is_that_of_the_table_with_the_mould_criterion() -> None:
    # moist-air-check.csv, 30 °C, 85 %, 29 °C: 90.042 % (CoolProp, IAPWS-95).
    assert answered(*USUAL, "--surface", "29")["surface_humidity_pct"] == pytest.approx(90.042, abs=0.02)
    assert "90 % RH; from 80 % on mould can grow" in call(*USUAL, "--surface", "29").stdout
