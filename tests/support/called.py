"""A house whose messages have links, on a real journal, with the pages in front of it."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

import httpx
from fastapi import FastAPI

from config.check import check_site
from daemon.alarm_board import AlarmBoard
from daemon.alarms.delivery import OutgoingMessage
from daemon.answer_desk import AnswerDesk
from daemon.arrival import BrokerState
from daemon.clutches import register
from daemon.desk_work import DeskWork
from daemon.evaluate import Evaluator
from daemon.overview import Overview
from daemon.queries import Queries
from daemon.storage import alarm_records, samples
from daemon.storage.alarm_records import AlarmRecord
from daemon.storage.journal import Journal
from dashboards.access.door import Door
from dashboards.app import create_app
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.dashboards.asking import ask
from tests.support.doors import open_to
from tests.support.household import DAY_MS, MINUTE_MS, House, a_clutch, now_ms, write_site
from tests.support.journals import new_journal
from tests.support.receiver import Receiver

START_MS = 1_780_000_000_000
AIR = "north-air/air"
PUBLIC_URL = "https://eggs.example.org"
HIGH, LETHAL = f"temperature-high:{AIR}", f"temperature-lethal-high:{AIR}"
FORM = "application/x-www-form-urlencoded"
SECOND_PERSON = """
[[person]]
id = "ben"
name = "Ben"
[[person.contact]]
kind = "webhook"
url = "http://127.0.0.1:9/ben"
"""


class CalledHouse:
    """Two people, one reading a minute, and a look at everything each time."""

    def __init__(self, journal: Journal, folder: Path) -> None:
        checked = check_site(folder)
        assert checked.site is not None
        assert checked.settings is not None
        site, self.now_ms, self.journal = checked.site, START_MS, journal
        self.site, self.zone = site, ZoneInfo(site.time_zone)
        channels = dict(Decoder(site).channels)
        self.ids = journal.write(lambda conn: samples.channel_ids(conn, channels.values()))
        journal.write(lambda conn: register.add_clutch(conn, a_clutch(START_MS - DAY_MS), "test", START_MS))
        self.evaluator = Evaluator(journal, site, checked.settings, checked.profiles, channels, START_MS)
        self.work = DeskWork(site, checked.profiles, public_url=PUBLIC_URL)
        self.desk = AnswerDesk(journal, self.work, site, checked.profiles, lambda: self.now_ms)
        self.board = AlarmBoard(journal, self.work, site, checked.profiles, lambda: self.now_ms)
        self._queries = Queries(journal, site, checked.profiles, channels, 1800)
        self._written: dict[str, tuple[str, str]] = {}
        self.app = self.pages()

    def pages(self, door: Door | None = None) -> FastAPI:
        """The pages behind a door; without one for everybody."""
        door = door or open_to(public_url=PUBLIC_URL)
        return create_app(self.overview, answers=self.desk, alarms=self.board, door=door)

    def overview(self) -> Overview:
        """What the first page is made of."""
        broker = BrokerState(connected=True, detail="", since_ms=START_MS)
        return self._queries.overview(self.now_ms, 1.0, broker)

    def minutes(self, count: int, value: float) -> None:
        """Let minutes pass with this reading."""
        for _ in range(count):
            self.now_ms += MINUTE_MS
            readings = [Reading(AIR, self.now_ms, self.now_ms, value, 0)]
            readings.append(Reading("north-air/rh", self.now_ms, self.now_ms, 70.0, 0))
            self.journal.write(lambda conn, rows=readings: samples.append(conn, self.ids, rows))  # type: ignore[misc]
            self.evaluator.step(lambda: self.now_ms)
            self._see_messages()

    def messages(self, person: str = "") -> list[OutgoingMessage]:
        """Every message so far, to one person or all, as it was written."""
        self._see_messages()
        return [OutgoingMessage.from_json(body) for contact, body in self._written.values() if person in contact]

    def _see_messages(self) -> None:
        """Remember new messages: a link leaves the outbox with its message."""
        with self.journal.read() as conn:
            for message_id, contact, body in conn.execute(
                "SELECT message_id, contact, body FROM outbox ORDER BY rowid"
            ):
                self._written.setdefault(message_id, (contact, body))

    def link(self, person: str = "ana") -> str:
        """The path of the newest link that a person was sent."""
        urls = [each.acknowledge_url for each in self.messages(person) if each.acknowledge_url]
        return str(urls[-1]).removeprefix(PUBLIC_URL)

    def look(self, path: str, method: str = "GET") -> httpx.Response:
        """Ask for a page."""
        return ask(self.app, path, method)

    def press(self, path: str, answer: str = "acknowledge", note: str = "") -> httpx.Response:
        """Send the form of the page, as a browser does."""
        return self.send(path, {"answer": answer, "note": note}, {"Sec-Fetch-Site": "same-origin"})

    def send(
        self, path: str, fields: dict[str, str], headers: dict[str, str], app: FastAPI | None = None
    ) -> httpx.Response:
        """Send any form."""
        return ask(app or self.app, path, "POST", urlencode(fields).encode(), {"Content-Type": FORM, **headers})

    def shown(self, key: str) -> str:
        """The state of an alarm."""
        with self.journal.read() as conn:
            entries = self.work.read(conn).entries
        return str(entries[key].state.shown) if key in entries else "normal"

    def records(self, event: str) -> list[AlarmRecord]:
        """What happened of one kind, oldest first."""
        with self.journal.read() as conn:
            return [each for each in alarm_records.newest(conn, 1000)[::-1] if each.event == event]

    def everything(self) -> list[str]:
        """All rows of all tables."""
        with self.journal.read() as conn:
            tables = [name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
            return [repr(row) for name in tables for row in conn.execute(f"SELECT * FROM {name}").fetchall()]


@contextmanager
def called_house(folder: Path) -> Iterator[CalledHouse]:
    """Make one in a folder of its own, with its messages linked."""
    site = write_site(folder / "site", 1883, "http://127.0.0.1:9/phone", extra=SECOND_PERSON)
    with (site / "settings.toml").open("a", encoding="utf-8") as settings:
        settings.write(f'public_url = "{PUBLIC_URL}"\n')
    with new_journal(folder / "journal.sqlite3") as journal:
        yield CalledHouse(journal, site)


def action_of(page: str) -> str:
    """Where the form of a page goes."""
    found = re.search(r'<form method="post" action="([^"]+)"', page)
    return found[1] if found else ""


def house_of_two(folder: Path, broker_port: int, receiver: Receiver) -> House:
    """A house with a clutch, whose people are called at paths of their own and may answer by link; not started."""
    ben = SECOND_PERSON.replace("http://127.0.0.1:9/ben", receiver.url("/ben"))
    home = House(write_site(folder / "site", broker_port, receiver.url("/ana"), extra=ben))
    settings = home.folder / "settings.toml"
    port = re.findall(r"port = (\d+)", settings.read_text(encoding="utf-8"))[-1]
    with settings.open("a", encoding="utf-8") as more:
        more.write(f'public_url = "http://127.0.0.1:{port}"\n')
    home.enter(a_clutch(now_ms() - 10 * DAY_MS))
    return home
