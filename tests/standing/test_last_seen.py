"""When a clutch was last seen, when a round is due by that, and how an overdue one is told. All by hand calculation."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from daemon.alarms.classes import DAY_MS
from daemon.clutches.placements import Placement
from daemon.clutches.values import Clutch
from daemon.standing.found import Found
from daemon.standing.last_seen import LastSeen, last_seen, round_due_ms, round_overdue, some_of

MADRID = ZoneInfo("Europe/Madrid")


def at(day: int, hour: int = 12, minute: int = 0) -> int:
    """UTC ms of a local time in Madrid, May 2026."""
    return round(datetime(2026, 5, day, hour, minute, tzinfo=MADRID).timestamp() * 1000)


def seen(at_ms: int, label: str = "Juniper", *, in_round: bool = True, number: int = 1) -> LastSeen:
    return LastSeen(number, label, at_ms, in_round)


def overdue(now_ms: int, *those: LastSeen, on: bool = False, goes_on: bool = False) -> Found | None:
    return round_overdue("north", those, 7.0, now_ms, MADRID, is_on=on, goes_on=goes_on)


def a_clutch(number: int, *lain: Placement) -> Clutch:
    return Clutch(number, f"C{number}", "elaphe-taeniura", None, at(1), at(1), 8, "", None, lain)


def test_a_clutch_was_seen_in_its_last_round_or_when_it_came_whichever_is_later() -> None:
    north, south = Placement("north/upper/N1", at(1)), Placement("south/low/S1", at(9))
    here = [a_clutch(1, north), a_clutch(2, north), a_clutch(3, north, south), a_clutch(4, Placement("north", at(20)))]
    found = last_seen(here, "north", {1: at(8), 3: at(8)}, at(10))
    assert found == (LastSeen(2, "C2", at(1), False), LastSeen(1, "C1", at(8), True))
    # What was seen before it was moved here was seen again when it came.
    assert last_seen(here, "south", {1: at(8), 3: at(8)}, at(10)) == (LastSeen(3, "C3", at(9), False),)
    assert last_seen(here, "third", {}, at(10)) == ()


def test_a_round_is_due_when_the_first_of_its_clutches_is() -> None:
    assert round_due_ms([seen(at(8)), seen(at(3)), seen(at(5))], 7.0) == at(10)
    # Two part rounds together are a whole one, due by the earlier of them.
    assert round_due_ms([seen(at(8)), seen(at(9))], 7.0) == at(15)
    assert round_due_ms([], 7.0) is None
    assert seen(at(8)).due_ms(2.5) == at(11, 0)


def test_a_round_is_overdue_half_a_day_after_its_day_and_from_eight_in_the_morning() -> None:
    """Ended on the 3rd at 15:00 and due every 7 days: overdue on the 11th from 03:00, told from 08:00."""
    whole = seen(at(3, 15)), seen(at(3, 15), "Clover")
    assert overdue(at(10, 15), *whole) is None
    assert overdue(at(11, 2, 59), *whole) is None
    assert overdue(at(11, 7, 59), *whole) is None
    found = overdue(at(11, 8), *whole)
    assert found is not None
    assert (found.subject, found.place, found.since_ms) == ("north", "north", at(10, 15))
    assert found.reason == "no entry in a round since 3 May, 7 d 17 h ago; a round is due every 7 days"


def test_nobody_is_called_for_it_in_the_evening_and_what_is_on_stays_on_over_night() -> None:
    one = seen(at(3, 8))
    assert overdue(at(10, 19, 59), one) is None  # due since 08:00, and half a day of grace
    assert overdue(at(10, 20, 1), one) is None
    assert overdue(at(11, 0, 30), one) is None
    assert overdue(at(11, 2), one, on=True) is not None


def test_without_any_round_the_days_count_from_when_the_eggs_came() -> None:
    one = seen(at(1, 9), in_round=False)
    found = overdue(at(9, 9), one)
    assert found is not None
    assert found.reason == "no entry in a round since the eggs came in 1 May, 8 d ago; a round is due every 7 days"
    assert overdue(at(8, 9), one) is None


def test_a_round_that_goes_on_lets_none_begin_and_ends_none() -> None:
    assert overdue(at(12), seen(at(3, 15)), goes_on=True) is None
    assert overdue(at(12), seen(at(3, 15)), on=True, goes_on=True) is not None
    assert overdue(at(12), seen(at(12)), on=True) is None


def test_a_clutch_that_came_after_the_last_round_makes_no_part_round_of_it() -> None:
    found = overdue(at(11, 12), seen(at(3)), seen(at(8), "Clover", in_round=False))
    assert found is not None
    assert found.reason == "Juniper has no entry in a round since 3 May, 8 d ago; a round is due every 7 days"


@pytest.mark.parametrize(
    ("behind", "said"),
    [
        ([seen(at(3))], "Juniper has no entry in a round since 3 May, 9 d ago"),
        ([seen(at(3)), seen(at(3, 14), "Ash")], "Juniper and Ash have no entry in a round since 3 May, 9 d ago"),
        (
            [seen(at(3)), seen(at(3), "Ash"), seen(at(3), "Elm", in_round=False)],
            "Juniper and 2 more have no entry in a round since 3 May, 9 d ago",
        ),
        # Of the other, seen two days later, that would not be true.
        ([seen(at(3)), seen(at(5), "Ash")], "Juniper has no entry in a round since 3 May, 9 d ago, and 1 more is due"),
    ],
)
def test_those_that_a_round_left_out_are_named(behind: list[LastSeen], said: str) -> None:
    found = overdue(at(12), *behind, seen(at(11), "Clover"))
    assert found is not None
    assert found.reason == f"{said}; a round is due every 7 days"


def test_many_are_counted_and_not_all_named() -> None:
    assert [some_of(["A", "B", "C"][:count]) for count in (1, 2, 3)] == ["A", "A and B", "A and 2 more"]
    assert at(2) - at(1) == DAY_MS
