"""Addresses of rounds as JSON: all of them by pages, and one with every entry. A GET changes nothing."""

from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Path
from fastapi.responses import Response

from dashboards.alarm_answer import asked
from dashboards.openapi import NOT_FOUND
from dashboards.paging import PageWish, page_wish, paged
from dashboards.rounds_json import OneRoundJson, RoundListJson, one_round_json, round_list_json
from dashboards.rounds_pages import RoundPages

_MOST, _SHOWN, _LARGEST = 200, 50, 10**12
_Page = Annotated[PageWish, Depends(page_wish(_SHOWN, _MOST))]
_Number = Annotated[int, Path(ge=1, lt=_LARGEST, description="As in `number` of /api/rounds.")]


def rounds_json_router(pages: RoundPages) -> APIRouter:
    """Make the routes."""
    router = APIRouter(prefix="/api/rounds", tags=["Rounds"])

    @router.get("", summary="All rounds", **paged(RoundListJson))
    def api_rounds(page: _Page) -> Response:
        """Rounds through the boxes, those that go on as well, the newest first, by pages."""
        shown, older = page.cut(asked(lambda: pages.desk.newest(page.limit + 1, page.number)), lambda each: each.number)
        return page.answer(round_list_json(shown, pages.names(), older))

    @router.get("/{number}", summary="One round", responses=NOT_FOUND)
    def api_round(number: _Number) -> OneRoundJson:
        """What a round came to: each box with what was found, every entry, photos, and what to see sooner."""
        found = asked(lambda: pages.desk.record(number))
        if found is None:
            raise HTTPException(404, "There is no such round. /api/rounds lists them all.")
        return one_round_json(*found, pages.names())

    return router
