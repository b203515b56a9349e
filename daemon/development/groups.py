"""Developmental zeros of groups of reptiles: what to expect of a species of which no line is known.

Computed by this project: a line of 1/duration on temperature (`daemon.development.fits`) for each species, through one
mean rate for each constant temperature up to 30.5 °C, papers pooled. Taken are species with three temperatures or more
and a zero between 0 and 25 °C: 69 species, durations in 158 papers as compiled in RepDevo (Noble et al. 2018,
Scientific Data, doi:10.1038/sdata.2018.138), ROSIE (Krueger and Janzen 2022, Scientific Data 9,
doi:10.1038/s41597-021-01108-1) and, for a few, DatabaseTSD (M. Girondot) and Add-my-Pet. None of the papers was read
for this. The spread holds the error of each species' own line too, so it is, if anything, too wide.
"""

import math
from dataclasses import dataclass

_LEAST_SPECIES = 4


@dataclass(frozen=True, slots=True)
class GroupZero:
    """Developmental zeros of `species` species, °C; `sd_k` is their standard deviation, `papers` how many papers."""

    name: str
    median_c: float
    lower_quartile_c: float
    upper_quartile_c: float
    mean_c: float
    sd_k: float
    species: int
    papers: int

    @property
    def standard_uncertainty_k(self) -> float:
        """For one more species of the group: their spread, and how well so few show the middle, sd * sqrt(1 + 1/n)."""
        return self.sd_k * math.sqrt(1 + 1 / self.species)


ALL_REPTILES = GroupZero("reptiles", 16.3, 14.2, 18.1, 15.94, 3.28, 69, 158)
_GROUPS = {
    "snake": GroupZero("snakes", 14.7, 13.2, 17.7, 15.26, 3.26, 9, 11),
    "gecko": GroupZero("geckos", 19.45, 19.1, 19.8, 19.45, 0.92, 2, 2),
    "agamid": GroupZero("agamids", 16.9, 13.8, 18.4, 16.41, 2.82, 7, 11),
    "iguanian": GroupZero("iguanians", 15.75, 15.0, 15.9, 15.18, 1.39, 4, 6),
    "turtle": GroupZero("turtles", 16.55, 14.2, 17.7, 15.63, 3.89, 28, 95),
    "tortoise": GroupZero("tortoises", 15.85, 14.5, 17.8, 16.48, 2.54, 6, 12),
    "crocodilian": GroupZero("crocodilians", 21.55, 20.7, 22.4, 21.55, 2.47, 2, 2),
    "other lizard": GroupZero("lizards", 15.35, 14.4, 16.7, 15.67, 1.75, 10, 26),
}


def group_zero(group: str) -> GroupZero:
    """Zeros of a profile's group; of all reptiles where fewer than four species of the group are known."""
    found = _GROUPS.get(group, ALL_REPTILES)
    return found if found.species >= _LEAST_SPECIES else ALL_REPTILES
