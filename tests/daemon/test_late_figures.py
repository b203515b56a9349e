"""What is kept of the past is right again once readings of it have come late: the same as read anew."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from config.words import Quantity
from daemon.box_climate import BoxClimates
from daemon.clutch_record import ClutchRecords
from daemon.reading_trends import ReadingTrends
from daemon.storage import calibrations, late, samples
from sensors.calibration import Calibrations
from sensors.reading import ChannelKey, Reading
from tests.daemon.changing import AIR, GOOD_C, Changing
from tests.daemon.changing import START_MS as CHANGING_MS
from tests.daemon.kept import Kept
from tests.daemon.test_box_climate import IN_BOX, NOW_MS, history
from tests.support.household import MINUTE_MS
from tests.support.journals import new_journal

MADRID = ZoneInfo("Europe/Madrid")
HOUR_MS = 60 * MINUTE_MS


def without(readings: Sequence[Reading], from_ms: int, to_ms: int) -> tuple[list[Reading], list[Reading]]:
    """Those that come at once, and those of a span, which come now."""
    inside = [each for each in readings if from_ms <= each.measured_at_ms < to_ms]
    return [each for each in readings if each not in inside], [each._replace(received_at_ms=NOW_MS) for each in inside]


def test_hours_with_water_on_a_lid_take_in_what_came_late_at_the_next_look(kept: Kept) -> None:
    # A lid at 20 °C under air of 30 °C and 85 %, whose dew point is 27 °C: water in every hour that was measured.
    whole = list(history(20, 85, 0, lid_c=20.0))
    at_once, later = without(whole, NOW_MS - 10 * HOUR_MS, NOW_MS - 4 * HOUR_MS)
    kept.put(at_once)
    box_climates = BoxClimates(MADRID)

    def hours(reader: BoxClimates, now_ms: int) -> float:
        with kept.journal.read() as conn:
            stated, came = calibrations.load(conn, kept.site), late.changes(conn)
            found = reader.read(conn, [IN_BOX], stated, 0, now_ms, came)[IN_BOX.place]
        assert found.last_day is not None
        return found.last_day.covered_h

    before = hours(box_climates, NOW_MS)
    kept.put(later)
    kept.journal.write(lambda conn: late.count_change(conn, ["box-s1/air", "box-s1/rh", "box-s1/lid"]))
    after = hours(box_climates, NOW_MS + MINUTE_MS)
    assert after == pytest.approx(hours(BoxClimates(MADRID), NOW_MS + MINUTE_MS))
    # Six hours were missing, of which a gap of a cell at each end may have been bridged before.
    assert after - before == pytest.approx(6, abs=0.5)


def test_the_trend_of_a_reading_takes_them_in_after_a_minute(kept: Kept) -> None:
    key = ChannelKey("box-s1/air", "box-s1", "air", Quantity.AIR_TEMPERATURE)
    rising = [
        Reading(key.channel, NOW_MS - 55 * MINUTE_MS + n * 5 * MINUTE_MS, NOW_MS, 27 + n / 5, 0) for n in range(12)
    ]
    kept.put(rising[:2])
    trends = ReadingTrends()

    def trend(reader: ReadingTrends, now_ms: int) -> object:
        with kept.journal.read() as conn:
            return reader.of(conn, key, Calibrations((), {}), now_ms)

    before = trend(trends, NOW_MS)
    kept.put(rising[2:])
    after = trend(trends, NOW_MS + MINUTE_MS)
    assert after == trend(ReadingTrends(), NOW_MS + MINUTE_MS)
    assert after != before


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Changing]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Changing(journal, tmp_path / "site")


def test_late_readings_are_counted_once_they_are_in(house: Changing) -> None:
    house.enter()
    house.minutes(10, {AIR: GOOD_C})
    with house.journal.read() as conn:
        assert late.changes(conn) == {}
    house.now_ms += 3 * HOUR_MS
    rows = [Reading(AIR, CHANGING_MS + n * MINUTE_MS, house.now_ms, GOOD_C, 0) for n in range(11, 150)]
    house.journal.write(lambda conn: samples.append(conn, house.ids, rows))
    house.minutes(5, {AIR: GOOD_C})
    with house.journal.read() as conn:
        assert late.changes(conn) == {AIR: 1}


@pytest.mark.parametrize(("until", "words"), [(240, "filled at"), (100, "filled in part at")])
def test_the_page_of_a_clutch_says_that_a_silence_was_filled(house: Changing, until: int, words: str) -> None:
    number = house.enter()
    house.minutes(10, {AIR: GOOD_C})
    for _ in range(240):
        house.now_ms += MINUTE_MS
        house.steady_s += 60
        house.evaluator.step(lambda: house.now_ms)
    house.minutes(5, {AIR: GOOD_C})
    rows = [Reading(AIR, CHANGING_MS + n * MINUTE_MS + 1, house.now_ms, GOOD_C, 0) for n in range(11, until)]
    records = ClutchRecords(house.journal, house.site, house.profiles, 1800.0)

    def silences() -> list[str]:
        found = records.one(number, house.now_ms)
        assert found is not None
        return [f"{each.what}: {each.why}" for each in found.events if each.kind == "alarm"]

    assert not any("filled" in each for each in silences())
    house.journal.write(lambda conn: samples.append(conn, house.ids, rows))
    # 2026-05-28T20:26:40Z and 255 minutes: 00:41 UTC, which is 02:41 in Madrid.
    found = [each for each in silences() if f"{words} 02:41 by readings that came late" in each]
    assert found, silences()
