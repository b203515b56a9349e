"""Reviews of invented clutches, for tests of what is said of them."""

import math

from daemon.climate.condensation_hours import Hours
from daemon.development.stages import Share
from daemon.development.window import HatchWindow, NoWindow
from daemon.review.clutch import ClutchReview, Lain, Stage
from daemon.review.clutch_air import NOT_MEASURED, BoxAir, DryHours
from daemon.review.clutch_exposure import Exposure, Extremes, Tolerance
from daemon.review.clutch_heat import Before, HatchShift, HeatLoss
from daemon.review.values import Bounds, Verdict

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
AT_MS = 1_780_000_000_000
"""2026-05-28 20:26:40 UTC"""
PRACTICE = "common practice, no source"
PAPER = "a paper of these tests"
LETHAL = Tolerance(34.0, is_above=True, hours=0.0, within_h=None, source=PRACTICE)
LIMIT = Tolerance(31.0, is_above=True, hours=6.0, within_h=24, source=PAPER)
COLD = Tolerance(20.0, is_above=False, hours=6.0, within_h=24, source=PAPER)


def window(likely_ms: int) -> HatchWindow:
    return HatchWindow(
        likely_ms - 5 * DAY_MS, likely_ms, likely_ms + 5 * DAY_MS, 3.0, 0.45, (("the probe", 1.0),), "fit", "", "ahead"
    )


HELD_BACK_H, LATER_DAYS, NO_AIR = Bounds(5.4, 5.8, 7.4), Bounds(0.6, 0.8, 1.2), BoxAir(why_not=NOT_MEASURED)


def loss(lost_h: Bounds = HELD_BACK_H, rate_k: float = 14.8, *, is_measured: bool = True) -> HeatLoss:
    """Ten hours, of which four have no readings, with so much development lost."""
    lost_ch = Bounds(lost_h.low * rate_k, (lost_h.best or 0.0) * rate_k, lost_h.high * rate_k)
    expected_ch = 10 * rate_k
    gained_ch = Bounds(expected_ch - lost_ch.high, expected_ch - (lost_ch.best or 0.0), expected_ch - lost_ch.low)
    before = Before(rate_k, 28.0, 167.0 if is_measured else 0.0)
    return HeatLoss(before, 10.0, 4.0, expected_ch, gained_ch, lost_ch, lost_h)


def kept() -> HeatLoss:
    """Nothing lost."""
    return loss(Bounds(-0.2, 0.0, 0.3))


def shift(days: Bounds = LATER_DAYS) -> HatchShift:
    return HatchShift(days, window(AT_MS + 30 * DAY_MS), window(AT_MS + 31 * DAY_MS))


def exposed(tolerance: Tolerance = LETHAL, low: float = 0.0, best: float | None = 0.0, high: float = 0.0) -> Exposure:
    stood = tolerance.hours
    verdict = Verdict.OUT if low > stood else Verdict.IN if high <= stood else Verdict.UNKNOWN
    return Exposure(tolerance, Bounds(low, best, high), verdict)


def damp() -> BoxAir:
    """A night with water on the lid, and some hours too dry."""
    water = Hours(3.2, 2.0, 8.0, 2.0, 5.0)
    return BoxAir(8.0, 2.0, 72.0, 96.0, water, DryHours(80.0, Bounds(4.0, None, 6.0), PRACTICE))


def review(
    heat: HeatLoss | None = None,
    shift_: HatchShift | NoWindow | None = None,
    exposures: tuple[Exposure, ...] = (Exposure(LETHAL, Bounds(0.0, 0.0, 0.0), Verdict.IN),),
    air: BoxAir = NO_AIR,
    *,
    label: str = "Juniper",
    venomous: bool = False,
    caution: str = "",
    is_open: bool = True,
    share: float | None = 0.45,
    coldest_c: float = 19.8,
) -> ClutchReview:
    lain = (Lain("north/upper/N1", "North cabinet, upper shelf, box N1", AT_MS - 10 * HOUR_MS, AT_MS),)
    so_far = None if share is None else Share(share - 0.02, share, share + 0.02)
    return ClutchReview(
        1,
        label,
        "beauty snake",
        8,
        venomous,
        caution,
        is_open,
        lain,
        Stage(so_far, 24.0, 30.0, "one set of limits holds throughout"),
        heat or kept(),
        "",
        shift_ or shift(),
        exposures,
        Extremes(21.4, 29.0, coldest_c, math.inf),
        air,
    )
