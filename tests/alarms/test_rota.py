"""Who is on duty, and a rota that leaves nobody reachable. X-42.

UK HSE, human factors: shift handover - two-way, and finished by the person who takes over.
"""

from dataclasses import replace
from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.errors import StatedError
from daemon.alarms.classes import HOUR_MS
from daemon.alarms.people import Absence, Duty, QuietHours, Rota, accept, on_duty
from daemon.alarms.rota import check_change, thin_windows
from tests.alarms.crew import ANA, BEN, CREW
from tests.alarms.steady import steady

BERLIN = ZoneInfo("Europe/Berlin")


def at(day: int, hour: int = 9) -> int:
    """Give an hour of August 2026 in Berlin, two hours ahead of UTC."""
    return round(datetime(2026, 8, day, hour, tzinfo=BERLIN).timestamp() * 1000)


def order(rota: Rota, moment_ms: int) -> list[str]:
    return [each.id for each in on_duty(rota, moment_ms).order]


def holiday(*, accepted_ms: int | None = None, back_ms: int | None = None) -> Rota:
    """Ana is away from the 3rd to the 14th; Ben takes over, and hands back."""
    away = Duty("ben", at(3), at(14), accepted_ms=accepted_ms)
    back = Duty("ana", at(14), None, second="ben", accepted_ms=back_ms)
    return replace(CREW, duties=(away, back), absences=(Absence("ana", at(3), at(14)),))


def test_without_duties_the_standing_order_holds() -> None:
    assert order(CREW, at(1)) == ["ana", "ben"]


def test_messages_move_when_the_successor_has_accepted_and_not_before() -> None:
    """X-42."""
    rota = replace(CREW, duties=(Duty("ben", at(3), at(14), second="ana"),))
    assert order(rota, at(5)) == ["ana", "ben"]
    assert on_duty(rota, at(5)).waits_for == rota.duties[0]
    accepted = accept(rota, rota.duties[0], "ben", at(5))
    assert order(accepted, at(5) - 1) == ["ana", "ben"]
    assert order(accepted, at(5)) == ["ben", "ana"]
    assert on_duty(accepted, at(5)).waits_for is None


def test_an_early_acceptance_moves_nothing_before_the_duty_begins() -> None:
    rota = CREW
    duty = Duty("ben", at(3), at(14))
    rota = accept(replace(rota, duties=(duty,)), duty, "ben", at(1))
    assert order(rota, at(3) - 1) == ["ana", "ben"]
    assert order(rota, at(3)) == ["ben", "ana"]


def test_a_duty_that_nobody_takes_over_goes_on_past_its_end() -> None:
    rota = holiday(accepted_ms=at(2))
    assert order(rota, at(20))[0] == "ben"
    assert "has not accepted" in on_duty(rota, at(20)).reason
    back = accept(rota, rota.duties[1], "ana", at(20))
    assert order(back, at(20))[0] == "ana"


def test_only_the_successor_can_accept() -> None:
    rota = holiday()
    with pytest.raises(StatedError, match="only Ben can accept"):
        accept(rota, rota.duties[0], "ana", at(3))


def test_a_hand_over_that_is_over_or_gone_cannot_be_accepted() -> None:
    rota = holiday()
    with pytest.raises(StatedError, match="over already"):
        accept(rota, rota.duties[0], "ben", at(14))
    with pytest.raises(StatedError, match="not in the rota"):
        accept(CREW, rota.duties[0], "ben", at(3))


def test_accepting_twice_keeps_the_first_moment() -> None:
    rota = holiday()
    once = accept(rota, rota.duties[0], "ben", at(3))
    assert accept(once, once.duties[0], "ben", at(4)) == once


def test_whoever_is_absent_is_not_told() -> None:
    assert order(holiday(accepted_ms=at(2)), at(5)) == ["ben"]


def test_where_nobody_can_be_reached_by_the_rota_everybody_is_told() -> None:
    rota = replace(CREW, absences=(Absence("ana", at(1), at(9)), Absence("ben", at(1), at(9))))
    assert order(rota, at(5)) == ["ana", "ben"]
    assert "everybody is told" in on_duty(rota, at(5)).reason


def test_a_window_with_nobody_reachable_is_refused_and_named() -> None:
    """X-42: the window in local time and who it is about."""
    rota = replace(holiday(), absences=(Absence("ben", at(6), at(8, 18)),))
    with pytest.raises(StatedError) as refusal:
        check_change(CREW, rota, at(1), at(30), BERLIN)
    assert refusal.value.reason == (
        "nobody can be reached from 6 Aug 2026 09:00 to 8 Aug 2026 18:00 (absent or without a usable contact: Ben)"
    )
    assert refusal.value.hint


