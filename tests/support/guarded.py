"""The pages of a house behind a door with real accounts, and browsers and programs that come to it."""

from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from urllib.parse import urlencode

import httpx
from fastapi import FastAPI

from daemon.access.values import Refused, Role, SignedIn
from daemon.access_desk import AccessDesk
from daemon.storage import audit
from daemon.storage.audit import HOST, AuditEvent
from dashboards.access.cookies import PLAIN_NAME, SECURE_NAME
from dashboards.access.door import Door
from dashboards.access.hosts import KnownHosts
from dashboards.app import create_app
from tests.dashboards.asking import ask
from tests.support.accounts import DEVICE, PASSWORD, make_account
from tests.support.called import FORM, PUBLIC_URL, CalledHouse

SECOND_MS, MINUTE_MS, DAY_MS = 1_000, 60_000, 86_400_000
LOCAL, PUBLIC = "127.0.0.1:8330", "eggs.example.org"


class GuardedHouse:
    """A house that asks to sign in, by a clock that the test sets."""

    def __init__(self, house: CalledHouse) -> None:
        self.house = house
        self.now_ms = house.now_ms
        self.desk = AccessDesk(house.journal, house.site, lambda: self.now_ms)
        self.door = Door(
            self.desk,
            hosts=KnownHosts.of("127.0.0.1", PUBLIC_URL),
            public_url=PUBLIC_URL,
            behind_proxy=True,
            time_zone=house.site.time_zone,
            now_ms=lambda: self.now_ms,
        )
        self.app = create_app(
            house.overview, answers=house.desk, alarms=house.board, door=self.door, changes=self._changes
        )

    def account(self, name: str = "ana", role: Role = Role.KEEPER) -> SignedIn:
        """An account with the usual password, and a session of it."""
        return make_account(self.desk, name, role)

    def browser(self, name: str = "", role: Role = Role.KEEPER) -> "Caller":
        """A browser on the machine itself; with a name it has signed in."""
        return Caller(self.app, self.account(name, role).token if name else "")

    def code(self, name: str = "", role: Role = Role.VIEWER) -> str:
        """The code of an invitation; without a name that of the first start."""
        made = self.desk.invite(None, name, role, HOST) if name else self.desk.first_code(None, HOST)
        assert not isinstance(made, Refused), made.reason
        return made[0]

    def audited(self) -> list[AuditEvent]:
        """All that is on record, newest first."""
        return self._changes(10_000, None, "")

    def _changes(self, limit: int, before: int | None, about: str) -> list[AuditEvent]:
        with self.house.journal.read() as conn:
            return audit.newest(conn, limit, before, about)


@dataclass
class Caller:
    """A browser that keeps its cookie, and sends the guard token of the page that it looked at last."""

    app: FastAPI
    token: str = ""
    host: str = LOCAL
    headers: dict[str, str] = field(default_factory=dict)
    guard: str = ""

    def get(self, path: str, **headers: str) -> httpx.Response:
        """Ask for a page, as a person does."""
        answer = self._ask(path, "GET", None, {"Accept": "text/html", **headers})
        if 'name="guard"' in answer.text:
            self.guard = answer.text.split('name="guard" value="')[1].split('"')[0]
        return answer

    def post(self, path: str, fields: dict[str, str] | None = None, **headers: str) -> httpx.Response:
        """Send a form of the page that was looked at, or of the first one."""
        if self.token and not self.guard:
            self.get("/account")
        typed = {"guard": self.guard, **(fields or {})} if self.guard else fields or {}
        sent = {"Accept": "text/html", "Content-Type": FORM, "Sec-Fetch-Site": "same-origin", **headers}
        return self._ask(path, "POST", urlencode(typed).encode(), sent)

    def sign_in(self, name: str = "ana", password: str = PASSWORD, **fields: str) -> httpx.Response:
        """Fill in the page of sign-in."""
        return self.post("/sign-in", {"name": name, "password": password, **fields})

    @property
    def cookie_name(self) -> str:
        """What its cookie is called."""
        return PLAIN_NAME if self.host == LOCAL else SECURE_NAME

    def _ask(self, path: str, method: str, content: bytes | None, headers: dict[str, str]) -> httpx.Response:
        cookie = {"Cookie": f"{self.cookie_name}={self.token}"} if self.token else {}
        device = {"User-Agent": DEVICE, "Host": self.host}
        answer = ask(self.app, path, method, content, {**device, **cookie, **self.headers, **headers})
        for set_cookie in answer.headers.get_list("set-cookie"):
            [morsel] = SimpleCookie(set_cookie).values()
            assert morsel.key == self.cookie_name
            self.token, self.guard = morsel.value, ""
        return answer
