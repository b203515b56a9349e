"""What reaches a phone of the conditions of the air: whole messages, through the real evaluation and its journal."""

import json
import math
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from config.check import check_site
from config.words import AlarmKind
from daemon.alarms.definitions import DEFINITIONS
from daemon.evaluate import Evaluator
from daemon.standing_sources.condensation import Lids
from daemon.standing_sources.disagreement import Twins
from daemon.standing_sources.exposures import Exposures
from daemon.standing_sources.source import Source
from daemon.standing_sources.trends import Trends
from sensors.decoder import Decoder
from tests.standing.air_house import AIR, HOUR_MS, START_MS, AirHouse, every
from tests.support.household import MINUTE_MS
from tests.support.journals import new_journal


@pytest.fixture
def house(tmp_path: Path) -> Iterator[AirHouse]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield AirHouse(journal, tmp_path / "site", lambda site, _settings, _profiles: Trends(site))


def told(house: AirHouse, folder: Path, of_hour: Callable[[float], float], until_h: float) -> dict[str, list[str]]:
    """Evaluate every half minute as a daemon does; gives the first message of each alarm by kind, in lines."""
    checked = check_site(folder)
    assert checked.settings is not None
    site, profiles, settings = house.site, house.profiles, checked.settings
    bridge_s = settings.heat.longest_bridge_s
    sources: tuple[Source, ...] = (Trends(site), Exposures(site, profiles, bridge_s), Lids(site), Twins(site))
    begin_ms, end_ms = START_MS + 25 * HOUR_MS, START_MS + round(until_h * HOUR_MS)
    house.put(AIR, every(1, START_MS, begin_ms, of_hour))
    channels = Decoder(site).channels
    evaluator = Evaluator(house.journal, site, settings, profiles, channels, begin_ms, sources=sources)
    for now_ms in range(begin_ms, end_ms, MINUTE_MS // 2):
        house.put(AIR, every(1, now_ms, now_ms + 1, of_hour))
        while evaluator.step(lambda now_ms=now_ms: now_ms)[0]:  # type: ignore[misc]
            pass
    assert evaluator.failing == ()
    with house.journal.read() as conn:
        rows = conn.execute("SELECT body FROM outbox ORDER BY rowid DESC").fetchall()
    return {message["alarm"]: message["body"].splitlines() for message in (json.loads(body) for (body,) in rows)}


def test_an_open_door_is_a_message_with_what_fell_and_what_to_do(house: AirHouse, tmp_path: Path) -> None:
    house.enter()
    lines = told(house, tmp_path / "site", lambda at: 29 - 3 * (1 - math.exp(-10 * max(at - 26, 0))), 26.4)
    falling = lines["temperature-falling"]
    assert DEFINITIONS[AlarmKind.TEMPERATURE_FALLING].first_action in falling
    assert any(line.startswith("Why: 29.0 to 26.") and line.endswith(" °C in 10 min.") for line in falling)


def test_a_heater_that_creeps_up_is_a_message_with_the_time_left(house: AirHouse, tmp_path: Path) -> None:
    house.enter()
    lines = told(house, tmp_path / "site", lambda at: 29 + 4.5 * max(at - 26, 0), 26.5)
    assert "temperature-high" not in lines
    assert any(line.startswith("Time left: 35.0 °C in about ") for line in lines["lethal-ahead"])


def test_hours_of_heat_that_are_too_many_are_a_message_about_the_clutch(house: AirHouse, tmp_path: Path) -> None:
    house.enter("Juniper")
    lines = told(house, tmp_path / "site", lambda at: 34.0 if at >= 26 else 29.0, 27.2)
    # A fifth of the minute of the rise lies above 33 °C; the 60th whole minute after it passes the hour.
    assert any(line.startswith("Why: 1 h 1 min above 33.0 °C in 24 h, at most 1 h") for line in lines["exposure"])
