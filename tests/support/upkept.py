"""A house whose people, calibrations and species are looked after at pages, beside the commands on the same journal."""

import math
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from html import unescape
from pathlib import Path
from urllib.parse import urlencode

import httpx
from fastapi import FastAPI
from freezegun import freeze_time
from typer.testing import CliRunner, Result

from config.check import check_site
from config.site import Site
from daemon import cli
from daemon.access.values import Role, Visitor
from daemon.calibration_desk import CalibrationDesk
from daemon.clock import as_datetime
from daemon.duty_work import DutyWork
from daemon.people_desk import PeopleDesk
from daemon.rota import Rotas
from daemon.site_desk import SiteDesk
from daemon.species_shelf import SpeciesShelf
from daemon.storage import calibrations, samples
from daemon.storage.journal import Journal
from daemon.trial_desk import TrialDesk
from dashboards.access.door import Door
from dashboards.app import create_app
from dashboards.upkeep_routes import UpkeepPages
from sensors.calibration import Record
from sensors.calibration_line import Line, Point
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.dashboards import samples as shown
from tests.dashboards.asking import ask
from tests.support.called import FORM, PUBLIC_URL
from tests.support.household import DAY_MS, MINUTE_MS, write_site
from tests.support.journals import new_journal

START_MS = 1_777_896_000_000
"""4 May 2026, 14:00 in Madrid."""
AIR, RH = "north-air/air", "north-air/rh"
NOWHERE = "http://127.0.0.1:9"
OTHERS = """
[[person]]
id = "ben"
name = "Ben"
[[person.contact]]
kind = "webhook"
url = "{base}/ben-secret-token"
[[person.contact]]
kind = "apprise"
url = "json://127.0.0.1:9/ben-other-token"
[[person]]
id = "vet"
name = "Dr. <b>Vet</b>"
emergency = true
[[person.contact]]
kind = "webhook"
url = "{base}/vet-secret-token"
"""
KEEPER = Visitor("mara", Role.KEEPER, "guard-of-mara", session=1, confirmed_ms=0)


class UpkeptHouse:
    """The folder of a site, its journal, and a clock that stands until it is set."""

    def __init__(self, journal: Journal, folder: Path, public_url: str | None) -> None:
        checked = check_site(folder)
        assert checked.site is not None, checked.mistakes
        self.site: Site = checked.site
        self.profiles = checked.profiles
        self.journal, self.folder, self.now_ms = journal, folder, START_MS
        self.woken = self.restarts = 0
        work = DutyWork(self.site, Rotas(self.site))
        self.people = PeopleDesk(journal, self.site, work, lambda: self.now_ms, self._wake, public_url)
        self.calibrations = CalibrationDesk(journal, self.site, lambda: self.now_ms)
        self.desk = SiteDesk(folder, journal, lambda: self.now_ms, self._restart)
        self.app = self.pages()

    def pages(self, visitor: Visitor = KEEPER) -> FastAPI:
        """The pages as one visitor has them, who has just given their password."""
        fahrenheit = self.site.temperature_unit == "F"
        overview = replace(shown.overview(), fahrenheit=fahrenheit)
        shelf = SpeciesShelf(self.profiles, self.folder)
        upkeep = UpkeepPages(self.people, self.calibrations, shelf, self.desk)
        trials = TrialDesk(self.journal, self.site, lambda: self.now_ms)
        return create_app(lambda: overview, arrivals=trials, upkeep=upkeep, door=Door(open_to=visitor))

    def look(self, path: str, app: FastAPI | None = None) -> httpx.Response:
        """Ask for a page."""
        return ask(app or self.app, path)

    def words(self, path: str, app: FastAPI | None = None) -> str:
        """The text of a page, without markup."""
        return words(self.look(path, app).text)

    def send(self, path: str, fields: dict[str, str], app: FastAPI | None = None, guard: str = "") -> httpx.Response:
        """Send a form of our own page."""
        whole = {"guard": guard or KEEPER.guard, **fields}
        headers = {"Content-Type": FORM, "Sec-Fetch-Site": "same-origin"}
        return ask(app or self.app, path, "POST", urlencode(whole).encode(), headers)

    def command(self, *arguments: str) -> Result:
        """Any command, at the present moment."""
        with freeze_time(as_datetime(self.now_ms), ignore=["sqlite3"]):
            return CliRunner().invoke(
                cli.app, [*arguments], env={"USER": "mara", "CLUTCHWARDEN_SITE": str(self.folder)}
            )

    def put(self, channel: str, values: Sequence[float]) -> None:
        """One reading a minute, the last one now."""
        channels = Decoder(self.site).channels
        ids = self.journal.write(lambda conn: samples.channel_ids(conn, channels.values()))
        moments = [self.now_ms - number * MINUTE_MS for number in range(len(values))][::-1]
        readings = [Reading(channel, at, at, value, 0) for at, value in zip(moments, values, strict=True)]
        self.journal.write(lambda conn: samples.append(conn, ids, readings))

    def on_record(self) -> list[Record]:
        """Every calibration, in the order in which they were entered."""
        with self.journal.read() as conn:
            return calibrations.history(conn)

    def everything(self) -> list[str]:
        """All rows of all tables."""
        with self.journal.read() as conn:
            tables = [name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
            return [repr(row) for name in tables for row in conn.execute(f"SELECT * FROM {name}").fetchall()]

    def _wake(self) -> None:
        self.woken += 1

    def _restart(self) -> None:
        self.restarts += 1


@contextmanager
def upkept_house(
    folder: Path, *, base: str = NOWHERE, linked: bool = True, extra: str = "", fahrenheit: bool = False
) -> Iterator[UpkeptHouse]:
    """Make one in a folder of its own: Ana, Ben with two contacts, and a vet for emergencies."""
    site = write_site(folder / "site", 1883, f"{base}/ana-secret-token", extra=OTHERS.format(base=base) + extra)
    if fahrenheit:
        text = (site / "site.toml").read_text(encoding="utf-8")
        stated = text.replace('time_zone = "Europe/Madrid"', 'time_zone = "Europe/Madrid"\ntemperature_unit = "F"')
        (site / "site.toml").write_text(stated, encoding="utf-8")
    with new_journal(site / "data" / "journal.sqlite3") as journal:
        yield UpkeptHouse(journal, site, PUBLIC_URL if linked else None)


def words(html: str) -> str:
    """The text of a page, without markup."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).replace("\N{NO-BREAK SPACE}", " ").split())


def error_beside(html: str, field: str) -> str:
    """What a page says beside a field, by the id of that field; empty where it says nothing."""
    found = re.search(rf'id="{field}-error">(.*?)</p>', html, re.DOTALL)
    return words(found[1]) if found else ""


def hidden(html: str) -> dict[str, str]:
    """The hidden fields of a page, the last of each name."""
    found = re.findall(r'<input type="hidden" name="([\w-]+)" value="([^"]*)">', html)
    return {name: unescape(value) for name, value in found}


def kept(house: UpkeptHouse, days_ago: int, due_days: int | None, channel: str = AIR, note: str = "") -> None:
    """A calibration by 0.3 K, or % RH, straight into the journal."""
    taken = START_MS - days_ago * DAY_MS
    point = Point(29.9, 30.2, 0.1 / math.sqrt(3), 0.05, "reference (±0.1 K)")
    line = Line(1.0, -0.3, (point,), 0.05, 0.1, 0.0144)
    due = None if due_days is None else taken + due_days * DAY_MS
    record = Record(channel, taken, line, "one-point", taken, due, taken, "mara", note)
    house.journal.write(lambda conn: calibrations.append(conn, record))
