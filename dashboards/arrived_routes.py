"""Where the link of a test message leads: a page with one button. A GET changes nothing."""

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, PlainTextResponse, Response

from daemon.storage.errors import JournalError
from daemon.trial_desk import TrialSeen
from daemon.weekly_test import LINK_PATH
from dashboards.acknowledge_routes import Form
from dashboards.arrived import arrived_view
from dashboards.origin import comes_from_elsewhere
from dashboards.rendering import render
from dashboards.source import NothingToShowError
from dashboards.unknown_links import UnknownLinks

log = logging.getLogger("clutchwarden.pages")

_FOREIGN = "This was sent from another page, so nothing was done. Open the link from the message and press there.\n"


class Confirming(Protocol):
    """What the page needs: to look, and to say that a test arrived."""

    def look(self, token: str) -> TrialSeen | None:
        """What a link is about; None where it is good for nothing."""

    def confirm(self, token: str) -> TrialSeen | None:
        """Say that the message of a link arrived."""


@dataclass(frozen=True, slots=True)
class Arrivals:
    """The desk, and the address that the links begin with."""

    desk: Confirming
    public_url: str | None = None


def arrived_router(arrivals: Arrivals) -> APIRouter:
    """Make the routes. They have to stand before those of the other links, whose path they lie below."""
    router, desk = APIRouter(include_in_schema=False), arrivals.desk
    ours = () if arrivals.public_url is None else (arrivals.public_url,)
    unknown = UnknownLinks()

    def shown(request: Request, token: str, ask: Callable[[str], TrialSeen | None]) -> Response:
        try:
            seen = ask(token)
        except JournalError as error:
            log.error("Nobody can confirm a test just now: %s", error)  # noqa: TRY400 - the text is whole
            raise NothingToShowError from error
        if seen is not None:
            return HTMLResponse(render("arrived.html", view=arrived_view(seen, f"{LINK_PATH}/{token}")))
        # One answer for every link that is good for nothing: nobody learns which there were.
        wait_s = unknown.failed(request.client.host if request.client else "", time.monotonic())
        if wait_s > 0:
            return HTMLResponse(render("no_link.html"), 429, {"Retry-After": f"{wait_s:.0f}"})
        return HTMLResponse(render("no_link.html"), 404)

    @router.api_route(f"{LINK_PATH}/{{token:path}}", methods=["GET", "HEAD"])
    def look(request: Request, token: str) -> Response:
        return shown(request, token, desk.look)

    @router.post(f"{LINK_PATH}/{{token:path}}")
    def confirm(request: Request, token: str, form: Form) -> Response:
        del form
        if comes_from_elsewhere(request.headers, ours):
            return PlainTextResponse(_FOREIGN, 403)
        return shown(request, token, desk.confirm)

    return router
