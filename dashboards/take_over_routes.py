"""Where the link of a message leads that asks to take over a duty: a page with one button. A GET changes nothing."""

import logging
import time
from collections.abc import Callable

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, PlainTextResponse, Response

from daemon.duty_desk import DutySeen
from daemon.hand_over_messages import LINK_PATH
from daemon.storage.errors import JournalError
from dashboards.acknowledge_routes import Form
from dashboards.origin import comes_from_elsewhere
from dashboards.rendering import render
from dashboards.source import NothingToShowError
from dashboards.take_over import TakingOver, take_over_view
from dashboards.unknown_links import UnknownLinks

log = logging.getLogger("clutchwarden.pages")

_FOREIGN = "This was sent from another page, so nothing was done. Open the link from the message and press there.\n"


def take_over_router(desk: TakingOver, public_url: str | None) -> APIRouter:
    """Make the routes. They have to stand before those of the other links, whose path they lie below."""
    router = APIRouter(include_in_schema=False)
    ours = () if public_url is None else (public_url,)
    unknown = UnknownLinks()

    def shown(request: Request, token: str, ask: Callable[[str], DutySeen | None]) -> Response:
        try:
            seen = ask(token)
        except JournalError as error:
            log.error("Nobody can take over a duty just now: %s", error)  # noqa: TRY400 - the text is whole
            raise NothingToShowError from error
        if seen is not None:
            return HTMLResponse(render("take_over.html", view=take_over_view(seen, f"{LINK_PATH}/{token}")))
        # One answer for every link that is good for nothing: nobody learns which there were.
        wait_s = unknown.failed(request.client.host if request.client else "", time.monotonic())
        if wait_s > 0:
            return HTMLResponse(render("no_link.html"), 429, {"Retry-After": f"{wait_s:.0f}"})
        return HTMLResponse(render("no_link.html"), 404)

    @router.api_route(f"{LINK_PATH}/{{token:path}}", methods=["GET", "HEAD"])
    def look(request: Request, token: str) -> Response:
        return shown(request, token, desk.look)

    @router.post(f"{LINK_PATH}/{{token:path}}")
    def take_over(request: Request, token: str, form: Form) -> Response:
        del form
        if comes_from_elsewhere(request.headers, ours):
            return PlainTextResponse(_FOREIGN, 403)
        return shown(request, token, desk.take_over)

    return router
