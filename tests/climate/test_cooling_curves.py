"""Cooling curves found in simulated cabinets whose time constant is known, and in series written by hand.

The true value is an eigenvalue of the simulated heat balance, set up in `tests/support/cabinet.py` on its own.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from daemon.climate.cooling import RoomAir
from daemon.climate.cooling_curves import CoolingCurve, combined, curve_of, falls
from daemon.climate.cooling_fit import NoFitError
from daemon.climate.room_air import RoomReadings, room_meanwhile, stated_room
from sensors.simulation.events import Event, EventKind
from sensors.simulation.parameters import ThermostatKind
from tests.support.cabinet import HOUR_MS, Night, cabinet, outages, straight_line, watched

MINUTE_MS = 60_000
ACCURACY_U_K = 0.3
ROOM = RoomAir(20.0, 0.3, measured=True)


def found_in(night: Night, stated: RoomAir | None = None) -> tuple[list[CoolingCurve], list[str]]:
    """Curves of a night, and why the other falls are none; the room is measured unless it is stated."""
    measured = RoomReadings(night.times_ms, night.room_c, ACCURACY_U_K) if stated is None else None
    curves: list[CoolingCurve] = []
    reasons: list[str] = []
    for fall in falls(night.times_ms, night.air_c):
        part = slice(fall.start, fall.trough + 1)
        room = room_meanwhile(measured, stated, night.times_ms[part])
        assert room is not None
        try:
            curves.append(curve_of(night.times_ms[part], night.air_c[part], room.air, room.swing_k))
        except NoFitError as error:
            reasons.append(str(error))
    return curves, reasons


def exponential(from_c: float, room_c: float, hours: float, minutes: int) -> list[float]:
    return [room_c + (from_c - room_c) * math.exp(-at / 60 / hours) for at in range(minutes + 1)]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(
    ("hours", "swing_k", "wander_k", "kind"),
    [
        (6.0, 0.0, 0.0, ThermostatKind.PROPORTIONAL),
        (3.0, 1.5, 0.4, ThermostatKind.PROPORTIONAL),
        (8.0, 1.5, 0.4, ThermostatKind.PROPORTIONAL),
        (4.0, 1.5, 0.4, ThermostatKind.ON_OFF),
    ],
)
def test_outages_of_a_simulated_cabinet_give_its_time_constant_within_the_stated_uncertainty(
    seed: int, hours: float, swing_k: float, wander_k: float, kind: ThermostatKind
) -> None:
    of = cabinet(seed, swing_k=swing_k, wander_k=wander_k, kind=kind)
    night = watched(of, seed, outages(hours, 5, seed), 5 * 24)
    curves, _ = found_in(night)
    learned = combined(curves)
    assert learned is not None
    assert abs(learned.hours - night.time_constant_h) <= 2 * learned.u_hours
    assert learned.u_hours <= 0.2 * learned.hours  # and not by saying nothing
    for curve in curves:
        assert abs(curve.time_constant_h - night.time_constant_h) <= 3 * curve.u_hours


@pytest.mark.parametrize("error_k", [-2.0, 2.0])
def test_a_room_that_is_stated_wrongly_is_covered_by_its_stated_uncertainty(error_k: float) -> None:
    of = cabinet(3, swing_k=0.5)
    night = watched(of, 3, outages(4.0, 5, 3), 5 * 24)
    stated = stated_room(of.room.mean_c + error_k, 2.0)
    assert stated is not None
    curves, _ = found_in(night, stated)
    learned = combined(curves)
    assert learned is not None
    assert 0.5 * learned.u_hours < abs(learned.hours - night.time_constant_h) <= 2 * learned.u_hours
    assert not any(curve.room_measured for curve in curves)


def test_the_fast_air_part_is_left_out() -> None:
    """Of a cabinet without boxes: air 5 minutes, contents hours. With the air in it the curve would say far less."""
    of = replace(cabinet(1), boxes=())
    night = watched(of, 1, [Event(6 * HOUR_MS, EventKind.HEATER_STUCK_OFF)], 12)
    [curve], _ = found_in(night)
    assert curve.started_at_ms >= 6 * HOUR_MS + 10 * MINUTE_MS
    assert curve.time_constant_h == pytest.approx(night.time_constant_h, rel=0.03)


def test_a_nightly_set_back_is_learned_from_its_fall_and_not_from_its_plateau() -> None:
    """Newton's law down to the lower set point, held there for hours, and up again."""
    fall = exponential(30.0, 20.0, 5.0, 130)
    series = [30.0] * 240 + fall + [fall[-1]] * 300 + list(straight_line(fall[-1], 30.0, 30)) + [30.0] * 60
    noisy = (np.array(series) + np.random.default_rng(1).normal(0, 0.02, len(series))).tolist()
    times = [at * MINUTE_MS for at in range(len(series))]
    [found] = falls(times, noisy)
    curve = curve_of(times[found.start : found.trough + 1], noisy[found.start : found.trough + 1], ROOM)
    assert curve.ended_at_ms <= times[240 + 130]
    assert abs(curve.time_constant_h - 5.0) <= 2 * curve.u_hours


