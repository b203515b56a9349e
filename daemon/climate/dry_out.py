"""How many days until a box is too dry, from the trend of its humidity; nothing where there is no trend. Pure.

What counts is the daily low: humidity turns with the room through the day, and a clutch is too dry for the first time
at the lowest hour. The bounds hold the moment at which the daily low meets the limit with a probability of 95 %, if the
box goes on drying as it did; a straight line is not the truth for long, so nothing is told further ahead than
`LONGEST_DAYS`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from daemon.climate.humidity_trend import Trend, crossing, humidity_trend

WINDOW_HOURS = 7 * 24
LEAST_HOURS = 72
"""Two daily cycles hardly tell a trend from slow noise. Simulated noise with a memory of 12 h and no trend at all is
called drying in 7 to 9 % of windows of two days, in less than 5 % of three."""
LONGEST_DAYS = 14.0
LATEST_DAYS = 28.0
"""A late bound beyond this is no bound."""
JUMP_PCT = 3.0
"""A rise by so much within two readings, beyond that of the same hour the day before, is water that was added or a lid
that was open. Common practice, no source."""
SETTLING_HOURS = 3
"""After a jump, until the air in the box goes with the medium again. Common practice, no source."""
NEWEST_HOURS = 3
"""Without a median in the last so many hours nothing is known of the box now."""

_TAIL = 0.025
_HOUR_MS = 3_600_000
_WEEK_DAYS = 7

Median = tuple[int, float]
"""The beginning of an hour (UTC milliseconds since the epoch) and the median humidity in it, percent."""


@dataclass(frozen=True, slots=True)
class DryOut:
    """Days from now until the daily low meets the lower limit; `late_days` is None where it lies beyond four weeks.

    Slopes are in percent of relative humidity a day, falling is negative; the interval is that of 95 %.
    """

    early_days: float
    likely_days: float
    late_days: float | None
    slope_pct_day: float
    slope_low_pct_day: float
    slope_high_pct_day: float


@dataclass(frozen=True, slots=True)
class NoDryOut:
    """Nothing can be said; the reason is a sentence."""

    reason: str


def dry_out(medians: Sequence[Median], low_limit_pct: float | None, now_ms: int) -> DryOut | NoDryOut:
    """Tell when a box will be too dry, if it is drying.

    Parameters
    ----------
    medians
        Median humidity of each hour that has readings, rising; the last seven days of them are used.
    low_limit_pct
        What the clutches in the box need at least, percent; None where nothing is watched.
    now_ms
        UTC milliseconds since the epoch.

    Returns
    -------
    DryOut or NoDryOut
        Silent, with the reason, without a limit, with fewer than three days of hours since the last jump up, where the
        slope's interval of 95 % reaches zero, where the humidity rises, and where the limit is more than two weeks off.
    """
    if low_limit_pct is None:
        return NoDryOut("No lower limit of humidity is watched here.")
    recent = [each for each in medians if now_ms - WINDOW_HOURS * _HOUR_MS <= each[0] < now_ms]
    kept = since_last_jump(recent)
    reason = _too_little(recent, kept, now_ms)
    if reason:
        return NoDryOut(reason)
    if kept[-1][1] <= low_limit_pct:
        return NoDryOut("The humidity is at its lower limit already.")
    import numpy as np

    middles_h = np.array([(start_ms - now_ms) / _HOUR_MS + 0.5 for start_ms, _ in kept])
    trend = humidity_trend(middles_h, np.array([value for _, value in kept]))
    return _until(trend, low_limit_pct + trend.cycle_depth_pct)


def since_last_jump(medians: Sequence[Median]) -> list[Median]:
    """Give the medians after the last jump up and the hours it takes to settle; all of them where none jumped."""
    by_hour = dict(medians)
    start_ms: int | None = None
    jumped = 0
    for index, (hour_ms, value) in enumerate(medians):
        earlier = medians[max(index - 2, jumped) : index]
        if earlier and value - min(level for _, level in earlier) - max(0.0, _usual_rise(by_hour, hour_ms)) >= JUMP_PCT:
            start_ms, jumped = hour_ms + SETTLING_HOURS * _HOUR_MS, index
    return [each for each in medians if start_ms is None or each[0] >= start_ms]


def sentence(found: DryOut, now_ms: int, zone: ZoneInfo) -> str:
    """Say it in days of the week at the site: `Add water by Thursday (between Wednesday and Saturday)`."""
    early, likely = (_day(days, now_ms, zone) for days in (found.early_days, found.likely_days))
    begin = f"Add water {likely}" if likely in ("today", "tomorrow") else f"Add water by {likely}"
    if found.late_days is None:
        return f"{begin} ({early} at the earliest, the latest is open)"
    late = _day(found.late_days, now_ms, zone)
    return begin if early == late else f"{begin} (between {early} and {late})"


def _until(trend: Trend, level_pct: float) -> DryOut | NoDryOut:
    low, high = trend.slope_quantile(_TAIL), trend.slope_quantile(1 - _TAIL)
    if low > 0:
        return NoDryOut("The humidity rises.")
    if high >= 0:
        return NoDryOut("The humidity shows no clear trend.")

    def days(share: float) -> float:
        if trend.chance_below(level_pct, 0) >= share:
            return 0.0
        return crossing(lambda ahead: trend.chance_below(level_pct, ahead) - share, 0, LATEST_DAYS)

    likely, late = days(0.5), days(1 - _TAIL)
    if likely > LONGEST_DAYS:
        return NoDryOut(f"The humidity falls, and is above its limit for more than {LONGEST_DAYS:.0f} days.")
    is_open = trend.chance_below(level_pct, LATEST_DAYS) < 1 - _TAIL
    return DryOut(days(_TAIL), likely, None if is_open else late, trend.slope_pct_day, low, high)


def _usual_rise(by_hour: dict[int, float], hour_ms: int) -> float:
    """How far the humidity rose to the same hour the day before, percent; 0 where that is not known."""
    then = [by_hour.get(hour_ms - (24 + back) * _HOUR_MS) for back in (0, 1, 2)]
    if then[0] is None:
        return 0.0
    return max((then[0] - level for level in then[1:] if level is not None), default=0.0)


def _too_little(recent: Sequence[Median], kept: Sequence[Median], now_ms: int) -> str:
    """Why there are not enough hours for a trend; empty where there are."""
    if not recent or now_ms - recent[-1][0] > (NEWEST_HOURS + 1) * _HOUR_MS:
        return "There are no good readings of the last hours."
    if len(kept) >= LEAST_HOURS:
        return ""
    since = " since water was added or the lid was open" if len(kept) < len(recent) else ""
    return f"Too early for a trend: {len(kept)} of {LEAST_HOURS} hours with readings{since}."


def _day(days: float, now_ms: int, zone: ZoneInfo) -> str:
    now = datetime.fromtimestamp(now_ms / 1000, UTC)
    then = (now + timedelta(days=days)).astimezone(zone)
    ahead = (then.date() - now.astimezone(zone).date()).days
    if ahead < _WEEK_DAYS:
        return f"{then:%A}" if ahead > 1 else ("today", "tomorrow")[ahead]
    return f"{then:%A} {then.day} {then:%B}"
