"""Water on a lid: the alarm says what the page says, holds through flicker, and not without eggs."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.alarms.conditions import Change
from daemon.arrival import BrokerState
from daemon.clutches import register
from daemon.overview import ClimateNow
from daemon.queries import Queries
from daemon.standing.condensation import water_on_lid
from daemon.standing_sources.condensation import Lids
from dashboards.standing import water_settles
from sensors.decoder import Decoder
from tests.standing.air_house import BOX_AIR, BOX_HUMIDITY, HOUR_MS, LID, SOUTH_BOX, START_MS, AirHouse
from tests.support.household import MINUTE_MS
from tests.support.journals import new_journal

DEW_POINT_C = 27.1986
"""Of 30 °C and 85 % (CoolProp 6, IAPWS-95): tests/tables/moist-air-check.csv."""


@pytest.fixture
def house(tmp_path: Path) -> Iterator[AirHouse]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield AirHouse(journal, tmp_path / "site", lambda site, _settings, _profiles: Lids(site))


def lid(house: AirHouse, from_h: float, until_h: float, lid_c: float) -> list[tuple[Change, str, int]]:
    """Readings every five minutes, looked at as they come; gives what was raised and cleared."""
    begin_ms, end_ms = (START_MS + round(each * HOUR_MS) for each in (from_h, until_h))
    found = []
    for now_ms in range(begin_ms, end_ms, 5 * MINUTE_MS):
        for channel, value in ((BOX_AIR, 30.0), (BOX_HUMIDITY, 85.0), (LID, lid_c)):
            house.put(channel, [(now_ms, value)])
        found += house.watch(now_ms, now_ms + 4 * MINUTE_MS)
    return found


def page_says(house: AirHouse, now_ms: int) -> bool:
    channels = dict(Decoder(house.site).channels)
    queries = Queries(house.journal, house.site, house.profiles, channels, 1800)
    overview = queries.overview(now_ms, 1.0, BrokerState(connected=True, detail="", since_ms=START_MS))
    found = [each for one in overview.incubators for each in one.climates if each.place == SOUTH_BOX]
    return bool(found) and water_settles(found[0], now_ms)


def climate(margin_k: float | None, chance: float | None = 0.72, measured_at_ms: int = 0) -> ClimateNow:
    return ClimateNow(
        SOUTH_BOX, measured_at_ms, 30.0, 85.0, 27.3, 27.0, margin_k, "", 15 * MINUTE_MS, condensation_probability=chance
    )


def test_a_wet_lid_is_told_after_half_an_hour_and_over_half_an_hour_after_it_has_dried(house: AirHouse) -> None:
    house.enter(place=SOUTH_BOX)
    assert lid(house, 0, 2, 28.0) == []
    assert lid(house, 2, 5, DEW_POINT_C - 0.1) == [(Change.RAISED, SOUTH_BOX, 2 * 60 + 30)]
    assert lid(house, 5, 8, 28.0) == [(Change.CLEARED, SOUTH_BOX, 5 * 60 + 30)]


def test_a_lid_at_the_dew_point_does_not_flicker(house: AirHouse) -> None:
    """A tenth below, then in turn a tenth below and above: within 0.2 K it counts as wet. It never dries for long."""
    house.enter(place=SOUTH_BOX)
    found = []
    for number in range(36):
        off_k = 0.1 if number % 2 else -0.1
        found += lid(house, number / 6, (number + 1) / 6, DEW_POINT_C + off_k)
    assert found == [(Change.RAISED, SOUTH_BOX, 30)]


def test_a_tenth_above_the_dew_point_is_dry_where_it_was_never_wet(house: AirHouse) -> None:
    house.enter(place=SOUTH_BOX)
    assert lid(house, 0, 4, DEW_POINT_C + 0.1) == []


@pytest.mark.parametrize(("lid_c", "wet"), [(DEW_POINT_C - 0.05, True), (DEW_POINT_C + 0.05, False), (28.0, False)])
def test_the_page_says_the_same(house: AirHouse, lid_c: float, wet: bool) -> None:
    house.enter(place=SOUTH_BOX)
    assert bool(lid(house, 0, 2, lid_c)) is wet
    assert page_says(house, START_MS + 2 * HOUR_MS) is wet


def test_without_eggs_nothing_is_told_and_when_they_leave_it_ends(house: AirHouse) -> None:
    assert lid(house, 0, 2, 26.0) == []
    number = house.enter(place=SOUTH_BOX, from_ms=START_MS + 2 * HOUR_MS)
    assert [one[0] for one in lid(house, 2, 3, 26.0)] == [Change.RAISED]
    now_ms = START_MS + 3 * HOUR_MS
    house.journal.write(lambda conn: register.close_clutch(conn, number, now_ms, "test", "hatched", now_ms))
    assert [one[0] for one in lid(house, 3, 4, 26.0)] == [Change.CLEARED]


def test_silence_keeps_it_on_and_begins_none(house: AirHouse) -> None:
    house.enter(place=SOUTH_BOX)
    assert [one[0] for one in lid(house, 0, 2, 26.0)] == [Change.RAISED]
    assert house.watch(START_MS + 2 * HOUR_MS, START_MS + 12 * HOUR_MS) == []
    assert water_on_lid(SOUTH_BOX, None, 0, wet_before=True, is_on=False, fahrenheit=False) is None


def test_a_reading_that_is_old_or_has_no_surface_says_nothing() -> None:
    old = climate(-0.3)
    held = water_on_lid(SOUTH_BOX, old, 15 * MINUTE_MS + 1, wet_before=True, is_on=True, fahrenheit=False)
    assert held is not None
    assert not held.known
    unknown = water_on_lid(SOUTH_BOX, climate(None), 0, wet_before=False, is_on=True, fahrenheit=False)
    assert unknown is not None
    assert not unknown.known


def test_the_reason_has_margin_and_probability_in_the_unit_of_the_site() -> None:
    found = water_on_lid(SOUTH_BOX, climate(-0.3), 0, wet_before=False, is_on=False, fahrenheit=False)
    assert found is not None
    assert found.reason == "lid at 27.0 °C, 0.3 °C below the dew point; 72 % likely wet"
    found = water_on_lid(SOUTH_BOX, climate(0.15, None), 0, wet_before=True, is_on=False, fahrenheit=True)
    assert found is not None
    # 0.15 K are 0.27 °F.
    assert found.reason == "lid at 80.6 °F, 0.3 °F above the dew point"
