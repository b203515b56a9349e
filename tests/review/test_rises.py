"""The fastest rises of a place, from what stretches of ten minutes held."""

import numpy as np
import pytest

from daemon.review.passive import FastestRise, Passive
from daemon.review.rises import fastest_rise


def rise_of(*means_c: float, missing: tuple[int, ...] = ()) -> FastestRise | None:
    """Cells one after the other; each of them ranges over 0.1 K around its mean."""
    cells = np.array([at for at in range(len(means_c)) if at not in missing], dtype=np.int64)
    mean = np.array(means_c)[cells]
    return fastest_rise(cells, mean - 0.05, mean + 0.05, mean)


STEADY = [28.0] * 6


def test_a_place_that_was_never_heated_says_nothing() -> None:
    assert rise_of(*STEADY) is None
    assert rise_of() is None
    assert rise_of(28.0) is None


def test_a_rise_counts_up_to_the_cell_behind_which_it_still_went_on() -> None:
    """28, 29, 30, 31, 31: the cell of 31 may hold the moment at which the heater went off, so only 29 to 30 counts."""
    found = rise_of(*STEADY, 29, 30, 31, 31)
    assert found is not None
    assert [hours for hours, _ in found.windows] == [1 / 6, 2 / 6]
    assert [kelvin for _, kelvin in found.windows] == pytest.approx([1.1, 2.1])


def test_the_swing_of_a_thermostat_is_no_rise() -> None:
    assert rise_of(*[28.0, 28.3, 28.6, 28.9] * 5) is None


def test_nothing_is_counted_across_a_hole() -> None:
    found = rise_of(*STEADY, 29, 30, 31, 32, 33, missing=(8,))
    assert found is not None
    assert max(hours for hours, _ in found.windows) == pytest.approx(1 / 6)


def test_a_long_rise_bounds_a_longer_one_in_proportion() -> None:
    """A quarter on top, by hand: 1.25 * 2 K within half an hour, 1.25 * 3 K in an hour, three times that in three."""
    rise = FastestRise(((0.5, 2.0), (1.0, 3.0)))
    assert rise.most_k(np.array([0.1, 0.5, 1.0, 3.0])) == pytest.approx([2.5, 2.5, 3.75, 11.25])
    assert rise.rate_k_h == pytest.approx(3.0)


def test_what_is_without_doubt_has_one_curve() -> None:
    sure = Passive((20, 20, 20), (4, 4, 4), (0, 0, 0))
    hours = np.linspace(0, 20, 50)
    for curve in (sure.coldest(hours, 30), sure.warmest(hours, 30), sure.likely(hours, 30)):
        assert curve == pytest.approx(20 + 10 * np.exp(-hours / 4))


def test_each_doubt_alone_is_taken_to_its_end_and_all_of_them_add_up_as_independent_ones_do() -> None:
    """At one time constant, from 30 to a room of 20 °C: 20 + 10/e; a room of 19 gives 19 + 11/e, by hand."""
    hours = np.array([4.0])
    by_room = Passive((19, 20, 21), (4, 4, 4), (0, 0, 0)).coldest(hours, 30)[0]
    by_constant = Passive((20, 20, 20), (3, 4, 5), (0, 0, 0)).coldest(hours, 30)[0]
    both = Passive((19, 20, 21), (3, 4, 5), (0, 0, 0)).coldest(hours, 30)[0]
    middle = 20 + 10 / np.e
    assert by_room == pytest.approx(19 + 11 / np.e)
    assert by_constant == pytest.approx(20 + 10 * np.exp(-4 / 3))
    assert middle - both == pytest.approx(np.hypot(middle - by_room, middle - by_constant))
