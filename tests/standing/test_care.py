"""What is due on certain days: when it begins, by day only, and when it is over. All by hand calculation."""

from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from config.words import AlarmKind
from daemon.alarms.classes import HOUR_MS, MINUTE_MS
from daemon.alarms.round_suppression import Round
from daemon.clutches.placements import Placement
from daemon.development.window import HatchWindow, NoWindow
from daemon.standing import care
from daemon.standing.found import Found

MADRID = ZoneInfo("Europe/Madrid")


def at(day: int, hour: int = 12, minute: int = 0, month: int = 5) -> int:
    """UTC ms of a local time in Madrid, 2026."""
    return round(datetime(2026, month, day, hour, minute, tzinfo=MADRID).timestamp() * 1000)


@pytest.mark.parametrize(("hour", "expected"), [(7, False), (8, True), (19, True), (20, False), (0, False)])
def test_daytime_is_that_of_the_site(hour: int, expected: bool) -> None:
    """In January Madrid is one hour ahead of UTC, in July two."""
    for month in (1, 7):
        assert care.is_daytime(at(5, hour, month=month), MADRID) is expected


def test_a_clutch_has_been_in_an_incubator_since_it_last_came_there() -> None:
    lain = (
        Placement("north/upper/N1", at(1)),
        Placement("south/low/S1", at(3)),
        Placement("north/upper/N1", at(5)),
        Placement("north/upper/N2", at(6)),
        Placement("south/low/S1", at(20)),
    )
    assert care.in_incubator_since_ms(lain, "north", at(2)) == at(1)
    assert care.in_incubator_since_ms(lain, "north", at(4)) is None
    assert care.in_incubator_since_ms(lain, "north", at(10)) == at(5)
    assert care.in_incubator_since_ms(lain, "south", at(21)) == at(20)
    assert care.in_incubator_since_ms(lain, "northern", at(10)) is None


def test_a_round_past_its_hard_end_is_told_until_it_is_ended() -> None:
    going = Round("no. 3", "north", "ana", at(4, 14), 30 * MINUTE_MS)
    assert list(care.rounds_not_ended([going], at(4, 14, 29), MADRID)) == []
    [found] = care.rounds_not_ended([going], at(4, 14, 30), MADRID)
    assert (found.kind, found.subject, found.since_ms) == (AlarmKind.ROUND_NOT_ENDED, "north", at(4, 14, 30))
    assert found.reason == "started 14:00 by ana for 30 min"
    assert list(care.rounds_not_ended([replace(going, ended_ms=at(4, 14, 40))], at(4, 14, 50), MADRID)) == []


def test_clutches_that_do_not_suit_each_other_are_told_where_one_move_mends_it() -> None:
    found = list(
        care.no_common_range(
            {
                "north": ("Juniper and Ash do not suit.", "Juniper and Elm do not suit."),
                "north/upper": ("Juniper and Ash do not suit.",),
                "south": ("Oak and Fir do not suit.", "Oak and Fir do not suit."),
            }
        )
    )
    assert [(each.subject, each.place, each.reason) for each in found] == [
        ("north", "north", "Juniper and Elm do not suit"),
        ("north/upper", "north/upper", "Juniper and Ash do not suit"),
        ("south", "south", "Oak and Fir do not suit"),
    ]


def window(earliest_ms: int, latest_ms: int) -> HatchWindow:
    likely_ms = (earliest_ms + latest_ms) // 2
    return HatchWindow(earliest_ms, likely_ms, latest_ms, 2.0, 0.9, (), "fit", "", "ahead")


def near(now_ms: int, known: HatchWindow | NoWindow, *, on: bool = False) -> Found | None:
    return care.near_pipping("clutch-7", "Juniper", "north/upper/N1", known, 7.0, now_ms, MADRID, is_on=on)


def late(now_ms: int, known: HatchWindow | NoWindow, *, on: bool = False) -> Found | None:
    return care.hatch_overdue("clutch-7", "Juniper", "north/upper/N1", known, now_ms, MADRID, is_on=on)


def test_a_clutch_is_near_pipping_a_week_before_its_earliest_day_and_from_then_on() -> None:
    known = window(at(20), at(28))
    assert near(at(13, 11, 59), known) is None
    found = near(at(13, 12, 1), known)
    assert found is not None
    assert (found.kind, found.subject, found.about, found.place) == (
        AlarmKind.NEAR_PIPPING,
        "clutch-7",
        "Juniper",
        "north/upper/N1",
    )
    assert found.reason == "earliest 20 May, likely 24 May, latest 28 May"
    assert near(at(30), known) is not None
    assert near(at(14, 3), known) is None, "not at night"
    assert near(at(14, 3), known, on=True) is not None


def test_a_window_that_moves_by_less_than_a_day_ends_no_alarm() -> None:
    assert near(at(13), window(at(20) + 23 * HOUR_MS, at(28)), on=True) is not None
    assert near(at(13), window(at(20) + 25 * HOUR_MS, at(28)), on=True) is None


def test_a_hatch_is_overdue_three_days_after_the_latest_day() -> None:
    known = window(at(10), at(18))
    assert late(at(21, 11, 59), known) is None
    found = late(at(21, 12, 1), known)
    assert found is not None
    assert found.reason == "latest day was 18 May, 3 d ago; likely 14 May"
    assert late(at(20, 13), known, on=True) is not None
    assert late(at(20, 11), known, on=True) is None


def test_without_a_date_nothing_begins_and_nothing_ends() -> None:
    none = NoWindow("No date: no probe has measured this clutch yet.")
    for found in (near(at(13), none), late(at(13), none)):
        assert found is not None
        assert not found.known
