"""Pure: how near a clutch came to each published exposure limit, at its worst over its whole time."""

from collections.abc import Sequence
from dataclasses import dataclass

from config.species import ExposureLimit
from daemon.development.exposure import ExposureWindow, Verdict
from daemon.review.telling import Telling

MINUTE_MS = 60_000
_VERDICTS = {
    Verdict.WITHIN: "Kept",
    Verdict.POSSIBLY_PASSED: "Not known whether it was kept",
    Verdict.PASSED: "Passed",
}


@dataclass(frozen=True, slots=True)
class Worst:
    """The window in which most time was spent beyond a limit, and when it ended; UTC ms.

    `possible_ms` is the most of any window where all of what nobody knows was beyond.
    """

    limit: ExposureLimit
    verdict: Verdict
    beyond_ms: int
    at_ms: int
    possible_ms: int


def worst_of(
    limit: ExposureLimit, course: Sequence[tuple[int, float | None]], longest_bridge_ms: int, until_ms: int
) -> Worst:
    """Judge every window that ends with a reading, and the one that ends last.

    `course` is (measured_at_ms, temperature_c) where the eggs lay, in order of time, None for what is not known.
    """
    window = ExposureWindow(limit, longest_bridge_ms)
    beyond_ms = possible_ms = 0
    worst_ms = until_ms
    moments = [at_ms for at_ms, _ in course]
    for number, (at_ms, temperature_c) in enumerate(course):
        window.add(at_ms, temperature_c)
        if number + 1 < len(moments) and moments[number + 1] == at_ms:
            continue
        last = number + 1 == len(moments)
        for asked_ms in (at_ms, until_ms) if last and until_ms > at_ms else (at_ms,):
            exposed = window.at(asked_ms)
            if exposed.beyond_ms > beyond_ms:
                beyond_ms, worst_ms = exposed.beyond_ms, asked_ms
            possible_ms = max(possible_ms, exposed.beyond_ms + exposed.unknown_ms)
    limit_ms = limit.minutes * MINUTE_MS
    passed = Verdict.PASSED if beyond_ms > limit_ms else None
    possibly = Verdict.POSSIBLY_PASSED if possible_ms > limit_ms else Verdict.WITHIN
    return Worst(limit, passed or possibly, beyond_ms, worst_ms, possible_ms)


def told(worst: Worst, telling: Telling) -> str:
    """Say it in a sentence with the source of the limit."""
    limit = worst.limit
    side, figure_c = ("below", limit.below_c) if limit.above_c is None else ("above", limit.above_c)
    figure = "" if figure_c is None else telling.temperature(figure_c)
    ended = f", in the {limit.within_h} h until {telling.dated(worst.at_ms)}" if worst.beyond_ms else ""
    unknown = ""
    if worst.possible_ms > worst.beyond_ms:
        unknown = f" Where no reading came it may have been up to {worst.possible_ms / MINUTE_MS:.0f} min."
    return (
        f"{_VERDICTS[worst.verdict]}: {side} {figure} for at most {worst.beyond_ms / MINUTE_MS:.0f} min{ended}; "
        f"the limit is {limit.minutes:g} min within {limit.within_h} h.{unknown} Source: {limit.source}."
    )
