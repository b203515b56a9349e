"""Addresses at which labels are chosen and printed. Nothing here changes anything."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Annotated

import segno
from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from config.public_url import is_loopback
from daemon.clutches.values import Clutch
from daemon.overview import Overview
from dashboards import labels
from dashboards.labels import SIZES, Code, OnLabel, Size
from dashboards.register_pages import RegisterPages
from dashboards.register_paths import BOXES_PATH, LABELS_PATH, SHEET_PATH, box_path, clutch_path
from dashboards.register_routes import READ
from dashboards.rendering import render

_MOST_LABELS = 400
_TOO_MANY = (
    f"More than {_MOST_LABELS} labels were chosen at once. Go back, choose those of one incubator, print them, and go "
    "on with the next."
)
_CLUTCH = "clutch-"


def labels_router(pages: RegisterPages, overview: Callable[[], Overview], public_url: str | None) -> APIRouter:
    """Make the routes. `public_url`: the start of the addresses in codes; without it the one that the browser used."""
    router = APIRouter(include_in_schema=False)

    @router.api_route(LABELS_PATH, methods=READ)
    def choose(request: Request) -> HTMLResponse:
        start = start_of(public_url, request)
        found = everything(pages, overview())
        values = {"view": pages.head(), "labels": found, "sizes": SIZES, "start": start, "sheet_path": SHEET_PATH}
        more = {"is_loopback": is_loopback(start), "boxes_path": BOXES_PATH, "module_mm": labels.LEAST_MODULE_MM}
        return HTMLResponse(render("labels.html", **values, **more, here=LABELS_PATH))

    @router.api_route(SHEET_PATH, methods=READ)
    def sheet(request: Request, on: Annotated[list[str] | None, Query()] = None, size: str = "") -> HTMLResponse:
        start, wanted = start_of(public_url, request), on or []
        chosen = next((each for each in SIZES if each.key == size), SIZES[0])
        is_too_much = len(wanted) > _MOST_LABELS
        keys = set() if is_too_much else set(wanted)
        found = [each for each in everything(pages, overview()) if each.key in keys]
        error = _TOO_MANY if is_too_much else "" if found else "No box was chosen. Go back and choose at least one."
        made = [labels.label_of(each, _code(start + each.path)) for each in found]
        if _is_too_fine([each.code for each in made], chosen):
            error, made = _too_fine(start, chosen), []
        here = str(request.url.path) + (f"?{request.url.query}" if request.url.query else "")
        values = {"view": pages.head(), "size": chosen, "sheets": labels.sheets(made, chosen), "error": error}
        more = {"is_loopback": is_loopback(start), "start": start, "here": here, "labels_path": LABELS_PATH}
        return HTMLResponse(render("labels_sheet.html", **values, **more), 422 if error else 200)

    return router


def start_of(public_url: str | None, request: Request) -> str:
    """Give the start of every address in a code, without a slash at its end."""
    return (public_url or str(request.base_url)).rstrip("/")


def everything(pages: RegisterPages, overview: Overview) -> list[OnLabel]:
    """Give what labels can be made for: all boxes as they stand, then clutches without a box."""
    now = {clutch.clutch_id: clutch for each in overview.incubators for clutch in each.clutches}
    lying = pages.lying()
    held = {clutch.placements[-1].place: clutch for clutch in lying}

    def filled(on: OnLabel, clutch: Clutch | None) -> OnLabel:
        if clutch is None:
            return on
        laid, due = labels.dates(now.get(clutch.clutch_id), pages.zone)
        species, scientific = pages.species_name(clutch.species_id), pages.scientific_name(clutch.species_id)
        named = replace(on, clutch=clutch.label, species=species, scientific=scientific)
        return replace(named, laid=laid, due=due, venomous=pages.is_venomous(clutch))

    boxes = [
        filled(OnLabel(place, box.name or box.id, f"{one.name}, {zone.name}", box_path(place)), held.get(place))
        for one in pages.site.incubators
        for zone in one.zones
        for box in zone.boxes
        for place in (f"{one.id}/{zone.id}/{box.id}",)
    ]
    loose = [each for each in lying if each.placements[-1].place not in pages.places.boxes]
    return [*boxes, *(filled(_without_a_box(pages, each), each) for each in loose)]


def _without_a_box(pages: RegisterPages, clutch: Clutch) -> OnLabel:
    where = pages.place_name(clutch.placements[-1].place)
    return OnLabel(f"{_CLUTCH}{clutch.clutch_id}", clutch.label, where, clutch_path(clutch.clutch_id))


def _code(address: str) -> Code:
    return labels.code_of(segno.make(address, error="m", boost_error=True, micro=False).matrix)


def _is_too_fine(codes: Sequence[Code], size: Size) -> bool:
    return any(labels.module_mm(code, size) < labels.LEAST_MODULE_MM for code in codes)


def _too_fine(start: str, size: Size) -> str:
    return (
        f"The address {start} with the names of the boxes is too long for a code that a phone can read on this sheet "
        f"({size.words}). Choose larger labels, or a shorter [web] public_url in settings.toml."
    )
