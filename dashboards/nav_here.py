"""What the page that is being made knows of the others: asked by every template, set for every request."""

import secrets
from contextvars import ContextVar
from typing import Any
from urllib.parse import quote

from starlette.routing import Match
from starlette.types import ASGIApp, Receive, Scope, Send

from dashboards.nav import PATHS, NavLink, nav_links
from dashboards.said import come_to

_links: ContextVar[tuple[NavLink, ...]] = ContextVar("nav_links", default=())
_also: ContextVar[frozenset[str]] = ContextVar("pages_beside", default=frozenset())
_BESIDE = (
    "/hand-over",
    "/alarms",
    "/boxes",
    "/clutches",
    "/placement",
    "/people",
    "/clutches/new",
    "/rounds",
    "/set-up/probes",
    "/set-up/people",
    "/incidents",
    "/reports",
)
"""Pages that others lead to, and that are not among those between which people go to and fro."""


def links_here() -> tuple[NavLink, ...]:
    """Give the links for the page that is being made."""
    return _links.get()


def has_here(path: str) -> bool:
    """True where the app has one of the pages that others lead to."""
    return path in _also.get()


class NavHere:
    """Looks which pages the app has, and which is asked for. Plain ASGI, for the sake of event streams."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._present: frozenset[str] | None = None
        self._beside: frozenset[str] = frozenset()
        self._made = secrets.token_hex(4)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Remember it for this request."""
        if scope["type"] == "http":
            if self._present is None:
                # The app has all of its pages before anybody asks for one.
                self._beside = frozenset(path for path in _BESIDE if has_page(scope["app"], path))
                self._present = frozenset(path for path in PATHS if has_page(scope["app"], path))
            _also.set(self._beside)
            _links.set(nav_links(self._present, scope["path"]))
            come_to(scope["path"], self._made)
        await self._app(scope, receive, send)


def nearest_page(app: Any, path: str) -> str:
    """Give the nearest address at or above a path that the app has a page at."""
    while path.strip("/") and not has_page(app, path):
        path = path.rstrip("/").rpartition("/")[0]
    return quote(path, safe="/:") or "/"


def has_page(app: Any, path: str) -> bool:
    """True where the app answers at this address."""
    asked: Scope = {"type": "http", "method": "GET", "path": path, "root_path": "", "headers": [], "app": app}
    return any(route.matches(dict(asked))[0] is Match.FULL for route in app.routes)
