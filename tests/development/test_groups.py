"""Developmental zeros of groups, against lines laid here through published durations."""

import statistics
from typing import get_args

import pytest

from config.species import SpeciesProfile, load_profiles
from daemon.development.durations import Duration
from daemon.development.fits import fit_durations
from daemon.development.groups import ALL_REPTILES, group_zero
from tests.development.eggs import published

GROUPS = get_args(SpeciesProfile.model_fields["group"].annotation)
PROFILES = load_profiles()


def zeros(group: str | None) -> list[float]:
    """Zeros by the rule of `daemon.development.groups`, of the species that the tables of this project hold."""
    found = []
    for name, rows in published().items():
        durations = [Duration(at_c, days, source=paper) for at_c, days, paper in rows if at_c <= 30.5]
        if len({one.temperature_c for one in durations}) >= 3 and group in {None, PROFILES[name].group}:
            found.append(fit_durations(durations).developmental_zero_c)
    return sorted(found)


def test_the_snakes_are_those_of_the_published_durations() -> None:
    """The nine species are the same; of two of them fewer papers are used here, and neither is near the middle."""
    snakes, found = group_zero("snake"), zeros("snake")
    assert len(found) == snakes.species == 9
    low, middle, high = statistics.quantiles(found, n=4, method="inclusive")
    assert (low, middle, high) == pytest.approx(
        (snakes.lower_quartile_c, snakes.median_c, snakes.upper_quartile_c), abs=0.06
    )
    assert statistics.fmean(found) == pytest.approx(snakes.mean_c, abs=0.5)
    assert statistics.stdev(found) == pytest.approx(snakes.sd_k, rel=0.2)


def test_all_reptiles_lie_about_where_those_of_the_tables_lie() -> None:
    """A third of the 69 species are in the tables; their middle and spread agree within what so few can tell."""
    found = zeros(None)
    assert len(found) >= 23
    error_k = ALL_REPTILES.sd_k / len(found) ** 0.5
    assert statistics.fmean(found) == pytest.approx(ALL_REPTILES.mean_c, abs=2 * error_k)
    assert statistics.stdev(found) == pytest.approx(ALL_REPTILES.sd_k, rel=0.3)


@pytest.mark.parametrize("group", ["gecko", "crocodilian", "tuatara", "chameleon"])
def test_a_group_of_few_known_species_is_taken_as_a_reptile(group: str) -> None:
    assert group_zero(group) is ALL_REPTILES


@pytest.mark.parametrize("group", GROUPS)
def test_a_zero_is_less_sure_for_one_more_species_than_the_known_ones_spread(group: str) -> None:
    found = group_zero(group)
    assert found.lower_quartile_c < found.median_c < found.upper_quartile_c
    assert found.sd_k < found.standard_uncertainty_k < 1.12 * found.sd_k + 1e-9
