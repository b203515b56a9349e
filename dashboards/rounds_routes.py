"""Addresses of the pages of rounds: start, list, box, summary. A GET changes nothing."""

from collections.abc import Mapping, Sequence
from typing import Annotated
from urllib.parse import urlsplit

from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from daemon.answer_values import AT_THE_PAGE
from daemon.round_desk import Started
from daemon.rounds.values import Refused
from daemon.rounds.walk import Walk
from dashboards.alarm_answer import asked, nothing
from dashboards.forms import Fields, Form
from dashboards.rendering import render
from dashboards.rounds_answer import about, box_answer, no_round, order_of
from dashboards.rounds_box import Typed
from dashboards.rounds_entry import clutch_of_form, entry_of_form, refused_fields
from dashboards.rounds_found import found_lines
from dashboards.rounds_pages import RoundPages
from dashboards.rounds_paths import ROUNDS_PATH, WHO_PATH, WORKER_PATH, summary_path, walk_path
from dashboards.rounds_send import add_sending
from dashboards.rounds_start import DEMO_START, MINUTES, begun_already, start_page, summary_view
from dashboards.rounds_walk import EndQuestion, Order, end_question, next_path
from dashboards.rounds_worker import worker_script
from dashboards.said import say
from dashboards.visiting import may, visitor, visitor_name

_WALK = f"{ROUNDS_PATH}/{{walk}}"
_MINUTE_MS, _LONGEST_NOTE, _MOST_MARKS = 60_000, 2_000, 8_000
_READ = ["GET", "HEAD"]


def rounds_router(pages: RoundPages) -> APIRouter:
    """Make the routes."""
    router = APIRouter(include_in_schema=False)
    _add_start(router, pages)
    # Before the addresses of walks, which would take these names for numbers.
    add_sending(router, pages)
    _add_worker(router)
    _add_walk(router, pages)
    _add_end(router, pages)
    return router


def _add_start(router: APIRouter, pages: RoundPages) -> None:
    def page(typed: Mapping[str, str], errors: Mapping[str, str], status: int = 200) -> HTMLResponse:
        due, newest = asked(pages.desk.incubators), asked(pages.desk.newest)
        view = start_page(due, newest, pages.now_ms(), pages.zone, typed, errors)
        values = {"view": view, "who": visitor_name(AT_THE_PAGE), "site_name": pages.site_name, "walk_numbers": ""}
        values["demo"] = DEMO_START if pages.is_demo else ""
        return HTMLResponse(render("rounds.html", **values), status)

    @router.api_route(ROUNDS_PATH, methods=_READ)
    def rounds() -> HTMLResponse:
        return page({}, {})

    @router.post(ROUNDS_PATH)
    def start(form: Form) -> Response:
        wanted, minutes = form.get("incubator", ""), form.get("minutes", "")
        if not wanted:
            return page(form, {"incubator": "Say where."}, 422)
        if minutes not in {str(each) for each in MINUTES}:
            return page(form, {"minutes": "Say how long it will take."}, 422)
        who, some = visitor_name(AT_THE_PAGE), () if wanted == "all" else (wanted,)
        done = asked(lambda: pages.desk.start(who, some, int(minutes) * _MINUTE_MS))
        if isinstance(done, Started):
            return RedirectResponse(walk_path([each.number for each in done.rounds]), 303)
        own, told = begun_already(asked(pages.desk.incubators), wanted, who, pages.now_ms(), pages.zone)
        if own:
            # A second touch of the button: what was wanted is there.
            return RedirectResponse(own, 303)
        return page(form, {"": told} if told else refused_fields(done), 422)


def _add_worker(router: APIRouter) -> None:
    @router.get(WORKER_PATH)
    def worker() -> Response:
        # Asked for anew each time; the header lets it look after the first page as well.
        headers = {"Service-Worker-Allowed": "/", "Cache-Control": "no-cache"}
        return Response(worker_script(), media_type="text/javascript", headers=headers)

    @router.get(WHO_PATH)
    def who() -> JSONResponse:
        return JSONResponse(_here())


def _here() -> dict[str, object]:
    here = visitor()
    guard = "" if here is None else here.guard
    return {"who": visitor_name(AT_THE_PAGE), "guard": guard, "may": may("responder")}


