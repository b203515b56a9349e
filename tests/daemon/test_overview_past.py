"""What the record of a clutch tells of sex and of exposure: pure, by hand, and from the journal to the overview."""

import sqlite3
from collections.abc import Iterator

import pytest

from config.species import ExposureLimit, SpeciesProfile, load_profiles
from daemon.arrival import BrokerState
from daemon.clutches import register
from daemon.development.heat_interval import HeatPiece
from daemon.development.heat_since_laying import Kept as KeptAt
from daemon.development.heat_since_laying import Laying
from daemon.exposure_course import CELL_MS
from daemon.overview import ClutchNow
from daemon.overview_past import exposure_told, sex_so_far
from daemon.overview_past_reader import MOST_AT_ONCE
from daemon.queries import Queries
from daemon.storage import heat
from daemon.storage.heat import HeatHour
from daemon.storage.recent import first_of_cells
from sensors.decoder import Decoder
from sensors.reading import Quality, Reading
from tests.daemon.kept import AIR, BOX, HOUR_MS, START_MS, Kept, at, in_box, steady
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch

PROFILES = load_profiles()
TURTLE = PROFILES["chrysemys-picta"]
LAID = Laying(START_MS - 2 * DAY_MS, START_MS - DAY_MS, START_MS)
ROOM = KeptAt(20.0, 3.0)
HOT = ExposureLimit(above_c=33, minutes=60, within_h=24, source="invented")
BOX_AIR = "box-s1/air"


def hours_at(temperature_c: float, count: int, missing_min: int = 0) -> Iterator[HeatHour]:
    """Whole hours of a painted turtle: zero 15.4 °C."""
    missing_ms = missing_min * MINUTE_MS
    piece = HeatPiece(
        best_ch=temperature_c - 15.4,
        temperature_ch=temperature_c * (60 - missing_min) / 60,
        covered_ms=HOUR_MS - missing_ms,
        missing_ms=missing_ms,
    )
    return (HeatHour(0, piece) for _ in range(count))


def test_the_equivalent_is_the_median_by_development_and_not_by_time() -> None:
    """By hand, painted turtle: 16,573 °C·h, sensitive from 33 to 67 %, that is from 5,469 to 11,104 °C·h.

    36 h at 20 °C before the set-up (165.6) and 400 h at 27.4 °C (4,800) lead to 4,965.6. Of 1,000 °C·h at 25.4 °C then
    496.5 lie inside, in 49.7 h, and 560 at 29.4 °C follow in 40 h: of the time most is cool, of the development most is
    warm, and Georges (1989) counts development. 1,056.5 of 5,634.8 are 19 %.
    """
    hours = [*hours_at(27.4, 400), *hours_at(25.4, 100), *hours_at(29.4, 40)]
    told = sex_so_far(TURTLE, LAID, ROOM, hours)
    assert "of which 19 % is done, 29.4 °C" in told
    assert "No promise of either sex." in told
    assert "Bull and Vogt 1981" in told
    assert "males at 25 °C, females at 31 °C" in told
    assert "not measured" not in told


def test_hours_mostly_without_readings_count_as_not_measured() -> None:
    """As above, but half an hour and a minute of each warm hour is missing: 560 of 5,634.8 are 10 %."""
    hours = [*hours_at(27.4, 400), *hours_at(25.4, 100), *hours_at(29.4, 40, missing_min=31)]
    told = sex_so_far(TURTLE, LAID, ROOM, hours)
    assert "of which 19 % is done, 25.4 °C" in told
    assert "Of it, 10 % was not measured." in told
    nearly = [*hours_at(27.4, 400), *hours_at(25.4, 100), *hours_at(29.4, 40, missing_min=29)]
    assert "29.4 °C" in sex_so_far(TURTLE, LAID, ROOM, nearly)


def test_before_the_sensitive_period_nothing_is_told_but_when_it_begins() -> None:
    told = sex_so_far(TURTLE, LAID, ROOM, hours_at(27.4, 10))
    assert told.startswith("The sensitive period (33 to 67 %) has not begun")


@pytest.mark.parametrize(
    "profile",
    [
        TURTLE.model_copy(update={"sex": None}),
        TURTLE.model_copy(update={"development": None}),
        TURTLE.model_copy(update={"pause": "diapause"}),
    ],
)
def test_nothing_is_told_where_sex_or_the_share_of_development_is_not_known(profile: SpeciesProfile) -> None:
    assert sex_so_far(profile, LAID, ROOM, hours_at(27.4, 700)) == ""


