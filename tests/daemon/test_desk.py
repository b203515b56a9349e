"""The alarm desk on a real journal: who is called when, what people do about it, and what is written down."""

import random
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from config.check import check_site
from daemon.alarms.delivery import OutgoingMessage
from daemon.alarms.events import Reset, Shelve
from daemon.clutches import register
from daemon.desk_work import DeskWork, Done
from daemon.evaluate import Evaluator
from daemon.storage import alarm_records, samples
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch, write_site
from tests.support.journals import new_journal

START_MS = 1_780_000_000_000
AIR = "north-air/air"
HIGH, LETHAL = f"temperature-high:{AIR}", f"temperature-lethal-high:{AIR}"
SECOND_PERSON = """
[[person]]
id = "ben"
name = "Ben"
[[person.contact]]
kind = "webhook"
url = "http://127.0.0.1:9/ben"
"""


@dataclass
class Room:
    """A house with two people, one reading a minute, and a look at everything each time."""

    journal: Journal
    folder: Path
    now_ms: int = START_MS
    seen: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        checked = check_site(self.folder)
        assert checked.site is not None
        assert checked.settings is not None
        self._checked, self._channels = checked, dict(Decoder(checked.site).channels)
        self.work = DeskWork(checked.site, checked.profiles)
        self.ids = self.journal.write(lambda conn: samples.channel_ids(conn, self._channels.values()))
        self.journal.write(lambda conn: register.add_clutch(conn, a_clutch(START_MS - DAY_MS), "test", START_MS))
        self.restart()

    def restart(self) -> None:
        checked = self._checked
        assert checked.site is not None
        assert checked.settings is not None
        self.evaluator = Evaluator(
            self.journal, checked.site, checked.settings, checked.profiles, self._channels, START_MS
        )

    def minutes(self, count: int, value: float | None) -> list[str]:
        """Let minutes pass with this reading, or none. Gives the new messages: person and headline."""
        for _ in range(count):
            self.now_ms += MINUTE_MS
            if value is not None:
                rows = [
                    Reading(AIR, self.now_ms, self.now_ms, value, 0),
                    Reading("north-air/rh", self.now_ms, self.now_ms, 70.0, 0),
                ]
                self.journal.write(lambda conn, rows=rows: samples.append(conn, self.ids, rows))  # type: ignore[misc]
            self.evaluator.step(lambda: self.now_ms)
        return self.new_messages()

    def new_messages(self) -> list[str]:
        with self.journal.read() as conn:
            rows = conn.execute("SELECT message_id, contact, body FROM outbox ORDER BY rowid").fetchall()
        found = [
            f"{contact.split('/')[0]}: {OutgoingMessage.from_json(body).headline}"
            for message_id, contact, body in rows
            if message_id not in self.seen
        ]
        self.seen |= {message_id for message_id, *_ in rows}
        return found

    def acknowledge(self, key: str, who: str, note: str = "") -> list[Done]:
        return self.journal.write(lambda conn: self.work.acknowledge(conn, [key], who, note, self.now_ms))

    def shown(self, key: str) -> str:
        with self.journal.read() as conn:
            entries = self.work.read(conn).entries
        return entries[key].state.shown if key in entries else "normal"

    def story(self) -> list[tuple[str, str, str]]:
        with self.journal.read() as conn:
            return [(one.event, one.after, one.who) for one in alarm_records.newest(conn, 1000)[::-1]]


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    folder = write_site(tmp_path / "site", 1883, "http://127.0.0.1:9/phone", extra=SECOND_PERSON)
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Room(journal, folder)


def first_person(room: Room) -> str:
    site = room._checked.site
    assert site is not None
    return site.people[0].id


def test_an_alarm_that_nobody_answers_climbs_to_the_second_person_and_goes_on(room: Room) -> None:
    """Priority 2: the first person at once and again, the second after ten minutes, everybody every half hour."""
    one = first_person(room)
    room.minutes(5, 28.0)
    told = room.minutes(14, 31.0)
    assert told[0].startswith(f"{one}: URGENT")
    assert [line.split(":")[0] for line in told[1:]] == [one] * (len(told) - 1)
    told = room.minutes(12, 31.0)
    assert any(line.startswith("ben: UPDATE URGENT") for line in told)
    later = room.minutes(90, 31.0)
    assert {line.split(":")[0] for line in later} == {one, "ben"}
    assert 4 <= len(later) <= 8


def test_an_acknowledgement_stops_the_calls_and_is_on_record(room: Room) -> None:
    one = first_person(room)
    room.minutes(5, 28.0)
    room.minutes(30, 31.0)
    [done] = room.acknowledge(HIGH, "ben")
    assert done.accepted, done.reason
    assert room.shown(HIGH) == "acknowledged"
    assert [line.split(" ")[:2] for line in room.new_messages()] == [[f"{one}:", "ACKNOWLEDGED"]]
    assert room.minutes(60, 31.0) == []
    assert ("acknowledge", "acknowledged", "ben") in room.story()
    [again] = room.acknowledge(HIGH, one)
    assert not again.accepted
    assert "ben has acknowledged it already" in again.reason
    # back in range: told once, and it is over
    told = room.minutes(30, 28.0)
    assert [line.split(" ")[1] for line in told] == ["CLEARED"] * len(told)
    assert room.shown(HIGH) == "normal"


