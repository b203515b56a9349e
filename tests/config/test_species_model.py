"""Durations, stages, exposure limits and sex in a profile: what is refused, and in which words."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from config.errors import Mistake, StatedError
from config.species import SpeciesProfile, read_profiles
from daemon.development.durations import Duration
from daemon.development.fits import fit_durations

BASE = """
id = "example"
scientific_name = "Exemplum primum"
common_name = "example"
group = "snake"

[temperature]
low = { value = 26, source = "made up" }
high = { value = 30, source = "made up" }
lethal_high = { value = 34, source = "made up" }
"""
USUAL = """
[usual_duration]
days_low = 55
days_high = 65
temperature_low_c = 28
temperature_high_c = 28
source = "made up"
"""
LINE = """
[development]
developmental_zero_c = 14
thermal_constant_ch = 20000
fit_low_c = 24
fit_high_c = 30
cap_c = 30.5
flag = "good"
source = "made up"
cap_source = "made up"
"""
DAMP = 'humidity = { low = { value = 85, source = "made up" }, high = { value = 100, source = "made up" } }\n'
WARM = 'temperature = { low = { value = 28, source = "made up" }, high = { value = 31, source = "made up" } }\n'


def duration(temperature_c: float, days: float, more: str = "") -> str:
    return f'[[duration]]\ntemperature_c = {temperature_c}\ndays = {days}\nsource = "made up"\n{more}\n'


def exposure(text: str, within_h: int = 24) -> str:
    return f'[[exposure]]\n{text}\nwithin_h = {within_h}\nsource = "made up"\n'


def sex(begin: float, end: float, more: str = "") -> str:
    return f'[sex]\nsensitive_from_share = {begin}\nsensitive_to_share = {end}\nsource = "made up"\n{more}\n'


def mistakes(folder: Path, text: str) -> list[Mistake]:
    (folder / "example.toml").write_text(BASE + text, encoding="utf-8")
    return list(read_profiles(folder).mistakes)


def profile(text: str) -> SpeciesProfile:
    document: dict[str, Any] = tomllib.loads(BASE + text)
    return SpeciesProfile.model_validate(document)


def test_a_profile_may_state_durations_instead_of_a_pair() -> None:
    found = profile(duration(24, 85, "eggs = 13\ndays_sd = 2.2") + duration(27, 61.6) + duration(30, 41))
    assert [(one.temperature_c, one.days, one.eggs, one.days_sd) for one in found.durations] == [
        (24, 85, 13, 2.2),
        (27, 61.6, None, None),
        (30, 41, None, None),
    ]
    assert found.development is None


def test_a_profile_may_state_stages_by_share_and_by_day_exposure_and_sex() -> None:
    pivotal = 'pivotal_c = { value = 29, source = "made up" }\nnote = "males from cool eggs"'
    found = profile(
        USUAL
        + f"[[stage]]\nfrom_day = 14\n{WARM}[[stage]]\nfrom_share = 0.9\n{DAMP}"
        + exposure("above_c = 32\nminutes = 120")
        + exposure("below_c = 20\nminutes = 600", 48)
        + sex(0.33, 0.67, pivotal)
    )
    assert [(one.from_share, one.from_day) for one in found.stages] == [(None, 14), (0.9, None)]
    assert [(one.above_c, one.below_c, one.minutes, one.within_h) for one in found.exposure] == [
        (32, None, 120, 24),
        (None, 20, 600, 48),
    ]
    assert found.sex is not None
    assert found.sex.pivotal_c is not None
    assert (found.sex.sensitive_from_share, found.sex.pivotal_c.value) == (0.33, 29)


def test_a_profile_without_any_of_these_has_none_of_them() -> None:
    found = profile("")
    assert (found.durations, found.stages, found.exposure, found.sex) == ((), (), (), None)


REFUSED = {
    "durations at one temperature": (
        duration(28, 60) + duration(28, 62),
        "",
        "durations at one temperature make no line: T0 and K need two temperatures or more",
    ),
    "one duration": (duration(28, 60), "", "durations at one temperature make no line"),
    "durations that rise with warmth": (duration(24, 41) + duration(30, 85), "", "the durations do not fall"),
    "durations that stay the same": (duration(24, 60) + duration(30, 60), "", "the durations do not fall"),
    "a zero above the coldest": (
        duration(24, 110) + duration(25, 108) + duration(26, 105) + duration(27, 100) + duration(28, 10),
        "",
        "the line reaches zero at",
    ),
    "durations and a pair": (LINE + duration(24, 85) + duration(30, 41), "", "development and durations are both"),
    "a scatter of unknown eggs": (duration(24, 85, "days_sd = 2"), "duration#1", "days_sd (2) is the scatter"),
    "a scatter of one egg": (duration(24, 85, "eggs = 1\ndays_sd = 0"), "duration#1", "days_sd (0) is the scatter"),
    "a temperature in °F": (duration(82, 60) + duration(86, 55), "duration#1.temperature_c", "82 °C looks like °F"),
    "a duration of no days": (duration(24, 0) + duration(30, 41), "duration#1.days", "0 is not what can stand here"),
    "no egg": (duration(24, 85, "eggs = 0"), "duration#1.eggs", "0 is not what can stand here"),
    "a stage with two beginnings": (
        USUAL + f"[[stage]]\nfrom_share = 0.9\nfrom_day = 50\n{DAMP}",
        "stage#1",
        "both from_share and from_day are given",
    ),
    "a stage without a beginning": (
        USUAL + f"[[stage]]\n{DAMP}",
        "stage#1",
        "neither from_share nor from_day is given",
    ),
    "a stage that changes nothing": (USUAL + "[[stage]]\nfrom_share = 0.9\n", "stage#1", "this stage changes nothing"),
    "a share in percent": (
        USUAL + f"[[stage]]\nfrom_share = 90\n{DAMP}",
        "stage#1.from_share",
        "90 is not what can stand here",
    ),
    "stages that go back": (
        USUAL + f"[[stage]]\nfrom_share = 0.9\n{DAMP}[[stage]]\nfrom_share = 0.5\n{DAMP}",
        "",
        "stages must follow each other, and from_share is 0.9, 0.5",
    ),
    "two stages at one day": (
        f"[[stage]]\nfrom_day = 9\n{DAMP}[[stage]]\nfrom_day = 9\n{DAMP}",
        "",
        "stages must follow each other, and from_day is 9, 9",
    ),
    "a share of what is not known": (
        f"[[stage]]\nfrom_share = 0.9\n{DAMP}",
        "",
        "no share can be told: nothing says how long it takes",
    ),
    "a share of what pauses": (
        f'pause = "diapause"\n{USUAL}[[stage]]\nfrom_share = 0.9\n{DAMP}',
        "",
        "no share can be told: development pauses in this species",
    ),
    "a stage with its range upside down": (
        f"[[stage]]\nfrom_day = 9\n{WARM.replace('28', '31.5')}",
        "stage#1.temperature",
        "low (31.5) is not below high (31)",
    ),
    "a stage with its humidity upside down": (
        f"[[stage]]\nfrom_day = 9\n{DAMP.replace('85', '100')}",
        "stage#1.humidity",
        "low (100) is not below high (100)",
    ),
    "a stage as warm as kills": (
        f"[[stage]]\nfrom_day = 9\n{WARM.replace('31', '34')}",
        "",
        "34 °C of stage 1 reaches lethal_high (34)",
    ),
    "exposure on both sides": (
        exposure("above_c = 32\nbelow_c = 20\nminutes = 60"),
        "exposure#1",
        "both above_c and below_c are given",
    ),
    "exposure on no side": (exposure("minutes = 60"), "exposure#1", "neither above_c nor below_c is given"),
    "exposure within a week": (
        exposure("above_c = 32\nminutes = 60", 168),
        "exposure#1.within_h",
        "168 is not one of the words that can stand here",
    ),
    "exposure longer than its window": (
        exposure("above_c = 32\nminutes = 1440"),
        "exposure#1",
        "1440 minutes within 24 h can never be passed",
    ),
    "exposure of no minutes": (
        exposure("above_c = 32\nminutes = 0"),
        "exposure#1.minutes",
        "0 is not what can stand here",
    ),
    "exposure to what is safe": (
        exposure("above_c = 29\nminutes = 60"),
        "",
        "above_c (29) of an exposure limit lies below high (30), where all is well",
    ),
    "exposure to what is safe in a later stage": (
        f"[[stage]]\nfrom_day = 9\n{WARM}" + exposure("above_c = 30.5\nminutes = 60"),
        "",
        "above_c (30.5) of an exposure limit lies below high (31), where all is well",
    ),
    "exposure to a cold that is safe": (
        exposure("below_c = 27\nminutes = 60"),
        "",
        "below_c (27) of an exposure limit lies above low (26), where all is well",
    ),
    "a sensitive period upside down": (
        sex(0.67, 0.33),
        "sex",
        "sensitive_from_share (0.67) is not below sensitive_to_share (0.33)",
    ),
    "a sensitive period past the end": (sex(0.5, 1.5), "sex.sensitive_to_share", "1.5 is not what can stand here"),
    "a pivotal temperature in °F": (
        sex(0.3, 0.6, 'pivotal_c = { value = 84, source = "made up" }'),
        "sex.pivotal_c",
        "84 °C looks like °F",
    ),
    "a pivotal temperature without a source": (
        sex(0.3, 0.6, "pivotal_c = { value = 29 }"),
        "sex.pivotal_c.source",
        '"source" is missing',
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_meant_is_refused_in_words_with_its_place_and_what_to_do(name: str, tmp_path: Path) -> None:
    text, key, reason = REFUSED[name]
    if text.startswith("pause"):
        pause, _, text = text.partition("\n")
        (tmp_path / "example.toml").write_text(f"{pause}\n{BASE}{text}", encoding="utf-8")
        found = list(read_profiles(tmp_path).mistakes)
    else:
        found = mistakes(tmp_path, text)
    told = [one for one in found if one.key == key and reason in one.reason]
    assert len(told) == 1, found
    assert told[0].file == f"{tmp_path.name}/example.toml"
    assert told[0].hint


def test_a_refused_profile_is_not_loaded(tmp_path: Path) -> None:
    assert mistakes(tmp_path, duration(28, 60))
    assert "example" not in read_profiles(tmp_path).profiles


series = st.lists(st.tuples(st.integers(22, 32), st.integers(20, 120)), min_size=1, max_size=8)


@given(series)
def test_durations_are_refused_exactly_where_no_line_can_be_fitted_through_them(rows: list[tuple[int, int]]) -> None:
    """Two methods: least squares of the standard library here, the sums of the fit there."""
    text = "".join(duration(temperature_c, days) for temperature_c, days in rows)
    try:
        fit_durations([Duration(temperature_c, days) for temperature_c, days in rows])
    except StatedError as error:
        with pytest.raises(ValidationError, match="zero" if "zero" in error.reason else "two temperatures"):
            profile(text)
    else:
        assert len(profile(text).durations) == len(rows)
