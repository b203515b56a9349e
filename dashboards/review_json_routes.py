"""Addresses of incidents and accounts as JSON. A GET changes nothing."""

from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Path, Query
from fastapi.responses import JSONResponse, Response

from daemon.review_incidents import UnknownIncidentError
from dashboards.alarm_answer import asked
from dashboards.chart_request import AskedError
from dashboards.openapi import NOT_FOUND
from dashboards.paging import PageWish, page_wish, paged
from dashboards.review_json import IncidentListJson, ReviewJson, incident_list_json, review_json
from dashboards.review_pages import ReviewPages
from dashboards.review_paths import LARGEST_NUMBER
from dashboards.review_routes import period_of
from dashboards.series_json import ErrorJson

_MOST, _SHOWN = 200, 50
_Page = Annotated[PageWish, Depends(page_wish(_SHOWN, _MOST))]
_Number = Annotated[int, Path(ge=1, lt=LARGEST_NUMBER, description="As in `number` of /api/incidents.")]
_Since = Annotated[str, Query(description="UTC milliseconds, an RFC 3339 time, or local time of the site; needed.")]
_Until = Annotated[str, Query(description="The same; else now.")]


def review_json_router(pages: ReviewPages) -> APIRouter:
    """Make the routes."""
    router = APIRouter(prefix="/api", tags=["Incidents"])

    @router.get("/incidents", summary="All incidents", **paged(IncidentListJson))
    def api_incidents(page: _Page) -> Response:
        """Incidents as they were found in the journal, each with its facts and its cause, by pages."""
        found = asked(lambda: pages.incidents.newest(page.limit + 1, page.number))
        shown, older = page.cut(found, lambda each: each.incident_id)
        waiting = frozenset(each.incident_id for each in pages.waiting())
        return page.answer(incident_list_json(shown, waiting, older))

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
