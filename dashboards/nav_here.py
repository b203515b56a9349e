"""What the page that is being made knows of the others: asked by every template, set for every request."""

from contextvars import ContextVar
from typing import Any

from starlette.routing import Match
from starlette.types import ASGIApp, Receive, Scope, Send

from dashboards.nav import PATHS, NavLink, nav_links

_links: ContextVar[tuple[NavLink, ...]] = ContextVar("nav_links", default=())


def links_here() -> tuple[NavLink, ...]:
    """Give the links for the page that is being made."""
    return _links.get()


class NavHere:
    """Looks which pages the app has, and which is asked for. Plain ASGI, for the sake of event streams."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._present: frozenset[str] | None = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Remember it for this request."""
        if scope["type"] == "http":
            if self._present is None:
                # The app has all of its pages before anybody asks for one.
                self._present = frozenset(path for path in PATHS if _has(scope["app"], path))
            _links.set(nav_links(self._present, scope["path"]))
        await self._app(scope, receive, send)


def _has(app: Any, path: str) -> bool:
    asked: Scope = {"type": "http", "method": "GET", "path": path, "root_path": "", "headers": [], "app": app}
    return any(route.matches(dict(asked))[0] is Match.FULL for route in app.routes)
