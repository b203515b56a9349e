"""Addresses of the pages of clutches: to read, and nothing to change."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Self
from urllib.parse import urlencode

from fastapi import APIRouter, HTTPException, Query, Request
from fastapi.responses import HTMLResponse

from daemon.clutch_record import ClutchRecords
from daemon.clutch_record_values import ClutchRecord, OtherClutch
from daemon.overview import Overview
from dashboards.clutch_json import ClutchListJson, ClutchRecordJson, clutch_list_json, clutch_record_json
from dashboards.clutch_list import ClutchListView, Wanted, clutch_list_view
from dashboards.clutch_page import clutch_page_view
from dashboards.rendering import render
from dashboards.source import Source

_LONGEST_NUMBER = 18
_LONGEST_WISH = 200
_Wish = Annotated[str, Query(max_length=_LONGEST_WISH)]


@dataclass(frozen=True, slots=True)
class ClutchPages:
    """Where these pages get what they show, both as things stand now.

    `one`: the record of a clutch by its number, None where there is none; `others`: clutches that the overview does not
    have.
    """

    one: Callable[[int], ClutchRecord | None]
    others: Callable[[], tuple[OtherClutch, ...]]

    @classmethod
    def of(cls, records: ClutchRecords, now_ms: Callable[[], int]) -> Self:
        """Take them from the journal, by this clock."""
        return cls(lambda number: records.one(number, now_ms()), lambda: records.others(now_ms()))


def clutches_router(overview: Callable[[], Overview], clutches: ClutchPages) -> APIRouter:
    """Make the routes."""
    router = APIRouter()
    others = Source(clutches.others)

    def listed(wanted: Wanted) -> ClutchListView:
        return clutch_list_view(overview(), others(), wanted)

    def found(number: str) -> ClutchRecord | None:
        if not (number.isascii() and number.isdecimal() and len(number) <= _LONGEST_NUMBER):
            return None
        return Source(lambda: clutches.one(int(number)))()

    @router.api_route("/clutches", methods=["GET", "HEAD"], response_class=HTMLResponse, include_in_schema=False)
    def clutch_list(sort: str = "hatch", species: str = "", incubator: str = "", closed: str = "") -> str:
        wanted = Wanted(sort, species, incubator, closed == "yes")
        asked = urlencode({"sort": sort, "species": species, "incubator": incubator, "closed": closed})
        return render("clutches.html", view=listed(wanted), here=f"/clutches?{asked}")

    @router.api_route(
        "/clutches/{number}", methods=["GET", "HEAD"], response_class=HTMLResponse, include_in_schema=False
    )
    def clutch_page(request: Request, number: str) -> HTMLResponse:
        record = found(number)
        if record is None:
            page = render("not_found.html", what="clutch", path="/clutches", back="All clutches")
            return HTMLResponse(page, 404)
        return HTMLResponse(render("clutch_page.html", view=clutch_page_view(record), here=request.url.path))

    @router.get("/api/clutches")
    def api_clutches(
        sort: _Wish = "hatch", species: _Wish = "", incubator: _Wish = "", closed: bool = False
    ) -> ClutchListJson:
        return clutch_list_json(listed(Wanted(sort, species, incubator, closed)))

    @router.get("/api/clutches/{number}", responses={404: {"description": "There is no such clutch."}})
    def api_clutch(number: str) -> ClutchRecordJson:
        record = found(number)
        if record is None:
            raise HTTPException(404, "There is no such clutch. /api/clutches lists them all.")
        return clutch_record_json(record)

    return router
