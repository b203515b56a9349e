"""Nine in ten of published hatchings that its line knows nothing of are inside the window.

Treatments are means over eggs, as compiled in RepDevo and ROSIE (`tests/tables/README.md`). A window must hold as many
as a binomial law of 0.9 makes likely, and must not be so wide that its inner half, which by a normal law holds 50 %,
holds far more.
"""

from collections.abc import Iterator, Sequence

import pytest
from scipy import stats

from config.species import SpeciesProfile, load_profiles
from daemon.development.window import HatchWindow
from tests.development.eggs import HALF_OF_ALL, a_profile, deviation, kept_from_laying, published
from tests.support.tables import read_table

PROFILES = load_profiles()
PUBLISHED = {name: rows for name, rows in published().items() if PROFILES[name].pause == "none"}
NINE_IN_TEN = 1.645
SLOW_STOCK = "mauremys-reevesii"


def deviations(profile: SpeciesProfile, left_out: Sequence[tuple[float, float, str]]) -> Iterator[float]:
    for at_c, days, _ in left_out:
        window = kept_from_laying(profile, at_c)
        if isinstance(window, HatchWindow):
            yield deviation(window, days)


def inside(found: Sequence[float], width: float) -> int:
    return sum(abs(one) <= width for one in found)


def least_by_chance(count: int) -> float:
    """So many of `count` at least are inside a true 90 % window, but for one time in a thousand."""
    return float(stats.binom.ppf(0.001, count, 0.9))


def test_a_temperature_left_out_of_its_line_is_inside() -> None:
    """Each temperature of each species in turn, from the durations at the others."""
    found: list[float] = []
    species: set[str] = set()
    for name, rows in PUBLISHED.items():
        straight = [row for row in rows if row[0] <= 30.5]
        for left_out_c in {at_c for at_c, *_ in straight}:
            rest = [row for row in straight if row[0] != left_out_c]
            if len({at_c for at_c, *_ in rest}) >= 2:
                new = list(deviations(a_profile(rest), [row for row in straight if row[0] == left_out_c]))
                found += new
                species.update({name} if new else {})
    assert len(species) >= 20
    assert len(found) >= 250
    assert inside(found, NINE_IN_TEN) >= least_by_chance(len(found))
    assert inside(found, HALF_OF_ALL) <= 0.75 * len(found)


def test_a_paper_left_out_of_a_pooled_line_is_inside() -> None:
    """Species with several papers: each paper in turn, from the durations of the others."""
    found: list[float] = []
    papers = 0
    for name, rows in PUBLISHED.items():
        line = PROFILES[name].development
        for paper in {paper for *_, paper in rows} if line is not None and line.pooled else ():
            rest = [row for row in rows if row[2] != paper and row[0] <= 30.5]
            if len({at_c for at_c, *_ in rest}) >= 3:
                papers += 1
                found += deviations(a_profile(rest), [row for row in rows if row[2] == paper])
    assert papers >= 30
    assert inside(found, NINE_IN_TEN) >= least_by_chance(len(found))
    assert inside(found, HALF_OF_ALL) <= 0.75 * len(found)


def test_other_papers_than_that_of_the_line_are_inside() -> None:
    """Other stocks, other rooms. The stock of one profile is known to be slow, and is counted apart below."""
    found: list[float] = []
    for row in read_table("durations-of-other-studies.csv"):
        if row["profile"] != SLOW_STOCK:
            other = (float(row["temperature_c"]), float(row["incubation_days_mean"]), row["paper"])
            found += deviations(PROFILES[row["profile"]], [other])
    assert len(found) >= 20
    assert inside(found, NINE_IN_TEN) >= least_by_chance(len(found))


def test_a_profile_of_a_slow_stock_says_that_others_may_hatch_earlier() -> None:
    """Where this fails, eggs of other papers are inside after all, and the profile may be counted with the others."""
    rows = [row for row in read_table("durations-of-other-studies.csv") if row["profile"] == SLOW_STOCK]
    others = [(float(row["temperature_c"]), float(row["incubation_days_mean"]), row["paper"]) for row in rows]
    found = list(deviations(PROFILES[SLOW_STOCK], others))
    assert inside(found, NINE_IN_TEN) < least_by_chance(len(found))
    assert sum(one < 0 for one in found) > 0.9 * len(found)
    line = PROFILES[SLOW_STOCK].development
    assert line is not None
    assert "other stocks may hatch earlier" in line.source


@pytest.mark.parametrize(("least_k", "most_k"), [(0, 2), (2.01, 4), (4.01, 7)])
def test_one_duration_and_the_zero_of_a_group_hold_the_other_temperatures(least_k: float, most_k: float) -> None:
    """Every published treatment as if it were the only one known, for all others of its species and paper.

    Those of one species are no independent trials, so each species counts once, by its share inside. The group's zeros
    come from these species among others, one in nine at most.
    """
    shares = []
    for name, rows in PUBLISHED.items():
        straight = sorted({row for row in rows if row[0] <= 30.5})
        found: list[float] = []
        for known_c, days, paper in straight:
            profile = a_profile(usual=(days, days, known_c, known_c), group=PROFILES[name].group)
            away = [row for row in straight if least_k <= abs(row[0] - known_c) <= most_k and row[0] != known_c]
            found += deviations(profile, [row for row in away if row[2] == paper])
        if found:
            shares.append(inside(found, NINE_IN_TEN) / len(found))
    assert len(shares) >= 8
    error = (0.9 * 0.1 / len(shares)) ** 0.5
    assert sum(shares) / len(shares) >= 0.9 - 2 * error
