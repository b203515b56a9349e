"""A house whose register is kept at its pages, on a real journal, by a clock that stands until it is set."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from html import unescape
from pathlib import Path
from urllib.parse import urlencode

import httpx
from fastapi import FastAPI

from config.check import check_site
from config.site import Site
from daemon.access.values import Role, Visitor
from daemon.alarms.delivery import MessageStatus
from daemon.arrival import BrokerState
from daemon.clutch_record import ClutchRecords
from daemon.clutches.desk import Refusal, RegisterDesk
from daemon.clutches.file import ClutchFile
from daemon.clutches.values import NewClutch
from daemon.desk_work import DeskWork
from daemon.overview import Overview
from daemon.queries import Queries
from daemon.round_desk import RoundDesk
from daemon.storage.journal import Journal
from dashboards.access.door import Door
from dashboards.app import create_app
from dashboards.clutch_routes import ClutchPages
from dashboards.register_app import Registering
from dashboards.register_pages import RegisterPages
from dashboards.rounds_pages import RoundPages
from sensors.decoder import Decoder
from tests.dashboards.asking import ask
from tests.support.called import FORM
from tests.support.household import DAY_MS, a_clutch, write_site
from tests.support.journals import new_journal
from tests.support.upkept import hidden

NOW_MS = 1_782_482_400_000
"""2026-06-26 14:00:00 UTC, 16:00 in Madrid, which is the zone of the site."""
SET_UP_MS = NOW_MS - 10 * DAY_MS
BOX, FREE_BOX, LAST_BOX, SHELF = "north/upper/N1", "north/upper/N2", "north/upper/N3", "north/upper"
FIRST = '[[incubator.zone.box]]\nid = "N1"\n'
MORE = '[[incubator.zone.box]]\nid = "N2"\n[[incubator.zone.box]]\nid = "N3"\nname = "by the door"\n'
SOUTH = """
[[incubator]]
id = "south"
name = "South cabinet"
[[incubator.zone]]
id = "low"
name = "lower shelf"
[[incubator.zone.box]]
id = "S1"
"""
GUARD = "guard-of-mara"
KEEPER = Visitor("mara", Role.KEEPER, GUARD, session=1, confirmed_ms=0)
RESPONDER = Visitor("ben", Role.RESPONDER, GUARD, session=2, confirmed_ms=0)
VIEWER = Visitor("eve", Role.VIEWER, GUARD, session=3, confirmed_ms=0)
BRIDGE_S = 1800.0


class RegisterHouse:
    """Two incubators, four boxes, and one clutch of eight eggs: Juniper in the first box."""

    def __init__(self, journal: Journal, folder: Path, public_url: str | None) -> None:
        checked = check_site(folder)
        assert checked.site is not None, checked.mistakes
        self.site: Site = checked.site
        self.profiles = checked.profiles
        self.journal, self.folder, self.now_ms, self.public_url = journal, folder, NOW_MS, public_url
        self.desk = RegisterDesk(journal, self.site, self.profiles, self.clock)
        work = DeskWork(self.site, self.profiles, MessageStatus.ACTUAL, None)
        self.rounds = RoundDesk(journal, self.site, self.profiles, work, BRIDGE_S, self.clock)
        self.queries = Queries(journal, self.site, self.profiles, dict(Decoder(self.site).channels), BRIDGE_S)
        self.clutch = self.enter(a_clutch(SET_UP_MS))
        self.app = self.pages()

    def clock(self) -> int:
        """The time of the house."""
        return self.now_ms

    def overview(self) -> Overview:
        """What the first page shows."""
        return self.queries.overview(self.now_ms, 1.0, BrokerState(connected=True, detail="", since_ms=SET_UP_MS))

    def pages(self, visitor: Visitor = KEEPER) -> FastAPI:
        """The pages as one visitor has them."""
        records = ClutchRecords(self.journal, self.site, self.profiles, BRIDGE_S)
        register = RegisterPages(self.journal, self.site, self.profiles, self.clock)
        return create_app(
            self.overview,
            clutches=ClutchPages.of(records, self.clock),
            rounds=RoundPages.of(self.rounds, self.desk, self.site, self.clock),
            register=Registering(register, self.rounds, self.public_url),
            door=Door(open_to=visitor, public_url=self.public_url),
        )

    def enter(self, new: NewClutch) -> int:
        """Enter a clutch past the pages; gives its number."""
        number = self.desk.add(new, "test")
        assert not isinstance(number, Refusal), number
        return number

    def another(self, label: str = "Bea", place: str = FREE_BOX, *, venomous: bool = False) -> int:
        """One more clutch."""
        return self.enter(replace(a_clutch(SET_UP_MS, label, place), venomous=venomous or None))

    def file(self, number: int = 0) -> ClutchFile:
        """All that is on record of a clutch."""
        found = self.desk.file(number or self.clutch)
        assert found is not None
        return found

    def path(self, what: str = "", number: int = 0) -> str:
        """The address of a page of a clutch."""
        return f"/clutches/{number or self.clutch}" + (f"/{what}" if what else "")

    def look(self, path: str, app: FastAPI | None = None) -> httpx.Response:
        """Ask for a page."""
        return ask(app or self.app, path)

    def send(self, path: str, app: FastAPI | None = None, /, *, seen: str = "", **fields: str) -> httpx.Response:
        """Send a form of a page that was looked at just now, or at `seen`, where that mark is given."""
        mark = seen or hidden(self.look(path, app).text).get("mark", "")
        whole = {"guard": GUARD, "mark": mark, **fields}
        headers = {"Content-Type": FORM, "Sec-Fetch-Site": "same-origin"}
        return ask(app or self.app, path, "POST", urlencode(whole).encode(), headers)

    def upload(self, path: str, data: bytes, app: FastAPI | None = None) -> httpx.Response:
        """Send a file by the form of a page (RFC 7578)."""
        between = "----of-a-test"
        parts = (
            f'--{between}\r\nContent-Disposition: form-data; name="guard"\r\n\r\n{GUARD}\r\n'.encode(),
            f'--{between}\r\nContent-Disposition: form-data; name="file"; filename="a.csv"\r\n'.encode(),
            b"Content-Type: text/csv\r\n\r\n" + data + f"\r\n--{between}--\r\n".encode(),
        )
        headers = {"Content-Type": f"multipart/form-data; boundary={between}", "Sec-Fetch-Site": "same-origin"}
        return ask(app or self.app, path, "POST", b"".join(parts), headers)


@contextmanager
def register_house(folder: Path, public_url: str | None = "https://eggs.example.org") -> Iterator[RegisterHouse]:
    """Make one in a folder of its own."""
    site = write_site(folder / "site", 1883)
    text = (site / "site.toml").read_text(encoding="utf-8")
    (site / "site.toml").write_text(text.replace(FIRST, FIRST + MORE) + SOUTH, encoding="utf-8")
    with new_journal(site / "data" / "journal.sqlite3") as journal:
        yield RegisterHouse(journal, site, public_url)


def field_of(html: str, id_: str) -> str:
    """What stands in a field of a page, by its id."""
    found = re.search(rf'<input id="{id_}"[^>]* value="([^"]*)"', html)
    if found is None:
        found = re.search(rf'<textarea id="{id_}"[^>]*>\n?(.*?)</textarea>', html, re.DOTALL)
    assert found is not None, id_
    return unescape(found[1])
