"""Development that a period cost a clutch: heat that it would have had as before, less what it did have. Pure.

What it would have had is a matter of definition, and a project choice: the mean of what was measured where it lay in
the seven days before; where too little of them was measured, the middle of the range that its species needs at its
stage. A negative loss is a gain. The same offset of a probe is in both, so only what it does differently to the two
counts.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from config.species import SpeciesProfile
from daemon.development.basis import Basis
from daemon.development.heat_interval import HeatPiece, HeatRule
from daemon.development.window import Future, HatchWindow, HeatSoFar, NoWindow, hatch_window
from daemon.development.window_words import no_basis
from daemon.review.course import GapCourse
from daemon.review.values import Bounds

BEFORE_DAYS = 7
"""So many days before a period say what a clutch got "before". Project choice."""
LEAST_BEFORE_H = 24.0
"""Measured hours of these days at the least, so that a day and a night are among them. Project choice."""
FUTURE_U_K = 0.5
"""How well the days before say what it is kept at after the period, standard uncertainty. Project choice."""
_HOUR_MS, _DAY_MS = 3_600_000, 86_400_000


@dataclass(frozen=True, slots=True)
class Before:
    """What a clutch got before the period, or would have got.

    `rate_k` is heat per hour (°C·h per h), `temperature_c` the mean that it comes from, `measured_h` the hours that
    were measured for it; 0 where the middle of the range of the species was taken. `colder_k` and `warmer_k` are what
    the rate would lose and gain were the probe two standard uncertainties off.
    """

    rate_k: float
    temperature_c: float
    measured_h: float
    colder_k: float = 0.0
    warmer_k: float = 0.0

    @property
    def is_measured(self) -> bool:
        """False where nothing but the species' range speaks for it."""
        return self.measured_h > 0


@dataclass(frozen=True, slots=True)
class HeatLoss:
    """Heat of one clutch over a period, °C·h.

    `lost_h` is the loss in hours of development at the pace of before, None where there was none. `hours` is the time
    in which the clutch lay in an incubator, `missing_h` the part of it that no probe covers.
    """

    before: Before
    hours: float
    missing_h: float
    expected_ch: float
    gained_ch: Bounds
    lost_ch: Bounds
    lost_h: Bounds | None


@dataclass(frozen=True, slots=True)
class HatchShift:
    """By how much the window moved, days; positive is later. Both windows are reckoned at the end of the period."""

    days: Bounds
    without: HatchWindow
    """what the window would be had all gone on as before"""
    after: HatchWindow


def before_of(measured: HeatPiece, rule: HeatRule, wanted_c: tuple[float, float]) -> Before:
    """Tell what a clutch got before.

    `measured` is its heat in the days before, `wanted_c` the range that its species needs at its stage.
    """
    covered_h = measured.covered_ms / _HOUR_MS
    if covered_h < LEAST_BEFORE_H:
        middle_c = sum(wanted_c) / 2
        return Before(rule.rate_k(middle_c), middle_c, 0.0)
    counted_h = covered_h + measured.missing_ms / _HOUR_MS
    return Before(
        measured.covered_ch / covered_h,
        measured.temperature_ch / covered_h,
        covered_h,
        measured.colder_ch / counted_h,
        measured.warmer_ch / counted_h,
    )


def narrowed(counted: HeatPiece, gaps: Sequence[GapCourse], rule: HeatRule) -> HeatPiece:
    """Give the heat of a period within bounds that the courses in its gaps allow as well.

    The ledger knows of a gap what physics says in any case. A review may know more, such as that the mains were off;
    both hold, so what both allow is left. Where they have nothing in common the ledger's bounds stay.
    """
    if not gaps:
        return counted
    by_courses = [_course_heat(one, rule) for one in gaps]
    low_ch = max(counted.low_ch, counted.covered_ch + sum(each.low for each in by_courses))
    high_ch = min(counted.high_ch, counted.covered_ch + sum(each.high for each in by_courses))
    if low_ch > high_ch:
        return counted
    bests = [each.best for each in by_courses if each.best is not None]
    best_ch = counted.covered_ch + sum(bests) if len(bests) == len(by_courses) else counted.best_ch
    return replace(counted, low_ch=low_ch, best_ch=min(max(best_ch, low_ch), high_ch), high_ch=high_ch)


