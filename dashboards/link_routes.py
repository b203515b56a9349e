"""Where the links of messages lead: each to a page about one thing, with a button. A GET changes nothing.

A link carries a secret of its own, so nobody has to sign in: at night, on a phone, the button is what counts.
"""

import logging
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from daemon.duty_desk import DutySeen
from daemon.hand_over_messages import LINK_PATH as DUTY_PATH
from daemon.storage.errors import JournalError
from daemon.trial_desk import TrialSeen
from daemon.weekly_test import LINK_PATH as TRIAL_PATH
from dashboards.arrived import arrived_view
from dashboards.forms import OpenForm
from dashboards.rendering import render
from dashboards.source import NothingToShowError
from dashboards.take_over import TakingOver, take_over_view
from dashboards.unknown_links import UnknownLinks

log = logging.getLogger("clutchwarden.pages")

T = TypeVar("T")


class Confirming(Protocol):
    """What the page of a test message needs: to look, and to say that the message arrived."""

    def look(self, token: str) -> TrialSeen | None:
        """What a link is about; None where it is good for nothing."""

    def confirm(self, token: str) -> TrialSeen | None:
        """Say that the message of a link arrived."""


@dataclass(frozen=True, slots=True)
class LinkKind(Generic[T]):
    """What links of one kind lead to.

    `look` and `press` give what a token is about, None where it is good for nothing. `page` makes the page of it.
    `cannot` is for the log, where the journal cannot be read or written.
    """

    path: str
    look: Callable[[str], T | None]
    press: Callable[[str, Mapping[str, str]], T | None]
    page: Callable[[T, str], str]
    cannot: str


def take_over_links(desk: TakingOver) -> LinkKind[DutySeen]:
    """Links that ask to take over a duty."""

    def page(seen: DutySeen, token: str) -> str:
        view = take_over_view(seen, f"{DUTY_PATH}/{token}")
        return render("link.html", view=view, answer="take-over", button="I take over")

    return LinkKind(DUTY_PATH, desk.look, lambda token, _: desk.take_over(token), page, "take over a duty")


def arrived_links(desk: Confirming) -> LinkKind[TrialSeen]:
    """Links of test messages."""

    def page(seen: TrialSeen, token: str) -> str:
        view = arrived_view(seen, f"{TRIAL_PATH}/{token}")
        return render("link.html", view=view, answer="arrived", button="It arrived")

    return LinkKind(TRIAL_PATH, desk.look, lambda token, _: desk.confirm(token), page, "confirm a test")


def links_router(kind: LinkKind[T]) -> APIRouter:
    """Make the routes of one kind. Those whose path lies below that of another have to stand before it."""
    router, unknown = APIRouter(include_in_schema=False), UnknownLinks()

    def shown(request: Request, token: str, ask: Callable[[], T | None]) -> Response:
        try:
            found = ask()
        except JournalError as error:
            log.error("Nobody can %s just now: %s", kind.cannot, error)  # noqa: TRY400 - the text is whole
            raise NothingToShowError from error
        if found is not None:
            return HTMLResponse(kind.page(found, token))
        # One answer for every link that is good for nothing: nobody learns which there were.
        wait_s = unknown.failed(request.client.host if request.client else "", time.monotonic())
        page = render("no_link.html")
        return HTMLResponse(page, 429, {"Retry-After": f"{wait_s:.0f}"}) if wait_s > 0 else HTMLResponse(page, 404)

    @router.api_route(f"{kind.path}/{{token:path}}", methods=["GET", "HEAD"])
    def look(request: Request, token: str) -> Response:
        return shown(request, token, lambda: kind.look(token))

    @router.post(f"{kind.path}/{{token:path}}")
    def press(request: Request, token: str, form: OpenForm) -> Response:
        return shown(request, token, lambda: kind.press(token, form))

    return router