def test_a_duty_with_nobody_after_it_leaves_a_window() -> None:
    rota = replace(CREW, duties=(Duty("ben", at(3), at(14)),))
    with pytest.raises(StatedError, match=r"from 14 Aug 2026 09:00 to 30 Aug 2026 09:00 \(the duty of Ben has ended"):
        check_change(CREW, rota, at(1), at(30), BERLIN)


def test_a_rota_that_hands_back_is_fine_and_tells_where_only_one_is_left() -> None:
    warnings = check_change(CREW, holiday(), at(1), at(30), BERLIN)
    assert warnings == ("only one person can be reached from 3 Aug 2026 09:00 to 14 Aug 2026 09:00 (Ben)",)


def test_somebody_without_a_usable_contact_cannot_be_reached() -> None:
    dead = replace(BEN, contacts=tuple(replace(each, usable=False) for each in BEN.contacts))
    for ben in (dead, replace(BEN, contacts=())):
        rota = replace(CREW, people=(ANA, ben), emergency=(), duties=(Duty("ben", at(3)),))
        with pytest.raises(StatedError, match="without a usable contact: Ben"):
            check_change(CREW, rota, at(1), at(30), BERLIN)


def test_a_rota_without_people_is_refused() -> None:
    with pytest.raises(StatedError, match="nobody is named"):
        check_change(CREW, Rota((), ()), at(1), at(2), BERLIN)


@pytest.mark.parametrize(
    "rota",
    [
        replace(CREW, standing=("ana", "eve")),
        replace(CREW, emergency=("eve",)),
        replace(CREW, duties=(Duty("eve", at(1)),)),
        replace(CREW, duties=(Duty("ana", at(1), second="eve"),)),
    ],
)
def test_a_name_that_is_not_among_the_people_is_refused(rota: Rota) -> None:
    with pytest.raises(StatedError, match="eve"):
        check_change(CREW, rota, at(1), at(2), BERLIN)


def test_a_duty_or_absence_that_ends_before_it_begins_is_refused() -> None:
    for rota in (
        replace(CREW, duties=(Duty("ana", at(3), at(3)),)),
        replace(CREW, absences=(Absence("ana", at(3), at(2)),)),
    ):
        with pytest.raises(StatedError, match="of Ana ends before it begins"):
            check_change(CREW, rota, at(1), at(9), BERLIN)


days = st.integers(1, 25)
stretches = st.tuples(st.sampled_from(["ana", "ben"]), days, st.integers(1, 6))


@given(st.lists(stretches, max_size=4), st.lists(stretches, max_size=4))
@steady
def test_the_windows_are_exactly_the_hours_in_which_nobody_can_be_reached(
    duties: list[tuple[str, int, int]], absences: list[tuple[str, int, int]]
) -> None:
    """Held against looking at each hour of the month by itself."""
    rota = replace(
        CREW,
        duties=tuple(Duty(who, at(day), at(day + length)) for who, day, length in duties),
        absences=tuple(Absence(who, at(day), at(day + length)) for who, day, length in absences),
    )
    empty = [each for each in thin_windows(rota, at(1), at(31)) if each.reachable == 0]
    for moment_ms in range(at(1), at(31), HOUR_MS):
        begun = [each for each in duties if at(each[1]) <= moment_ms]
        latest = max(begun, key=lambda each: each[1], default=None)
        planned = ["ana", "ben"] if latest is None else [latest[0]] * (moment_ms < at(latest[1] + latest[2]))
        here = [who for who in planned if not any(w == who and at(d) <= moment_ms < at(d + n) for w, d, n in absences)]
        assert any(each.start_ms <= moment_ms < each.end_ms for each in empty) == (not here)


def test_quiet_hours_follow_local_time_over_both_changes_of_the_clock() -> None:
    """X-10: Europe's clocks went forward on 29 March 2026 at 01:00 UTC and go back on 25 October at 01:00 UTC."""
    quiet = QuietHours(time(22), time(7), BERLIN)
    for day, month, end_utc_hour in ((28, 3, 5), (24, 10, 6), (1, 8, 5)):
        evening = datetime(2026, month, day, 23, tzinfo=BERLIN)
        end_ms = quiet.end_of_quiet_ms(round(evening.timestamp() * 1000))
        assert end_ms is not None
        end = datetime.fromtimestamp(end_ms / 1000, UTC)
        assert (end.hour, end.minute, end.day) == (end_utc_hour, 0, day + 1)
    noon = datetime(2026, 8, 1, 12, tzinfo=BERLIN)
    assert quiet.end_of_quiet_ms(round(noon.timestamp() * 1000)) is None


def test_quiet_hours_of_no_length_are_never() -> None:
    assert QuietHours(time(22), time(22), BERLIN).end_of_quiet_ms(at(1, 22)) is None
