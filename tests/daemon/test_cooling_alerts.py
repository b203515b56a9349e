"""The forecast in the text of an alert: whole messages, from readings in a journal."""

import math
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.storage.journal import Journal
from tests.daemon.cooled import AIR, HUMIDITY, ROOM, START_MS, Cooled
from tests.support.household import MINUTE_MS
from tests.support.journals import new_journal

TAU_H = 6.0


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with new_journal(tmp_path / "journal.sqlite3") as opened:
        yield opened


@pytest.fixture
def house(journal: Journal, tmp_path: Path) -> Cooled:
    """A cabinet at 28 °C with a tender clutch: low limit 25, lethal below 22; its time constant is known as 6 h."""
    made = Cooled(journal, tmp_path / "site")
    made.enter()
    made.know(TAU_H, 0.3)
    return made


def minute(house: Cooled, at: int, air_c: float, room_c: float | None) -> None:
    """One minute's readings, evaluated at once as in a running daemon."""
    at_ms = START_MS + at * MINUTE_MS
    house.put(HUMIDITY, [(at_ms, 70.0)])
    if room_c is not None:
        house.put(ROOM, [(at_ms, room_c)])
    house.put(AIR, [(at_ms, air_c)])
    house.told()


def cooling(
    house: Cooled,
    minutes: int,
    hours: float = TAU_H,
    room_c: float | None = 18.0,
    from_c: float = 28.0,
    to_c: float = 18.0,
) -> None:
    """Without heat from the start on, towards `to_c`, whatever the probe in the room says."""
    for at in range(minutes + 1):
        minute(house, at, to_c + (from_c - to_c) * math.exp(-at / 60 / hours), room_c)


def raised(house: Cooled, kind: str = "temperature-low") -> list[str]:
    """The lines of the one message of a kind about the shelf."""
    bodies = [
        str(message["body"])
        for message in house.told()
        if message["alarm"] == kind and "upper shelf" in str(message["place"])
    ]
    [body] = bodies
    return body.splitlines()


def test_a_cabinet_that_cools_by_itself_says_when_it_reaches_the_lethal_limit(house: Cooled) -> None:
    """25 °C is passed after 6 ln(10/7) h = 128 min and told 15 min later; 22 °C comes at 6 ln(10/4) h = 330 min."""
    cooling(house, 150)
    assert raised(house)[2].startswith("Time left: about 3 h to 22.0 °C, at the earliest 2 h ")


def test_the_early_bound_is_before_what_really_happens_and_near_it(house: Cooled) -> None:
    cooling(house, 150)
    [early] = re.findall(r"at the earliest (\d) h (\d+) min", raised(house)[2])
    assert 120 <= int(early[0]) * 60 + int(early[1]) <= 329.9 - 144


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"hours": 2.0}, "it cools faster than it does by itself"),
        ({"hours": 14.0, "from_c": 26.5}, "it cools slower than it does without heat"),
        ({"from_c": 24.5, "hours": 1e6}, "it does not cool steadily"),
    ],
)
def test_a_cabinet_that_does_not_cool_by_itself_has_no_figure(
    house: Cooled, changed: dict[str, float], reason: str
) -> None:
    cooling(house, 360, **changed)
    lines = raised(house)
    assert lines[2] == "Time left: unknown, look today."
    assert lines[-1] == f"No forecast: {reason}."


def test_with_no_learned_time_constant_it_is_unknown(journal: Journal, tmp_path: Path) -> None:
    house = Cooled(journal, tmp_path / "site")
    house.enter()
    house.know(TAU_H, 0.3, count=2)
    cooling(house, 150)
    lines = raised(house)
    assert lines[2] == "Time left: unknown, look today."
    assert lines[-1] == "No forecast: it has not been seen cooling often enough."


def test_without_a_reading_of_the_room_the_stated_one_is_used_and_leaves_more_open(house: Cooled) -> None:
    """20 ± 3 K is stated: 6 ln(4.76/2) = 5 h 12 min, and far sooner in a colder room."""
    cooling(house, 150, room_c=None)
    assert raised(house)[2].startswith("Time left: about 5 h to 22.0 °C, at the earliest 1 h ")


def test_a_room_above_the_limit_never_takes_it_there(house: Cooled) -> None:
    cooling(house, 350, room_c=23.0, to_c=23.0)
    assert raised(house)[2] == "Time left: the room alone does not take it to 22.0 °C."


def test_where_no_lethal_cold_is_stated_there_is_nothing_to_forecast(journal: Journal, tmp_path: Path) -> None:
    house = Cooled(journal, tmp_path / "site")
    house.enter("elaphe-taeniura")
    house.know(TAU_H, 0.3)
    cooling(house, 240)
    lines = raised(house)
    assert lines[2] == "Time left: unknown, look today."
    assert "No forecast: no lethal cold limit is stated." in lines


def silence(house: Cooled) -> list[str]:
    """Warm for half an hour, and then nothing more comes."""
    for at in range(31):
        minute(house, at, 28.0, 18.0)
    house.now_ms += 5 * MINUTE_MS
    return raised(house, "no-data")


def test_silence_says_how_long_the_warmth_lasts_if_the_heat_is_off(house: Cooled) -> None:
    """From 28 °C to 22 °C in a room at 18: 6 ln(10/4) = 5 h 30 min, and no sooner than that less two uncertainties."""
    line = silence(house)[2]
    [early] = re.findall(r"if the heat is off, (\d) h (\d+) min or more to 22.0 °C", line)
    assert 240 <= int(early[0]) * 60 + int(early[1]) <= 325


def test_silence_of_an_unknown_cabinet_keeps_the_usual_words(journal: Journal, tmp_path: Path) -> None:
    house = Cooled(journal, tmp_path / "site")
    house.enter()
    lines = silence(house)
    assert lines[2] == "Time left: unknown, look now."
    assert "forecast" not in " ".join(lines).lower()


def test_the_end_of_the_cold_needs_no_forecast(house: Cooled) -> None:
    cooling(house, 150)
    for at in range(151, 200):
        minute(house, at, 28.0, 18.0)
    cleared = [message for message in house.told() if message["kind"] == "cleared"]
    assert cleared
    assert all("orecast" not in str(message["body"]) for message in cleared)


def test_an_alert_that_is_written_again_says_the_same_though_more_was_learned(house: Cooled, tmp_path: Path) -> None:
    cooling(house, 150)
    first = raised(house)
    with new_journal(tmp_path / "again.sqlite3") as journal:
        again = Cooled(journal, tmp_path / "again")
        again.enter()
        again.know(TAU_H, 0.3)
        cooling(again, 150)
        again.learner.run()
        again.know(TAU_H, 0.3)
        assert raised(again) == first
