"""What was found in a box as people read it: how many eggs a line is of. The words are this project's choice."""

import pytest

from daemon.rounds.values import BoxState, EggsDone, EggsSeen
from daemon.rounds.words import state_lines
from tests.rounds.bench import N1, WATCH


@pytest.mark.parametrize(
    ("done", "line"),
    [
        (EggsDone(EggsSeen(WATCH, ("3",)), names=("3",)), "egg 3: on watch"),
        (EggsDone(EggsSeen(WATCH, ("3", "B")), names=("3", "B")), "eggs 3 and B: on watch"),
        (EggsDone(EggsSeen(WATCH, ("3",)), refused="it is removed"), "egg 3: on watch (not taken: it is removed)"),
        (EggsDone(EggsSeen(WATCH, 1), refused="no eggs"), "1 of the eggs: on watch (not taken: no eggs)"),
        (EggsDone(EggsSeen(WATCH, 12), refused="too many"), "12 of the eggs: on watch (not taken: too many)"),
    ],
)
def test_one_egg_is_not_called_eggs(done: EggsDone, line: str) -> None:
    assert list(state_lines(BoxState(N1, (), eggs=(done,)))) == [line]
