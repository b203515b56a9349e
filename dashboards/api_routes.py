"""Addresses of the overview as JSON and of what a watcher outside asks: whether the watch works."""

from collections.abc import Callable

from fastapi import APIRouter
from fastapi.responses import JSONResponse

from daemon.overview import Overview
from dashboards.api import overview_json
from dashboards.api_values import HealthJson, OverviewJson
from dashboards.health import health
from dashboards.source import NothingToShowError
from dashboards.visiting import visitor

_UNKNOWN = "The state of the watch cannot be read; the log says why."


def api_router(overview: Callable[[], Overview], backup: Callable[[], str] | None = None) -> APIRouter:
    """Make the routes. `overview` and `backup` raise NothingToShowError where there is nothing to show.

    `backup`: a line on the newest backup, for those who have signed in.
    """
    router = APIRouter()

    @router.get("/api/overview", summary="Everything on the first page", tags=["Now"])
    def api_overview() -> OverviewJson:
        """Newest readings with their limits, dew points, clutches with heat and hatching window, alarms, rounds."""
        return overview_json(overview())

    @router.get(
        "/health",
        summary="Whether the watch works",
        tags=["Service"],
        response_model=HealthJson,
        responses={503: {"model": HealthJson, "description": "It does not, and these are the reasons."}},
    )
    def api_health() -> JSONResponse:
        """For a watcher outside. It judges the service and not the eggs: 200 where all is well, else 503."""
        try:
            answer = health(overview(), to_everybody=visitor() is None)
            if backup is not None and visitor() is not None:
                answer = answer.model_copy(update={"backup": backup()})
        except NothingToShowError:
            answer = HealthJson(healthy=False, reasons=[_UNKNOWN], broker_connected=False, newest_reading_age_s=None)
        left_out = {"backup"} if answer.backup is None else None
        return JSONResponse(answer.model_dump(exclude=left_out), 200 if answer.healthy else 503)

    return router
