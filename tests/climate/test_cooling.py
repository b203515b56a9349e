"""Newton cooling and its forecasts, against arithmetic, slopes, random draws, and properties over the range.

The example (31 °C, room 20 °C, 4 h, limit 24 °C) and its figures were computed outside this project, by hand and with
numpy: times from 4 ln[(31 - 20)/(Th - 20)], one million draws for the spread.
"""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from daemon.climate.cooling import Forecast, Outcome, RoomAir, TimeConstant, temperature_after, time_to_limit
from daemon.climate.uncertainty import Estimate
from tests.support.tables import read_table

ROOM = RoomAir(20.0, 0.5, measured=True)
CONSTANT = TimeConstant(4.0, 0.2, 5)
START, LIMIT = Estimate(31.0, 0.1), Estimate(24.0, 0.1)


def sure(start_c: float, limit_c: float, room_c: float = 20.0, hours: float = 4.0) -> Forecast:
    room, constant = RoomAir(room_c, 0.0, measured=True), TimeConstant(hours, 0.0, 5)
    return time_to_limit(Estimate(start_c, 0.0), Estimate(limit_c, 0.0), room, constant)


def drawn(start: Estimate, limit: Estimate, room: RoomAir, constant: TimeConstant) -> "np.ndarray":
    """Random draws of the time; never reached is infinite."""
    chance = np.random.default_rng(1)
    one, other, around, hours = (
        chance.normal(value, u, 200_000)
        for value, u in (
            (start.value, start.standard_uncertainty),
            (limit.value, limit.standard_uncertainty),
            (room.temperature_c, room.u_k),
            (constant.hours, constant.u_hours),
        )
    )
    if limit.value > start.value:
        one, other, around = -one, -other, -around
    reached = around < other
    share = np.where(reached, (one - around) / np.where(reached, other - around, 1.0), 1.0)
    return np.where(reached, np.maximum(hours, 0.0) * np.log(np.maximum(share, 1.0)), np.inf)


@pytest.mark.parametrize(
    ("limit_c", "hours"),
    [
        (30.0, 0.381241),
        (28.0, 1.273815),
        (26.0, 2.424543),
        (24.0, 4.0464036467),
        (22.0, 6.818992),
        (21.0, 9.591581),
        (20.5, 12.364169),
    ],
)
def test_the_time_to_each_limit_of_the_example(limit_c: float, hours: float) -> None:
    assert sure(31.0, limit_c).likely_h == pytest.approx(hours, abs=1e-6)


def test_the_temperature_follows_the_exact_table() -> None:
    for row in read_table("cooling-check.csv"):
        found = temperature_after(31.0, 20.0, 4.0, float(row["t_h"]))
        assert found == pytest.approx(float(row["temp_exact_c"]), abs=1e-9)


def test_a_forecast_without_uncertainty_has_no_width() -> None:
    found = sure(31.0, 24.0)
    assert found.early_h == found.likely_h == found.late_h


@pytest.mark.parametrize(
    ("moved", "slope"), [("constant", 1.0116), ("room", 0.6364), ("start", 0.3636), ("limit", -1.0)]
)
def test_with_one_thing_unsure_the_bounds_are_those_of_the_published_slopes(moved: str, slope: float) -> None:
    """Slopes of the example, h per h and h per K: ln(11/4), 4(1/4 - 1/11), 4/11, -4/4."""
    tiny = 1e-6
    found = time_to_limit(
        Estimate(31.0, tiny if moved == "start" else 0.0),
        Estimate(24.0, tiny if moved == "limit" else 0.0),
        RoomAir(20.0, tiny if moved == "room" else 0.0, measured=True),
        TimeConstant(4.0, tiny if moved == "constant" else 0.0, 5),
    )
    assert found.early_h is not None
    assert found.late_h is not None
    assert (found.late_h - found.early_h) / (4 * tiny) == pytest.approx(abs(slope), abs=6e-5)


def test_the_bounds_of_the_example_are_those_of_a_million_draws_and_inside_all_inputs_at_their_ends() -> None:
    """Draws: 95 % in 3.369 to 4.946 h. All four inputs two uncertainties out: 2.950 and 5.688 h."""
    found = time_to_limit(START, LIMIT, ROOM, CONSTANT)
    assert found.early_h == pytest.approx(3.369, abs=0.03)
    assert found.late_h == pytest.approx(4.946, abs=0.03)
    assert found.early_h is not None
    assert found.late_h is not None
    assert 2.950 < found.early_h < 3.369  # for a warning the early end may be early, and never late
    assert 4.946 < found.late_h < 5.688


@pytest.mark.parametrize(
    ("start", "limit", "room", "constant"),
    [
        (Estimate(29.0, 0.3), Estimate(26.0, 0.0), RoomAir(21.0, 0.3, measured=True), TimeConstant(8.0, 0.6, 9)),
        (Estimate(29.0, 0.3), Estimate(24.0, 0.0), RoomAir(18.0, 3.0, measured=False), TimeConstant(8.0, 2.0, 9)),
        (Estimate(25.0, 0.3), Estimate(24.0, 0.0), RoomAir(15.0, 1.0, measured=True), TimeConstant(3.0, 0.9, 4)),
        (Estimate(28.0, 0.3), Estimate(34.0, 0.0), RoomAir(38.0, 1.0, measured=True), TimeConstant(5.0, 0.5, 4)),
    ],
)
def test_the_true_time_lies_within_the_bounds_in_at_least_94_of_100_draws(
    start: Estimate, limit: Estimate, room: RoomAir, constant: TimeConstant
) -> None:
    found, draws = time_to_limit(start, limit, room, constant), drawn(start, limit, room, constant)
    late_h = math.inf if found.late_h is None else found.late_h
    assert found.early_h is not None
    assert np.mean(draws < found.early_h) <= 0.04
    assert np.mean((draws < found.early_h) | (draws > late_h)) <= 0.06
    assert np.quantile(draws, 0.005) < found.early_h  # and not merely by being useless


