"""The web app: thin routes over pure views. Nothing here decides anything, and no GET changes anything."""

import threading
from collections.abc import Callable, Mapping

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, PlainTextResponse, StreamingResponse
from starlette.middleware.gzip import GZipMiddleware

from daemon.chart_reader import ChartReader
from daemon.inside import Inside
from daemon.overview import Messages, Overview
from dashboards.access.audit_routes import Changes
from dashboards.access.door import Door, door_without_sign_in
from dashboards.access.putting_up import put_up
from dashboards.acknowledge_routes import Acknowledging, acknowledge_router
from dashboards.ahead import AheadPages, add_ahead
from dashboards.alarm_answer import Board
from dashboards.alarm_json_routes import alarm_json_router
from dashboards.alarm_routes import alarms_router
from dashboards.api_routes import api_router
from dashboards.backups_routes import BackupPages, backups_router
from dashboards.body_limits import BodyLimits
from dashboards.chart_routes import charts_router
from dashboards.clutch_routes import ClutchPages, clutches_router
from dashboards.feed import Feed
from dashboards.inbox import Inbox
from dashboards.inbox_routes import inbox_router
from dashboards.link_routes import Confirming, arrived_links, links_router
from dashboards.message_routes import messages_router
from dashboards.metrics_routes import metrics_router
from dashboards.nav_here import NavHere
from dashboards.now_page import NowPage
from dashboards.openapi import describe
from dashboards.readings_json_routes import readings_json_router
from dashboards.register_app import Registering, add_register
from dashboards.rendering import STATIC, KeptStatic
from dashboards.reports_routes import Reporting, reports_router
from dashboards.review_json_routes import review_json_router
from dashboards.review_pages import ReviewPages
from dashboards.review_routes import review_router
from dashboards.rounds_json_routes import rounds_json_router
from dashboards.rounds_pages import RoundPages
from dashboards.rounds_routes import rounds_router
from dashboards.security import SECURITY_HEADERS, SecurityHeaders
from dashboards.seen_at_once import SeenAtOnce
from dashboards.setup_index import set_up_router
from dashboards.setup_probe_routes import Probing, probes_router
from dashboards.source import KEPT_S, NothingToShowError, Source
from dashboards.unknown_pages import lead_back
from dashboards.unreadable import say_what_is_wrong
from dashboards.upkeep_routes import UpkeepPages, add_upkeep

_SMALLEST_PACKED_BYTES = 1_000
_PACKING = 4
"""The library's own 9 takes many times as long for the data of a chart, and saves a few per cent of it."""
_CANNOT_SHOW = (
    "This page cannot be shown just now. What goes on in the incubators is unknown here: look at them yourself.\n"
    "The log of clutchwarden says why. Load the page again in a minute.\n"
)


def create_app(
    overview: Callable[[], Overview],
    inbox: Inbox | None = None,
    messages: Callable[[int], Messages] | None = None,
    answers: Acknowledging | None = None,
    arrivals: Confirming | None = None,
    alarms: Board | None = None,
    charts: ChartReader | None = None,
    clutches: ClutchPages | None = None,
    inside: Callable[[], Inside] | None = None,
    door: Door | None = None,
    changes: Changes | None = None,
    keep_s: float = 0.0,
    probes: Probing | None = None,
    upkeep: UpkeepPages | None = None,
    rounds: RoundPages | None = None,
    register: Registering | None = None,
    ahead: AheadPages | None = None,
    backups: BackupPages | None = None,
    reviews: ReviewPages | None = None,
    reports: Reporting | None = None,
) -> FastAPI:
    """Build the pages that there is something for: each part brings its own, and where it is None they are not there.

    `overview` is called in worker threads, once for each page or JSON that is asked for; what is shown may be `keep_s`
    seconds old, and what somebody does by a page is seen at once. `messages` is asked for so many of the newest
    rejected ones. The `door` says who is let in; without one everybody is, and may do everything: for tests of single
    pages alone. `app.state.closing` ends the open event streams.
    """
    # The documentation pages of FastAPI load their scripts from outside, so there are none; /openapi.json is there.
    app = FastAPI(title="clutchwarden", docs_url=None, redoc_url=None)
    closing = threading.Event()
    app.state.closing = closing
    source = Source(overview, keep_s)
    _put_before(app, door or door_without_sign_in(), changes, source)
    links = {"with_inbox": inbox is not None, "with_alarms": alarms is not None, "with_clutches": clutches is not None}
    _add_now(app, source, closing, {**links, "with_answers": answers is not None}, reviews)
    _add_messages(app, closing, messages, inbox)
    _add_links(app, answers, arrivals)
    _add_alarms(app, closing, alarms)
    _add_clutches(app, source, clutches, register, reviews)
    _add_readings(app, source, charts, inside, backups)
    _add_set_up(app, source, closing, probes, upkeep)
    _add_work(app, rounds, ahead, reviews)
    if reports is not None:
        app.include_router(reports_router(reports))
    describe(app)
    app.mount("/static", KeptStatic(directory=STATIC))
    return app


