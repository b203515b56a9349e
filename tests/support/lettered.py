"""A house whose people get tests and digests, on a real journal, by a clock that a test sets."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from fastapi import FastAPI

from config.check import check_site
from daemon.alarms.delivery import MessageStatus, OutgoingMessage
from daemon.arrival import BrokerState
from daemon.desk_work import DeskWork
from daemon.digest import RoundLines, no_rounds
from daemon.evaluate import Evaluator
from daemon.letters import Letters, letters_of
from daemon.overview import Overview
from daemon.queries import Queries
from daemon.standing_sources.trials import TrialSource
from daemon.storage import runs, samples
from daemon.storage.journal import Journal
from daemon.trial_desk import TrialDesk
from dashboards.app import create_app
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.daemon.kept import SOUTH
from tests.support.called import PUBLIC_URL
from tests.support.doors import open_to
from tests.support.household import write_site
from tests.support.journals import new_journal

MADRID = ZoneInfo("Europe/Madrid")
"""The zone of the site."""
AIR, HUMIDITY, BOX_AIR = "north-air/air", "north-air/rh", "box-s1/air"
TWO_CONTACTS = """
[[person]]
id = "ben"
name = "Ben"
[[person.contact]]
kind = "webhook"
url = "http://127.0.0.1:9/ben-1"
[[person.contact]]
kind = "webhook"
url = "http://127.0.0.1:9/ben-2"
"""
ON_CALL = """
[[person]]
id = "vet"
name = "Vet"
emergency = true
[[person.contact]]
kind = "webhook"
url = "http://127.0.0.1:9/vet"
"""


def local_ms(text: str) -> int:
    """UTC milliseconds of a local time of the site such as `2026-11-29T18:00`."""
    return round(datetime.fromisoformat(text).replace(tzinfo=MADRID).timestamp() * 1000)


class SetClock:
    """A clock that stands where a test puts it."""

    def __init__(self, at_ms: int, rate: float = 1.0) -> None:
        self.at_ms = at_ms
        self.rate = rate

    def now_ms(self) -> int:
        """The present moment."""
        return self.at_ms


class LetteredHouse:
    """Ana with one contact, and whoever else is stated."""

    def __init__(
        self, journal: Journal, folder: Path, at_ms: int, rate: float = 1.0, rounds: RoundLines = no_rounds
    ) -> None:
        checked = check_site(folder)
        assert checked.site is not None
        assert checked.settings is not None
        self.folder, self.journal, self.site, self.settings = folder, journal, checked.site, checked.settings
        self.profiles = checked.profiles
        self.clock = SetClock(at_ms, rate)
        self.woken = 0
        self._rounds = rounds
        self.status = MessageStatus.ACTUAL
        channels = dict(Decoder(self.site).channels)
        self._ids = journal.write(lambda conn: samples.channel_ids(conn, channels.values()))
        self._queries = Queries(journal, self.site, self.profiles, channels, 1800)
        self.troubles: tuple[str, ...] = ()
        self.work = DeskWork(self.site, self.profiles)
        self.evaluator = Evaluator(
            journal, self.site, self.settings, self.profiles, channels, at_ms, sources=(TrialSource(self.site),)
        )
        self.app: FastAPI = create_app(
            self.overview,
            arrivals=TrialDesk(journal, self.site, self.clock.now_ms),
            door=open_to(public_url=PUBLIC_URL),
        )
        self.start()

    def start(self) -> None:
        """As a daemon does that begins to run."""
        self.journal.write(lambda conn: runs.begin_run(conn, self.clock.at_ms, "test"))
        self.letters = self.make_letters(self.overview)

    def make_letters(self, overview: Callable[[], Overview]) -> Letters:
        """Its calendar, with another first page where a test needs one."""
        return letters_of(
            self.journal,
            self.site,
            self.profiles,
            self.settings,
            overview,
            self.clock,
            self._wake,
            self.status,
            self._rounds,
        )

    def at(self, text: str) -> bool:
        """Look at a local time; True where something was written."""
        self.clock.at_ms = local_ms(text)
        return self.letters.look()

    def evaluate(self) -> None:
        """One step of the evaluation, now."""
        self.evaluator.step(self.clock.now_ms)

    def put(self, *readings: tuple[str, int, float]) -> None:
        """Store good readings: channel, measured at, value."""
        rows = [Reading(channel, at_ms, at_ms, value, 0) for channel, at_ms, value in readings]
        self.journal.write(lambda conn: samples.append(conn, self._ids, rows))

    def overview(self) -> Overview:
        """What the first page is made of."""
        broker = BrokerState(connected=True, detail="", since_ms=0)
        return self._queries.overview(self.clock.at_ms, 1.0, broker, self.troubles)

    def messages(self, kind: str) -> dict[str, list[OutgoingMessage]]:
        """What is in the outbox of one kind, oldest first, by contact."""
        with self.journal.read() as conn:
            rows = conn.execute("SELECT contact, body FROM outbox ORDER BY created_at_ms, rowid").fetchall()
        found: dict[str, list[OutgoingMessage]] = {}
        for contact, body in rows:
            message = OutgoingMessage.from_json(body)
            if message.kind == kind:
                found.setdefault(contact, []).append(message)
        return found

    def unconfirmed(self) -> set[str]:
        """The contacts with an alarm that a test was not confirmed."""
        with self.journal.read() as conn:
            entries = self.work.read(conn).entries
        return {
            key.removeprefix("test-unconfirmed:")
            for key, entry in entries.items()
            if key.startswith("test-unconfirmed:") and entry.state.in_alarm
        }

    def _wake(self) -> None:
        self.woken += 1


@contextmanager
def lettered_house(
    folder: Path, start: str, extra: str = "", *, linked: bool = True, rate: float = 1.0, rounds: RoundLines = no_rounds
) -> Iterator[LetteredHouse]:
    """Make one in a folder of its own that begins to run at a local time."""
    site = write_site(folder / "site", 1883, "http://127.0.0.1:9/ana", SOUTH + extra)
    if linked:
        with (site / "settings.toml").open("a", encoding="utf-8") as settings:
            settings.write(f'public_url = "{PUBLIC_URL}"\n')
    with new_journal(site / "data" / "journal.sqlite3") as journal:
        yield LetteredHouse(journal, site, local_ms(start), rate, rounds)
