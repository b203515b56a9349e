"""When people are told of a journal that cannot be written: after a minute, every half hour, and once that it is over.

60 s both ways: the alarm's definition, project choice. Every 30 min: project choice.
"""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from config.words import AlarmKind
from daemon.alarms.definitions import DEFINITIONS
from daemon.alarms.wording import Stage
from daemon.standing.journal_failing import JournalTrouble, look

DEFINITION = DEFINITIONS[AlarmKind.JOURNAL_FAILING]
MINUTE_S = 60


def told(*looks: tuple[int, bool]) -> list[tuple[int, Stage]]:
    """What people are told, by (second, whether it fails)."""
    memory, said = JournalTrouble(), []
    for at_s, fails in looks:
        memory, stage = look(memory, at_s * 1000 if fails else None, at_s * 1000, DEFINITION)
        if stage is not None:
            said.append((at_s, stage))
    return said


def test_a_minute_is_waited_and_then_every_half_hour_it_is_told_until_it_is_well_for_a_minute() -> None:
    fails = [(at_s, at_s < 65 * MINUTE_S) for at_s in range(0, 70 * MINUTE_S, 5)]
    assert told(*fails) == [
        (60, Stage.RAISED),
        (60 + 30 * MINUTE_S, Stage.STILL),
        (60 + 60 * MINUTE_S, Stage.STILL),
        (66 * MINUTE_S, Stage.CLEARED),
    ]


def test_less_than_a_minute_is_told_to_nobody() -> None:
    assert told((0, True), (59, True), (60, False), (61, True), (120, True), (121, True))[:1] == [(121, Stage.RAISED)]


def test_one_good_moment_in_between_ends_nothing() -> None:
    seen = [(at_s, at_s % 50 != 0) for at_s in range(1, 1200)]
    late = [(at_s, True) for at_s in range(61)]
    assert told(*late, *[(60 + at_s, fails) for at_s, fails in seen]) == [(60, Stage.RAISED)]


def test_it_counts_from_when_it_began_also_where_that_was_seen_later() -> None:
    _, stage = look(JournalTrouble(), 0, 60_000, DEFINITION)
    assert stage is Stage.RAISED


@given(st.lists(st.tuples(st.integers(1, 4000), st.booleans()), max_size=60))
def test_whatever_happens_an_end_follows_a_beginning_and_reminders_keep_their_distance(
    steps: list[tuple[int, bool]],
) -> None:
    at_s, looks = 0, []
    for step, fails in steps:
        at_s += step
        looks.append((at_s, fails))
    said = told(*looks)
    begun = [stage for _, stage in said if stage is not Stage.STILL]
    assert begun[::2] == [Stage.RAISED] * len(begun[::2])
    assert begun[1::2] == [Stage.CLEARED] * len(begun[1::2])
    for (before_s, _), (after_s, stage) in pairwise(said):
        assert stage is not Stage.STILL or after_s - before_s >= 30 * MINUTE_S