def _put_before(app: FastAPI, door: Door, changes: Changes | None, source: Source[Overview]) -> None:
    """Put before the pages what every request passes; what is added last is passed first."""
    # Behind the door: whoever is not let in is refused before anything of what they send is read.
    app.add_middleware(BodyLimits)
    say_what_is_wrong(app)
    lead_back(app)
    put_up(app, door, changes)
    app.add_middleware(GZipMiddleware, minimum_size=_SMALLEST_PACKED_BYTES, compresslevel=_PACKING)
    app.add_middleware(SecurityHeaders, is_https=door.is_https)
    app.add_middleware(NavHere)
    app.add_exception_handler(NothingToShowError, _failed)
    app.add_exception_handler(Exception, _failed)
    app.add_middleware(SeenAtOnce, forget=source.forget)


def _add_work(app: FastAPI, rounds: RoundPages | None, ahead: AheadPages | None, reviews: ReviewPages | None) -> None:
    if ahead is not None:
        add_ahead(app, ahead)
    if rounds is not None:
        app.include_router(rounds_router(rounds))
        app.include_router(rounds_json_router(rounds))
    if reviews is not None:
        app.include_router(review_router(reviews))
        app.include_router(review_json_router(reviews))


def _add_messages(
    app: FastAPI, closing: threading.Event, messages: Callable[[int], Messages] | None, inbox: Inbox | None
) -> None:
    if messages is not None:
        app.include_router(messages_router(messages, closing))
    if inbox is not None:
        app.include_router(inbox_router(inbox, closing))


def _add_alarms(app: FastAPI, closing: threading.Event, alarms: Board | None) -> None:
    if alarms is not None:
        app.include_router(alarms_router(alarms, closing))
        app.include_router(alarm_json_router(alarms))


def _add_readings(
    app: FastAPI,
    overview: Source[Overview],
    charts: ChartReader | None,
    inside: Callable[[], Inside] | None,
    backups: BackupPages | None,
) -> None:
    app.include_router(api_router(overview, None if backups is None else Source(backups.line, KEPT_S)))
    if backups is not None:
        app.include_router(backups_router(backups))
    if charts is not None:
        app.include_router(charts_router(charts))
        app.include_router(readings_json_router(charts))
    if inside is not None:
        app.include_router(metrics_router(overview, inside))


def _add_set_up(
    app: FastAPI,
    overview: Source[Overview],
    closing: threading.Event,
    probes: Probing | None,
    upkeep: UpkeepPages | None,
) -> None:
    if probes is not None:
        app.include_router(probes_router(probes, closing))
        app.include_router(set_up_router())
    if upkeep is not None:
        add_upkeep(app, overview, upkeep, closing)


def _add_links(app: FastAPI, answers: Acknowledging | None, arrivals: Confirming | None) -> None:
    # Links of the first kind lie below the path of the others.
    if arrivals is not None:
        app.include_router(links_router(arrived_links(arrivals)))
    if answers is not None:
        app.include_router(acknowledge_router(answers))


def _add_clutches(
    app: FastAPI,
    overview: Source[Overview],
    clutches: ClutchPages | None,
    register: Registering | None,
    reviews: ReviewPages | None,
) -> None:
    if register is not None:
        add_register(app, overview, register)
    if clutches is not None:
        pages = None if register is None else register.pages
        parts = {} if reviews is None else {"parts_of": reviews.parts_of}
        app.include_router(clutches_router(overview, clutches, pages, **parts))


def _add_now(
    app: FastAPI,
    overview: Source[Overview],
    closing: threading.Event,
    links: Mapping[str, bool],
    reviews: ReviewPages | None,
) -> None:
    page = NowPage(overview, links, (lambda: None) if reviews is None else reviews.due)
    feed = Feed(page.version, closing)

    @app.api_route("/", methods=["GET", "HEAD"], response_class=HTMLResponse, include_in_schema=False)
    def status_page() -> str:
        return page.html()

    @app.get("/events", include_in_schema=False)
    def events() -> StreamingResponse:
        return feed.response()


def _failed(_request: Request, _error: Exception) -> PlainTextResponse:
    """Answer where there is nothing to show.

    After a fault of the program this runs outside all middleware, so it brings its headers, and the server logs it.
    """
    return PlainTextResponse(_CANNOT_SHOW, 503, {**SECURITY_HEADERS, "Cache-Control": "no-store", "Retry-After": "60"})
