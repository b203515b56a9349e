"""Pure: one limit of a place over a period, from what was measured and what the gaps can have held."""

import math
from collections.abc import Iterable, Sequence

from daemon.alarms.figures import duration_text
from daemon.review.beyond import Runs, merged
from daemon.review.course import bounds_of
from daemon.review.place import LimitInForce, LimitKind, LimitReview
from daemon.review.record import PlaceRecord
from daemon.review.values import Bounds, Verdict

LEAST_MS = 1.0
"""Less than a millisecond outside is rounding."""


def verdict_of(outside_ms: Bounds) -> Verdict:
    """Out where some time outside is certain, in where none is possible, else unknown."""
    if outside_ms.low >= LEAST_MS:
        return Verdict.OUT
    return Verdict.IN if outside_ms.high < LEAST_MS else Verdict.UNKNOWN


def judge(kind: LimitKind, in_force: Sequence[LimitInForce], record: PlaceRecord) -> LimitReview:
    """Judge one limit; `in_force` are the figures that it had, in order of time, within the record."""
    above = kind.is_above
    both = [record.beyond(each.value, each.span, above=above) for each in in_force]
    outside_ms = added(time_ms for time_ms, _ in both)
    least, best, most = _runs(in_force, record, above=above)
    longest = bounds_of(least.longest_ms, math.nan if best is None else best.longest_ms, most.longest_ms)
    verdict = verdict_of(outside_ms)
    return LimitReview(
        kind=kind,
        in_force=tuple(in_force),
        verdict=verdict,
        outside_ms=outside_ms,
        degree_hours=None if kind.is_humidity else added(degree_hours for _, degree_hours in both),
        longest_run_ms=longest,
        first_out_ms=round(float(least.from_ms[0])) if least.from_ms.size else None,
        last_out_ms=round(float(least.to_ms[-1])) if least.to_ms.size else None,
        reason=_reason(verdict, outside_ms),
    )


def added(parts: Iterable[Bounds]) -> Bounds:
    """Give the sum of intervals; no best estimate where one of them has none."""
    low, best, high = 0.0, 0.0, 0.0
    for part in parts:
        low, best, high = low + part.low, best + (math.nan if part.best is None else part.best), high + part.high
    return bounds_of(low, best, high)


def _runs(in_force: Sequence[LimitInForce], record: PlaceRecord, *, above: bool) -> tuple[Runs, Runs | None, Runs]:
    """Stretches outside, over all the figures; one that goes on while the figure changes is one."""
    found = [record.runs_beyond(each.value, each.span, above=above) for each in in_force]
    bests = [best for _, best, _ in found if best is not None]
    least, most = _one_after_the_other([one[0] for one in found]), _one_after_the_other([one[2] for one in found])
    return least, _one_after_the_other(bests) if len(bests) == len(found) else None, most


def _one_after_the_other(parts: Sequence[Runs]) -> Runs:
    import numpy as np

    if not parts:
        return Runs(np.empty(0), np.empty(0))
    return merged(np.concatenate([part.from_ms for part in parts]), np.concatenate([part.to_ms for part in parts]))


def _reason(verdict: Verdict, outside_ms: Bounds) -> str:
    if verdict is Verdict.IN:
        return "Never outside, also with all that gaps can have held."
    least, most = duration_text(int(outside_ms.low)), duration_text(math.ceil(outside_ms.high))
    if verdict is Verdict.UNKNOWN:
        return f"Nothing that was measured is outside, and up to {most} can have been where nobody measured."
    if outside_ms.high - outside_ms.low < LEAST_MS:
        return f"Outside for {least}, all of it measured."
    return f"Outside for at least {least}, and for {most} at most."
