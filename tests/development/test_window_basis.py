"""What heat is counted against: lines, durations, and one usual duration with the zero of a group."""

import numpy as np
import pytest
from scipy import stats

from config.species import load_profiles
from daemon.development.basis import Basis, development_basis, tried_c
from daemon.development.durations import Duration
from daemon.development.fits import fit_durations, line_days
from daemon.development.groups import ALL_REPTILES, group_zero
from tests.development.eggs import a_profile, published

PROFILES = load_profiles()
DRAWS = 200_000


def known(basis: Basis | None) -> Basis:
    assert basis is not None
    return basis


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_every_built_in_profile_has_something_to_count_against(name: str) -> None:
    basis = known(development_basis(PROFILES[name]))
    assert basis.zero_u_k is not None
    assert basis.constant_u_ch is not None
    assert basis.zero_c < basis.cap_c
    assert -1 <= basis.correlation < 0


def test_of_a_species_of_which_nothing_is_known_no_heat_is_counted() -> None:
    assert development_basis(a_profile()) is None
    assert tried_c(a_profile()) is None


def test_one_usual_duration_gives_itself_back_where_it_was_seen() -> None:
    basis = known(development_basis(a_profile(usual=(55, 65, 28, 28))))
    assert basis.kind == "usual duration"
    assert line_days(basis.zero_c, basis.constant_ch, 28) == pytest.approx(60)
    assert basis.zero_c == group_zero("snake").median_c
    assert "9 other snakes" in basis.reason


def test_the_pair_of_a_usual_duration_varies_as_a_simulation_of_it_does() -> None:
    """Second method: zeros and durations drawn, K of each draw. First order leaves out the product of both."""
    basis = known(development_basis(a_profile(usual=(50, 70, 27, 29))))
    random = np.random.default_rng(20260501)
    zeros_c = random.normal(14.7, group_zero("snake").standard_uncertainty_k, DRAWS)
    constants_ch = random.uniform(50, 70, DRAWS) * 24 * (28 - zeros_c)
    assert basis.zero_u_k == pytest.approx(zeros_c.std(), rel=0.01)
    assert basis.constant_u_ch == pytest.approx(constants_ch.std(), rel=0.03)
    assert basis.correlation == pytest.approx(stats.pearsonr(zeros_c, constants_ch).statistic, abs=0.01)


def test_a_range_of_temperatures_makes_a_usual_duration_unsure_where_the_days_do_not() -> None:
    sharp = known(development_basis(a_profile(usual=(60, 60, 28, 28))))
    blurred = known(development_basis(a_profile(usual=(60, 60, 26, 30))))
    assert sharp.correlation == pytest.approx(-1)
    assert blurred.correlation > -0.999


def test_a_species_of_the_cold_keeps_its_zero_below_what_its_eggs_stand() -> None:
    basis = known(development_basis(a_profile(usual=(300, 300, 16, 18), group="tuatara")))
    assert basis.zero_c == 14
    assert ALL_REPTILES.median_c > 14


@pytest.mark.parametrize(("high_c", "cap_c"), [(28.0, 30.5), (32.0, 32.0)])
def test_the_cap_of_a_usual_duration_is_where_lines_end_or_its_own_warm_end(high_c: float, cap_c: float) -> None:
    assert known(development_basis(a_profile(usual=(55, 65, 28, high_c)))).cap_c == cap_c


def test_stated_durations_are_the_line_through_them() -> None:
    rows = published()["elaphe-taeniura"]
    basis = known(development_basis(a_profile(rows)))
    line = fit_durations([Duration(at_c, days, source=paper) for at_c, days, paper in rows])
    assert (basis.kind, basis.flag) == ("durations", "good")
    assert (basis.zero_c, basis.constant_ch) == (line.developmental_zero_c, line.thermal_constant_ch)
    assert (basis.zero_u_k, basis.constant_u_ch) == (line.developmental_zero_u_k, line.thermal_constant_u_ch)
    assert tried_c(a_profile(rows)) == (22, 30)


def test_a_treatment_above_where_lines_are_straight_does_not_bend_the_line() -> None:
    """Elaphe taeniura at 32 °C (Du and Ji 2008) took 50.5 d by the same abstract; the line up to 30 °C stays."""
    rows = published()["elaphe-taeniura"]
    bent = known(development_basis(a_profile([*rows, (32.0, 50.5, rows[0][2])])))
    assert bent.zero_c == known(development_basis(a_profile(rows))).zero_c
    assert bent.cap_c == 30.5


def test_durations_that_tell_no_line_leave_the_usual_duration() -> None:
    flat = [(24.0, 70.0, "invented"), (27.0, 68.5, "invented"), (30.0, 67.0, "invented")]
    assert development_basis(a_profile(flat)) is None
    assert known(development_basis(a_profile(flat, usual=(68, 70, 27, 27)))).kind == "usual duration"


def test_what_is_less_than_a_line_of_one_paper_scatters_more() -> None:
    one = [(24.0, 85.0, "a"), (27.0, 61.6, "a"), (30.0, 48.0, "a")]
    pooled = [(24.0, 85.0, "a"), (27.0, 61.6, "b"), (30.0, 48.0, "a")]
    scatter = [known(development_basis(a_profile(rows))).scatter_pct for rows in (one, pooled, one[::2])]
    assert scatter == [6.0, 7.0, 7.0]
    assert "two temperatures only" in known(development_basis(a_profile(one[::2]))).reason
    assert "several studies" in known(development_basis(a_profile(pooled))).reason
    own = [(at_c, days, f"own records {2020 + index}") for index, (at_c, days, _) in enumerate(pooled)]
    reason = known(development_basis(a_profile(own))).reason
    assert "several studies" not in reason
    assert "of several records of your own together" in reason


def test_errors_that_a_profile_does_not_state_are_taken_as_large_as_those_of_such_lines_are() -> None:
    """Outside check: standard errors of the same lines from the published durations themselves."""
    ratios = []
    for name, rows in published().items():
        line = fit_durations([Duration(at_c, days, source=paper) for at_c, days, paper in rows])
        if line.developmental_zero_u_k is not None:
            ratios.append((known(development_basis(PROFILES[name])).zero_u_k or 0.0) / line.developmental_zero_u_k)
    assert len(ratios) >= 20
    assert 0.7 < float(np.median(ratios)) < 1.5