def _add_walk(router: APIRouter, pages: RoundPages) -> None:
    @router.api_route(_WALK, methods=_READ)
    def walk_page(walk: str, order: str = "") -> HTMLResponse:
        found = pages.walk(walk)
        if found is None:
            return no_round()
        view = pages.walk_view(found, order_of(order))
        return HTMLResponse(render("round_walk.html", walk=view, **about(pages, found)))

    @router.get(f"{_WALK}/all")
    def whole(walk: str, have: Annotated[str, Query(max_length=_MOST_MARKS)] = "") -> Response:
        found = pages.walk(walk)
        if found is None:
            return JSONResponse({"reason": "there is no such round"}, 404)
        return JSONResponse({**_here(), **pages.whole(found, have.split(","))})

    @router.api_route(f"{_WALK}/box/{{key:path}}", methods=_READ)
    def box(walk: str, key: str, order: str = "") -> HTMLResponse:
        found = pages.walk(walk)
        return no_round() if found is None else box_answer(pages, found, key, order_of(order), Typed())

    @router.post(f"{_WALK}/box/{{key:path}}")
    def save(walk: str, key: str, form: Fields, order: str = "") -> Response:
        found = pages.walk(walk)
        return no_round() if found is None else _save(pages, found, key, order_of(order), form)


def _save(pages: RoundPages, walk: Walk, key: str, order: Order, form: Mapping[str, Sequence[str]]) -> Response:
    found = pages.box(walk, key)
    if found is None:
        return nothing("box on this round", walk_path([each.number for each in walk.rounds]), "All boxes of the round")
    _, page = found
    entry = entry_of_form(form, key, visitor_name(AT_THE_PAGE), through_lid=page.through_lid)
    if isinstance(entry, dict):
        return box_answer(pages, walk, key, order, Typed(form, entry), 422)
    done = asked(lambda: pages.desk.enter(page.number, entry, clutch_id=clutch_of_form(form)))
    if isinstance(done, Refused):
        return box_answer(pages, walk, key, order, Typed(form, refused_fields(done)), 422)
    if entry.corrects:
        return RedirectResponse(page.path + ("" if order is Order.STAND else f"?order={order}"), 303)
    to = next_path(walk, key, order)
    # Whoever pressed before the scripts were here has no "Undo" on the next page, but may have pressed by mistake.
    name = page.stop.label or page.stop.name
    say(f"Stored for {name}. To take it back, open that box again.", urlsplit(to).path)
    return RedirectResponse(to, 303)


def _add_end(router: APIRouter, pages: RoundPages) -> None:
    def page(
        walk: Walk, error: str = "", note: str = "", status: int = 200, asks: EndQuestion | None = None
    ) -> HTMLResponse:
        numbers, names = [each.number for each in walk.rounds], pages.names()
        found = [asked(lambda one=one: pages.desk.summary(one)) for one in numbers]  # type: ignore[misc]
        views = [
            summary_view(each, names.get(each.round.round.incubator, each.round.round.incubator), pages.zone)
            for each in found
            if each is not None
        ]
        values = {
            "views": views,
            "found": found_lines(asked(lambda: pages.desk.sheets(walk)), pages.zone),
            "going": [view for view in views if not view.is_ended],
            "still_open": [each.stop.label for each in walk.still_open],
            "walk_path": walk_path(numbers),
            "asks": asks,
            "error": error,
            "note": note,
        }
        return HTMLResponse(render("round_summary.html", **values, **about(pages, walk)), status)

    @router.api_route(f"{_WALK}/summary", methods=_READ)
    def summary(walk: str) -> HTMLResponse:
        found = pages.walk(walk)
        return no_round() if found is None else page(found)

    @router.post(f"{_WALK}/end")
    def end(walk: str, form: Form) -> Response:
        found = pages.walk(walk)
        if found is None:
            return no_round()
        note, who = form.get("note", "")[:_LONGEST_NOTE], visitor_name(AT_THE_PAGE)
        asks = end_question(found)
        if asks is not None and not form.get("all_the_same"):
            return page(found, "", note, 422, asks)
        for each in found.rounds:
            if each.round.ended_ms is not None:
                continue
            done = asked(lambda one=each.number: pages.desk.finish(one, who, note))  # type: ignore[misc]
            if isinstance(done, Refused):
                return page(found, f"Not ended: {done.reason}. {done.hint}", note, 422)
        to = summary_path([each.number for each in found.rounds])
        say("The round is ended." if len(found.rounds) == 1 else "These rounds are ended.", to)
        return RedirectResponse(to, 303)
