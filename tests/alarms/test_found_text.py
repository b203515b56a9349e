"""The message about what was found afterwards: complete, short enough, and never a call."""

from datetime import UTC
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from config.words import AlarmKind, Priority, Quantity
from daemon.alarms.found_text import LONGEST_HEADLINE, LONGEST_TEXT, FoundPlace, found_text

HOUR_MS, MINUTE_MS = 3_600_000, 60_000
NIGHT_MS = 1_779_926_400_000
"""2026-05-28T00:00:00Z."""
COLD = FoundPlace(
    place="North cabinet, box N1",
    kind=AlarmKind.TEMPERATURE_HIGH,
    quantity=Quantity.AIR_TEMPERATURE,
    worst=37.2,
    limit=33.0,
    since_ms=NIGHT_MS + 2 * HOUR_MS + 10 * MINUTE_MS,
    until_ms=NIGHT_MS + 2 * HOUR_MS + 40 * MINUTE_MS,
    now_value=30.9,
    now_value_ms=NIGHT_MS + 6 * HOUR_MS + 12 * MINUTE_MS,
)
CAME_MS = NIGHT_MS + 6 * HOUR_MS + 12 * MINUTE_MS


def written(*found: FoundPlace, fahrenheit: bool = False, must_say: str = "") -> tuple[Priority, str, str]:
    return found_text(found, (CAME_MS, CAME_MS), CAME_MS, UTC, fahrenheit=fahrenheit, must_say=must_say)


def test_it_says_where_how_far_from_when_to_when_that_it_is_over_and_when_the_readings_came() -> None:
    priority, headline, body = written(COLD)
    assert priority is Priority.LOW
    assert headline == "CHECK North cabinet, box N1: was too warm, over now"
    assert body == (
        "Found afterwards: North cabinet, box N1 was 37.2 °C at most, above its limit of 33.0 °C from 02:10 to 02:40.\n"
        "It is over: 30.9 °C now.\n"
        "These readings came at 06:12.\n"
        "Look at the eggs there."
    )


def test_a_probe_that_was_faulty_has_neither_a_limit_nor_a_worst_value() -> None:
    fault = COLD._replace(kind=AlarmKind.PROBE_FAULT, worst=0.0, limit=0.0)
    priority, headline, body = written(fault)
    assert priority is Priority.LOW
    assert headline == "CHECK North cabinet, box N1: probe was faulty, over now"
    assert body == (
        "Found afterwards: North cabinet, box N1: a probe said what cannot be true from 02:10 to 02:40.\n"
        "It is over: 30.9 °C now.\n"
        "These readings came at 06:12.\n"
        "What it was like there meanwhile nobody knows."
    )


def test_what_is_on_record_alone_is_counted() -> None:
    text = found_text([COLD, COLD], (CAME_MS, CAME_MS), CAME_MS, UTC, fahrenheit=False, more=40)
    assert text.body.splitlines()[-1].startswith("And 4")
    assert len(text.headline) + 1 + len(text.body) <= LONGEST_TEXT


def test_below_a_limit_the_least_counts() -> None:
    low = COLD._replace(kind=AlarmKind.TEMPERATURE_LOW, worst=19.5, limit=24.0)
    assert "19.5 °C at least, below its limit of 24.0 °C" in written(low)[2]


def test_a_lethal_limit_is_urgent_and_never_critical() -> None:
    lethal = COLD._replace(kind=AlarmKind.TEMPERATURE_LETHAL_HIGH, is_lethal=True)
    priority, headline, body = written(lethal, COLD)
    assert priority is Priority.HIGH
    assert headline.startswith("URGENT ")
    assert "its lethal limit of" in body


def test_an_old_newest_reading_is_not_called_now() -> None:
    old = COLD._replace(now_value_ms=COLD.until_ms + 20 * MINUTE_MS)
    assert "It was over; the newest reading is 30.9 °C, 03:00." in written(old)[2]


def test_what_is_out_of_range_again_is_not_called_over() -> None:
    assert "It is over" not in written(COLD._replace(is_on=True))[2]


def test_fahrenheit_where_the_site_wants_it() -> None:
    # 37.2 °C is 98.96 °F, 33.0 °C is 91.4 °F.
    assert "was 99.0 °F at most, above its limit of 91.4 °F" in written(COLD, fahrenheit=True)[2]


@given(
    st.lists(st.text(st.characters(codec="utf-8", exclude_categories=["C"]), min_size=1, max_size=90), min_size=1),
    st.booleans(),
    st.sampled_from(["", "Venomous: trained handlers only.", "Dangerous animals inside."]),
    st.integers(0, 400),
    st.sampled_from([0, 1, 900]),
    st.sampled_from([AlarmKind.TEMPERATURE_HIGH, AlarmKind.PROBE_FAULT]),
)
def test_any_number_of_places_with_any_names_fits(
    names: list[str], lethal: bool, must_say: str, days: int, more: int, kind: AlarmKind
) -> None:
    found = [COLD._replace(place=name, is_lethal=lethal, kind=kind) for name in names]
    now_ms, zone = CAME_MS + days * 24 * HOUR_MS, ZoneInfo("Europe/Madrid")
    text = found_text(found, (CAME_MS, now_ms), now_ms, zone, fahrenheit=False, must_say=must_say, more=more)
    assert len(text.headline) <= LONGEST_HEADLINE
    assert len(text.headline) + 1 + len(text.body) <= LONGEST_TEXT
    assert text.body.startswith(must_say)