def test_nobody_acknowledges_and_it_is_over_is_not_forgotten(room: Room) -> None:
    room.minutes(5, 28.0)
    room.minutes(30, 31.0)
    told = room.minutes(30, 28.0)
    assert any("CLEARED" in line for line in told)
    assert room.shown(HIGH) == "returned to normal unacknowledged"
    reminders = room.minutes(5 * 60, 28.0)
    assert reminders
    assert all("CLEARED" in line for line in reminders)
    [done] = room.acknowledge(HIGH, "ben")
    assert done.accepted
    assert room.shown(HIGH) == "normal"


def test_a_lethal_limit_is_never_shelved_latches_and_folds_the_warning(room: Room) -> None:
    room.minutes(5, 28.0)
    room.minutes(30, 31.0)
    told = room.minutes(10, 35.5)
    assert any("CRITICAL" in line for line in told)
    assert room.shown(HIGH) == "suppressed by design"
    [refused] = room.journal.write(
        lambda conn: room.work.do(conn, {LETHAL: Shelve("ben", "noise", room.now_ms + 60_000)}, room.now_ms)
    )
    assert not refused.accepted
    calls = room.minutes(60, 35.5)
    assert len([line for line in calls if "CRITICAL" in line]) >= 10
    assert not any("URGENT" in line for line in calls)
    room.acknowledge(LETHAL, "ben", "heat is off")
    assert all("ACKNOWLEDGED" in line for line in room.new_messages())
    assert room.minutes(20, 35.5) == []
    room.minutes(60, 28.0)
    assert room.shown(LETHAL) == "latched acknowledged"
    [done] = room.journal.write(lambda conn: room.work.do(conn, {LETHAL: Reset("ben")}, room.now_ms))
    assert done.accepted, done.reason
    assert room.shown(LETHAL) == "normal"


def test_a_shelf_is_quiet_ends_by_itself_and_tells_what_is_still_on(room: Room) -> None:
    room.minutes(5, 28.0)
    room.minutes(15, 31.0)
    until_ms = room.now_ms + 60 * MINUTE_MS
    [done] = room.journal.write(
        lambda conn: room.work.do(conn, {HIGH: Shelve("ben", "new thermostat", until_ms)}, room.now_ms)
    )
    assert done.accepted, done.reason
    assert room.shown(HIGH) == "shelved"
    assert room.minutes(58, 31.0) == []
    assert room.minutes(4, 31.0)
    assert room.shown(HIGH) == "unacknowledged"


def test_silence_returns_nothing_to_normal(room: Room) -> None:
    room.minutes(5, 28.0)
    room.minutes(30, 31.0)
    room.minutes(90, None)
    assert room.shown(HIGH) == "unacknowledged"
    assert room.shown(f"no-data:{AIR}") == "unacknowledged"


def test_a_person_who_is_faster_than_an_evaluation_is_not_overwritten(room: Room) -> None:
    """The acknowledgement is stored after the evaluator has read the desk; what it works out must not undo it."""
    room.minutes(5, 28.0)
    room.minutes(30, 31.0)
    with Journal.open(room.journal.path) as other:
        other.write(lambda conn: room.work.acknowledge(conn, [HIGH], "ben", "", room.now_ms))
    room.minutes(5, 31.0)
    assert room.shown(HIGH) == "acknowledged"


def test_a_clock_that_is_set_back_does_not_silence_the_ladder(room: Room) -> None:
    """X-10: an hour back after the first call; the second person is called ten minutes later all the same."""
    room.minutes(5, 28.0)
    room.minutes(8, 31.0)
    room.now_ms -= 60 * MINUTE_MS
    told = room.minutes(14, 31.0)
    assert any(line.startswith("ben:") for line in told)


def test_an_alarm_of_a_place_that_is_gone_from_the_site_is_over_and_stops_nothing(room: Room) -> None:
    room.minutes(5, 28.0)
    room.minutes(30, 31.0)
    file = room.folder / "site.toml"
    file.write_text(file.read_text().replace('id = "upper"', 'id = "top"').replace("north/upper", "north/top"))
    room._checked = check_site(room.folder)
    room.restart()
    assert room.minutes(60, 28.0) is not None
    with room.journal.read() as conn:
        assert DeskWork(room._checked.site, room._checked.profiles).read(conn).entries == {}  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(6))
def test_a_restart_at_any_point_gives_the_same_messages_and_states(seed: int) -> None:
    def run(*, restarts: bool) -> tuple[list[str], list[tuple[str, str, str]]]:
        chance, cuts = random.Random(seed), random.Random(seed + 1)
        with tempfile.TemporaryDirectory() as where, new_journal(Path(where) / "j.sqlite3") as journal:
            folder = write_site(Path(where) / "site", 1883, "http://127.0.0.1:9/phone", extra=SECOND_PERSON)
            house = Room(journal, folder)
            told: list[str] = []
            for _ in range(14):
                told += house.minutes(chance.randint(1, 25), chance.choice([28.0, 31.0, 33.0, 35.5, 22.0, None]))
                if chance.random() < 0.25:
                    house.acknowledge(chance.choice([HIGH, LETHAL]), "ben", "seen")
                if restarts and cuts.random() < 0.6:
                    house.restart()
            return told, house.story()

    assert run(restarts=True) == run(restarts=False)
