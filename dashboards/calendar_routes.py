"""Addresses of the calendar: the feeds, which carry a secret of their own, and the page where keepers make them."""

import logging
import time
from typing import Protocol
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response

from daemon.access.values import Refused, Visitor
from daemon.calendar_feed import Feed
from daemon.calendar_feed_desk import ENDING, FEED_PATH, Shown, path_of
from daemon.calendar_feed_ical import MEDIA_TYPE
from daemon.storage.errors import JournalError
from dashboards.access.middleware import client_address
from dashboards.alarm_answer import asked
from dashboards.calendar_view import CALENDAR_SETUP_PATH, MAKE_PATH, WITHDRAW_PATH, calendar_view
from dashboards.forms import Form
from dashboards.rendering import render
from dashboards.source import NothingToShowError, Source
from dashboards.unknown_links import UnknownLinks
from dashboards.visiting import is_confirmed, may, visitor

log = logging.getLogger("clutchwarden.pages")

_UNKNOWN = "No calendar is here. The address may have been taken back; ask a keeper for a new one.\n"
_CACHING = "private, no-cache"
"""A calendar program asks each time whether it has changed, and no cache in between keeps it. The mark is a weak one,
since the bytes may go out packed."""


class Feeding(Protocol):
    """What these pages need."""

    time_zone: str

    def now_ms(self) -> int:
        """The present moment, UTC ms."""

    def read(self, token: str) -> Shown | None:
        """The calendar, for whoever has the token of a feed."""

    def in_use(self) -> tuple[Feed, ...]:
        """The feeds that are in use."""

    def make(self, by: Visitor | None, name: str, from_where: str) -> str | Refused:
        """Make a feed, and give its token."""

    def withdraw(self, by: Visitor | None, name: str, from_where: str) -> Refused | None:
        """End a feed."""


def calendar_router(desk: Feeding, public_url: str | None) -> APIRouter:
    """Make the routes. `public_url`: under which others reach these pages; None takes the host that was asked."""
    router = APIRouter(include_in_schema=False)
    _add_feed(router, desk)
    feeds, zone = Source(desk.in_use), ZoneInfo(desk.time_zone)

    def page(typed: str = "", refused: Refused | None = None, address: str = "") -> Response:
        view = calendar_view(feeds(), desk.now_ms(), zone, typed=typed, refused=refused, address=address)
        html = render("calendar.html", view=view, may_change=may("keeper"), confirmed=is_confirmed())
        return HTMLResponse(html, 200 if refused is None else 422)

    @router.api_route(CALENDAR_SETUP_PATH, methods=["GET", "HEAD"])
    def shown() -> Response:
        return page()

    @router.post(MAKE_PATH)
    def make(request: Request, form: Form) -> Response:
        name = form.get("name", "").strip()
        made = asked(lambda: desk.make(visitor(), name, client_address(request.scope)))
        if isinstance(made, Refused):
            return page(name, made)
        start = (public_url or str(request.base_url)).rstrip("/")
        return page(name, address=f"{start}{path_of(made)}")

    @router.post(WITHDRAW_PATH)
    def withdraw(request: Request, form: Form) -> Response:
        refused = asked(lambda: desk.withdraw(visitor(), form.get("name", ""), client_address(request.scope)))
        if refused is not None:
            return page(refused=Refused(refused.reason))
        return RedirectResponse(CALENDAR_SETUP_PATH, 303)

    return router


def _add_feed(router: APIRouter, desk: Feeding) -> None:
    unknown = UnknownLinks()

    @router.api_route(f"{FEED_PATH}{{name:path}}", methods=["GET", "HEAD"])
    def feed(request: Request, name: str) -> Response:
        try:
            found = desk.read(name.removesuffix(ENDING)) if name.endswith(ENDING) else None
        except JournalError as error:
            log.error("The calendar cannot be read just now: %s", error)  # noqa: TRY400 - the text is whole
            raise NothingToShowError from error
        if found is None:
            wait_s = unknown.failed(request.client.host if request.client else "", time.monotonic())
            headers = {"Cache-Control": "no-store"} | ({"Retry-After": f"{wait_s:.0f}"} if wait_s > 0 else {})
            return PlainTextResponse(_UNKNOWN, 429 if wait_s > 0 else 404, headers)
        headers = {"Cache-Control": _CACHING, "ETag": f'W/"{found.mark}"'}
        if _has_it(request.headers.get("if-none-match", ""), found.mark):
            return Response(status_code=304, headers=headers)
        return Response(found.body, media_type=MEDIA_TYPE, headers=headers)


def _has_it(stated: str, mark: str) -> bool:
    """Compare as RFC 9110, 13.1.2 says: weakly, and with any of several."""
    return any(each.strip().removeprefix("W/").strip('"') == mark for each in stated.split(","))
