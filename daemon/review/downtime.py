"""Pure: when the service did not run, how it ended, and when its clock was set. Times are UTC ms.

A run that started while the clock of the machine was behind tells a wrong time of its start. The step by which the
clock was set right afterwards gives the right one.
"""

from collections.abc import Sequence
from itertools import pairwise

from daemon.alarms.figures import duration_text
from daemon.review.fact_words import FactWords
from daemon.review.values import Fact, FactKind, Span
from daemon.storage.clock_steps import ClockStep
from daemon.storage.runs import ServiceRun
from daemon.storage.sleeps import Slept

NO_EARLIER_MS = 1_767_225_600_000
"""1 January 2026: this program did not exist before, so a clock that says so has not been set."""
SHORTEST_STOP_MS = 60_000
"""A service that is ended in good order and is back so soon misses no reading of the usual interval. Project choice."""
SET_RIGHT_MS = 15 * 60_000
"""A machine without a clock of its own asks for the time within so long after its start. Project choice."""
_JITTER_MS = 60_000


def down_facts(runs: Sequence[ServiceRun], steps: Sequence[ClockStep], words: FactWords) -> list[Fact]:
    """Give the times between runs, which are in order; the newest one runs still, or its end is not looked at."""
    before: ServiceRun | None = None
    facts: list[Fact] = []
    for run in runs:
        if max(run.over_ms, started_ms(run, before, steps)) < NO_EARLIER_MS:
            # Its clock was never set, so when it ran is not known.
            continue
        down = None if before is None else _down(before, run, steps, words)
        facts += [] if down is None else [down]
        before = run
    return facts


def step_facts(runs: Sequence[ServiceRun], steps: Sequence[ClockStep], words: FactWords) -> list[Fact]:
    """Give each step of the clock with the time over which it was wrong, as far as that is known.

    Set forward: the time that was jumped over; for a clock that was behind since the start of the run, the time since
    then. Set back: the time that came twice.
    """
    before = {run.run_id: earlier for earlier, run in pairwise(runs)}
    by_id = {run.run_id: run for run in runs}
    return [
        _step(by_id[step.run_id], before.get(step.run_id), step, steps, words)
        for step in steps
        if step.run_id in by_id and step.at_ms >= NO_EARLIER_MS
    ]


def sleep_facts(sleeps: Sequence[Slept], words: FactWords) -> list[Fact]:
    """Give the times in which the machine was suspended, and the service with it though its run went on."""
    spans = [(Span(each.from_ms, each.until_ms), each.slept_ms) for each in sleeps]
    return [Fact(FactKind.MACHINE_SLEPT, span, "", "machine", words.slept(span, slept_ms)) for span, slept_ms in spans]


def started_ms(run: ServiceRun, before: ServiceRun | None, steps: Sequence[ClockStep]) -> int:
    """Give when a run started, by the clock as it was set right later."""
    first = next((step for step in steps if step.run_id == run.run_id and step.by_ms > 0), None)
    if first is None:
        return run.started_at_ms
    shown_ms = first.at_ms - first.by_ms
    if not run.started_at_ms - _JITTER_MS <= shown_ms:
        return run.started_at_ms
    soon = shown_ms - run.started_at_ms <= SET_RIGHT_MS
    same_boot = before is not None and bool(run.boot_id) and before.boot_id == run.boot_id
    impossible = run.started_at_ms < (NO_EARLIER_MS if before is None else max(before.over_ms, NO_EARLIER_MS))
    was_behind = impossible or (before is not None and soon and not same_boot)
    return run.started_at_ms + first.by_ms if was_behind else run.started_at_ms


def _down(before: ServiceRun, run: ServiceRun, steps: Sequence[ClockStep], words: FactWords) -> Fact | None:
    start_ms = started_ms(run, before, steps)
    span = Span(before.over_ms, max(start_ms, before.over_ms))
    anew = bool(before.boot_id) and bool(run.boot_id) and before.boot_id != run.boot_id
    clock = ""
    if start_ms != run.started_at_ms:
        clock = " The clock of the machine was behind at that start; the time is worked out from when it was set."
    elif start_ms < before.over_ms:
        clock = " The clock of the machine showed an earlier time at that start, so how long it was is not known."
    if before.ended_at_ms is not None:
        if span.until(0) - span.from_ms < SHORTEST_STOP_MS and not clock:
            return None
        machine = " The machine was started anew meanwhile." if anew else ""
        said = f"The service was ended in good order and did not run {words.span(span)}.{machine}{clock}"
        return Fact(FactKind.SERVICE_STOPPED, span, "", str(before.run_id), said)
    ended = f"The service ended without a word and did not run {words.span(span)}"
    if anew:
        said = f"{ended}; the machine was started anew meanwhile, so it was off, or crashed.{clock}"
        return Fact(FactKind.MACHINE_RESTARTED, span, "", str(before.run_id), said)
    known = bool(before.boot_id) and bool(run.boot_id)
    machine = "the machine itself ran on" if known else "whether the machine was started anew is not known"
    return Fact(FactKind.SERVICE_CUT_OFF, span, "", str(before.run_id), f"{ended}; {machine}.{clock}")


def _step(
    run: ServiceRun, before: ServiceRun | None, step: ClockStep, steps: Sequence[ClockStep], words: FactWords
) -> Fact:
    by = duration_text(abs(step.by_ms))
    if step.by_ms < 0:
        span = Span(step.at_ms, step.at_ms - step.by_ms)
        said = f"The clock of the machine was set back by {by} to {words.moment(step.at_ms)}: that time came twice."
        return Fact(FactKind.CLOCK_STEP, span, "", str(run.run_id), said)
    start_ms = started_ms(run, before, steps)
    first = next(each for each in steps if each.run_id == run.run_id and each.by_ms > 0)
    if start_ms != run.started_at_ms and step == first:
        span = Span(min(start_ms, step.at_ms), step.at_ms)
        said = (
            f"The clock of the machine was behind by {by} from the start at {words.moment(span.from_ms)} "
            f"and was set right at {words.moment(step.at_ms)}."
        )
        return Fact(FactKind.CLOCK_STEP, span, "", str(run.run_id), said)
    span = Span(max(step.at_ms - step.by_ms, NO_EARLIER_MS), step.at_ms)
    said = f"The clock of the machine was set forward by {by} to {words.moment(step.at_ms)}: that time never passed."
    return Fact(FactKind.CLOCK_STEP, span, "", str(run.run_id), said)
