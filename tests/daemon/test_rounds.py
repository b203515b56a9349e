"""A round in progress, through the real evaluation and journal: what is told meanwhile and afterwards. X-26."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from config.errors import StatedError
from daemon.storage import rounds
from tests.daemon.rounds_house import (
    DEADLY,
    DRY,
    LETHAL,
    LOW,
    NOT_ENDED,
    OPENED,
    WELL,
    RoundHouse,
    house_in,
)
from tests.support.household import MINUTE_MS


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RoundHouse]:
    site, journal = house_in(tmp_path)
    with journal:
        found = RoundHouse(journal, site)
        assert found.passing(10, WELL) == []
        yield found


def test_without_a_round_an_open_incubator_calls_people(house: RoundHouse) -> None:
    """The measure of all that follows."""
    told = house.passing(12, OPENED)
    assert any("too cool" in line for line in told)
    assert {LOW, DRY} <= house.raised()


def test_a_round_of_12_minutes_calls_nobody(house: RoundHouse) -> None:
    """X-26: neither while it goes on nor while it settles, and afterwards nobody has to acknowledge."""
    house.start_round()
    assert house.passing(12, OPENED) == []
    assert {LOW, DRY} <= house.raised()
    assert (house.shown(LOW), house.shown(DRY)) == ("suppressed by design", "suppressed by design")
    house.end_round()
    assert house.passing(5, OPENED) == []
    assert house.passing(40, WELL) == []
    assert (house.shown(LOW), house.shown(DRY), house.shown(NOT_ENDED)) == ("normal", "normal", "normal")


def test_a_round_of_31_minutes_is_told_with_all_that_it_held_back(house: RoundHouse) -> None:
    """X-26: from the hard end on, an alarm of priority 2 that it was not ended, and the cold and the dryness."""
    house.start_round()
    assert house.passing(29, OPENED) == []
    told = house.passing(2, OPENED)
    assert any("URGENT North cabinet: round not ended" in line for line in told)
    assert house.shown(NOT_ENDED) == "unacknowledged"
    assert (house.shown(LOW), house.shown(DRY)) == ("unacknowledged", "unacknowledged")
    house.end_round()
    house.passing(2, WELL)
    assert house.shown(NOT_ENDED) == "returned to normal unacknowledged"


def test_an_alarm_that_was_on_before_stops_calling_and_is_told_again_after_the_hard_end(house: RoundHouse) -> None:
    assert house.passing(10, OPENED)
    house.start_round()
    assert house.shown(LOW) == "suppressed by design"
    assert house.passing(29, OPENED) == []
    assert house.passing(2, OPENED)
    assert house.shown(LOW) == "unacknowledged"


def test_a_lethal_limit_in_the_third_minute_calls_at_once(house: RoundHouse) -> None:
    """X-26."""
    house.start_round()
    assert house.passing(2, OPENED) == []
    told = house.passing(1, DEADLY)
    assert any("CRITICAL" in line for line in told)
    assert house.shown(LETHAL) == "unacknowledged"


def test_what_begins_while_a_round_settles_is_told_only_when_that_is_over(house: RoundHouse) -> None:
    """Ended in the fifth minute, settled fifteen minutes later: both by the rules of rounds."""
    house.start_round()
    assert house.passing(5, WELL) == []
    house.end_round()
    assert house.passing(14, OPENED) == []
    assert house.shown(LOW) == "suppressed by design"
    assert len(house.passing(2, OPENED)) == 1
    assert (house.shown(LOW), house.shown(DRY)) == ("unacknowledged", "unacknowledged")


def test_what_comes_and_goes_while_it_settles_does_not_draw_that_out(house: RoundHouse) -> None:
    house.start_round()
    house.passing(5, OPENED)
    house.end_round()
    assert house.passing(6, WELL) == []
    assert house.passing(8, OPENED) == []
    assert house.passing(2, OPENED)


def test_a_round_in_another_incubator_holds_nothing_back_here(tmp_path: Path) -> None:
    site, journal = house_in(tmp_path)
    file = site / "site.toml"
    file.write_text(file.read_text(encoding="utf-8") + '\n[[incubator]]\nid = "south"\nname = "South"\n', "utf-8")
    with journal:
        house = RoundHouse(journal, site)
        house.passing(10, WELL)
        house.start_round(incubator="south")
        assert any("too cool" in line for line in house.passing(12, OPENED))


def test_a_restart_in_the_middle_of_a_round_changes_nothing(tmp_path: Path) -> None:
    def told(folder: Path, *, restarts: bool) -> list[list[str]]:
        site, journal = house_in(folder)
        with journal:
            house = RoundHouse(journal, site)
            found = [house.passing(10, WELL)]
            house.start_round(20 * MINUTE_MS)
            for climate in (OPENED, WELL, OPENED, OPENED, OPENED):
                found.append(house.passing(6, climate))
                if restarts:
                    house.restart()
            house.end_round()
            return [*found, house.passing(10, OPENED), house.passing(60, WELL)]

    assert told(tmp_path / "a", restarts=True) == told(tmp_path / "b", restarts=False)


def test_one_incubator_has_one_round_at_a_time_and_each_is_ended_once(house: RoundHouse) -> None:
    first = house.start_round()
    with pytest.raises(StatedError, match="goes on in north already"):
        house.start_round()
    assert house.end_round().number == first.number
    with pytest.raises(StatedError, match="no round goes on in north"):
        house.end_round()
    assert house.start_round().number != first.number


def test_a_round_that_was_forced_to_its_end_is_ended_before_a_new_one_holds_back_again(house: RoundHouse) -> None:
    house.start_round()
    assert house.passing(35, OPENED)
    house.end_round()
    house.start_round()
    assert house.shown(LOW) == "suppressed by design"
    assert [line for line in house.passing(20, OPENED) if "too cool" in line or "too dry" in line] == []


def test_a_round_that_ended_long_ago_is_not_read_any_more(house: RoundHouse) -> None:
    house.start_round()
    house.end_round()
    with house.journal.read() as conn:
        assert [each.id for each in rounds.not_settled(conn, house.now_ms)] == ["no. 1"]
        assert rounds.not_settled(conn, house.now_ms + 61 * MINUTE_MS) == []
