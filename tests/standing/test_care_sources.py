"""What is due on certain days, looked for in a real journal."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from config.words import AlarmKind
from daemon.alarms.classes import DAY_MS, MINUTE_MS
from daemon.clutches import register
from daemon.development.window import HatchWindow
from daemon.occupancy import Occupancy
from daemon.standing.found import Found
from daemon.standing_sources.care import Hatching, Rounds
from daemon.standing_sources.source import Moment, Source
from daemon.storage import heat, rounds
from daemon.thermometers import AirChannels
from sensors.reading import Reading
from tests.daemon.kept import AIR, BOX, SOUTH, Kept, in_box
from tests.support.household import a_clutch, write_site
from tests.support.journals import new_journal
from tests.support.rounds_done import a_round, say_well

MADRID = ZoneInfo("Europe/Madrid")
NOON_MS = round(datetime(2026, 5, 28, 12, tzinfo=MADRID).timestamp() * 1000)
TIGHT = """
[care]
round_every_days = 3
"""


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Kept]:
    folder = write_site(tmp_path / "site", 1883, "http://127.0.0.1:9/phone", SOUTH + TIGHT)
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Kept(journal, folder)


def look(kept: Kept, source: Source, now_ms: int, on: frozenset[str] = frozenset()) -> list[Found]:
    air = AirChannels(kept.site)
    with kept.journal.read() as conn:
        air.load(conn)
        clutches = register.clutches(conn, include_closed=True)
        occupancy = Occupancy(clutches, kept.places, kept.profiles)
        moment = Moment(conn, now_ms, occupancy, air, lambda kind, subject: f"{kind}:{subject}" in on)
        found = list(source.found(moment))
    assert {each.kind for each in found} <= source.kinds
    return found


def names(found: list[Found]) -> set[str]:
    return {each.name for each in found if each.known}


def test_clutches_that_no_climate_suits_are_told_once_in_their_zone(kept: Kept) -> None:
    """28.5 to 32.5 °C beside 20 to 26 °C, as their profiles say; in the box with a probe there is one clutch only."""
    kept.enter(replace(in_box("Oak", "centrochelys-sulcata", BOX), from_ms=NOON_MS))
    kept.enter(replace(in_box("Fir", "correlophus-ciliatus", "south/low/S2"), from_ms=NOON_MS))
    kept.enter(a_clutch(NOON_MS))
    [found] = look(kept, Rounds(kept.site), NOON_MS + MINUTE_MS)
    assert (found.kind, found.subject) == (AlarmKind.NO_COMMON_RANGE, "south/low")
    assert "no temperature suits both" in found.reason


def test_humidity_is_each_boxs_own_unless_it_is_measured_for_all(kept: Kept) -> None:
    """Two clutches that bear the same heat and no common humidity, on a shelf with a probe of both and one without."""
    ash = kept.profiles["elaphe-taeniura"]
    high = ash.humidity.high.model_copy(update={"value": 70.0})  # type: ignore[union-attr]
    low = ash.humidity.low.model_copy(update={"value": 50.0})  # type: ignore[union-attr]
    dry = ash.model_copy(update={"id": "dry", "humidity": ash.humidity.model_copy(update={"low": low, "high": high})})  # type: ignore[union-attr]
    kept.profiles = {**kept.profiles, "dry": dry}
    for place in ("south/low/S2", "north/upper/N1"):
        kept.enter(replace(in_box(f"Fir {place}", "dry", place), from_ms=NOON_MS))
    kept.enter(a_clutch(NOON_MS, "Oak", BOX))
    assert look(kept, Rounds(kept.site), NOON_MS + MINUTE_MS) == []
    with_both = kept.site.probes[1].model_copy(update={"place": "south/low"})
    site = kept.site.model_copy(update={"probes": (kept.site.probes[0], with_both)})
    assert names(look(kept, Rounds(site), NOON_MS + MINUTE_MS)) == {"no-common-range:south/low"}


def test_a_round_is_overdue_in_an_incubator_with_eggs_and_in_no_other(kept: Kept) -> None:
    """Every 3 days, and half a day of grace."""
    number = kept.enter(a_clutch(NOON_MS))
    source = Rounds(kept.site)
    assert look(kept, source, NOON_MS + 3 * DAY_MS) == []
    [found] = look(kept, source, NOON_MS + 4 * DAY_MS)
    assert (found.name, found.since_ms) == ("round-overdue:north", NOON_MS + 3 * DAY_MS)
    kept.journal.write(lambda conn: rounds.start(conn, "north", "ana", NOON_MS + 4 * DAY_MS, 20 * MINUTE_MS))
    assert look(kept, source, NOON_MS + 4 * DAY_MS + MINUTE_MS) == []
    kept.journal.write(lambda conn: say_well(conn, 1, number, NOON_MS + 4 * DAY_MS))
    kept.journal.write(lambda conn: rounds.end(conn, "north", "ana", "", NOON_MS + 4 * DAY_MS + 2 * MINUTE_MS))
    on = frozenset({"round-overdue:north"})
    assert look(kept, source, NOON_MS + 4 * DAY_MS + 3 * MINUTE_MS, on) == []
    assert names(look(kept, source, NOON_MS + 8 * DAY_MS)) == on


def test_a_round_in_which_a_box_was_not_seen_ends_no_alarm_and_says_which(kept: Kept) -> None:
    """Two clutches of noon on 28 May; on 1 June one of them is seen, and an hour later the other."""
    juniper = kept.enter(a_clutch(NOON_MS))
    clover = kept.enter(a_clutch(NOON_MS, "Clover", "north/upper"))
    source, on, later_ms = Rounds(kept.site), frozenset({"round-overdue:north"}), NOON_MS + 4 * DAY_MS
    kept.journal.write(lambda conn: a_round(conn, "north", later_ms))
    assert names(look(kept, source, later_ms + MINUTE_MS, on)) == on
    kept.journal.write(lambda conn: a_round(conn, "north", later_ms + 30 * MINUTE_MS, [juniper]))
    [found] = look(kept, source, later_ms + 31 * MINUTE_MS, on)
    assert found.reason == "Clover has no entry in a round since 28 May, 4 d ago; a round is due every 3 days"
    assert found.since_ms == NOON_MS + 3 * DAY_MS
    # Two parts are a whole one.
    kept.journal.write(lambda conn: a_round(conn, "north", later_ms + 60 * MINUTE_MS, [clover]))
    assert look(kept, source, later_ms + 61 * MINUTE_MS, on) == []
    assert look(kept, source, later_ms + 3 * DAY_MS + 12 * 60 * MINUTE_MS, on) == []


def test_a_round_that_nobody_ended_is_told_also_where_no_eggs_lie(kept: Kept) -> None:
    kept.journal.write(lambda conn: rounds.start(conn, "south", "ana", NOON_MS, 12 * MINUTE_MS))
    source = Rounds(kept.site)
    assert look(kept, source, NOON_MS + 11 * MINUTE_MS) == []
    assert names(look(kept, source, NOON_MS + 12 * MINUTE_MS)) == {"round-not-ended:south"}


def test_a_round_in_an_incubator_that_is_gone_from_the_site_is_nobodys_alarm(kept: Kept) -> None:
    kept.journal.write(lambda conn: rounds.start(conn, "attic", "ana", NOON_MS, 12 * MINUTE_MS))
    assert look(kept, Rounds(kept.site), NOON_MS + 40 * MINUTE_MS) == []


@pytest.fixture
def warm(kept: Kept) -> Kept:
    """A clutch of the ratsnake at 28 °C for a hundred days.

    By its profile (zero 13.2 °C, 21 788 °C·h) that is 14.8 °C·h in an hour: 61.3 days, and less the day and a half that
    it lay in a room of 20 °C it hatches 60 to 61 days after its set-up, give or take what its window says.
    """
    kept.enter(a_clutch(NOON_MS))
    moments = range(NOON_MS, NOON_MS + 100 * DAY_MS, 20 * MINUTE_MS)
    kept.put([Reading(AIR, moment, moment + 40, 28.0, 0) for moment in moments])
    return kept


def test_a_clutch_is_near_pipping_about_its_day_and_overdue_long_after_it(warm: Kept) -> None:
    source = Hatching(warm.site, warm.profiles, 1800)

    def on_day(day: int) -> set[str]:
        now_ms = NOON_MS + day * DAY_MS
        warm.evaluate(now_ms)
        return names(look(warm, source, now_ms))

    assert on_day(30) == set()
    assert on_day(60) == {"near-pipping:clutch-1"}
    assert on_day(61) == {"near-pipping:clutch-1"}
    assert on_day(95) == {"near-pipping:clutch-1", "hatch-overdue:clutch-1"}
    warm.journal.write(
        lambda conn: register.close_clutch(conn, 1, NOON_MS + 95 * DAY_MS, "t", "", NOON_MS + 95 * DAY_MS)
    )
    assert on_day(96) == set()


def test_clutches_are_asked_for_in_turn_and_until_its_turn_nothing_is_known_of_one(warm: Kept) -> None:
    """So that an alarm that is on stays on after a start."""
    warm.enter(a_clutch(NOON_MS, "Ash", "south/low/S2"))
    now_ms = NOON_MS + 60 * DAY_MS
    warm.evaluate(now_ms)
    source = Hatching(warm.site, warm.profiles, 1800)
    first = look(warm, source, now_ms)
    assert names(first) == {"near-pipping:clutch-1"}
    assert {each.name for each in first if not each.known} == {"near-pipping:clutch-2", "hatch-overdue:clutch-2"}
    second = look(warm, source, now_ms + 15_000)
    assert names(second) == {"near-pipping:clutch-1"}
    assert {each.about for each in second if not each.known} == {"Ash"}, "asked for: no probe measures it"


def test_one_clutch_asked_for_alone_has_the_heat_that_it_has_among_all(warm: Kept) -> None:
    warm.enter(a_clutch(NOON_MS, "Ash", "north/upper"))
    now_ms = NOON_MS + 10 * DAY_MS
    warm.evaluate(now_ms)
    with warm.journal.read() as conn:
        everybodys, recent = heat.totals(conn, now_ms), heat.between(conn, NOON_MS, now_ms)
        assert set(everybodys) == {1, 2}
        for number in everybodys:
            assert heat.totals(conn, now_ms, number) == {number: everybodys[number]}
            assert heat.between(conn, NOON_MS, now_ms, number) == {number: recent[number]}


def test_the_days_told_are_those_of_the_page(warm: Kept) -> None:
    now_ms = NOON_MS + 60 * DAY_MS
    warm.evaluate(now_ms)
    [found] = look(warm, Hatching(warm.site, warm.profiles, 1800), now_ms)
    window = warm.clutches(now_ms)["Juniper"].window
    assert isinstance(window, HatchWindow)
    likely = datetime.fromtimestamp(window.likely_ms / 1000, MADRID)
    assert f"likely {likely.day} {likely:%b}" in found.reason
    assert (found.about, found.place) == ("Juniper", "north/upper/N1")


def test_a_clutch_that_nothing_measures_or_whose_development_pauses_is_never_called_near(kept: Kept) -> None:
    kept.enter(a_clutch(NOON_MS))
    kept.enter(replace(in_box("Ilex", "chamaeleo-calyptratus"), from_ms=NOON_MS))
    now_ms = NOON_MS + 200 * DAY_MS
    kept.evaluate(now_ms)
    found = look(kept, Hatching(kept.site, kept.profiles, 1800), now_ms)
    assert names(found) == set()
    assert {each.about for each in found} == {"Juniper"}, "of which nothing is known just now"
