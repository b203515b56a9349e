"""Probe fault: too many readings of one channel are suspect to trust it. Pure.

Two patterns: a run without one good reading, as from an unplugged probe, and a mixture, as from a loose wire that
never fails long enough to make a run. The counts are common practice, no source.
"""

from dataclasses import asdict, dataclass

from daemon.alarms.conditions import Change
from daemon.alarms.state_json import INTEGER_OR_NONE, LIST, StateError, read_fields, write_fields
from sensors.reading import Quality

SHORTEST_RUN = 3
"""suspect readings in a row that make a fault, once they span the on-delay"""
LOOKED_AT = 20
"""newest readings that the share is taken of"""
SUSPECT_SHARE = 10
"""suspect readings among those that make a fault"""
READINGS_BACK = 3
"""good readings in a row that end it"""

_WHAT = "a probe-fault alarm"
_WORDS = {
    Quality.OUT_OF_RANGE: "outside what is possible",
    Quality.FAULT_VALUE: "a value of a broken or unplugged probe",
    Quality.TOO_FAST: "changing too fast",
    Quality.STUCK: "never changing",
}


@dataclass(frozen=True, slots=True)
class FaultState:
    """What is remembered of one channel. Times are sample times, UTC ms."""

    recent: tuple[int, ...] = ()
    """quality of the newest readings, newest last, from the first suspect one on: empty where all of them are good"""
    run_start_ms: int | None = None
    """first of the suspect readings in a row; None after a good one"""
    newest_ms: int | None = None
    since_ms: int | None = None
    """sample time at which the fault was raised or its run began; None without a fault"""

    @property
    def is_faulty(self) -> bool:
        """True from RAISED to CLEARED."""
        return self.since_ms is not None

    def to_json(self) -> str:
        """Write one line of JSON."""
        return write_fields(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> "FaultState":
        """Read the state that `to_json` wrote. Raises StateError where it is not exactly such a text."""
        found = read_fields(text, _WHAT, _FIELDS)
        recent = tuple(found["recent"])
        if len(recent) > LOOKED_AT or any(type(quality) is not int or quality < 0 for quality in recent):
            raise StateError(_WHAT, f"recent is {found['recent']!r}")
        return cls(**{**found, "recent": recent})


_FIELDS = {"recent": LIST, "run_start_ms": INTEGER_OR_NONE, "newest_ms": INTEGER_OR_NONE, "since_ms": INTEGER_OR_NONE}


@dataclass(frozen=True, slots=True)
class FaultStep:
    """The next state, what is to be told (if anything), and why. A change happened at the reading's sample time."""

    state: FaultState
    change: Change | None
    reason: str


def flag_words(qualities: tuple[int, ...]) -> str:
    """Say what is wrong with these readings, each once, in the order of the flags."""
    seen = 0
    for quality in qualities:
        seen |= quality
    return ", ".join(words for flag, words in _WORDS.items() if seen & flag)


def on_reading(state: FaultState, on_delay_s: float, quality: int, measured_at_ms: int) -> FaultStep:
    """Take one reading. `quality` is its number from `sensors.reading.Quality`, 0 where it is good."""
    if state.newest_ms is not None and measured_at_ms <= state.newest_ms:
        return FaultStep(state, None, "late: not newer than the newest reading, so it decides nothing")
    recent = _from_first_suspect((*state.recent, quality)[-LOOKED_AT:])
    started = measured_at_ms if state.run_start_ms is None else state.run_start_ms
    run_start_ms = None if quality == Quality.GOOD else started
    seen = FaultState(recent, run_start_ms, measured_at_ms, state.since_ms)
    if state.is_faulty:
        return _faulty(seen)
    return _sound(seen, on_delay_s)


def _faulty(seen: FaultState) -> FaultStep:
    good = _run(seen.recent, good=True)
    if good < READINGS_BACK:
        return FaultStep(seen, None, f"still a fault: {good} of {READINGS_BACK} good readings in a row")
    # the mixture that raised it is settled and must not raise it a second time
    sound = FaultState(newest_ms=seen.newest_ms)
    return FaultStep(sound, Change.CLEARED, f"{READINGS_BACK} good readings in a row")


def _sound(seen: FaultState, on_delay_s: float) -> FaultStep:
    if not seen.recent:
        return FaultStep(seen, None, "no suspect reading")
    run = _run(seen.recent, good=False)
    bad = sum(quality != 0 for quality in seen.recent)
    lasted = (
        seen.run_start_ms is not None
        and seen.newest_ms is not None
        and seen.newest_ms - seen.run_start_ms >= on_delay_s * 1000
    )
    if run >= SHORTEST_RUN and lasted:
        faulty = FaultState(seen.recent, seen.run_start_ms, seen.newest_ms, seen.run_start_ms)
        words = flag_words(seen.recent)
        return FaultStep(faulty, Change.RAISED, f"the newest {run} readings in a row are suspect: {words}")
    # An unbroken run has its delay to last; the share is for what a loose wire does.
    if bad >= SUSPECT_SHARE and run < len(seen.recent):
        faulty = FaultState(seen.recent, seen.run_start_ms, seen.newest_ms, seen.newest_ms)
        words = flag_words(seen.recent)
        return FaultStep(faulty, Change.RAISED, f"{bad} of {LOOKED_AT} readings are suspect: {words}")
    return FaultStep(seen, None, f"{bad} of {LOOKED_AT} readings are suspect")


def _from_first_suspect(recent: tuple[int, ...]) -> tuple[int, ...]:
    """Leave out the good readings before the first suspect one; they say no more than none at all."""
    for index, quality in enumerate(recent):
        if quality != 0:
            return recent[index:]
    return ()


def _run(recent: tuple[int, ...], *, good: bool) -> int:
    """Count how many of the newest readings in a row are good, or are suspect."""
    count = 0
    for quality in reversed(recent):
        if (quality == Quality.GOOD) is not good:
            break
        count += 1
    return count
