"""The web app: thin routes over pure views. Nothing here decides anything, and no GET changes anything."""

import threading
from collections.abc import Callable, Mapping

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, JSONResponse, PlainTextResponse, StreamingResponse
from starlette.middleware.gzip import GZipMiddleware

from daemon.chart_reader import ChartReader
from daemon.overview import Messages, Overview
from dashboards.acknowledge_routes import Answers, acknowledge_router
from dashboards.alarm_routes import AlarmPages, alarms_router
from dashboards.api import HealthJson, OverviewJson, overview_json
from dashboards.arrived_routes import Arrivals, arrived_router
from dashboards.chart_routes import charts_router
from dashboards.clutch_routes import ClutchPages, clutches_router
from dashboards.feed import Feed
from dashboards.health import health
from dashboards.inbox import Inbox
from dashboards.inbox_routes import inbox_router
from dashboards.message_routes import messages_router
from dashboards.nav_here import NavHere
from dashboards.rendering import STATIC, KeptStatic, render
from dashboards.security import SECURITY_HEADERS, SecurityHeaders
from dashboards.source import NothingToShowError, Source
from dashboards.take_over_routes import take_over_router
from dashboards.view import page_view

_SMALLEST_PACKED_BYTES = 1_000
_PACKING = 5
"""The library's own 9 takes four times as long for the data of a chart, and saves a few per cent of it."""
_CANNOT_SHOW = (
    "This page cannot be shown just now. What goes on in the incubators is unknown here: look at them yourself.\n"
    "The log of clutchwarden says why. Load the page again in a minute.\n"
)


def create_app(
    overview: Callable[[], Overview],
    inbox: Inbox | None = None,
    messages: Callable[[int], Messages] | None = None,
    answers: Answers | None = None,
    arrivals: Arrivals | None = None,
    alarms: AlarmPages | None = None,
    charts: ChartReader | None = None,
    clutches: ClutchPages | None = None,
) -> FastAPI:
    """Build the pages.

    `overview` is called in worker threads, once for each page or JSON that is asked for. Where an `inbox` is given,
    its pages and its address for messages are there as well. Where `messages` is given, there is a page of what became
    of the messages of the probes; it is asked for so many of the newest rejected ones. Where there are `answers`, the
    links of messages lead somewhere, and with `arrivals` those of test messages. With `alarms` there are their pages,
    with `charts` that of charts, with `clutches` those of clutches. `app.state.closing` ends the open event streams.
    """
    # The documentation pages of FastAPI load their scripts from outside, so there are none; /openapi.json is there.
    app = FastAPI(title="clutchwarden", docs_url=None, redoc_url=None)
    closing = threading.Event()
    app.state.closing = closing
    app.add_middleware(GZipMiddleware, minimum_size=_SMALLEST_PACKED_BYTES, compresslevel=_PACKING)
    app.add_middleware(SecurityHeaders)
    app.add_middleware(NavHere)
    app.add_exception_handler(NothingToShowError, _failed)
    app.add_exception_handler(Exception, _failed)
    source = Source(overview)
    links = {"with_inbox": inbox is not None, "with_alarms": alarms is not None, "with_clutches": clutches is not None}
    _add_pages(app, source, closing, {**links, "with_answers": answers is not None and answers.here})
    _add_api(app, source)
    if messages is not None:
        app.include_router(messages_router(messages, closing))
    if inbox is not None:
        app.include_router(inbox_router(inbox, closing))
    if arrivals is not None:
        app.include_router(arrived_router(arrivals))
    if answers is not None:
        app.include_router(take_over_router(answers.desk.duty, answers.public_url))
        app.include_router(acknowledge_router(answers))
    if alarms is not None:
        app.include_router(alarms_router(alarms, closing))
    if charts is not None:
        app.include_router(charts_router(charts))
    if clutches is not None:
        app.include_router(clutches_router(source, clutches))
    app.mount("/static", KeptStatic(directory=STATIC))
    return app


def _add_pages(app: FastAPI, overview: Source[Overview], closing: threading.Event, links: Mapping[str, bool]) -> None:
    feed = Feed(lambda: page_view(overview()).version, closing)

    @app.api_route("/", methods=["GET", "HEAD"], response_class=HTMLResponse, include_in_schema=False)
    def status_page() -> str:
        return render("status.html", view=page_view(overview()), **links)

    @app.get("/events", include_in_schema=False)
    def events() -> StreamingResponse:
        return feed.response()


def _add_api(app: FastAPI, overview: Source[Overview]) -> None:
    @app.get("/api/overview")
    def api_overview() -> OverviewJson:
        return overview_json(overview())

    @app.get("/health", responses={503: {"model": HealthJson}})
    def api_health() -> JSONResponse:
        try:
            answer = health(overview())
        except NothingToShowError:
            reason = "The state of the watch cannot be read; the log says why."
            answer = HealthJson(healthy=False, reasons=[reason], broker_connected=False, newest_reading_age_s=None)
        return JSONResponse(answer.model_dump(), 200 if answer.healthy else 503)


def _failed(_request: Request, _error: Exception) -> PlainTextResponse:
    """Answer where there is nothing to show.

    After a fault of the program this runs outside all middleware, so it brings its headers, and the server logs it.
    """
    return PlainTextResponse(_CANNOT_SHOW, 503, {**SECURITY_HEADERS, "Cache-Control": "no-store", "Retry-After": "60"})
