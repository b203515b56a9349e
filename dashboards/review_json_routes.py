"""Addresses of incidents and accounts as JSON. A GET changes nothing."""

from typing import Annotated

from fastapi import APIRouter, HTTPException, Path, Query
from fastapi.responses import JSONResponse, Response

from daemon.review_incidents import UnknownIncidentError
from dashboards.alarm_answer import asked
from dashboards.chart_request import AskedError
from dashboards.openapi import NOT_FOUND
from dashboards.review_json import IncidentListJson, ReviewJson, incident_list_json, review_json
from dashboards.review_pages import ReviewPages
from dashboards.review_paths import LARGEST_NUMBER
from dashboards.review_routes import period_of
from dashboards.series_json import ErrorJson

_MOST, _SHOWN = 200, 50
_Before = Annotated[
    int | None,
    Query(ge=1, lt=LARGEST_NUMBER, description="Incidents with a smaller number than this; else the newest."),
]
_Limit = Annotated[int, Query(ge=1, le=_MOST, description="So many incidents at the most.")]
_Number = Annotated[int, Path(ge=1, lt=LARGEST_NUMBER, description="As in `number` of /api/incidents.")]
_Since = Annotated[str, Query(description="UTC milliseconds, an RFC 3339 time, or local time of the site; needed.")]
_Until = Annotated[str, Query(description="The same; else now.")]


def review_json_router(pages: ReviewPages) -> APIRouter:
    """Make the routes."""
    router = APIRouter(prefix="/api", tags=["Incidents"])

    @router.get("/incidents", summary="All incidents")
    def api_incidents(before: _Before = None, limit: _Limit = _SHOWN) -> IncidentListJson:
        """Incidents as they were found in the journal, each with its facts and its cause, by pages."""
        found = asked(lambda: pages.incidents.newest(limit + 1, before))
        return incident_list_json(found, frozenset(each.incident_id for each in pages.waiting()), limit)

    @router.get("/incidents/{number}", summary="The account of an incident", responses=NOT_FOUND)
    def api_incident(number: _Number) -> ReviewJson:
        """What an incident did to places and clutches, who was told what, and what people wrote about it."""
        try:
            return review_json(asked(lambda: pages.reviews.review_of(number)))
        except UnknownIncidentError:
            raise HTTPException(404, "There is no such incident. /api/incidents lists them all.") from None

    @router.get(
        "/review",
        summary="The account of a period",
        response_model=ReviewJson,
        responses={422: {"model": ErrorJson, "description": "What is wrong with the wish."}},
    )
    def api_review(since: _Since = "", until: _Until = "") -> Response:
        """The same for any period of at most five weeks, whatever happened in it."""
        try:
            found = period_of(pages, since, until)
        except AskedError as error:
            return JSONResponse({"detail": str(error)}, 422)
        return Response(review_json(found).model_dump_json(), media_type="application/json")

    return router
