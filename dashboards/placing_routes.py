"""Addresses of the pages that compare places for a clutch. To read, and nothing to change."""

from typing import Annotated, Protocol

from fastapi import APIRouter, HTTPException, Query
from fastapi.responses import HTMLResponse, Response

from daemon.placement.advice import Advice
from daemon.placement_desk import MOST_DAYS, USUAL_DAYS
from dashboards.openapi import NOT_FOUND
from dashboards.placing import PLACEMENT_PATH, placing_view
from dashboards.placing_json import PlacementJson, placement_json
from dashboards.register_paths import CLUTCHES_PATH, number_of
from dashboards.rendering import render
from dashboards.source import Source

_Days = Annotated[int, Query(ge=1, le=MOST_DAYS)]
_Species = Annotated[str, Query(max_length=200)]


class Advising(Protocol):
    """What these pages need."""

    @property
    def species(self) -> tuple[tuple[str, str], ...]:
        """Every species that is known, as id and name."""

    def of_clutch(self, clutch_id: int, days: int) -> Advice | None:
        """Compare places for a clutch that lies somewhere."""

    def of_species(self, species_id: str, days: int) -> Advice | None:
        """Compare places for a clutch that is not entered yet."""


def placing_router(desk: Advising) -> APIRouter:
    """Make the routes."""
    router = APIRouter()

    def page(advice: Advice) -> Response:
        view = placing_view(advice)
        return HTMLResponse(render("placing.html", view=view, here=view.here))

    def not_found(what: str) -> Response:
        return HTMLResponse(render("not_found.html", what=what, path="/clutches", back="All clutches"), 404)

    @router.api_route(f"{CLUTCHES_PATH}/{{number}}/placement", methods=["GET", "HEAD"], include_in_schema=False)
    def of_clutch(number: str, days: str = "") -> Response:
        clutch_id = number_of(number)
        found = None if clutch_id is None else Source(lambda: desk.of_clutch(clutch_id, days_of(days)))()
        return page(found) if found is not None else not_found("clutch that lies somewhere and whose species is known")

    @router.api_route(PLACEMENT_PATH, methods=["GET", "HEAD"], include_in_schema=False)
    def of_species(species: str = "", days: str = "") -> Response:
        if not species:
            return HTMLResponse(render("placing_which.html", species=desk.species, path=PLACEMENT_PATH))
        found = Source(lambda: desk.of_species(species, days_of(days)))()
        return page(found) if found is not None else not_found("species")

    _add_json(router, desk)
    return router


def _add_json(router: APIRouter, desk: Advising) -> None:
    @router.get(
        "/api/clutches/{number}/placement", summary="Places for a clutch", tags=["Clutches"], responses=NOT_FOUND
    )
    def api_of_clutch(number: str, days: _Days = USUAL_DAYS) -> PlacementJson:
        """Compare places for a clutch by what each measured: hours a day outside its limits, the best place first."""
        clutch_id = number_of(number)
        found = None if clutch_id is None else Source(lambda: desk.of_clutch(clutch_id, days))()
        if found is None:
            raise HTTPException(404, "No such clutch lies anywhere, or its species has no profile. See /api/clutches.")
        return placement_json(found)

    @router.get("/api/placement", summary="Places for a new clutch", tags=["Clutches"], responses=NOT_FOUND)
    def api_of_species(species: _Species, days: _Days = USUAL_DAYS) -> PlacementJson:
        """Compare places for a clutch of a species that is not entered yet, on its first day, the best place first."""
        found = Source(lambda: desk.of_species(species, days))()
        if found is None:
            raise HTTPException(404, "There is no profile of this name. /api/species lists them all.")
        return placement_json(found)


def days_of(text: str) -> int:
    """Read how many days to look back; what is no such number is the usual one."""
    days = number_of(text)
    return USUAL_DAYS if days is None or not 1 <= days <= MOST_DAYS else days
