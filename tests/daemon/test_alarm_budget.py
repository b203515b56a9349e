"""How many messages a person gets: a flood, and noise around a limit, through evaluation, desk and outbox.

X-4 and X-33 of the checks in tests/alarms/README.md. That noise of 0.15 °C around a limit for six hours is one alarm at
the most, and a flood at most two messages a person, are this project's promises.
"""

import math
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from config.check import check_site
from daemon.alarms.delivery import MessageKind, OutgoingMessage
from daemon.clutches import register
from daemon.evaluate import Evaluator
from daemon.storage import alarm_log, samples
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.support.called import SECOND_PERSON
from tests.support.household import DAY_MS, MINUTE_MS, PERSON, a_clutch
from tests.support.latency import INCUBATOR

START_MS = 1_780_000_000_000
INCUBATORS = 24


class Rooms:
    """Many cabinets with a probe each, all of them read at the same moments."""

    def __init__(self, journal: Journal, folder: Path) -> None:
        folder.mkdir()
        cabinets = "".join(INCUBATOR.format(n=number) for number in range(INCUBATORS))
        head = '[site]\nname = "Budget"\ntime_zone = "Europe/Madrid"\n'
        people = PERSON.format(url="http://127.0.0.1:9/ana") + SECOND_PERSON
        (folder / "site.toml").write_text(head + cabinets + people, encoding="utf-8")
        checked = check_site(folder)
        assert checked.site is not None
        assert checked.settings is not None
        self.journal, self.now_ms = journal, START_MS
        channels = dict(Decoder(checked.site).channels)
        self.channels = sorted(channels)
        self.ids = journal.write(lambda conn: samples.channel_ids(conn, channels.values()))
        for number in range(INCUBATORS):
            clutch = a_clutch(START_MS - DAY_MS, f"C{number}", f"i{number}/z/B")
            journal.write(lambda conn, clutch=clutch: register.add_clutch(conn, clutch, "test", START_MS))  # type: ignore[misc]
        self.evaluator = Evaluator(journal, checked.site, checked.settings, checked.profiles, channels, START_MS)

    def read(self, values: Sequence[float], after_s: float = 10.0) -> None:
        """One reading of every probe, evaluated at once."""
        self.now_ms += round(after_s * 1000)
        rows = [
            Reading(channel, self.now_ms, self.now_ms, value, 0)
            for channel, value in zip(self.channels, values, strict=True)
        ]
        self.journal.write(lambda conn: samples.append(conn, self.ids, rows))
        self.evaluator.step(lambda: self.now_ms)

    def messages(self, person: str) -> list[OutgoingMessage]:
        with self.journal.read() as conn:
            rows = conn.execute("SELECT contact, body FROM outbox ORDER BY rowid").fetchall()
        return [OutgoingMessage.from_json(body) for contact, body in rows if contact.startswith(person)]

    def raised(self, kind: str) -> set[str]:
        """The channels of which an alarm of a kind was written down as raised."""
        with self.journal.read() as conn:
            events = alarm_log.events(conn, 100_000)
        return {
            event.alarm_key.partition(":")[2]
            for event in events
            if event.alarm_key.startswith(f"{kind}:") and event.event.startswith("raised")
        }


@pytest.fixture
def rooms(tmp_path: Path) -> Iterator[Rooms]:
    with Journal.open(tmp_path / "journal.sqlite3") as journal:
        yield Rooms(journal, tmp_path / "site")


def test_all_probes_out_of_range_within_a_minute_are_two_messages_a_person_at_the_most(rooms: Rooms) -> None:
    for _ in range(12):
        rooms.read([28.5] * INCUBATORS)
    # Each cabinet a moment after the one before, all of them within a minute, and far beyond what eggs bear.
    for turn in range(6):
        rooms.read([36.0 if number < (turn + 1) * 4 else 28.5 for number in range(INCUBATORS)])
    for _ in range(11):
        rooms.read([36.0] * INCUBATORS)
    calls = [each for each in rooms.messages("ana") if each.kind is MessageKind.ALARM]
    assert 1 <= len(calls) <= 2
    assert rooms.messages("ben") == []
    assert rooms.raised("temperature-lethal-high") == set(rooms.channels)
    listed = calls[-1].body
    assert "Also: " in listed
    assert "more" in listed


def test_noise_around_a_limit_is_one_alarm_at_the_most_for_six_hours(rooms: Rooms) -> None:
    """A sine of 0.15 °C around the limit of 30 °C, with a period of its own in each cabinet: 40 s to 3 h."""
    periods_s = [40 * (10_800 / 40) ** (number / (INCUBATORS - 1)) for number in range(INCUBATORS)]
    for turn in range(6 * 60 * 2):
        at_s = turn * 30
        rooms.read([30 + 0.15 * math.sin(2 * math.pi * at_s / period) for period in periods_s], 30.0)
    with rooms.journal.read() as conn:
        events = [each for each in alarm_log.events(conn, 100_000) if each.event.startswith("raised")]
    for channel in rooms.channels:
        assert len([each for each in events if each.alarm_key.endswith(f":{channel}")]) <= 1
    # Some of them are long enough beyond it to be told: the check could fail.
    assert len(events) >= 1
    last_ms = max(event.at_ms for event in events)
    assert last_ms < START_MS + 6 * 60 * MINUTE_MS