def test_a_clutch_tells_its_equivalent_and_works_it_out_once_per_stored_hour(
    kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Leopard gecko, sensitive from laying on: 5 h at 31 °C and 10 h at 29 °C, so most of the development at 29 °C."""
    asked: list[int] = []
    hours = heat.hours

    def counted(conn: sqlite3.Connection, clutch_id: int) -> list[HeatHour]:
        asked.append(clutch_id)
        return hours(conn, clutch_id)

    monkeypatch.setattr("daemon.storage.heat.hours", counted)
    kept.enter(in_box("Gecko", "eublepharis-macularius"))
    kept.put(steady(BOX_AIR, 31.0, START_MS, START_MS + 5 * HOUR_MS))
    kept.put(steady(BOX_AIR, 29.0, START_MS + 5 * HOUR_MS + 5 * MINUTE_MS, START_MS + 15 * HOUR_MS))
    now_ms = START_MS + 15 * HOUR_MS
    kept.evaluate(now_ms)
    told = kept.clutches(now_ms)["Gecko"].sex
    assert " 29.0 °C (no pivotal temperature is known)" in told
    assert "Bull 1987" in told
    for minute in range(5):
        assert kept.clutches(now_ms + minute * MINUTE_MS)["Gecko"].sex == told
    assert len(asked) == 1
    kept.put(steady(BOX_AIR, 31.0, now_ms + 5 * MINUTE_MS, now_ms + 12 * HOUR_MS))
    kept.evaluate(now_ms + 12 * HOUR_MS)
    assert " 31.0 °C " in kept.clutches(now_ms + 12 * HOUR_MS)["Gecko"].sex
    assert len(asked) == 2


def test_a_late_reading_that_changes_a_stored_hour_changes_the_equivalent(kept: Kept) -> None:
    """6 h were silent; the readings that come late are of another temperature than those around them."""
    kept.enter(in_box("Gecko", "eublepharis-macularius"))
    now_ms = START_MS + 10 * HOUR_MS
    kept.put(steady(BOX_AIR, 29.0, START_MS, START_MS + 2 * HOUR_MS))
    kept.put(steady(BOX_AIR, 29.0, START_MS + 8 * HOUR_MS, now_ms))
    kept.evaluate(now_ms)
    assert " 29.0 °C " in kept.clutches(now_ms)["Gecko"].sex
    kept.put(steady(BOX_AIR, 31.5, START_MS + 2 * HOUR_MS + 5 * MINUTE_MS, START_MS + 8 * HOUR_MS - 5 * MINUTE_MS))
    kept.evaluate(now_ms + MINUTE_MS)
    assert " 31.5 °C " in kept.clutches(now_ms + MINUTE_MS)["Gecko"].sex


def test_a_limit_that_was_kept_is_not_told_and_one_that_was_passed_is_with_its_minutes() -> None:
    """28 °C, 34 °C for 70 min, 28 °C, one reading in 5 min. Each slope of 6 K in 5 min is above 33 °C for 50 s."""
    hot = [(START_MS + n * 5 * MINUTE_MS, 34.0 if 4 <= n <= 18 else 28.0) for n in range(24 * 12 + 1)]
    now_ms = hot[-1][0]
    [told] = exposure_told((HOT,), hot, 30 * MINUTE_MS, now_ms)
    assert told == "Exposure limit passed: above 33 °C for 72 min in the last 24 h; the limit is 60 min (invented)."
    assert exposure_told((HOT.model_copy(update={"minutes": 72.0}),), hot, 30 * MINUTE_MS, now_ms) == ()


def shown(queries: Queries, now_ms: int) -> dict[str, ClutchNow]:
    overview = queries.overview(now_ms, 1.0, BrokerState(connected=True, detail="", since_ms=START_MS))
    return {each.label: each for incubator in overview.incubators for each in incubator.clutches}


def limited(kept: Kept, *limits: ExposureLimit) -> Queries:
    """The site with exposure limits for the ratsnake."""
    profile = kept.profiles["elaphe-taeniura"].model_copy(update={"exposure": limits})
    channels = dict(Decoder(kept.site).channels)
    return Queries(kept.journal, kept.site, {**kept.profiles, profile.id: profile}, channels, 1800)


def day_with(channel: str, hot_from_h: float, hot_min: int) -> list[Reading]:
    """A day of 28 °C with some minutes of 34 °C, one reading in 5 min."""
    hot_ms = START_MS + round(hot_from_h * HOUR_MS)
    moments = range(START_MS, START_MS + DAY_MS + 1, 5 * MINUTE_MS)
    return [
        each
        for moment in moments
        for each in at(moment, {channel: 34.0 if hot_ms <= moment <= hot_ms + hot_min * MINUTE_MS else 28.0})
    ]


def test_a_clutch_tells_that_its_limit_is_passed_until_the_window_has_left_the_heat_behind(kept: Kept) -> None:
    kept.enter(a_clutch(START_MS, place=BOX))
    kept.put(day_with(BOX_AIR, 2, 70))
    kept.put(steady(BOX_AIR, 28.0, START_MS + DAY_MS + 5 * MINUTE_MS, START_MS + 2 * DAY_MS))
    queries = limited(kept, HOT)
    [told] = shown(queries, START_MS + DAY_MS)["Juniper"].exposure_limits
    assert told.startswith("Exposure limit passed: above 33 °C for 72 min in the last 24 h;")
    assert shown(queries, START_MS + DAY_MS + 4 * HOUR_MS)["Juniper"].exposure_limits == ()


def test_silence_and_suspect_readings_leave_a_limit_possibly_passed(kept: Kept) -> None:
    kept.enter(a_clutch(START_MS, place=BOX))
    kept.put(steady(BOX_AIR, 28.0, START_MS, START_MS + 23 * HOUR_MS))
    queries, now_ms = limited(kept, HOT), START_MS + DAY_MS
    assert shown(queries, now_ms)["Juniper"].exposure_limits == ()
    [told] = shown(queries, now_ms + 30 * MINUTE_MS)["Juniper"].exposure_limits
    assert told.startswith("Exposure limit possibly passed: above 33 °C for 0 min")
    assert "nothing is known of 90 min" in told
    late = steady(BOX_AIR, 34.0, START_MS + 23 * HOUR_MS + 5 * MINUTE_MS, now_ms)
    kept.put([each._replace(quality=int(Quality.STUCK)) for each in late])
    [told] = shown(queries, now_ms + 40 * MINUTE_MS)["Juniper"].exposure_limits
    assert "above 33 °C for 0 min" in told
    assert "nothing is known of 100 min" in told


def test_a_place_that_nobody_measured_in_two_days_is_unknown_and_not_kept(kept: Kept) -> None:
    kept.enter(a_clutch(START_MS, place=BOX))
    [told] = shown(limited(kept, HOT), START_MS + 5 * DAY_MS)["Juniper"].exposure_limits
    assert told.startswith("Exposure limit possibly passed")
    assert "nothing is known of 1440 min" in told


def test_exposure_follows_a_clutch_that_was_moved(kept: Kept) -> None:
    """It lay in the box while that was hot, and not on the shelf when that was."""
    number = kept.enter(a_clutch(START_MS, place=BOX))
    kept.put(day_with(BOX_AIR, 2, 40))
    kept.put(day_with(AIR, 4, 300))
    move_ms = START_MS + 12 * HOUR_MS
    kept.journal.write(lambda conn: register.move_clutch(conn, number, "north/upper/N1", move_ms, "test", "", move_ms))
    small = HOT.model_copy(update={"minutes": 30.0})
    [told] = shown(limited(kept, small), START_MS + DAY_MS)["Juniper"].exposure_limits
    assert "above 33 °C for 42 min" in told


def test_a_page_works_out_a_few_clutches_at_once_and_each_once_in_ten_minutes(
    kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def counted(conn: sqlite3.Connection, channel: str, *span_ms: int) -> list[tuple[int, float, int]]:
        asked.append(channel)
        return first_of_cells(conn, channel, *span_ms)

    monkeypatch.setattr("daemon.exposure_course.first_of_cells", counted)
    for number in range(5):
        kept.enter(a_clutch(START_MS - number, f"Juniper {number}", "north/upper"))
    kept.enter(a_clutch(START_MS, "Her sister", "north/upper"))
    kept.put(day_with(AIR, 2, 70))
    queries, now_ms = limited(kept, HOT), START_MS + DAY_MS - (START_MS + DAY_MS) % CELL_MS
    told = [sum(bool(each.exposure_limits) for each in shown(queries, now_ms).values()) for _ in range(4)]
    # The two that were set up together are worked out together.
    assert told == [MOST_AT_ONCE + 1, 2 * MOST_AT_ONCE + 1, 6, 6]
    assert len(asked) == 5
    later = shown(queries, now_ms + CELL_MS)
    assert all(each.exposure_limits for each in later.values())
    assert len(asked) == 5 + MOST_AT_ONCE