def test_a_calm_cabinet_has_no_cooling() -> None:
    curves, reasons = found_in(watched(cabinet(2, swing_k=1.5, wander_k=0.4), 2, [], 48))
    assert (curves, reasons) == ([], [])


def test_a_short_door_opening_is_too_short() -> None:
    events = [Event(at * HOUR_MS, EventKind.DOOR_OPEN, at * HOUR_MS + 12 * MINUTE_MS) for at in (6, 12, 18)]
    curves, reasons = found_in(watched(cabinet(4), 4, events, 24))
    assert curves == []
    assert set(reasons) == {"it is too short to say anything"}


def test_a_heater_that_still_runs_a_little_is_found_out() -> None:
    """It then goes to 25 °C and not to the room at 20."""
    with pytest.raises(NoFitError, match=r"something warmer than the room at 20\.0"):
        curve_of([at * MINUTE_MS for at in range(301)], exponential(30.0, 25.0, 2.0, 300), ROOM)


def test_a_cooling_below_the_room_is_none() -> None:
    with pytest.raises(NoFitError):
        curve_of([at * MINUTE_MS for at in range(301)], exponential(19.0, 10.0, 2.0, 300), ROOM)


def test_a_gap_or_a_rise_ends_a_fall() -> None:
    series = exponential(30.0, 20.0, 4.0, 120)
    times = [at * MINUTE_MS for at in range(121)]
    assert len(falls(times, series)) == 1
    assert len(falls([at if at < 60 * MINUTE_MS else at + 31 * MINUTE_MS for at in times], series)) == 2
    assert len(falls(times, [*series[:60], series[60] + 2.0, *series[61:]])) == 2
    assert falls([], []) == []
    assert falls(times, [30.0] * 121) == []


def test_too_few_coolings_give_no_time_constant() -> None:
    one = CoolingCurve(0, HOUR_MS, 6.0, 0.3, 20.0, room_measured=True)
    assert combined([]) is None
    assert combined([one, later(one, 1)]) is None
    learned = combined([one, later(one, 1), later(one, 2)])
    assert learned is not None
    assert (learned.hours, learned.u_hours, learned.curves) == (6.0, 0.3, 3)


def later(curve: CoolingCurve, days: int, hours: float | None = None) -> CoolingCurve:
    shift = days * 24 * HOUR_MS
    return replace(
        curve,
        started_at_ms=curve.started_at_ms + shift,
        ended_at_ms=curve.ended_at_ms + shift,
        time_constant_h=curve.time_constant_h if hours is None else hours,
    )


def test_two_probes_that_see_the_same_cooling_are_one_cooling() -> None:
    one = CoolingCurve(0, HOUR_MS, 6.0, 0.3, 20.0, room_measured=True)
    beside = replace(one, started_at_ms=10 * MINUTE_MS, time_constant_h=7.0)
    assert combined([one, beside, later(one, 1), later(beside, 1)]) is None
    learned = combined([one, beside, later(one, 1), later(beside, 1), later(one, 2, 6.5)])
    assert learned is not None
    assert (learned.hours, learned.curves) == (6.5, 3)


def test_one_cooling_with_an_open_door_moves_the_time_constant_little_and_widens_it() -> None:
    one = CoolingCurve(0, HOUR_MS, 6.0, 0.3, 20.0, room_measured=True)
    usual = [later(one, day, 6.0 + 0.1 * (day % 3)) for day in range(8)]
    calm, disturbed = combined(usual), combined([*usual, later(one, 9, 3.0)])
    assert calm is not None
    assert disturbed is not None
    assert abs(disturbed.hours - calm.hours) <= 0.1
    assert disturbed.u_hours > 2 * calm.u_hours


def test_old_coolings_are_forgotten_and_a_time_constant_that_stays_open_is_none() -> None:
    one = CoolingCurve(0, HOUR_MS, 6.0, 0.3, 20.0, room_measured=True)
    learned = combined([*(later(one, day, 2.0) for day in range(30)), *(later(one, day, 8.0) for day in range(30, 42))])
    assert learned is not None
    assert (learned.hours, learned.curves) == (8.0, 12)
    assert combined([later(replace(one, u_hours=3.5), day) for day in range(5)]) is None


def test_the_uncertainty_is_that_of_the_next_cooling() -> None:
    """Drawn around 6 h with a spread of 0.5 h: the stated 2 u hold the next one in about 95 of 100."""
    chance = np.random.default_rng(5)
    one = CoolingCurve(0, HOUR_MS, 6.0, 0.0, 20.0, room_measured=True)
    held = 0
    for _ in range(400):
        drawn = chance.normal(6.0, 0.5, 7).tolist()
        learned = combined(later(one, day, hours) for day, hours in enumerate(drawn[:6]))
        assert learned is not None
        held += abs(drawn[6] - learned.hours) <= 2 * learned.u_hours
    assert 0.90 <= held / 400 <= 0.98
