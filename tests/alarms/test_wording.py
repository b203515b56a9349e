"""Alert texts, whole: what a person reads at three in the morning."""

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from config.words import AlarmKind, Quantity
from daemon.alarms.definitions import DEFINITIONS
from daemon.alarms.wording import LONGEST_HEADLINE, LONGEST_TEXT, AlertFacts, Stage, alert_text
from daemon.clock import as_ms

NOW = as_ms(datetime(2025, 7, 3, 0, 17, tzinfo=UTC))  # 02:17 in Berlin
MINUTE = 60_000
HOT = AlertFacts(
    stage=Stage.RAISED,
    definition=DEFINITIONS[AlarmKind.TEMPERATURE_LETHAL_HIGH],
    place="North cabinet",
    quantity=Quantity.AIR_TEMPERATURE,
    since_ms=NOW - 6 * MINUTE,
    now_ms=NOW,
    zone=ZoneInfo("Europe/Berlin"),
    value=34.6,
    limit=34.0,
    worst=35.2,
    rate_per_h=12.0,
    last_reading_ms=NOW - 20_000,
    told=("Ana", "Ben"),
    clutches=("Ball python 3", "Corn snake 7"),
    link="https://incubator.example/a/7f3k",
)


def test_a_raised_alarm_says_how_bad_where_what_and_what_to_do_first() -> None:
    text = alert_text(HOT)
    assert text.headline == "CRITICAL North cabinet: 34.6 °C, dangerously hot"
    assert text.body.splitlines() == [
        "Limit 34.0 °C. Since 02:11 (6 min), rising 0.2 °C/min.",
        "Unplug the heat with dry hands and open it; if it smokes stay out, call for help.",
        "Time left: minutes, go now.",
        "Told: Ana, Ben.",
        "Inside: Ball python 3, Corn snake 7.",
        "https://incubator.example/a/7f3k",
    ]


def test_the_same_alarm_in_fahrenheit() -> None:
    text = alert_text(replace(HOT, fahrenheit=True))
    assert text.headline == "CRITICAL North cabinet: 94.3 °F, dangerously hot"
    assert text.body.startswith("Limit 93.2 °F. Since 02:11 (6 min), rising 0.4 °F/min.")


def test_a_reminder_says_so_and_gives_the_worst_value() -> None:
    text = alert_text(replace(HOT, stage=Stage.STILL))
    assert text.headline == "UPDATE CRITICAL North cabinet: 34.6 °C, dangerously hot"
    assert text.body.startswith("Limit 34.0 °C, worst 35.2 °C. Since 02:11 (6 min)")


@pytest.mark.parametrize(("value", "said"), [(33.9, "back in range now"), (34.0, "dangerously hot")])
def test_a_reminder_with_a_good_value_says_that_it_is_back(value: float, said: str) -> None:
    text = alert_text(replace(HOT, stage=Stage.STILL, value=value))
    assert text.headline == f"UPDATE CRITICAL North cabinet: {value:.1f} °C, {said}"


def test_a_cleared_alarm_says_how_long_it_lasted_and_how_bad_it_was() -> None:
    text = alert_text(replace(HOT, stage=Stage.CLEARED, value=31.0, ended_ms=NOW - 2 * MINUTE))
    assert text.headline == "CLEARED North cabinet: 31.0 °C, was dangerously hot"
    assert text.body.splitlines()[:2] == [
        "Lasted 4 min, 02:11 to 02:15. Worst 35.2 °C (limit 34.0 °C).",
        "Nothing more to do for this alarm.",
    ]


def test_a_cleared_alarm_of_a_place_that_is_still_out_of_range_says_so_in_the_headline_and_what_to_do() -> None:
    text = alert_text(replace(HOT, stage=Stage.CLEARED, value=33.2, still_out=AlarmKind.TEMPERATURE_HIGH))
    assert text.headline == "UPDATE URGENT North cabinet: 33.2 °C, still too warm"
    assert "Not over: it is still too warm there." in text.body
    assert DEFINITIONS[AlarmKind.TEMPERATURE_HIGH].first_action in text.body
    assert "Nothing more" not in text.body


