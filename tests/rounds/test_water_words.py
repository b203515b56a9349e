"""Water on a lid in words: a figure only where the probes can tell."""

import pytest

from daemon.rounds.sheet import WaterOnLid
from daemon.rounds.words import water_text
from tests.rounds.test_need import need


@pytest.mark.parametrize(
    ("water", "words"),
    [
        (WaterOnLid(10, 48, 0, False), "water on the lid for about 10 of 48 h"),
        (WaterOnLid(10, 48, 0, False, 4, 28), "water on the lid for about 10 of 48 h"),
        # Between 0 and 48 h possible: 24 h is the middle of knowing nothing.
        (
            WaterOnLid(24, 48, 0, True, 0, 48),
            "water on the lid: in 48 h the probes could not tell whether there was any",
        ),
        (WaterOnLid(0, 1, 0, False, 0, 0), "water on the lid: too little is known yet"),
    ],
)
def test_hours_are_told_where_they_are_known(water: WaterOnLid, words: str) -> None:
    assert water_text(water) == words


def test_a_lid_of_which_nobody_knows_is_to_be_looked_at_without_a_figure() -> None:
    vague = need(water_on_lid=WaterOnLid(24, 48, 0, True, 0, 48)).words
    assert vague == ("perhaps water on the lid: the probes cannot tell for how long",)
    known = need(water_on_lid=WaterOnLid(24, 48, 0, True, 20, 28)).words
    assert known == ("water on the lid for about 12 h a day",)
