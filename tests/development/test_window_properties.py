"""What holds for every hatch window, and a simulation as the second method for its width."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.species import SpeciesProfile, load_profiles
from daemon.development.basis import Basis, development_basis
from daemon.development.window import Future, HatchWindow, HeatSoFar, hatch_window

PROFILES = load_profiles()
BASES = {name: development_basis(one) for name, one in PROFILES.items() if one.pause == "none"}
DRAWS = 200_000
NOW_MS = 1_780_000_000_000
names = st.sampled_from(sorted(BASES))
part = st.floats(0.0, 1.0)


def basis_of(name: str) -> Basis:
    basis = BASES[name]
    assert basis is not None
    return basis


def some_heat(basis: Basis, share: float, vague: float, laying_h: float) -> HeatSoFar:
    rate_k = basis.cap_c - basis.zero_c - 2
    hours = share * basis.constant_ch / rate_k
    best = share * basis.constant_ch
    return HeatSoFar(best * (1 - vague / 5), best, best * (1 + vague / 4), 0.3 * hours, hours, hours, laying_h, rate_k)


def window_of(profile: SpeciesProfile, basis: Basis, heat: HeatSoFar, future: Future) -> HatchWindow | None:
    found = hatch_window(profile, basis, heat, future, NOW_MS)
    return found if isinstance(found, HatchWindow) else None


@given(names, st.floats(0.0, 2.0), part, st.floats(0.0, 200.0), st.floats(10.0, 36.0), st.floats(0.0, 2.0))
def test_earliest_likely_and_latest_come_in_this_order(
    name: str, share: float, vague: float, laying_h: float, at_c: float, u_k: float
) -> None:
    basis = basis_of(name)
    found = window_of(PROFILES[name], basis, some_heat(basis, share, vague, laying_h), Future(at_c, u_k))
    if found is not None:
        assert found.earliest_ms <= found.likely_ms <= found.latest_ms
        assert (found.standing == "overdue") == (found.latest_ms < NOW_MS)
        assert math.isfinite(found.sd_days)
        assert found.sd_days >= 1.5


@given(names, st.floats(0.0, 1.5), st.floats(16.0, 36.0), st.floats(0.0, 6.0))
def test_warmer_from_now_on_is_never_later(name: str, share: float, at_c: float, warmer_k: float) -> None:
    basis = basis_of(name)
    heat = some_heat(basis, share, 0.1, 24)
    cool, warm = (window_of(PROFILES[name], basis, heat, Future(one, 0.3)) for one in (at_c, at_c + warmer_k))
    if cool is not None and warm is not None:
        assert warm.likely_ms <= cool.likely_ms


@given(names, st.floats(0.0, 1.5), st.floats(0.0, 100.0), st.floats(0.0, 100.0))
def test_a_wider_laying_window_never_makes_a_narrower_one(
    name: str, share: float, laying_h: float, more_h: float
) -> None:
    basis = basis_of(name)
    future = Future(basis.cap_c - 2, 0.3)
    narrow, wide = (
        window_of(PROFILES[name], basis, some_heat(basis, share, 0.1, one), future)
        for one in (laying_h, laying_h + more_h)
    )
    assert (narrow is None) == (wide is None)
    if narrow is not None and wide is not None:
        assert wide.sd_days >= narrow.sd_days
        assert wide.earliest_ms <= narrow.earliest_ms
        assert wide.latest_ms >= narrow.latest_ms


@given(names, st.floats(0.0, 0.9), st.floats(0.0, 0.5))
def test_more_heat_is_never_later(name: str, share: float, more: float) -> None:
    basis = basis_of(name)
    heat = some_heat(basis, share, 0.1, 24)
    future = Future(basis.cap_c - 1, 0.3)
    richer = replace(heat, best_ch=heat.best_ch + more * (basis.constant_ch - heat.best_ch))
    less, much = (window_of(PROFILES[name], basis, one, future) for one in (heat, richer))
    if less is not None and much is not None:
        assert much.likely_ms <= less.likely_ms
        assert much.share >= less.share


@pytest.mark.parametrize("name", ["elaphe-taeniura", "caretta-caretta", "pantherophis-guttatus", "coluber-constrictor"])
@pytest.mark.parametrize("share", [0.1, 0.6])
def test_a_simulation_of_all_that_is_unsure_is_as_wide(name: str, share: float) -> None:
    """Second method: everything drawn, and the whole course reckoned anew for each draw.

    Width by the 5th and 95th percentile, 3.29 standard deviations apart in a normal distribution: draws with a zero
    near the temperature have a long tail, which first order leaves out, and which a standard deviation would follow.
    """
    basis = basis_of(name)
    heat, future = some_heat(basis, share, 0.2, 30), Future(basis.cap_c - 1.5, 0.3, 0.3)
    window = window_of(PROFILES[name], basis, heat, future)
    assert window is not None
    to_go_days = simulated_days(basis, heat, future)
    likely_days = (window.likely_ms - NOW_MS) / 86_400_000
    assert float(np.median(to_go_days)) == pytest.approx(likely_days, abs=0.15 * window.sd_days)
    low, high = np.quantile(to_go_days, [0.05, 0.95])
    assert (high - low) / 3.29 == pytest.approx(window.sd_days, rel=0.1)
    half_days = (window.latest_ms - window.likely_ms) / 86_400_000
    inside = np.abs(to_go_days - likely_days) <= half_days
    assert inside.mean() == pytest.approx(0.9, abs=0.03)


def simulated_days(basis: Basis, heat: HeatSoFar, future: Future) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    random = np.random.default_rng(20260501)
    zero_u, constant_u = basis.zero_u_k or 0.0, basis.constant_u_ch or 0.0
    covariance = basis.correlation * zero_u * constant_u
    pair = random.multivariate_normal(
        [basis.zero_c, basis.constant_ch], [[zero_u**2, covariance], [covariance, constant_u**2]], DRAWS
    )
    offset = random.normal(0, 1, DRAWS)
    gaps = random.uniform(heat.low_ch, heat.high_ch, DRAWS) - (heat.low_ch + heat.high_ch) / 2
    laying = random.uniform(-1, 1, DRAWS) * heat.laying_half_width_h * heat.heat_rate_before_k
    so_far = heat.best_ch + gaps + laying + offset * heat.offset_ch - heat.linear_h * (pair[:, 0] - basis.zero_c)
    kept_c = random.normal(future.temperature_c, future.u_k, DRAWS) + offset * (future.offset_u_k or 0.0)
    to_go_h = (pair[:, 1] - so_far) / (np.minimum(kept_c, basis.cap_c) - pair[:, 0])
    duration_days = (heat.since_laying_h + to_go_h) / 24
    differ = np.hypot(basis.scatter_pct / 100 * duration_days, 1.5)
    found: np.ndarray[tuple[int], np.dtype[np.float64]] = to_go_h / 24 + random.normal(0, 1, DRAWS) * differ
    return found
