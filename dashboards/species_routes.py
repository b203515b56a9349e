"""Addresses of the species profiles: to read and to start an own one from. Nothing here changes anything."""

from collections.abc import Callable

from fastapi import APIRouter, HTTPException
from fastapi.responses import HTMLResponse, PlainTextResponse, Response

from daemon.overview import Overview
from daemon.species_shelf import SpeciesShelf
from dashboards.alarm_answer import nothing
from dashboards.openapi import NOT_FOUND
from dashboards.rendering import render
from dashboards.setup_paths import SPECIES_PATH
from dashboards.species_json import SpeciesJson, SpeciesListJson, species_json, species_list_json
from dashboards.species_list import species_list_view, used_by
from dashboards.species_page import species_view

_GONE = "There is no such species profile. /api/species lists them all."


def species_router(overview: Callable[[], Overview], shelf: SpeciesShelf) -> APIRouter:
    """Make the routes."""
    router = APIRouter()

    def own() -> frozenset[str]:
        return frozenset(filter(shelf.is_own, shelf.profiles))

    @router.api_route(SPECIES_PATH, methods=["GET", "HEAD"], response_class=HTMLResponse, include_in_schema=False)
    def all_species(q: str = "") -> str:
        return render("species.html", view=species_list_view(shelf.profiles, own(), overview(), q), here=SPECIES_PATH)

    @router.get(f"{SPECIES_PATH}/{{species_id}}.toml", include_in_schema=False)
    def download(species_id: str) -> Response:
        text = shelf.text(species_id)
        if text is None:
            return nothing("species profile", SPECIES_PATH, "All species")
        headers = {"Content-Disposition": f'attachment; filename="{species_id}.toml"'}
        return PlainTextResponse(text, headers=headers, media_type="application/toml")

    @router.api_route(f"{SPECIES_PATH}/{{species_id}}", methods=["GET", "HEAD"], include_in_schema=False)
    def one(species_id: str) -> HTMLResponse:
        profile = shelf.profiles.get(species_id)
        if profile is None:
            return nothing("species profile", SPECIES_PATH, "All species")
        view = species_view(profile, shelf.text(species_id), overview(), is_own=shelf.is_own(species_id))
        return HTMLResponse(render("species_one.html", view=view, here=SPECIES_PATH))

    @router.get("/api/species", summary="All species profiles", tags=["Clutches"])
    def api_all() -> SpeciesListJson:
        """Every profile that this service works with, built in or of the site."""
        return species_list_json(shelf.profiles.values(), own())

    @router.get("/api/species/{species_id}", summary="One species profile", tags=["Clutches"], responses=NOT_FOUND)
    def api_one(species_id: str) -> SpeciesJson:
        """All that is known of a species, every figure with its source; the caution comes first."""
        profile = shelf.profiles.get(species_id)
        if profile is None:
            raise HTTPException(404, _GONE)
        return species_json(profile, used_by(species_id, overview()), is_own=shelf.is_own(species_id))

    return router
