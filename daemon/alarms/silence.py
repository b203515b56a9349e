"""No data: a channel that should speak and does not. Pure; the moment of an alarm is the deadline, not the tick.

Whoever looks late, after a busy minute or in a replay, finds the same alarm at the same moment: it is the newest good
reading plus three intervals, and one more where what came since is suspect. Only data that is good and fresh shows that
a probe is back; a spool that is emptied hours later proves the past, not the present. Three missed intervals and three
readings are common practice, no source.
"""

from dataclasses import asdict, dataclass, replace

from daemon.alarms.conditions import Change
from daemon.alarms.state_json import INTEGER, INTEGER_OR_NONE, YES_OR_NO, StateError, read_fields, write_fields

MISSED_INTERVALS = 3
READINGS_BACK = 3
SHORTEST_WINDOW_MS = 30_000
"""A probe that speaks every second may stay silent this long before somebody is called."""

_WHAT = "a no-data alarm"


@dataclass(frozen=True, slots=True)
class SilenceState:
    """What is remembered of one channel. UTC ms."""

    watching_since_ms: int
    newest_good_ms: int | None = None
    silent_since_ms: int | None = None
    """the deadline that passed; None while the channel speaks"""
    back: int = 0
    """good and fresh readings since it went silent"""
    doubted: bool = False
    """a suspect reading has come since the newest good one: it was heard, and is given one interval to make it good"""

    @property
    def is_silent(self) -> bool:
        """True from RAISED to CLEARED."""
        return self.silent_since_ms is not None

    def to_json(self) -> str:
        """Write one line of JSON."""
        return write_fields(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> "SilenceState":
        """Read the state that `to_json` wrote. Raises StateError where it is not exactly such a text."""
        state = cls(**read_fields(text, _WHAT, _FIELDS))
        if not 0 <= state.back < READINGS_BACK or (state.back and not state.is_silent):
            raise StateError(_WHAT, f"back is {state.back}")
        return state


_FIELDS = {
    "watching_since_ms": INTEGER,
    "newest_good_ms": INTEGER_OR_NONE,
    "silent_since_ms": INTEGER_OR_NONE,
    "back": INTEGER,
    "doubted": YES_OR_NO,
}


@dataclass(frozen=True, slots=True)
class SilenceStep:
    """The next state, what is to be told (if anything) and when it happened, and why."""

    state: SilenceState
    change: Change | None
    at_ms: int | None
    """the moment of the change; None without one"""
    reason: str


def window_ms(interval_s: float) -> int:
    """Give how long a channel with this interval may stay silent."""
    return max(round(MISSED_INTERVALS * interval_s * 1000), SHORTEST_WINDOW_MS)


def deadline_ms(state: SilenceState, interval_s: float) -> int:
    """Give the moment from which silence is an alarm."""
    heard = state.watching_since_ms if state.newest_good_ms is None else state.newest_good_ms
    # After a change that is too fast the third reading is believed: just when three intervals are over.
    patience_ms = round(interval_s * 1000) if state.doubted else 0
    return max(heard, state.watching_since_ms) + window_ms(interval_s) + patience_ms


def watch_again(state: SilenceState, now_ms: int) -> SilenceState:
    """Watch from now on, after a time in which the service was down: its length is not the probe's silence."""
    return replace(state, watching_since_ms=max(state.watching_since_ms, now_ms))


def on_time(state: SilenceState, interval_s: float, now_ms: int) -> SilenceStep:
    """Let time pass: nothing came until `now_ms`."""
    deadline = deadline_ms(state, interval_s)
    if state.is_silent or now_ms < deadline:
        return SilenceStep(state, None, None, "still silent" if state.is_silent else "not due yet")
    silent = replace(state, silent_since_ms=deadline, back=0)
    reason = f"no good reading for {window_ms(interval_s) / 1000:g} s, {MISSED_INTERVALS} intervals of the probe"
    return SilenceStep(silent, Change.RAISED, deadline, reason)


def on_reading(
    state: SilenceState, interval_s: float, suspect: bool, measured_at_ms: int, received_at_ms: int
) -> SilenceStep:
    """Take one reading. It proves first that the time until it came has passed, then that the channel speaks."""
    overdue = on_time(state, interval_s, received_at_ms)
    if suspect:
        return overdue if overdue.state.is_silent else replace(overdue, state=replace(overdue.state, doubted=True))
    # a probe's clock may run ahead; a reading cannot have been heard before it arrived
    heard_ms = min(measured_at_ms, received_at_ms)
    state = overdue.state
    newer = state.newest_good_ms is None or heard_ms > state.newest_good_ms
    fresh = received_at_ms - heard_ms <= window_ms(interval_s)
    if not state.is_silent or not (newer and fresh):
        heard = replace(state, newest_good_ms=heard_ms, doubted=False) if newer else state
        reason = "heard" if not state.is_silent else "late: it does not show that the channel speaks now"
        return SilenceStep(heard, overdue.change, overdue.at_ms, overdue.reason if overdue.change else reason)
    unbroken = state.newest_good_ms is not None and heard_ms - state.newest_good_ms <= window_ms(interval_s)
    back = state.back + 1 if unbroken else 1
    if back >= READINGS_BACK:
        speaks = replace(state, newest_good_ms=heard_ms, silent_since_ms=None, back=0, doubted=False)
        return SilenceStep(speaks, Change.CLEARED, received_at_ms, f"{READINGS_BACK} good readings, each fresh")
    heard = replace(state, newest_good_ms=heard_ms, back=back)
    reason = overdue.reason if overdue.change else f"{back} of {READINGS_BACK} good readings"
    return SilenceStep(heard, overdue.change, overdue.at_ms, reason)
