"""X-11: how long a step of the air takes to an alarm, seen through a slow probe and the damping of the zone.

EN 12830 tests a recorder's response with a step from 25 to 30 °C; here the air goes from 28.5 to 33.0 °C around a
warning limit of 30 °C. The expected moment is that of two first-order lags in a row, solved by scipy: another way
than ours.
"""

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tests.daemon.cabinets import CABINETS, Cabinets
from tests.support.journals import new_journal

FROM_C, TO_C, LIMIT_C = 28.5, 33.0, 30.0
PROBE_MIN, ON_DELAY_MIN, EVERY_MIN = 5.0, 5.0, 0.5


def passes_min(damping_min: float) -> float:
    """When the damped reading of a probe passes the limit, in minutes after the step."""
    if not damping_min:
        return PROBE_MIN * math.log((TO_C - FROM_C) / (TO_C - LIMIT_C))

    def slopes(_t: float, state: np.ndarray[tuple[int], np.dtype[np.float64]]) -> list[float]:
        probe, damped = state
        return [(TO_C - probe) / PROBE_MIN, (probe - damped) / damping_min]

    moments = np.linspace(0, 60, 60_001)
    found = solve_ivp(slopes, (0, 60), [FROM_C, FROM_C], t_eval=moments, rtol=1e-9, atol=1e-9)
    return float(moments[np.argmax(found.y[1] > LIMIT_C)])


@pytest.mark.parametrize("damping_min", [0, 4, 10])
def test_the_delay_is_that_of_the_probe_the_damping_and_the_on_delay(tmp_path: Path, damping_min: float) -> None:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        cabinets = Cabinets(journal, tmp_path / "site", damping_min)
        for _ in range(120):
            cabinets.read([FROM_C] * CABINETS, EVERY_MIN * 60)
        step_ms = cabinets.now_ms
        while not cabinets.raised("temperature-high:") and cabinets.now_ms - step_ms < 60 * 60_000:
            at_min = (cabinets.now_ms - step_ms) / 60_000 + EVERY_MIN
            air_c = TO_C - (TO_C - FROM_C) * math.exp(-at_min / PROBE_MIN)
            cabinets.read([air_c] * CABINETS, EVERY_MIN * 60)
        raised_min = (cabinets.raised("temperature-high:")[0].at_ms - step_ms) / 60_000
    # The readings are beyond the limit by themselves for a damping and an on-delay at the latest.
    expected_min = min(passes_min(damping_min), passes_min(0) + damping_min) + ON_DELAY_MIN
    assert expected_min <= raised_min <= expected_min + 2 * EVERY_MIN
