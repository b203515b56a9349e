"""A house with the pages for what lies ahead: the hand-over, calendars, places compared."""

from urllib.parse import urlencode

import httpx
from fastapi import FastAPI

from config.species import load_profiles
from daemon.access.values import Role, Visitor
from daemon.calendar_feed_desk import FeedDesk
from daemon.calendar_feed_keeper import CalendarKeeper
from daemon.duty_work import DutyWork
from daemon.hand_over_sheet_desk import HandOverDesk
from daemon.people_desk import PeopleDesk
from daemon.placement_desk import PlacementDesk
from daemon.rota import Rotas
from daemon.round_sooner import SoonerChecks
from daemon.storage import audit
from dashboards.ahead import AheadPages
from dashboards.app import create_app
from dashboards.hand_over_routes import HandingOver
from tests.dashboards.asking import ask
from tests.support.called import FORM, PUBLIC_URL, CalledHouse
from tests.support.doors import open_to

ANA = Visitor("ana", Role.KEEPER, "guard")


class Dated:
    """A house whose calendar is kept, with the pages of it."""

    def __init__(self, house: CalledHouse) -> None:
        self.house, self.journal, self.site = house, house.journal, house.site
        self.desk = FeedDesk(house.journal, house.site, lambda: house.now_ms)
        self.profiles = load_profiles()
        work = DutyWork(house.site, Rotas(house.site))
        self.people = PeopleDesk(house.journal, house.site, work, lambda: house.now_ms, lambda: None)
        sooner = SoonerChecks(house.site, self.profiles, 1800.0)
        self.keeper = CalendarKeeper(
            house.journal, house.site, self.profiles, house.overview, sooner, lambda: house.now_ms
        )

        self.sheet = HandOverDesk(
            house.journal,
            house.site,
            self.profiles,
            1800.0,
            lambda: house.now_ms,
            house.overview,
            house.board.look,
            self.people.look,
        )

    def app(self, role: Role = Role.KEEPER, sheet: HandingOver | None = None) -> FastAPI:
        house, now_ms = self.house, lambda: self.house.now_ms
        placing = PlacementDesk(self.journal, self.site, self.profiles, 1800.0, now_ms)
        pages = AheadPages(sheet or self.sheet, self.desk, placing, PUBLIC_URL)
        return create_app(house.overview, ahead=pages, door=open_to(role, "ana", guard="guard"))

    def send(self, path: str, **fields: str) -> httpx.Response:
        body = urlencode({"guard": "guard", **fields}).encode()
        return ask(self.app(), path, "POST", body, {"Content-Type": FORM, "Sec-Fetch-Site": "same-origin"})

    def made(self, name: str = "phone") -> str:
        token = self.desk.make(ANA, name, "127.0.0.1")
        assert isinstance(token, str)
        return token

    def audited(self) -> list[tuple[str, str, str]]:
        with self.journal.read() as conn:
            found = [each.change for each in audit.newest(conn, 20)]
        return [(each.who, each.what, each.about) for each in reversed(found)]
