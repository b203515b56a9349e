"""Quiet hours and emergency contacts through the real journal, evaluator and outbox."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.household import MINUTE_MS
from tests.support.on_duty import DutyHouse, duty_house

EVENING = "2026-05-28 22:30"
MORNING = "2026-05-29 07:00"
EXTRA = """
[[person]]
id = "vet"
name = "Dr Vet"
emergency = true
[[person.contact]]
kind = "webhook"
url = "http://127.0.0.1:9/vet"
[quiet]
start = "22:00"
end = "07:00"
"""
COLD, CALM, LETHAL_C = 20.0, 28.0, 37.0
"""degree Celsius: below what the clutch wants (the lowest priority), within it, and past what it survives"""


@pytest.fixture
def house(tmp_path: Path) -> Iterator[DutyHouse]:
    """At half past ten in the evening, in Madrid."""
    with duty_house(tmp_path, EXTRA) as made:
        made.until(EVENING)
        yield made


def waiting_until(house: DutyHouse) -> list[int | None]:
    with house.journal.read() as conn:
        return [at_ms for (at_ms,) in conn.execute("SELECT next_attempt_at_ms FROM outbox ORDER BY rowid")]


def test_an_alarm_of_the_lowest_priority_waits_for_the_morning(house: DutyHouse) -> None:
    while house.now_ms < house.moment_ms(MORNING) - MINUTE_MS:
        house.minutes(1, COLD)
    assert house.shown("temperature-low:north-air/air") == "unacknowledged"
    assert house.messages() == []
    house.minutes(2, COLD)
    [(person, headline)] = house.new_messages(0)
    assert (person, headline.split()[0]) == ("ana", "CHECK")


def test_what_nobody_has_heard_of_is_not_told_as_over(house: DutyHouse) -> None:
    house.minutes(60, COLD)
    assert house.shown("temperature-low:north-air/air") == "unacknowledged"
    house.minutes(60, CALM)
    assert house.shown("temperature-low:north-air/air") == "normal"
    house.until("2026-05-29 07:30")
    assert house.messages() == []


def test_the_end_of_an_alarm_that_was_told_in_the_evening_wakes_nobody(tmp_path: Path) -> None:
    with duty_house(tmp_path, EXTRA.replace('"22:00"', '"23:30"')) as house:
        house.minutes(60, COLD)
        assert [headline.split()[0] for _, headline in house.new_messages(0)] == ["CHECK"]
        house.minutes(60, CALM)
        assert [headline.split()[0] for _, headline in house.new_messages(1)] == ["CLEARED"]
        assert waiting_until(house) == [None, house.moment_ms(MORNING)]


def test_a_critical_alarm_is_called_at_night_and_after_half_an_hour_the_emergency_contact(house: DutyHouse) -> None:
    house.minutes(60, COLD)
    house.minutes(20, LETHAL_C)
    critical = [who for who, headline in house.new_messages(0) if "CRITICAL" in headline]
    assert critical[0] == "ana"
    assert "ben" in critical
    assert "vet" not in critical
    house.minutes(25, LETHAL_C)
    assert "vet" in [who for who, headline in house.new_messages(0) if "CRITICAL" in headline]


def test_an_emergency_contact_is_not_called_for_less(tmp_path: Path) -> None:
    with duty_house(tmp_path, EXTRA) as house:
        house.minutes(200, 31.5)
        assert {who for who, headline in house.new_messages(0) if "URGENT" in headline} == {"ana", "ben"}