def test_a_limit_beyond_the_room_is_never_reached_and_the_reason_says_so() -> None:
    found = sure(31.0, 19.0)
    assert (found.early_h, found.likely_h, found.late_h, found.outcome) == (None, None, None, Outcome.NEVER)
    assert "20.0 °C does not take it below 19.0 °C" in found.reason
    assert sure(31.0, 20.0).outcome is Outcome.NEVER
    assert sure(31.0, 33.0).outcome is Outcome.NEVER


def test_where_the_room_may_lie_at_the_limit_there_is_no_late_bound() -> None:
    around = RoomAir(20.0, 0.6, measured=True)
    found = time_to_limit(START, Estimate(21.0, 0.0), around, CONSTANT)
    assert found.outcome is Outcome.REACHED
    assert found.early_h is not None
    assert found.likely_h == pytest.approx(9.591581, abs=1e-6)
    assert found.late_h is None
    beyond = time_to_limit(START, Estimate(19.5, 0.0), around, CONSTANT)
    assert (beyond.outcome, beyond.likely_h, beyond.late_h) == (Outcome.MAYBE, None, None)
    assert beyond.early_h is not None
    assert beyond.early_h > found.early_h
    assert time_to_limit(START, Estimate(18.7, 0.0), around, CONSTANT).outcome is Outcome.NEVER


def test_a_hot_room_warms_in_the_mirror_image() -> None:
    cold = time_to_limit(START, LIMIT, ROOM, CONSTANT)
    hot = time_to_limit(Estimate(29.0, 0.1), Estimate(36.0, 0.1), RoomAir(40.0, 0.5, measured=True), CONSTANT)
    assert (hot.early_h, hot.likely_h, hot.late_h) == pytest.approx((cold.early_h, cold.likely_h, cold.late_h))
    assert "above 41.0 °C" in sure(29.0, 41.0, room_c=40.0).reason


def test_at_the_limit_it_is_there_already() -> None:
    assert sure(24.0, 24.0).likely_h == 0.0


TEMPERATURES = st.floats(5.0, 45.0)
UNSURE = st.floats(0.0, 2.0)


@given(
    TEMPERATURES,
    st.lists(TEMPERATURES, min_size=2, max_size=2),
    TEMPERATURES,
    UNSURE,
    UNSURE,
    st.floats(0.2, 40.0),
    st.floats(0.0, 0.5),
)
def test_a_limit_further_on_is_reached_no_sooner_and_the_bounds_stay_in_order(
    start_c: float, limits_c: list[float], room_c: float, start_u: float, room_u: float, hours: float, share: float
) -> None:
    ahead = sorted(limits_c, key=lambda each: abs(each - start_c))
    assume(all((each < start_c) == (room_c < start_c) and each != start_c for each in ahead))
    room, constant = RoomAir(room_c, room_u, measured=True), TimeConstant(hours, share * hours, 3)
    found = [time_to_limit(Estimate(start_c, start_u), Estimate(each, 0.0), room, constant) for each in ahead]
    bounds = [[math.inf if each is None else each for each in (one.early_h, one.likely_h, one.late_h)] for one in found]
    for one in bounds:
        assert 0 <= one[0] <= one[1] <= one[2]
    for nearer, further in zip(*bounds, strict=True):
        # A time of a billionth of a second is one of rounding.
        assert further >= nearer * (1 - 1e-9) - 1e-12


@given(TEMPERATURES, TEMPERATURES, st.floats(0.2, 40.0), st.floats(0.001, 3.0))
def test_after_the_time_to_a_limit_it_is_at_the_limit(
    start_c: float, room_c: float, hours: float, passed: float
) -> None:
    assume(abs(start_c - room_c) > 0.1)
    limit_c = temperature_after(start_c, room_c, hours, passed * hours)
    found = sure(start_c, limit_c, room_c, hours).likely_h
    assert found == pytest.approx(passed * hours, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan])
def test_a_time_constant_that_is_none_is_refused(bad: float) -> None:
    with pytest.raises(ValueError, match=r"time constant|finite"):
        sure(31.0, 24.0, hours=bad)
    with pytest.raises(ValueError, match="time constant"):
        temperature_after(31.0, 20.0, bad, 1.0)


def test_the_past_and_negative_uncertainties_are_refused() -> None:
    with pytest.raises(ValueError, match="in the past"):
        temperature_after(31.0, 20.0, 4.0, -1.0)
    with pytest.raises(ValueError, match="below 0"):
        time_to_limit(START, LIMIT, RoomAir(20.0, -0.5, measured=True), CONSTANT)
    with pytest.raises(ValueError, match="finite"):
        time_to_limit(Estimate(math.inf, 0.0), LIMIT, ROOM, CONSTANT)
