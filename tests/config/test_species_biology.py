"""Stages and sex in the built-in profiles: where each figure comes from, and that none was made up."""

import re
from collections.abc import Iterator

import pytest

from config.species import Sourced, SpeciesProfile, load_profiles

PRACTICE = "common practice, no source"
PROFILES = load_profiles()
WITH_SEX = sorted(name for name, one in PROFILES.items() if one.sex is not None)
STAGED = sorted(name for name, one in PROFILES.items() if one.stages)


def stage_figures(profile: SpeciesProfile) -> Iterator[Sourced]:
    for stage in profile.stages:
        for one in (stage.temperature, stage.humidity):
            if one is not None:
                yield from (one.low, one.high)


def test_there_are_profiles_with_stages_and_with_sex() -> None:
    assert STAGED
    assert len(WITH_SEX) >= 8


@pytest.mark.parametrize("name", STAGED)
def test_every_figure_of_a_stage_names_a_paper_with_its_year_or_says_that_it_is_common_practice(name: str) -> None:
    for figure in stage_figures(PROFILES[name]):
        assert figure.source.startswith(PRACTICE) or re.search(r"\b(?:19|20)\d\d\b", figure.source), figure.source


@pytest.mark.parametrize("name", WITH_SEX)
def test_how_sex_is_decided_names_what_was_read_or_says_that_it_is_common_practice(name: str) -> None:
    sex = PROFILES[name].sex
    assert sex is not None
    for source in (sex.source, *([sex.pivotal_c.source] if sex.pivotal_c is not None else [])):
        assert source.startswith(PRACTICE) or re.search(r"\b(?:19|20)\d\d\b", source), source
        assert source.startswith(PRACTICE) or "abstract" in source, source
    assert sex.note


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_what_somebody_remembers_is_no_source(name: str) -> None:
    text = PROFILES[name].model_dump_json()
    assert "memory" not in text.casefold()


def test_no_snake_has_a_sex_that_temperature_decides() -> None:
    assert [name for name in WITH_SEX if PROFILES[name].group == "snake"] == []


@pytest.mark.parametrize("name", ["eublepharis-macularius", "chelydra-serpentina"])
def test_where_both_extremes_give_females_no_single_pivotal_temperature_is_stated(name: str) -> None:
    """Viets et al. 1993, Journal of Experimental Zoology 265; O'Steen 1998, Journal of Experimental Biology 201.

    With two of them, one figure beside a constant temperature equivalent would mislead.
    """
    sex = PROFILES[name].sex
    assert sex is not None
    assert sex.pivotal_c is None
    assert "two pivotal temperatures" in (sex.note or "")


def test_the_tuatara_has_the_published_figures() -> None:
    """Mitchell et al. 2006, Frontiers in Zoology 3:9: pivotal 22.0 °C, sensitive from 0.25 to 0.55 of development."""
    sex = PROFILES["sphenodon-punctatus"].sex
    assert sex is not None
    assert sex.pivotal_c is not None
    assert (sex.sensitive_from_share, sex.sensitive_to_share, sex.pivotal_c.value) == (0.25, 0.55, 22.0)


def test_a_pivotal_temperature_lies_where_eggs_of_the_species_can_be_kept() -> None:
    for name in WITH_SEX:
        sex, temperature = PROFILES[name].sex, PROFILES[name].temperature
        if sex is not None and sex.pivotal_c is not None:
            assert temperature.low.value < sex.pivotal_c.value < temperature.lethal_high.value, name


def test_no_built_in_profile_states_an_exposure_limit_for_none_was_found_published() -> None:
    """Hours to death were found for no snake egg; those of a lizard (Angilletta et al. 2013) are no sum of minutes."""
    assert [name for name, one in PROFILES.items() if one.exposure] == []
