"""Reports to fetch: the record of a clutch, a month, a season, each as a zip that is written while it is fetched.

A viewer may. Each costs the machine some seconds, so only a few are written at once.
"""

import threading
from collections.abc import Callable
from datetime import datetime, tzinfo
from typing import Protocol

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response, StreamingResponse
from starlette.types import Receive, Scope, Send

from config.errors import StatedError
from daemon.clock import as_datetime
from daemon.report_bundle import Bundle, zip_stream
from dashboards.register_paths import CLUTCHES_PATH, number_of
from dashboards.rendering import render
from dashboards.reports_json import ReportsJson, reports_json
from dashboards.reports_paths import MONTHS_PATH, REPORTS_PATH, SEASONS_PATH, month_path, season_path
from dashboards.source import Source

MOST_AT_ONCE = 2
"""Project choice: readings come in and pages are shown meanwhile, on a small machine."""
_BUSY = "Other reports are being written just now. Try again in a minute."


class Reporting(Protocol):
    """What these pages need."""

    @property
    def zone(self) -> tzinfo:
        """The time zone of the site."""

    def now_ms(self) -> int:
        """The present moment, UTC ms."""

    def clutch(self, number: int) -> Bundle | None:
        """The record of a clutch; None where there is none."""

    def month(self, text: str) -> Bundle:
        """A month. Raises StatedError."""

    def season(self, text: str) -> Bundle:
        """A season. Raises StatedError."""

    def months(self) -> list[str]:
        """The months of which there are readings."""

    def seasons(self) -> list[str]:
        """The years in which clutches were laid."""


def reports_router(desk: Reporting) -> APIRouter:
    """Make the routes."""
    router, turns = APIRouter(), _Turns()

    def packed(make: Callable[[], Bundle | None], what: str) -> Response:
        if not turns.take():
            return page(desk, _BUSY, 503)
        try:
            bundle = _asked(make)
        except BaseException:
            turns.give_back()
            raise
        if isinstance(bundle, Bundle):
            return _Download(bundle, as_datetime(desk.now_ms()).astimezone(desk.zone), turns)
        turns.give_back()
        where = ("/clutches", "All clutches") if what == "clutch" else (REPORTS_PATH, "All reports")
        return HTMLResponse(render("not_found.html", what=what, path=where[0], back=where[1]), 404)

    @router.api_route(REPORTS_PATH, methods=["GET", "HEAD"], include_in_schema=False)
    def reports() -> HTMLResponse:
        return page(desk)

    @router.get(f"{CLUTCHES_PATH}/{{number}}/record.zip", include_in_schema=False)
    def of_clutch(number: str) -> Response:
        clutch_id = number_of(number)
        return packed(lambda: None if clutch_id is None else desk.clutch(clutch_id), "clutch")

    @router.get(f"{MONTHS_PATH}/{{month}}.zip", include_in_schema=False)
    def of_month(month: str) -> Response:
        return packed(lambda: desk.month(month), "month on record")

    @router.get(f"{SEASONS_PATH}/{{year}}.zip", include_in_schema=False)
    def of_season(year: str) -> Response:
        return packed(lambda: desk.season(year), "season on record")

    @router.get("/api/reports", summary="Reports", tags=["Service"])
    def api_reports() -> ReportsJson:
        """The months and seasons of which a report can be fetched as a zip, and where."""
        return reports_json(*_there_are(desk))

    return router


def _there_are(desk: Reporting) -> tuple[dict[str, str], dict[str, str]]:
    """Months and seasons, each with its path."""
    months, seasons = Source(desk.months)(), Source(desk.seasons)()
    return {each: month_path(each) for each in months}, {each: season_path(each) for each in seasons}


def page(desk: Reporting, error: str = "", status: int = 200) -> HTMLResponse:
    """Show what there is to fetch."""
    months, seasons = _there_are(desk)
    values = {"months": list(months.items()), "seasons": list(seasons.items()), "error": error}
    headers = {"Retry-After": "60"} if error else None
    return HTMLResponse(render("reports.html", **values), status, headers)


class _Turns:
    """Lets a few reports be written at once. Safe to use from several threads."""

    def __init__(self) -> None:
        self._free = threading.BoundedSemaphore(MOST_AT_ONCE)

    def take(self) -> bool:
        """Take a turn; False where there is none."""
        return self._free.acquire(blocking=False)

    def give_back(self) -> None:
        """End a turn."""
        self._free.release()


def _asked(make: Callable[[], Bundle | None]) -> Bundle | None:
    """Give what is made; None for a month or a season that there is not."""

    def made() -> Bundle | None:
        try:
            return make()
        except StatedError:
            return None

    return Source(made)()


class _Download(StreamingResponse):
    """A zip that is written while it is fetched. Its turn ends with it, also where whoever asked goes away."""

    def __init__(self, bundle: Bundle, now: datetime, turns: _Turns) -> None:
        self._chunks, self._turns = zip_stream(bundle, now), turns
        headers = {"Content-Disposition": f'attachment; filename="{bundle.name}.zip"', "Cache-Control": "no-store"}
        super().__init__(self._chunks, media_type="application/zip", headers=headers)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send it. No worker is in the middle of a chunk once this ends: the server waits for it."""
        try:
            await super().__call__(scope, receive, send)
        finally:
            try:
                self._chunks.close()
            finally:
                self._turns.give_back()
