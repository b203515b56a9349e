"""A site in a folder with its journal, what came in by the way that messages take, and the app of its set-up."""

import contextlib
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import httpx
from fastapi import FastAPI

from config.settings import BrokerSettings
from config.site import load_site
from daemon.access.values import Role
from daemon.arrival import Arrival
from daemon.boards import Boards
from daemon.ingest import Ingest
from daemon.listen_around import ListenAround
from daemon.probe_reader import ProbeReader
from daemon.recent_messages import RecentMessages
from daemon.site_desk import SiteDesk
from daemon.storage.journal import Journal
from dashboards.app import create_app
from sensors.decoder import Decoder
from tests.dashboards import samples as shown
from tests.dashboards.asking import ask
from tests.support.doors import open_to
from tests.support.household import write_site
from tests.support.journals import new_journal

NOW_MS = 1_780_000_000_000
GUARD = "guard-of-the-session"
FORM = "application/x-www-form-urlencoded"


class ProbedHouse:
    """The small house, on a clock that stands still until it is moved."""

    def __init__(self, folder: Path, journal: Journal, broker_port: int, refusal: str = "") -> None:
        self.folder = folder
        self.journal = journal
        self.now_ms = NOW_MS
        self.starts = 0
        self._port = broker_port
        self._refusal = refusal
        self.around = ListenAround(BrokerSettings(port=broker_port), None, lambda: self.now_ms, {}, 20.0)
        self.desk = SiteDesk(folder, journal, lambda: self.now_ms, self._start_anew, refusal)
        self.recent = RecentMessages()
        self.boards = Boards()
        self.app = FastAPI()
        self._start()

    def _start_anew(self) -> None:
        self.starts += 1
        self._start()

    def _start(self) -> None:
        site = load_site(self.folder)
        self.ingest = Ingest(Decoder(site), self.journal, lambda: None, self.recent, boards=self.boards)
        self.reader = ProbeReader(
            self.journal, site, lambda: self.now_ms, self.recent, self.around, self.desk, boards=self.boards
        )
        self.app = self.pages()

    def pages(self, role: Role = Role.KEEPER) -> FastAPI:
        """The pages as somebody of this role has them."""
        return create_app(shown.overview, probes=self.reader, door=open_to(role, "mara", guard=GUARD))

    def arrive(self, topic: str, payload: bytes) -> None:
        """A message comes from the broker, and is stored."""
        decoded = self.ingest.decode(topic, payload, False, self.now_ms)
        self.ingest.commit([Arrival(topic, payload, False, self.now_ms, decoded, 1, 1)]).result()

    def look(self, path: str, app: FastAPI | None = None) -> httpx.Response:
        """Ask for a page."""
        return ask(app or self.app, path)

    def send(self, path: str, fields: dict[str, str], app: FastAPI | None = None) -> httpx.Response:
        """Send a form as the page does."""
        content = urlencode({"guard": GUARD, "mark": self.desk.mark(), **fields}).encode()
        return ask(app or self.app, path, "POST", content, {"Content-Type": FORM, "Sec-Fetch-Site": "same-origin"})

    def stated(self) -> str:
        """What stands in site.toml."""
        return (self.folder / "site.toml").read_text(encoding="utf-8")


@contextlib.contextmanager
def probed_house(folder: Path, broker_port: int = 1, refusal: str = "", extra: str = "") -> Iterator[ProbedHouse]:
    """Make one in a folder of its own."""
    site = write_site(folder / "site", broker_port, "http://127.0.0.1:9/ana-token", extra)
    with new_journal(folder / "journal.sqlite3") as journal:
        house = ProbedHouse(site, journal, broker_port, refusal)
        yield house
        house.around.stop()
