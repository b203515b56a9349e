"""When the service did not run, by runs and steps of the clock that a test states."""

from zoneinfo import ZoneInfo

import pytest

from daemon.review.downtime import NO_EARLIER_MS, down_facts, started_ms, step_facts
from daemon.review.fact_words import FactWords
from daemon.review.values import FactKind, Span
from daemon.storage.clock_steps import ClockStep
from daemon.storage.runs import ServiceRun

MINUTE_MS, HOUR_MS = 60_000, 3_600_000
NOON_MS = NO_EARLIER_MS + 12 * HOUR_MS
WORDS = FactWords(ZoneInfo("Europe/Madrid"))


def run(number: int, started_ms: int, alive_ms: int, ended: bool = False, boot: str = "a") -> ServiceRun:
    return ServiceRun(number, started_ms, alive_ms, alive_ms if ended else None, "1", boot)


BEFORE = run(1, NOON_MS - 5 * HOUR_MS, NOON_MS)


@pytest.mark.parametrize(
    ("before", "after", "kind"),
    [
        (BEFORE, run(2, NOON_MS + HOUR_MS, NOON_MS + HOUR_MS, boot="b"), FactKind.MACHINE_RESTARTED),
        (BEFORE, run(2, NOON_MS + HOUR_MS, NOON_MS + HOUR_MS), FactKind.SERVICE_CUT_OFF),
        (BEFORE, run(2, NOON_MS + HOUR_MS, NOON_MS + HOUR_MS, boot=""), FactKind.SERVICE_CUT_OFF),
        (BEFORE, run(2, NOON_MS + 1000, NOON_MS + 1000), FactKind.SERVICE_CUT_OFF),
        (
            run(1, NOON_MS - HOUR_MS, NOON_MS, ended=True),
            run(2, NOON_MS + HOUR_MS, NOON_MS + HOUR_MS, boot="b"),
            FactKind.SERVICE_STOPPED,
        ),
        (run(1, NOON_MS - HOUR_MS, NOON_MS, ended=True), run(2, NOON_MS + 59_000, NOON_MS + HOUR_MS), None),
    ],
)
def test_an_end_is_what_it_was(before: ServiceRun, after: ServiceRun, kind: FactKind | None) -> None:
    facts = down_facts([before, after], [], WORDS)
    assert [fact.kind for fact in facts] == ([] if kind is None else [kind])
    if facts:
        assert facts[0].span == Span(NOON_MS, after.started_at_ms)


def test_the_words_are_local_and_say_what_is_known() -> None:
    [fact] = down_facts([BEFORE, run(2, NOON_MS + HOUR_MS, NOON_MS + HOUR_MS, boot="")], [], WORDS)
    assert fact.words == (
        "The service ended without a word and did not run from 1 Jan 13:00 to 14:00 (1 h); "
        "whether the machine was started anew is not known."
    )


# A machine without a clock of its own: it shows the moment at which it was switched off (plus some), or the epoch.
@pytest.mark.parametrize("shown_ms", [20_000, NOON_MS - 60_000, NOON_MS + 30_000])
def test_a_start_with_a_clock_that_was_behind_is_worked_out_from_the_step(shown_ms: int) -> None:
    real_ms = NOON_MS + 4 * HOUR_MS
    after = run(2, shown_ms, real_ms + HOUR_MS, boot="b")
    step = ClockStep(real_ms + 3 * MINUTE_MS, real_ms - shown_ms, 2)
    assert started_ms(after, BEFORE, [step]) == real_ms
    [down] = down_facts([BEFORE, after], [step], WORDS)
    [stepped] = step_facts([BEFORE, after], [step], WORDS)
    assert down.span == Span(NOON_MS, real_ms)
    assert stepped.span == Span(real_ms, real_ms + 3 * MINUTE_MS)
    assert "was behind" in stepped.words


def test_a_run_whose_clock_was_never_set_is_left_out_and_the_next_one_tells_how_long_it_was() -> None:
    lost = run(2, 10_000, 500_000, boot="b")
    after = run(3, NOON_MS + HOUR_MS, NOON_MS + 2 * HOUR_MS, boot="c")
    [down] = down_facts([BEFORE, lost, after], [], WORDS)
    assert down.span == Span(NOON_MS, NOON_MS + HOUR_MS)


def test_a_step_in_the_middle_of_a_run_changes_no_start() -> None:
    after = run(2, NOON_MS + HOUR_MS, NOON_MS + 9 * HOUR_MS, boot="b")
    forward = ClockStep(NOON_MS + 5 * HOUR_MS, 2 * HOUR_MS, 2)
    back = ClockStep(NOON_MS + 6 * HOUR_MS, -HOUR_MS, 2)
    assert started_ms(after, BEFORE, [forward, back]) == after.started_at_ms
    spans = [fact.span for fact in step_facts([BEFORE, after], [forward, back], WORDS)]
    assert spans == [
        Span(NOON_MS + 3 * HOUR_MS, NOON_MS + 5 * HOUR_MS),
        Span(NOON_MS + 6 * HOUR_MS, NOON_MS + 7 * HOUR_MS),
    ]


def test_a_start_before_the_end_of_the_run_before_says_that_nobody_knows() -> None:
    [down] = down_facts([BEFORE, run(2, NOON_MS - HOUR_MS, NOON_MS + HOUR_MS, boot="b")], [], WORDS)
    assert down.span == Span(NOON_MS, NOON_MS)
    assert "how long it was is not known" in down.words