def _course_heat(gap: GapCourse, rule: HeatRule) -> Bounds:
    """Heat under the curves of a gap: what lies above the zero less what lies above the cap."""
    above_zero = gap.degree_hours_beyond(rule.zero_c, above=True)
    above_cap = gap.degree_hours_beyond(rule.cap_c, above=True)
    best = None
    if above_zero.best is not None and above_cap.best is not None:
        best = above_zero.best - above_cap.best
    high = above_zero.high - above_cap.high if math.isfinite(above_zero.high) else math.inf
    return Bounds(above_zero.low - above_cap.low, best, high)


def heat_loss(gained: HeatPiece, before: Before) -> HeatLoss:
    """Set what a clutch had in the period against what it would have had.

    Bounds hold what gaps leave open and the probe's offset, each side in quadrature: they are independent (GUM 5.1.2).
    """
    hours = (gained.covered_ms + gained.missing_ms) / _HOUR_MS
    expected_ch = before.rate_k * hours
    less_ch, more_ch = gained.best_ch - gained.low_ch, gained.high_ch - gained.best_ch
    # A probe that reads too high takes from both: only the difference is lost or won.
    were_colder_ch = gained.colder_ch - before.colder_k * hours
    were_warmer_ch = before.warmer_k * hours - gained.warmer_ch
    worse_ch, better_ch = max(0.0, were_colder_ch, were_warmer_ch), max(0.0, -were_colder_ch, -were_warmer_ch)
    best_ch = expected_ch - gained.best_ch
    lost_ch = Bounds(best_ch - math.hypot(more_ch, better_ch), best_ch, best_ch + math.hypot(less_ch, worse_ch))
    return HeatLoss(
        before=before,
        hours=hours,
        missing_h=gained.missing_ms / _HOUR_MS,
        expected_ch=expected_ch,
        gained_ch=Bounds(
            max(0.0, gained.best_ch - math.hypot(less_ch, gained.colder_ch)),
            gained.best_ch,
            gained.best_ch + math.hypot(more_ch, gained.warmer_ch),
        ),
        lost_ch=lost_ch,
        lost_h=None if before.rate_k <= 0 else scaled(lost_ch, 1 / before.rate_k),
    )


def scaled(bounds: Bounds, factor: float) -> Bounds:
    """Give the same interval in another unit; the factor is above zero."""
    return Bounds(bounds.low * factor, None if bounds.best is None else bounds.best * factor, bounds.high * factor)


def hatch_shift(
    profile: SpeciesProfile, basis: Basis | None, heat: HeatSoFar, loss: HeatLoss | None, at_ms: int
) -> HatchShift | NoWindow:
    """By how many days the period moved the hatch window, were the clutch kept again as before from its end on.

    Parameters
    ----------
    profile, basis
        The species, and `development_basis(profile)`.
    heat
        From laying to the end of the period, all that happened in it included.
    loss
        Of the period; None where no heat is counted.
    at_ms
        The end of the period, UTC milliseconds since the epoch.

    Returns
    -------
    HatchShift or NoWindow
        The reason where there is no date that could move.
    """
    if loss is None:
        found = hatch_window(profile, basis, heat, None, at_ms)
        return found if isinstance(found, NoWindow) else NoWindow(no_basis(profile))
    before = loss.before
    future = Future(before.temperature_c, FUTURE_U_K, None, before.rate_k)
    after = hatch_window(profile, basis, heat, future, at_ms)
    if isinstance(after, NoWindow):
        return after
    low_ch, best_ch, high_ch = loss.lost_ch.low, best_of(loss.lost_ch), loss.lost_ch.high
    windows = [hatch_window(profile, basis, _with(heat, ch), future, at_ms) for ch in (low_ch, best_ch, high_ch)]
    low, best, high = (_days_later(after, without) for without in windows)
    without = windows[1]
    if low is None or best is None or high is None or isinstance(without, NoWindow):
        return next(one for one in windows if isinstance(one, NoWindow))
    return HatchShift(Bounds(min(low, best, high), best, max(low, best, high)), without, after)


def best_of(bounds: Bounds) -> float:
    """Give the best estimate, or the middle where nothing speaks for one value."""
    return (bounds.low + bounds.high) / 2 if bounds.best is None else bounds.best


def _days_later(after: HatchWindow, without: HatchWindow | NoWindow) -> float | None:
    return None if isinstance(without, NoWindow) else (after.likely_ms - without.likely_ms) / _DAY_MS


def _with(heat: HeatSoFar, more_ch: float) -> HeatSoFar:
    """The same clutch with so much more heat."""
    return replace(heat, low_ch=heat.low_ch + more_ch, best_ch=heat.best_ch + more_ch, high_ch=heat.high_ch + more_ch)
