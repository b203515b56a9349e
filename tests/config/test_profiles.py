"""The built-in profiles: every number has a source, and every line follows from the published durations.

The durations in `tests/tables/published-durations.csv` name one paper per row. They were taken from compilations
(RepDevo: Noble et al. 2018, Scientific Data; ROSIE: Krueger and Janzen 2022, Scientific Data 9; DatabaseTSD: Girondot)
or from an abstract, not from the papers themselves; the README beside the table says more.
"""

import csv
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from statistics import fmean
from typing import NamedTuple

import pytest
from pydantic import ValidationError
from scipy import stats

from config.species import BUILT_IN, DevelopmentFit, Sourced, SpeciesProfile, UsualDuration, load_profiles

TABLE = Path(__file__).parent.parent / "tables" / "published-durations.csv"
PRACTICE = "common practice, no source"
PROFILES = load_profiles()
FITTED = sorted(name for name, profile in PROFILES.items() if profile.development is not None)
T0_ROUNDING_C = 0.05
K_ROUNDING_CH = 0.5


class Line(NamedTuple):
    temperatures_c: list[float]
    zero_c: float
    constant_ch: float
    r_squared: float


def published_rows(name: str) -> list[dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as lines:
        return [row for row in csv.DictReader(lines) if row["profile"] == name]


def least_squares(name: str) -> Line:
    """The line through the mean rates, by scipy: rate = (T - T0)/K, so T0 = -intercept/slope and K = 24 h/slope."""
    rates: dict[float, list[float]] = defaultdict(list)
    for row in published_rows(name):
        rates[float(row["temperature_c"])].append(1 / float(row["incubation_days_mean"]))
    temperatures = sorted(rates)
    found = stats.linregress(temperatures, [fmean(rates[one]) for one in temperatures])
    return Line(temperatures, -found.intercept / found.slope, 24 / found.slope, found.rvalue**2)


def fit_of(name: str) -> DevelopmentFit:
    fit = PROFILES[name].development
    assert fit is not None
    return fit


def sources_of(profile: SpeciesProfile) -> Iterator[str]:
    temperature, humidity = profile.temperature, profile.humidity
    numbers: list[Sourced | None] = [temperature.low, temperature.high, temperature.lethal_low, temperature.lethal_high]
    numbers += [] if humidity is None else [humidity.low, humidity.high]
    yield from (number.source for number in numbers if number is not None)
    if profile.development is not None:
        yield profile.development.source
    if profile.usual_duration is not None:
        yield profile.usual_duration.source


def test_there_are_profiles_with_and_without_a_published_line() -> None:
    assert len(PROFILES) >= 30
    assert len(FITTED) >= 20
    assert len(list(BUILT_IN.glob("*.toml"))) == len(PROFILES)


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_every_number_names_a_paper_with_its_year_or_says_that_it_is_common_practice(name: str) -> None:
    for source in sources_of(PROFILES[name]):
        assert source.startswith(PRACTICE) or re.search(r"\b(?:19|20)\d\d\b", source), source


@pytest.mark.parametrize("name", FITTED)
def test_zero_and_constant_are_the_least_squares_line_of_the_published_durations(name: str) -> None:
    line, fit = least_squares(name), fit_of(name)
    assert fit.developmental_zero_c == pytest.approx(line.zero_c, abs=T0_ROUNDING_C + 1e-9)
    assert fit.thermal_constant_ch == pytest.approx(line.constant_ch, abs=K_ROUNDING_CH + 1e-9)


@pytest.mark.parametrize("name", FITTED)
def test_the_range_of_the_fit_is_that_of_the_published_temperatures(name: str) -> None:
    temperatures, fit = least_squares(name).temperatures_c, fit_of(name)
    assert (fit.fit_low_c, fit.fit_high_c) == (temperatures[0], temperatures[-1])


@pytest.mark.parametrize("name", FITTED)
def test_the_flag_says_what_the_line_is_worth(name: str) -> None:
    line = least_squares(name)
    temperatures = line.temperatures_c
    wide = temperatures[-1] - temperatures[0] >= 4
    worth = "good" if line.r_squared >= 0.95 and wide else "fair" if line.r_squared >= 0.9 else "weak"
    assert fit_of(name).flag == ("two-point" if len(temperatures) == 2 else worth)


@pytest.mark.parametrize("name", FITTED)
def test_a_line_is_pooled_when_its_durations_are_of_several_papers(name: str) -> None:
    assert fit_of(name).pooled == (len({row["paper"] for row in published_rows(name)}) > 1)


def test_pooled_is_no_word_for_what_a_line_is_worth() -> None:
    with pytest.raises(ValidationError, match="two-point"):
        DevelopmentFit.model_validate(fit_of("natrix-natrix").model_dump() | {"flag": "pooled"})


@pytest.mark.parametrize("name", FITTED)
def test_the_source_names_every_paper_of_the_durations_and_that_the_line_is_not_theirs(name: str) -> None:
    source = fit_of(name).source
    assert all(row["paper"] in source for row in published_rows(name))
    assert "made by this project" in source
    assert "not the paper's own figure" in source or "not a figure of theirs" in source


@pytest.mark.parametrize("name", FITTED)
def test_the_source_says_where_the_durations_were_read(name: str) -> None:
    source = fit_of(name).source
    assert re.search(r"\bas compiled in (?:RepDevo|ROSIE|DatabaseTSD)\b|\bas the abstract gives them\b", source)


@pytest.mark.parametrize(
    ("name", "temperature_c", "days"),
    [
        # Lowenborg, Gotthard and Hagman 2012, Biological Journal of the Linnean Society 107:833-844.
        ("natrix-natrix", 25, 40.44),
        # Ji, Qiu and Diong 2002, on Calotes versicolor.
        ("calotes-versicolor", 24, 82.1),
        ("calotes-versicolor", 27, 60.5),
        ("calotes-versicolor", 30, 51.4),
        # Warner and Shine 2011, Proceedings of the Royal Society B 278:256-265.
        ("amphibolurus-muricatus", 25, 76.11),
        ("amphibolurus-muricatus", 28, 52.36),
    ],
)
def test_the_line_foretells_studies_that_it_was_not_made_from(name: str, temperature_c: float, days: float) -> None:
    fit = fit_of(name)
    foretold = fit.thermal_constant_ch / (temperature_c - fit.developmental_zero_c) / 24
    assert foretold == pytest.approx(days, rel=0.06)


def test_the_fence_lizard_needs_the_heat_that_was_published_for_it() -> None:
    """Parker and Andrews 2007, Oecologia 151:218-231 (abstract): about 495 degree-days."""
    assert fit_of("sceloporus-undulatus").thermal_constant_ch / 24 == pytest.approx(495, rel=0.05)


def test_no_built_in_profile_calls_cold_lethal_because_eggs_kept_cold_throughout_failed() -> None:
    """Five days at 8 to 17 °C only delayed eggs of Sceloporus (Andrews, Qualls and Rose 1997, Copeia 1997:827-833)."""
    assert [name for name, one in PROFILES.items() if one.temperature.lethal_low is not None] == []


def test_the_two_pituophis_are_two_profiles_with_their_population_named() -> None:
    pine, bull = PROFILES["pituophis-melanoleucus-new-jersey"], PROFILES["pituophis-melanoleucus-sayi"]
    assert pine.population
    assert bull.population
    assert pine.population != bull.population
    # Burger 1991: 73 to 74 d at 26 °C; Gutzke and Packard 1987: 54 to 57 d at 27 °C.
    assert fit_of(pine.id).thermal_constant_ch > 1.5 * fit_of(bull.id).thermal_constant_ch


def test_the_river_turtle_names_the_population_of_its_paper() -> None:
    """Booth 1998, Journal of Comparative Physiology B 168:399-404, is on the Brisbane River turtle Emydura signata."""
    assert PROFILES["emydura-macquarii"].population == "Brisbane River turtle (signata)"


def test_species_whose_development_pauses_say_so() -> None:
    assert PROFILES["chamaeleo-calyptratus"].pause == "diapause"
    assert PROFILES["malacochersus-tornieri"].pause == "arrest"
    assert {name for name, one in PROFILES.items() if one.pause != "none"} == {
        "chamaeleo-calyptratus",
        "malacochersus-tornieri",
    }


@pytest.mark.parametrize("name", ["naja-atra", "bungarus-multicinctus", "deinagkistrodon-acutus"])
def test_venomous_species_carry_a_caution(name: str) -> None:
    assert "enomous" in (PROFILES[name].caution or "")


@pytest.mark.parametrize(
    "name",
    ["pantherophis-guttatus", "python-regius", "morelia-spilota", "heterodon-nasicus", "pogona-vitticeps"],
)
def test_species_without_a_published_series_have_a_usual_duration_and_no_line(name: str) -> None:
    profile = PROFILES[name]
    assert profile.development is None
    assert isinstance(profile.usual_duration, UsualDuration)
    assert profile.usual_duration.source == PRACTICE


def test_the_keepers_own_profile_wins_over_the_built_in_one(tmp_path: Path) -> None:
    text = (BUILT_IN / "python-regius.toml").read_text(encoding="utf-8")
    own = text.replace('common_name = "ball python"', 'common_name = "royal python"')
    assert own != text
    (tmp_path / "python-regius.toml").write_text(own, encoding="utf-8")
    profiles = load_profiles(tmp_path)
    assert profiles["python-regius"].common_name == "royal python"
    assert profiles.keys() == PROFILES.keys()


def test_a_folder_of_profiles_that_does_not_exist_adds_nothing(tmp_path: Path) -> None:
    assert load_profiles(tmp_path / "profiles") == PROFILES
