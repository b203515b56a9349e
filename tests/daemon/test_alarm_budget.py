"""How many messages a person gets: a flood, and noise around a limit, through evaluation, desk and outbox.

X-4 and X-33 of the checks in tests/alarms/README.md. That noise of 0.15 °C around a limit for six hours is one alarm at
the most, and a flood at most two messages a person, are this project's promises.
"""

import math
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.alarms.delivery import MessageKind
from tests.daemon.cabinets import CABINETS, START_MS, Cabinets
from tests.support.household import MINUTE_MS
from tests.support.journals import new_journal


@pytest.fixture
def cabinets(tmp_path: Path) -> Iterator[Cabinets]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Cabinets(journal, tmp_path / "site")


def test_all_probes_out_of_range_within_a_minute_are_two_messages_a_person_at_the_most(cabinets: Cabinets) -> None:
    for _ in range(12):
        cabinets.read([28.5] * CABINETS)
    # Each cabinet a moment after the one before, all of them within a minute, and far beyond what eggs bear.
    for turn in range(6):
        cabinets.read([36.0 if number < (turn + 1) * 4 else 28.5 for number in range(CABINETS)])
    for _ in range(11):
        cabinets.read([36.0] * CABINETS)
    calls = [each for each in cabinets.messages("ana") if each.kind is MessageKind.ALARM]
    assert 1 <= len(calls) <= 2
    assert cabinets.messages("ben") == []
    of_channels = {each.alarm_key.partition(":")[2] for each in cabinets.raised("temperature-lethal-high:")}
    assert of_channels == set(cabinets.channels)
    listed = calls[-1].body
    assert "Also: " in listed
    assert "more" in listed


def test_noise_around_a_limit_is_one_alarm_at_the_most_for_six_hours(cabinets: Cabinets) -> None:
    """A sine of 0.15 °C around the limit of 30 °C, with a period of its own in each cabinet: 40 s to 3 h."""
    periods_s = [40 * (10_800 / 40) ** (number / (CABINETS - 1)) for number in range(CABINETS)]
    for turn in range(6 * 60 * 2):
        at_s = turn * 30
        cabinets.read([30 + 0.15 * math.sin(2 * math.pi * at_s / period) for period in periods_s], 30.0)
    events = cabinets.raised()
    for channel in cabinets.channels:
        assert len([each for each in events if each.alarm_key.endswith(f":{channel}")]) <= 1
    # Some of them are long enough beyond it to be told: the check could fail.
    assert len(events) >= 1
    last_ms = max(event.at_ms for event in events)
    assert last_ms < START_MS + 6 * 60 * MINUTE_MS
