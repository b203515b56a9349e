"""What the watch and the desk remember of one alarm, where a site file or a damaged row has made them differ."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.alarms.events import Reset
from daemon.clutches import register
from tests.daemon.changing import (
    AIR,
    BOX_PROBE,
    GOOD_C,
    LETHAL,
    LETHAL_C,
    NO_DATA,
    SOUTH,
    Changing,
)
from tests.support.journals import new_journal

OK = {AIR: GOOD_C}
HOT = {AIR: LETHAL_C}
BOX = "boxp/air"
BOX_LETHAL = f"temperature-lethal-high:{BOX}"
IN_BOX = BOX_PROBE.format(place="north/upper/N2")


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Changing]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Changing(journal, tmp_path / "site")


def critical(told: list[str]) -> list[str]:
    return [line for line in told if "CRITICAL" in line]


def test_an_alarm_whose_box_is_gone_and_whose_probe_lies_elsewhere_is_told_again(house: Changing) -> None:
    house.site_file(IN_BOX, second_box=True)
    house.enter()
    clutch = house.enter("Two", "north/upper/N2")
    house.minutes(5, {**OK, BOX: GOOD_C})
    assert critical(house.minutes(8, {**OK, BOX: LETHAL_C}))
    house.journal.write(
        lambda conn: register.move_clutch(conn, clutch, "north/upper", house.now_ms, "test", "", house.now_ms)
    )
    house.site_file(BOX_PROBE.format(place="north"))
    assert critical(house.minutes(5, {**OK, BOX: LETHAL_C}))
    assert house.desk().entries[BOX_LETHAL].raised.place == "north"


def test_an_incubator_that_is_taken_out_and_put_back_hot_calls_again(house: Changing) -> None:
    house.site_file(SOUTH)
    house.enter()
    house.enter("Southy", "south")
    house.minutes(5, {**OK, "south-air/air": GOOD_C})
    assert critical(house.minutes(10, {**OK, "south-air/air": LETHAL_C}))
    house.site_file()
    assert house.minutes(60, OK) == []
    house.site_file(SOUTH)
    assert critical(house.minutes(15, {**OK, "south-air/air": LETHAL_C}))


def test_an_incubator_that_is_put_back_when_it_is_well_again_calls_nobody(house: Changing) -> None:
    house.site_file(SOUTH)
    house.enter()
    house.enter("Southy", "south")
    house.minutes(5, {**OK, "south-air/air": GOOD_C})
    house.minutes(10, {**OK, "south-air/air": LETHAL_C})
    house.site_file()
    house.minutes(60, OK)
    house.site_file(SOUTH)
    assert house.minutes(60, {**OK, "south-air/air": GOOD_C}) == []


def test_the_alarms_of_a_probe_that_is_replaced_under_another_name_end(house: Changing) -> None:
    house.enter()
    house.minutes(5, OK)
    house.minutes(60, {})
    house.acknowledge(*house.desk().entries)
    text = (house.folder / "site.toml").read_text(encoding="utf-8")
    house.with_text(text.replace('id = "north-air"', 'id = "north-new"'))
    new = {"north-new/air": GOOD_C, "north-new/rh": 70.0}
    house.minutes(10, new)
    assert not any(key.startswith("no-data") for key in house.desk().entries)
    assert house.minutes(24 * 60, new) == []


def test_a_lethal_alarm_of_a_probe_that_is_gone_ends_and_can_be_reset(house: Changing) -> None:
    house.site_file(IN_BOX, second_box=True)
    house.enter()
    house.enter("Two", "north/upper/N2")
    house.minutes(5, {**OK, BOX: GOOD_C})
    house.minutes(8, {**OK, BOX: LETHAL_C})
    house.site_file(second_box=True)
    told = house.minutes(1, OK)
    assert any("CLEARED" in line for line in told)
    assert critical(house.minutes(20, OK)) == []
    house.acknowledge(BOX_LETHAL)
    [done] = house.journal.write(lambda conn: house.work.do(conn, {BOX_LETHAL: Reset("ana")}, house.now_ms))
    assert done.accepted, done.reason
    house.new_messages()
    assert house.minutes(120, OK) == []


def test_an_alarm_that_the_watch_has_lost_ends_by_readings_and_not_before(house: Changing) -> None:
    house.enter()
    house.minutes(5, OK)
    house.minutes(8, HOT)
    house.acknowledge(LETHAL)
    house.new_messages()
    assert house.damage("alarm_state", AIR, "alarm", "alarmx") == 1
    house.restart()
    told = house.minutes(1, {})
    assert house.desk().entries[LETHAL].state.in_alarm, told
    told = house.minutes(60, OK)
    assert len([line for line in told if "CLEARED" in line]) == len(told) > 0
    [done] = house.journal.write(lambda conn: house.work.do(conn, {LETHAL: Reset("ana")}, house.now_ms))
    assert done.accepted, done.reason


def test_an_alarm_that_the_watch_has_lost_and_that_goes_on_stays_on(house: Changing) -> None:
    house.enter()
    house.minutes(5, OK)
    house.minutes(8, HOT)
    assert house.damage("alarm_state", AIR, "alarm", "alarmx") == 1
    house.restart()
    told = house.minutes(30, HOT)
    assert critical(told)
    assert not any("CLEARED" in line for line in told)


def test_a_silence_that_the_watch_has_lost_is_over_when_the_probe_speaks(house: Changing) -> None:
    house.enter()
    house.minutes(5, OK)
    house.minutes(10, {})
    assert NO_DATA in house.desk().entries
    assert house.damage("alarm_state", "%", "silent_since_ms", "silentx") == 2
    house.restart()
    house.minutes(10, OK)
    assert not house.desk().entries[NO_DATA].state.in_alarm


def test_a_standing_condition_that_was_lost_ends_by_a_look(house: Changing) -> None:
    house.enter()
    house.minutes(5, OK)
    house.minutes(20, {})
    [key] = [each for each in house.desk().entries if each.startswith("last-probe-silent")]
    assert house.damage("alarm_state", "standing %", "occurrence", "occurrencx") > 0
    house.restart()
    house.minutes(10, OK)
    assert not (key in house.desk().entries and house.desk().entries[key].state.in_alarm)


@pytest.mark.parametrize(
    ("names", "old", "new"),
    [
        ("ladder %", '"told"', '"tald"'),
        ("incidents", '"incidents"', '"incidentz"'),
        ("alarm %", '"unacknowledged', '"unacknowledgedx'),
        ("alarm %", '"raised"', '"raisedx"'),
        ("alarm %", "{", "("),
        ("alarm %", '"limit":', '"limit":"?","was":'),
    ],
)
def test_a_row_that_cannot_be_read_leads_to_a_call_and_not_to_silence(
    house: Changing, names: str, old: str, new: str
) -> None:
    house.enter()
    house.minutes(5, OK)
    assert critical(house.minutes(10, HOT))
    assert house.damage("alarm_desk", names, old, new) > 0
    house.restart()
    assert critical(house.minutes(3, HOT))
    later = house.minutes(60, HOT)
    assert any(line.startswith("ben/") for line in critical(later))


@pytest.mark.parametrize(
    ("names", "old", "new"), [("ladder %", '"told"', '"tald"'), ("incidents", '"incidents"', '"incidentz"')]
)
def test_what_is_over_and_unacknowledged_is_reminded_of_after_its_row_was_lost(
    house: Changing, names: str, old: str, new: str
) -> None:
    house.enter()
    house.minutes(5, OK)
    house.minutes(10, HOT)
    house.minutes(30, OK)
    assert house.damage("alarm_desk", names, old, new) == 1
    house.restart()
    assert any("dangerously hot" in line for line in house.minutes(5 * 60, OK))


def test_an_acknowledged_alarm_calls_nobody_when_its_ladder_is_lost(house: Changing) -> None:
    house.enter()
    house.minutes(5, OK)
    house.minutes(10, HOT)
    house.acknowledge(LETHAL)
    house.new_messages()
    assert house.damage("alarm_desk", "ladder %", '"told"', '"tald"') == 1
    house.restart()
    assert house.minutes(10, HOT) == []
