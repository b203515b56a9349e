"""A power cut through the whole evaluation, on a real journal: one early call, what follows under it, lethal free.

X-18 of the checks in tests/alarms/README.md.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest

from config.places import Places
from daemon.alarm_desk_store import from_rows
from daemon.alarm_desk_values import Entry
from daemon.alarms.delivery import OutgoingMessage
from daemon.alarms.state_values import AlarmMemory
from daemon.evaluate import Evaluator
from daemon.rota import rota_of
from daemon.standing_sources.contacts import Contacts
from daemon.standing_sources.silent import Silences
from daemon.storage import desk
from tests.standing.powered import (
    AIR,
    BOX,
    DOOR,
    MAINS,
    MINUTE_MS,
    ROOM,
    SECOND_MS,
    SOUTH,
    START_MS,
    Powered,
    powered,
)
from tests.support.household import PERSON

CUT_MS = START_MS + 30 * MINUTE_MS


class Night:
    """Looks every few seconds, hands over the readings that are due, and keeps what was written for people."""

    def __init__(self, house: Powered) -> None:
        self.house, self.now_ms = house, START_MS
        self.written: dict[str, tuple[int, OutgoingMessage]] = {}
        self.coming: list[tuple[int, str, float]] = []
        # Eggs of a made-up species that dies below 20 °C: the ratsnake has no such limit on record.
        ratsnake = house.profiles["elaphe-taeniura"]
        deadly = ratsnake.temperature.lethal_high.model_copy(update={"value": 20.0})
        temperature = ratsnake.temperature.model_copy(update={"lethal_low": deadly})
        self.profiles = {**house.profiles, ratsnake.id: ratsnake.model_copy(update={"temperature": temperature})}
        self.restart()

    def restart(self) -> None:
        """Begin from the journal, as after a kill."""
        house = self.house
        sources = (Contacts(house.site), Silences(house.site))
        self.evaluator = Evaluator(
            house.journal, house.site, house.settings, self.profiles, house.channels, self.now_ms, sources=sources
        )

    def say(self, channel: str, value: float, start_ms: int, end_ms: int, every_ms: int = MINUTE_MS) -> None:
        """Plan one value again and again, from start to end, both included."""
        self.coming += [(at_ms, channel, value) for at_ms in range(start_ms, end_ms + 1, every_ms)]

    def until(self, end_ms: int, every_s: int = 5) -> None:
        while self.now_ms < end_ms:
            self.now_ms = min(self.now_ms + every_s * SECOND_MS, end_ms)
            due = [each for each in self.coming if each[0] <= self.now_ms]
            self.coming = [each for each in self.coming if each[0] > self.now_ms]
            for at_ms, channel, value in sorted(due):
                self.house.say(channel, value, at_ms, at_ms, MINUTE_MS)
            self.evaluator.step(lambda: self.now_ms)
            with self.house.journal.read() as conn:
                rows = conn.execute("SELECT message_id, body FROM outbox ORDER BY rowid").fetchall()
            for message_id, body in rows:
                self.written.setdefault(message_id, (self.now_ms, OutgoingMessage.from_json(body)))

    def calls(self, alarm: str) -> list[tuple[int, OutgoingMessage]]:
        """What was written of an alarm: when, and what."""
        return [each for each in self.written.values() if each[1].alarm == alarm]

    @property
    def entries(self) -> dict[str, Entry]:
        """All alarms at the desk."""
        with self.house.journal.read() as conn:
            rota = rota_of(self.house.site, conn)
            return dict(from_rows(desk.load(conn), rota, Places(self.house.site).all)[0].entries)


@pytest.fixture
def night(tmp_path: Path) -> Iterator[Night]:
    """All is well until the cut."""
    phone = PERSON.format(url="http://127.0.0.1:9/phone")
    with powered(tmp_path, frozenset({"north-plug", "south-door"}), phone) as house:
        house.eggs()
        night = Night(house)
        for channel in (AIR, BOX, SOUTH, ROOM):
            night.say(channel, 28.0, START_MS, CUT_MS)
        night.say(MAINS, 1, START_MS, CUT_MS, 10 * SECOND_MS)
        night.say(DOOR, 0, START_MS, CUT_MS)
        night.until(CUT_MS, 30)
        assert night.written == {}
        yield night


def test_a_power_cut_is_told_within_a_minute_and_what_follows_from_it_is_not_told_on_its_own(night: Night) -> None:
    """The contact is on a battery, all thermometers are on the mains."""
    night.say(MAINS, 0, CUT_MS + 10 * SECOND_MS, CUT_MS + 40 * MINUTE_MS, 10 * SECOND_MS)
    night.until(CUT_MS + 5 * MINUTE_MS)
    night.until(CUT_MS + 40 * MINUTE_MS, 30)
    (first_ms, first), *_ = night.calls("mains-lost")
    assert first_ms - (CUT_MS + 10 * SECOND_MS) <= 60 * SECOND_MS
    assert first.priority == 1
    assert first.headline == "CRITICAL Test house: no mains"
    assert "Why: the contact ups/mains says mains absent." in first.body
    assert night.calls("no-data") == []
    assert night.calls("no-data-long") == []
    silent = night.entries[f"no-data:{AIR}"].state
    assert silent.is_suppressed, "it follows from the mains"
    assert night.entries["site-silent:site"].state.memory is AlarmMemory.UNACKNOWLEDGED, "and is never suppressed"


def test_a_lethal_limit_is_told_also_while_the_mains_is_lost(night: Night) -> None:
    """One thermometer in a box is on a battery too and sees the cold."""
    night.say(MAINS, 0, CUT_MS + 10 * SECOND_MS, CUT_MS + 40 * MINUTE_MS, 10 * SECOND_MS)
    for minute in range(1, 41):
        at_ms = CUT_MS + minute * MINUTE_MS
        night.say(BOX, max(18.0, 28.0 - 0.5 * minute), at_ms, at_ms, MINUTE_MS)
    night.until(CUT_MS + 40 * MINUTE_MS, 30)
    lethal = night.entries[f"temperature-lethal-low:{BOX}"]
    assert lethal.state.memory is AlarmMemory.UNACKNOWLEDGED
    assert not lethal.state.is_suppressed
    messages = (message for _, message in night.written.values())
    told = [each for each in messages if "dangerously cold" in f"{each.headline}{each.body}"]
    assert told
    assert told[0].priority == 1


def test_the_end_of_the_cut_is_told_and_a_restart_on_the_way_changes_nothing(night: Night) -> None:
    cut_ms, back_ms = CUT_MS + 10 * SECOND_MS, CUT_MS + 10 * MINUTE_MS
    night.say(MAINS, 0, cut_ms, back_ms - 10 * SECOND_MS, 10 * SECOND_MS)
    night.say(MAINS, 1, back_ms, back_ms + 10 * MINUTE_MS, 10 * SECOND_MS)
    for channel, value in {AIR: 27.5, BOX: 27.5, SOUTH: 27.5, ROOM: 20.0, DOOR: 0.0}.items():
        night.say(channel, value, CUT_MS + MINUTE_MS, back_ms + 10 * MINUTE_MS)
    night.until(CUT_MS + 25 * SECOND_MS)
    night.restart()
    night.until(CUT_MS + 5 * MINUTE_MS)
    night.restart()
    night.until(back_ms + 2 * MINUTE_MS)
    headlines = [message.headline for _, message in night.calls("mains-lost")]
    assert [each for each in headlines if not each.startswith("UPDATE")] == [
        "CRITICAL Test house: no mains",
        "CLEARED Test house: mains is back",
    ]


def test_a_door_left_open_is_told_after_five_minutes_and_one_that_is_closed_in_time_is_not(night: Night) -> None:
    for channel in (AIR, BOX, SOUTH, ROOM):
        night.say(channel, 27.5, CUT_MS + MINUTE_MS, CUT_MS + 40 * MINUTE_MS, MINUTE_MS)
    night.say(MAINS, 1, CUT_MS + 10 * SECOND_MS, CUT_MS + 40 * MINUTE_MS, 10 * SECOND_MS)
    night.say(DOOR, 1, CUT_MS + MINUTE_MS, CUT_MS + 5 * MINUTE_MS, MINUTE_MS)
    night.say(DOOR, 0, CUT_MS + 6 * MINUTE_MS, CUT_MS + 10 * MINUTE_MS, MINUTE_MS)
    night.say(DOOR, 1, CUT_MS + 11 * MINUTE_MS, CUT_MS + 40 * MINUTE_MS, MINUTE_MS)
    night.until(CUT_MS + 11 * MINUTE_MS, 30)
    assert night.written == {}
    night.until(CUT_MS + 17 * MINUTE_MS)
    ((told_ms, told),) = night.calls("door-open")
    assert told_ms == CUT_MS + 16 * MINUTE_MS
    assert told.headline == "URGENT North cabinet: door open"
    assert "Why: the contact north-door/door says door open." in told.body
