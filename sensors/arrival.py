"""The moments of a message's values: what arrival, the retained flag and a broken clock make of them. Pure."""

from collections.abc import Sequence
from operator import attrgetter
from typing import NamedTuple

from sensors.reading import ChannelKey, Outcome, Rejection

EARLIEST_MS = 946_684_800_000
"""2000-01-01T00:00:00Z. A probe that says less has a clock that was never set."""

RETAINED_FRESH_MS = 600_000
"""A retained value older than this, or of unknown age, is history and must not pass for the present."""

_CLOCK = "check the probe's clock, and that it sends the unit of time that is asked for"
_FROM_NOW = (
    "the time counts from now, as SenML does below 2^28 s (RFC 8428 section 4.5.3): set the probe's clock, "
    "or let the probe send no time"
)
_MOMENT = attrgetter("measured_at_ms")
_HOUR_S = 3600.0
_DAY_S = 86400.0


class Measured(NamedTuple):
    """One value in the canonical unit of its channel, before judgement. `timed`: the probe itself gave the moment."""

    key: ChannelKey
    value: float
    measured_at_ms: int
    timed: bool


def time_fault(
    ordered: Sequence[Measured], *, retained: bool, received_at_ms: int, future_tolerance_ms: int
) -> Rejection | None:
    """Say why the moments of a message, in order, cannot be used, or None. Times in UTC milliseconds since the epoch.

    A retained message is judged by its newest value; a future or impossible time spoils the message for any value.
    """
    if ordered[0].measured_at_ms < EARLIEST_MS:
        reason = "the probe's clock says a time before the year 2000; set it, or let the probe send no time"
        return Rejection(Outcome.MALFORMED, reason)
    ahead_ms = ordered[-1].measured_at_ms - received_at_ms
    if ahead_ms > future_tolerance_ms:
        advice = _CLOCK if ordered[-1].timed else _FROM_NOW
        return Rejection(Outcome.FUTURE_DATED, f"measured {_duration(ahead_ms)} in the future; {advice}")
    if not retained:
        return None
    if not all(one.timed for one in ordered):
        reason = "retained by the broker and without a time of its own, so nobody knows how old it is"
        return Rejection(Outcome.RETAINED_STALE, reason)
    if -ahead_ms > RETAINED_FRESH_MS:
        return Rejection(Outcome.RETAINED_STALE, f"retained by the broker and measured {_duration(-ahead_ms)} ago")
    return None


def in_order(found: Sequence[Measured]) -> tuple[Measured, ...] | Rejection:
    """Order values by time and drop repetitions; two different values of one channel at one time spoil the message."""
    if len({one.key.channel for one in found}) == len(found) and len({one.measured_at_ms for one in found}) == 1:
        return tuple(found)
    kept: dict[tuple[str, int], Measured] = {}
    for one in found:
        first = kept.setdefault((one.key.channel, one.measured_at_ms), one)
        if first.value != one.value:
            reason = f"two values for channel {one.key.channel} at the same time: {first.value:g} and {one.value:g}"
            return Rejection(Outcome.MALFORMED, reason)
    return tuple(sorted(kept.values(), key=_MOMENT))


def _duration(length_ms: int) -> str:
    """Put a length of time into words, in the unit that a person would use."""
    length_s = length_ms / 1000.0
    if length_s < _HOUR_S:
        return f"{length_s:.0f} s"
    return f"{length_s / _HOUR_S:.1f} h" if length_s < 2 * _DAY_S else f"{length_s / _DAY_S:.0f} days"
