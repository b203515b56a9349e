"""Addresses of the boxes: all as they stand, and one, which its label leads to. A GET changes nothing."""

from collections.abc import Callable

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response

from daemon.clutches.values import Clutch
from daemon.overview import Overview
from daemon.round_desk import RoundDesk
from dashboards.alarm_answer import asked, nothing
from dashboards.boxes import box_page_view, first_cautions
from dashboards.register_pages import RegisterPages
from dashboards.register_paths import BOXES_PATH, LABELS_PATH, ONE_LABEL, box_path, sheet_path
from dashboards.register_routes import READ
from dashboards.rendering import render
from dashboards.visiting import may


def boxes_router(pages: RegisterPages, rounds: RoundDesk, overview: Callable[[], Overview]) -> APIRouter:
    """Make the routes."""
    router = APIRouter(include_in_schema=False)

    @router.api_route(BOXES_PATH, methods=READ)
    def all_boxes() -> HTMLResponse:
        values = {"view": pages.head(), "cabinets": pages.cabinets(), "box_path": box_path}
        return HTMLResponse(render("boxes.html", **values, here=BOXES_PATH, labels_path=LABELS_PATH))

    @router.api_route(f"{BOXES_PATH}/{{place:path}}", methods=READ)
    def one_box(place: str) -> Response:
        if place not in pages.places.boxes:
            return nothing("box", BOXES_PATH, "All boxes")
        found = asked(lambda: rounds.sheet(place))
        if found is None:
            return nothing("box", BOXES_PATH, "All boxes")
        clutch = in_box(pages.lying(), found.stop.clutch_id)
        box = box_page_view(found, clutch, overview(), may_change=may("responder"))
        values = {"view": pages.head(), "box": box, "cautions": first_cautions(found)}
        label_path = sheet_path([place], ONE_LABEL)
        return HTMLResponse(render("box.html", **values, here=box_path(place), label_path=label_path))

    return router


def in_box(lying: list[Clutch], clutch_id: int | None) -> Clutch | None:
    """Give the clutch with this number; None where there is none."""
    return next((each for each in lying if each.clutch_id == clutch_id), None)