def test_a_test_cannot_be_taken_for_an_alarm() -> None:
    text = alert_text(replace(HOT, stage=Stage.TEST))
    assert text.headline == "TEST North cabinet: this is a test, nothing is wrong"
    assert "Sent 02:17 to see that alerts of priority CRITICAL reach you." in text.body
    assert "unplug" not in text.body


def test_no_data_says_how_long_ago_the_last_reading_was_and_what_it_was() -> None:
    quiet = replace(
        HOT, definition=DEFINITIONS[AlarmKind.NO_DATA], since_ms=NOW - MINUTE, last_reading_ms=NOW - 4 * MINUTE
    )
    text = alert_text(replace(quiet, value=29.8))
    assert text.headline == "URGENT North cabinet: no readings for 4 min"
    assert text.body.startswith("Last reading 02:13, 4 min ago: 29.8 °C.")
    assert text.body.count("Last reading") == 1
    assert alert_text(replace(quiet, last_reading_ms=None)).body.startswith("None heard since 02:16 (1 min).")
    back = alert_text(replace(quiet, stage=Stage.CLEARED, value=29.8))
    assert back.headline == "CLEARED North cabinet: 29.8 °C, readings are back"
    assert "Worst" not in back.body


def test_a_faulty_probe_says_what_it_read_and_why_that_is_not_believed() -> None:
    text = alert_text(
        replace(HOT, definition=DEFINITIONS[AlarmKind.PROBE_FAULT], value=85.0, detail="a value of a broken probe")
    )
    assert text.headline == "CHECK North cabinet: 85.0 °C, probe faulty"
    assert "Why: a value of a broken probe." in text.body
    assert "Limit" not in text.body


@pytest.mark.parametrize(("age_ms", "told"), [(5 * MINUTE - 1, False), (5 * MINUTE, True)])
def test_an_old_value_is_called_old(age_ms: int, told: bool) -> None:
    text = alert_text(replace(HOT, last_reading_ms=NOW - age_ms))
    assert ("Last reading 02:12, 5 min ago." in text.body) is told


def test_time_left_is_what_the_caller_knows_and_never_a_guess() -> None:
    assert (
        "Time left: about 3 h if the heat is off."
        in alert_text(replace(HOT, time_left="about 3 h if the heat is off")).body
    )


def test_a_limit_that_is_not_known_is_called_unknown() -> None:
    assert alert_text(replace(HOT, limit=None)).body.startswith("Limit unknown. Since 02:11")


def test_nobody_else_told_is_said() -> None:
    assert "Told: nobody else." in alert_text(replace(HOT, told=())).body


@pytest.mark.parametrize(
    ("place", "shown"),
    [
        ("North cabinet, box N1", "North cabinet, box N1"),
        ("North cabinet, upper shelf, box N1", "North cabinet, box N1"),
        ("Cabinet of the upper room, box N1", "Cabinet of the upper room"),
        ("Cabinet behind the door of the upper room", "Cabinet behind the door…"),
    ],
)
def test_a_long_place_is_shortened_and_the_value_is_not(place: str, shown: str) -> None:
    text = alert_text(replace(HOT, place=place))
    assert text.headline == f"CRITICAL {shown}: 34.6 °C, dangerously hot"
    assert len(text.headline) <= LONGEST_HEADLINE


def test_a_place_cut_from_the_headline_stands_in_the_body_where_it_fits() -> None:
    text = alert_text(replace(HOT, place="North cabinet, upper shelf, box N1", stage=Stage.CLEARED))
    assert "Where: North cabinet, upper shelf, box N1." in text.body


def test_names_that_do_not_fit_are_counted() -> None:
    text = alert_text(replace(HOT, clutches=tuple(f"Clutch number {number}" for number in range(30))))
    assert "Clutch number 1" in text.body
    assert text.body.count(" more.") == 1
    without_link = text.body.removesuffix(f"\n{HOT.link}")
    assert len(text.headline) + 1 + len(without_link) <= LONGEST_TEXT


def test_a_line_break_in_a_name_does_not_make_a_line_of_its_own() -> None:
    text = alert_text(replace(HOT, place="North\r\nSubject: x", clutches=("A\nCLEARED B",)))
    assert "\n" not in text.headline
    assert "Inside: A CLEARED B." in text.body.splitlines()
