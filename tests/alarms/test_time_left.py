"""The words for the time left, and that they fit into a message whatever the figures are."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import AlarmKind
from daemon.alarms.definitions import DEFINITIONS
from daemon.alarms.time_left import Ahead, basis_line, time_left
from daemon.alarms.wording import Stage, alert_text
from daemon.climate.cooling import Forecast, Outcome, RoomAir, unknown
from tests.alarms.test_wording_lint import NAMES, check_content, check_form, facts

LOW = DEFINITIONS[AlarmKind.TEMPERATURE_LOW]
ROOM = RoomAir(20.0, 0.3, measured=True)


def ahead(early: float | None, likely: float | None, late: float | None, outcome: Outcome = Outcome.REACHED) -> Ahead:
    return Ahead(24.0, Forecast(early, likely, late, "", outcome), ROOM)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (ahead(0.85, 1.2, 1.6), "about 1 h 10 min to 24.0 °C, at the earliest 50 min"),
        (ahead(0.3, 0.3, 0.3), "about 18 min to 24.0 °C"),
        (ahead(0.001, 0.4, 1.0), "about 24 min to 24.0 °C, at the earliest under 1 min"),
        (ahead(10.6, 11.7, 13.0), "about 11 h 30 min to 24.0 °C, at the earliest 10 h 30 min"),
        (ahead(30.2, 40.9, 60.0), "about 1 d 16 h to 24.0 °C, at the earliest 1 d 6 h"),
        (ahead(5.2, None, None, Outcome.MAYBE), "at the earliest 5 h to 24.0 °C, perhaps never"),
        (ahead(None, None, None, Outcome.NEVER), "the room alone does not take it to 24.0 °C"),
        (Ahead(24.0, unknown("the reason")), "unknown, look today"),
        (Ahead(None, unknown("the reason")), "unknown, look today"),
    ],
)
def test_the_words_for_each_forecast(given: Ahead, words: str) -> None:
    assert time_left(given, LOW, fahrenheit=False) == words


def test_the_time_that_went_by_since_is_taken_off() -> None:
    old = Ahead(24.0, Forecast(1.0, 1.5, 2.0, "", Outcome.REACHED), ROOM, age_ms=30 * 60_000)
    assert time_left(old, LOW, fahrenheit=False) == "about 1 h to 24.0 °C, at the earliest 30 min"
    assert "At the latest 1 h 30 min" in basis_line(old, fahrenheit=False)


def test_figures_are_in_the_unit_of_the_site() -> None:
    assert time_left(ahead(1.0, 2.0, 3.0), LOW, fahrenheit=True).startswith("about 2 h to 75.2 °F")
    line = basis_line(ahead(1.0, 2.0, 3.0), fahrenheit=True)
    assert line == "At the latest 3 h; room measured at 68.0 °F."


def test_why_there_is_no_forecast_stands_below_and_not_in_the_time_left() -> None:
    seen = Ahead(20.0, unknown("it has not been seen"))
    text = alert_text(facts(AlarmKind.TEMPERATURE_LOW, Stage.RAISED, fahrenheit=False, names="short", ahead=seen))
    lines = text.body.splitlines()
    assert lines[2] == "Time left: unknown, look today."
    assert "No forecast: it has not been seen." in lines


HOURS = st.floats(0.0, 3000.0)


@given(
    st.tuples(HOURS, HOURS, HOURS).map(sorted),
    st.floats(-5.0, 40.0),
    st.sampled_from(list(Outcome)),
    st.booleans(),
    st.sampled_from(sorted(NAMES)),
    st.sampled_from([Stage.RAISED, Stage.STILL]),
    st.booleans(),
)
def test_whatever_the_forecast_the_message_keeps_the_rules(
    hours: list[float], limit_c: float, outcome: Outcome, fahrenheit: bool, names: str, stage: Stage, silent: bool
) -> None:
    known = outcome in (Outcome.REACHED, Outcome.MAYBE)
    forecast = Forecast(
        hours[0] if known else None,
        hours[1] if outcome is Outcome.REACHED else None,
        hours[2] if outcome is Outcome.REACHED else None,
        "",
        outcome,
    )
    kind = AlarmKind.NO_DATA if silent else AlarmKind.TEMPERATURE_LOW
    given_ahead = Ahead(limit_c, forecast, ROOM, 0, if_heat_is_off=silent)
    given = facts(kind, stage, fahrenheit, names, time_left="", ahead=given_ahead)
    text = alert_text(given)
    check_form(given, text)
    check_content(given, text)
    line = text.body.splitlines()[2]
    assert "…" not in line  # a figure that is cut off is another figure
    assert ("unknown" in line) is (outcome is Outcome.UNKNOWN)
