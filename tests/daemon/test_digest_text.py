"""The text of the digest: what stands first, what is counted, how long it may be, in both units."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.words import Priority, Quantity
from daemon.development.window import HatchWindow, NoWindow, Standing
from daemon.digest_text import LONGEST_DIGEST, digest_text
from daemon.digest_values import ChannelDay, ClutchDay, Digest, NotTold, OpenAlarm, PlaceDay
from tests.support.lettered import local_ms

MADRID = ZoneInfo("Europe/Madrid")
NOW_MS = local_ms("2026-05-28T07:30")
MINUTE_MS, HOUR_MS = 60_000, 3_600_000
DAY_MS = 24 * HOUR_MS
CALM = Digest(now_ms=NOW_MS, zone=MADRID, fahrenheit=False)
AIR, DAMP = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY
HOT = OpenAlarm(Priority.CRITICAL, "North cabinet", "dangerously hot", NOW_MS - 5 * HOUR_MS, "unacknowledged")
DRY = OpenAlarm(Priority.LOW, "South cabinet", "too dry", NOW_MS - 9 * HOUR_MS, "acknowledged by Ana")


def window(earliest: str, latest: str, standing: Standing = "ahead") -> HatchWindow:
    first, last = local_ms(f"{earliest}T12:00"), local_ms(f"{latest}T12:00")
    return HatchWindow(first, (first + last) // 2, last, 2.0, 0.5, (), "fit", "", standing)


def air(least: float | None, mean: float | None, most: float | None, missing_ms: int = 0) -> ChannelDay:
    return ChannelDay(AIR, least, mean, most, missing_ms, 24.0, 30.0)


def place(name: str, *channels: ChannelDay) -> PlaceDay:
    return PlaceDay(name, channels or (air(27.81, 28.25, 28.94),))


def clutch(label: str, share: float | None = 0.613, alarm: bool = False) -> ClutchDay:
    return ClutchDay(label, share, window("2026-06-12", "2026-06-19"), alarm)


def lines(digest: Digest) -> list[str]:
    return digest_text(digest).body.splitlines()


def test_a_calm_day_says_so_first() -> None:
    text = digest_text(replace(CALM, places=(place("North cabinet"),), clutches=(clutch("Juniper"),)))
    assert text.headline == "Digest of 28 May: no alarm open"
    assert text.body.splitlines() == [
        "No alarm is open.",
        "Last 24 h, lowest / mean / highest:",
        "North cabinet: 27.8 / 28.2 / 28.9 °C",
        "Clutches, development and hatching (nine in ten):",
        "Juniper: 61 %, hatching 12 Jun to 19 Jun",
    ]


def test_open_alarms_stand_first_the_most_urgent_before_the_others() -> None:
    text = digest_text(replace(CALM, open=(DRY, HOT)))
    assert text.headline == "Digest of 28 May: 2 alarms open"
    assert text.body.splitlines()[:3] == [
        "Open:",
        "CRITICAL North cabinet: dangerously hot, since 02:30, unacknowledged",
        "CHECK South cabinet: too dry, since 27 May 22:30, acknowledged by Ana",
    ]


def test_what_is_not_told_has_its_countdown_its_reason_and_a_review_that_is_overdue_says_so() -> None:
    silent = (
        NotTold("South cabinet", "too dry", "shelved by Ana until", NOW_MS + 185 * MINUTE_MS, "new lid"),
        NotTold("", "disk nearly full", "out of service by kim, review", NOW_MS - HOUR_MS, "new disk comes"),
    )
    text = digest_text(replace(CALM, not_told=silent))
    assert text.headline == "Digest of 28 May: no alarm open, 2 not told"
    assert text.body.splitlines()[1:4] == [
        "Not told to anybody:",
        "South cabinet: too dry, shelved by Ana until 10:35 (3 h 5 min left): new lid",
        "disk nearly full, out of service by kim, review 06:30 (overdue): new disk comes",
    ]


def test_places_beyond_a_limit_or_with_a_gap_come_first_and_say_so() -> None:
    found = lines(
        replace(
            CALM,
            places=(
                place("A"),
                place("B", air(23.96, 27.0, 31.25), ChannelDay(DAMP, 70.4, 80.0, 90.6, 0)),
                place("C", air(27.0, None, 28.0, DAY_MS - 12 * MINUTE_MS)),
                place("D", air(None, None, None, DAY_MS)),
                place("E", air(27.0, 27.5, 28.0, 29 * MINUTE_MS)),
                place("F", ChannelDay(Quantity.SURFACE_TEMPERATURE, 20.0, 21.0, 22.0, 0)),
            ),
        )
    )
    assert found[2:8] == [
        "B: 24.0 / 27.0 / 31.2 °C (below 24.00 °C) (above 30.0 °C); 70 / 80 / 91 % RH",
        "C: 27.0 / unknown / 28.0 °C, 23.8 h without readings",
        "D: air without readings for 24 h",
        "A: 27.8 / 28.2 / 28.9 °C",
        "E: 27.0 / 27.5 / 28.0 °C",
        "F: lid 20.0 / 21.0 / 22.0 °C",
    ]


def test_a_site_in_fahrenheit_reads_fahrenheit() -> None:
    """25 °C is 77 °F, 30 °C is 86 °F; humidity stays."""
    day = place("North cabinet", ChannelDay(AIR, 25.0, 30.0, 35.0, 0, 20.0, 30.0), ChannelDay(DAMP, 80, 80, 80, 0))
    found = lines(replace(CALM, fahrenheit=True, places=(day,)))
    assert found[2] == "North cabinet: 77.0 / 86.0 / 95.0 °F (above 86.0 °F); 80 / 80 / 80 % RH"


@pytest.mark.parametrize(
    ("share", "found", "said"),
    [
        (0.999, window("2026-06-12", "2026-06-12"), "99 %, hatching 12 Jun"),
        (1.0, window("2026-05-26", "2026-06-02", "open"), "100 %, due now, 26 May to 2 Jun"),
        (1.31, window("2026-05-10", "2026-05-20", "overdue"), "more than 120 %, overdue since 20 May"),
        (None, NoWindow("nobody knows"), "share unknown, no date"),
    ],
)
def test_a_clutch_in_a_line(share: float | None, found: HatchWindow | NoWindow, said: str) -> None:
    one = ClutchDay("Juniper", share, found, False)
    assert lines(replace(CALM, clutches=(one,)))[-1] == f"Juniper: {said}"


def test_clutches_where_an_alarm_is_open_come_first_then_the_soonest() -> None:
    given = (
        ClutchDay("none", None, NoWindow(""), False),
        ClutchDay("late", 0.5, window("2026-07-12", "2026-07-19"), False),
        ClutchDay("soon", 0.9, window("2026-06-02", "2026-06-09"), False),
        ClutchDay("open", 1.0, window("2026-05-26", "2026-06-02", "open"), False),
        ClutchDay("overdue", 1.2, window("2026-05-10", "2026-05-20", "overdue"), False),
        ClutchDay("alarm", 0.1, window("2026-08-12", "2026-08-19"), True),
    )
    found = [line.partition(":")[0] for line in lines(replace(CALM, clutches=given))[-6:]]
    assert found == ["alarm", "overdue", "open", "soon", "late", "none"]


def test_what_does_not_fit_is_counted_and_said_to_be_well_or_not() -> None:
    many = tuple(clutch(f"Clutch number {number:02}") for number in range(60))
    calm = lines(replace(CALM, clutches=many, places=(place("North cabinet"),)))
    shown = sum(line.startswith("Clutch number") for line in calm)
    assert 0 < shown < 60
    assert calm[-1] == f"and {60 - shown} more clutches, no alarm is open where they lie"
    ill = lines(replace(CALM, clutches=tuple(replace(each, alarm=True) for each in many)))
    shown = sum(line.startswith("Clutch number") for line in ill)
    assert ill[-1] == f"and {60 - shown} more clutches, an alarm is open where {60 - shown} of them lie"


def test_many_places_leave_room_for_everything_before_and_a_count_of_everything_behind() -> None:
    places = tuple(place(f"Cabinet {number}, upper shelf, box N{number}") for number in range(64))
    given = replace(CALM, open=(HOT,), rounds=("Next round by 31 May.",), places=places, clutches=(clutch("Juniper"),))
    found = lines(given)
    assert found[1].startswith("CRITICAL North cabinet")
    assert found[2:4] == ["Rounds:", "Next round by 31 May."]
    shown = sum(line.startswith("Cabinet") for line in found)
    assert f"and {64 - shown} more places, none beyond a limit, none with a gap" in found
    assert found[-1] in (
        "Juniper: 61 %, hatching 12 Jun to 19 Jun",
        "and 1 more clutch, no alarm is open where they lie",
    )


texts = st.text(max_size=300)
alarms = st.builds(OpenAlarm, st.sampled_from(Priority), texts, texts, st.just(NOW_MS - HOUR_MS), texts)
silents = st.builds(NotTold, texts, texts, texts, st.integers(NOW_MS - DAY_MS, NOW_MS + DAY_MS), texts)
values = st.none() | st.floats(-1e9, 1e9)
channels = st.builds(ChannelDay, st.sampled_from([AIR, DAMP]), values, values, values, st.integers(0, DAY_MS))
many_places = st.builds(PlaceDay, texts, st.lists(channels, min_size=1, max_size=3).map(tuple))
some_clutches = st.builds(
    ClutchDay,
    texts,
    st.none() | st.floats(0, 3),
    st.just(NoWindow("")) | st.just(window("2026-06-12", "2026-06-19")),
    st.booleans(),
)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(alarms, max_size=30).map(tuple),
    st.lists(silents, max_size=30).map(tuple),
    st.lists(texts, max_size=30).map(tuple),
    st.lists(many_places, max_size=70).map(tuple),
    st.lists(some_clutches, max_size=70).map(tuple),
)
def test_it_is_never_too_long_and_nothing_is_left_out_without_a_count(
    open_: tuple[OpenAlarm, ...],
    silent: tuple[NotTold, ...],
    troubles: tuple[str, ...],
    places: tuple[PlaceDay, ...],
    clutches: tuple[ClutchDay, ...],
) -> None:
    text = digest_text(replace(CALM, open=open_, not_told=silent, troubles=troubles, places=places, clutches=clutches))
    assert len(text.headline) + 1 + len(text.body) <= LONGEST_DIGEST
    assert "\n" not in text.headline
    assert len(text.headline) <= 80
    worst = min((each.priority for each in open_), default=None)
    assert worst is None or worst.word in text.body.splitlines()[1]
    assert bool(clutches) == any(line.startswith("Clutches, ") for line in text.body.splitlines())
