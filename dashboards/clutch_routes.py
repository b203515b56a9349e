"""Addresses of the pages of clutches: to read, and nothing to change."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Self
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, HTTPException, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from daemon.clutch_record import ClutchRecords
from daemon.clutch_record_values import AlsoStated, ClosedClutch, ClutchRecord, EggsAndCheck, OtherClutch
from daemon.overview import Overview
from dashboards.clutch_json import (
    ClosedClutchesJson,
    ClutchListJson,
    ClutchRecordJson,
    closed_clutches_json,
    clutch_list_json,
    clutch_record_json,
)
from dashboards.clutch_list import ClutchListView, Wanted, clutch_list_view
from dashboards.clutch_page import clutch_page_view
from dashboards.openapi import NOT_FOUND
from dashboards.paging import PageWish, page_wish, paged
from dashboards.register_pages import RegisterPages
from dashboards.rendering import render
from dashboards.review_list_view import IncidentLine
from dashboards.source import Source

_LONGEST_NUMBER = 18
_LONGEST_WISH = 200
_SHOWN, _MOST = 50, 200
_Wish = Annotated[str, Query(max_length=_LONGEST_WISH)]
_Page = Annotated[PageWish, Depends(page_wish(_SHOWN, _MOST, parts=2))]


@dataclass(frozen=True, slots=True)
class ClutchPages:
    """Where these pages get what they show, both as things stand now.

    `one`: the record of a clutch by its number, None where there is none; `others`: clutches that the overview does not
    have; `told`: what else there is to tell of each open one, by its number, and of closed ones where that is wished.
    For programs: `gone` are the open ones of `others`, in a place that the site has no more; `stated`: what else the
    register has of each open one; `closed`: so many that were closed last, or before one.
    """

    one: Callable[[int], ClutchRecord | None]
    others: Callable[[], tuple[OtherClutch, ...]]
    told: Callable[[bool], Mapping[int, EggsAndCheck]] = lambda _include_closed: {}
    gone: Callable[[], tuple[OtherClutch, ...]] = tuple
    stated: Callable[[], Mapping[int, AlsoStated]] = dict
    closed: Callable[[tuple[int, int] | None, int], Sequence[ClosedClutch]] = lambda _before, _limit: ()

    @classmethod
    def of(cls, records: ClutchRecords, now_ms: Callable[[], int]) -> Self:
        """Take them from the journal, by this clock."""
        return cls(
            lambda number: records.one(number, now_ms()),
            lambda: records.others(now_ms()),
            lambda include_closed: records.told(now_ms(), include_closed),
            lambda: records.others(now_ms(), include_closed=False),
            records.stated,
            lambda before, limit: records.closed(now_ms(), before, limit),
        )


def clutches_router(
    overview: Callable[[], Overview],
    clutches: ClutchPages,
    register: RegisterPages | None = None,
    parts_of: Callable[[ClutchRecord], Sequence[IncidentLine]] = lambda _record: (),
) -> APIRouter:
    """Make the routes. With a `register` its pages are linked to; `parts_of`: the incidents that one was part of."""
    router = APIRouter()
    others = Source(clutches.others)
    told = {closed: Source(lambda closed=closed: clutches.told(closed)) for closed in (False, True)}  # type: ignore[misc]

    def listed(wanted: Wanted) -> ClutchListView:
        return clutch_list_view(overview(), others(), wanted, told[wanted.closed]())

    def found(number: str) -> ClutchRecord | None:
        if not (number.isascii() and number.isdecimal() and len(number) <= _LONGEST_NUMBER):
            return None
        return Source(lambda: clutches.one(int(number)))()

    @router.api_route("/clutches", methods=["GET", "HEAD"], response_class=HTMLResponse, include_in_schema=False)
    def clutch_list(sort: str = "hatch", species: str = "", incubator: str = "", closed: str = "") -> str:
        wanted = Wanted(sort, species, incubator, closed == "yes")
        asked = urlencode({"sort": sort, "species": species, "incubator": incubator, "closed": closed})
        return render(
            "clutches.html", view=listed(wanted), here=f"/clutches?{asked}", with_register=register is not None
        )

    @router.api_route(
        "/clutches/{number}", methods=["GET", "HEAD"], response_class=HTMLResponse, include_in_schema=False
    )
    def clutch_page(request: Request, number: str) -> Response:
        record = found(number)
        if record is None and register is not None and (withdrawn := register.one(number)) is not None:
            return RedirectResponse(f"{withdrawn.path}/reopen", 303)
        if record is None:
            page = render("not_found.html", what="clutch", path="/clutches", back="All clutches")
            return HTMLResponse(page, 404)
        values = {
            "view": clutch_page_view(record, None if record.closed_at_ms is not None else overview()),
            "with_register": register is not None,
            "incidents": parts_of(record),
        }
        return HTMLResponse(render("clutch_page.html", **values, here=request.url.path))

    _add_json(router, overview, clutches, found)
    return router


def _add_json(
    router: APIRouter,
    overview: Callable[[], Overview],
    clutches: ClutchPages,
    found: Callable[[str], ClutchRecord | None],
) -> None:
    open_ones = Source(lambda: (clutches.gone(), clutches.told(False), clutches.stated()))

    @router.get("/api/clutches", summary="All clutches that lie somewhere", tags=["Clutches"])
    def api_clutches(sort: _Wish = "hatch", species: _Wish = "", incubator: _Wish = "") -> ClutchListJson:
        """Open clutches with heat, share of development and hatching window, sorted and filtered as on the page."""
        gone, told, stated = open_ones()
        return clutch_list_json(clutch_list_view(overview(), gone, Wanted(sort, species, incubator), told), stated)

    @router.get("/api/clutches/closed", summary="Clutches of the past", tags=["Clutches"], **paged(ClosedClutchesJson))
    def api_closed_clutches(page: _Page) -> Response:
        """Every clutch that was closed, as it was then, the one that was closed last first, by pages."""
        before = (page.key[0], page.key[1]) if page.key else None
        some = Source(lambda: clutches.closed(before, page.limit + 1))()
        shown, earlier = page.cut(some, lambda each: (each.other.closed_at_ms or 0, each.other.clutch.clutch_id))
        return page.answer(closed_clutches_json(shown, earlier))

    @router.get("/api/clutches/{number}", summary="One clutch", tags=["Clutches"], responses=NOT_FOUND)
    def api_clutch(number: str) -> ClutchRecordJson:
        """Everything that is known of a clutch: heat curve, climate where it lay, events, and every change to it."""
        record = found(number)
        if record is None:
            raise HTTPException(
                404, "There is no such clutch. /api/clutches lists the open ones, /api/clutches/closed the others."
            )
        return clutch_record_json(record)
