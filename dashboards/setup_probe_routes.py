"""Addresses of the probes: all, one, what is unknown, and the changes of them. A GET changes nothing."""

import threading
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response, StreamingResponse

from config.site import Probe
from daemon.listen_around import ListenAround
from daemon.probe_values import ProbeLook, ProbesSeen, UnknownTopic
from daemon.site_desk import Changed, SiteDesk
from dashboards.alarm_answer import asked, nothing
from dashboards.feed import Feed
from dashboards.forms import Form
from dashboards.openapi import NOT_FOUND
from dashboards.probes_json import ProbeJson, ProbesJson, probe_json, probes_json
from dashboards.rendering import render
from dashboards.setup_forms import FormView, Typed
from dashboards.setup_probe_forms import (
    CHANGE,
    REMOVE,
    TAKE_UP,
    Device,
    change_form,
    device_of,
    remove_form,
    take_up_view,
)
from dashboards.setup_probe_paths import LISTEN_PATH, PROBES_EVENTS_PATH, PROBES_PATH, TAKE_UP_PATH, probe_path
from dashboards.setup_probe_wishes import Wish, change_wish, refused, remove_wish, take_up_wish
from dashboards.setup_probes import probe_view, probes_view
from dashboards.setup_saved import saved_page
from dashboards.source import Source
from dashboards.visiting import may, visitor

_LONGEST_TOPIC = 1_000
_UNKNOWN_BUTTON = "Nothing was done: press one of the buttons of this page."


class Probing(Protocol):
    """What the pages need: to look, to listen, and to change the site file."""

    @property
    def desk(self) -> SiteDesk:
        """Where the site file is changed."""

    @property
    def around(self) -> ListenAround:
        """What hears everything for a short time."""

    def look(self) -> ProbesSeen:
        """All probes, and what is unknown."""

    def one(self, probe_id: str) -> ProbeLook | None:
        """One probe."""

    def unknown(self, topic: str) -> UnknownTopic | None:
        """What came on a topic."""

    def probe(self, probe_id: str) -> Probe | None:
        """One probe as it is stated."""


@dataclass(frozen=True, slots=True)
class Saved:
    """What became of a wish: what was changed, in a few words as well, or the form with what is wrong."""

    typed: Typed | None = None
    status: int = 422
    done: Changed | None = None
    what: str = ""


def probes_router(probes: Probing, closing: threading.Event) -> APIRouter:
    """Make the routes."""
    router, look = APIRouter(), Source(probes.look)
    feed = Feed(lambda: probes_view(look()).version, closing)
    one, unknown = _OneProbe(probes), _UnknownDevice(probes, look)

    @router.api_route(PROBES_PATH, methods=["GET", "HEAD"], response_class=HTMLResponse, include_in_schema=False)
    def all_probes() -> str:
        return render("setup_probes.html", view=probes_view(look()), listen_path=LISTEN_PATH)

    @router.get(PROBES_EVENTS_PATH, include_in_schema=False)
    def events() -> StreamingResponse:
        return feed.response()

    @router.post(LISTEN_PATH, include_in_schema=False)
    def listen(_form: Form) -> Response:
        probes.around.start()
        return RedirectResponse(PROBES_PATH, 303)

    @router.api_route(TAKE_UP_PATH, methods=["GET", "HEAD"], include_in_schema=False)
    def take_up_form(topic: str = "") -> HTMLResponse:
        return unknown.page(topic[:_LONGEST_TOPIC])

    @router.post(TAKE_UP_PATH, include_in_schema=False)
    def take_up(request: Request, form: Form) -> Response:
        return unknown.take_up(form, _address(request))

    @router.api_route(f"{PROBES_PATH}/{{probe_id}}", methods=["GET", "HEAD"], include_in_schema=False)
    def one_probe(probe_id: str) -> HTMLResponse:
        return one.page(probe_id)

    @router.post(f"{PROBES_PATH}/{{probe_id}}", include_in_schema=False)
    def change(request: Request, probe_id: str, form: Form) -> Response:
        return one.change(probe_id, form, _address(request))

    _add_json(router, probes, look)
    return router


def _add_json(router: APIRouter, probes: Probing, look: Source[ProbesSeen]) -> None:
    @router.get("/api/probes", summary="All probes, and what is unknown", tags=["Readings"])
    def api_probes() -> ProbesJson:
        """Every probe of the site with its channels, and the topics that are heard and belong to none of them."""
        return probes_json(look())

    @router.get("/api/probes/{probe_id}", summary="One probe", tags=["Readings"], responses=NOT_FOUND)
    def api_probe(probe_id: str) -> ProbeJson:
        """One probe with its newest messages as they came."""
        found = asked(lambda: probes.one(probe_id))
        if found is None:
            raise HTTPException(404, "There is no such probe. /api/probes lists them all.")
        return probe_json(found)


class _OneProbe:
    """Shows one probe, and changes it."""

    def __init__(self, probes: Probing) -> None:
        self._probes = probes

    def page(self, probe_id: str, typed: Typed | None = None, status: int = 200) -> HTMLResponse:
        found = asked(lambda: self._probes.one(probe_id))
        if found is None:
            return nothing("probe", PROBES_PATH, "All probes")
        forms: tuple[FormView, ...] = ()
        if may("keeper") and not found.seen.refusal:
            probe, seen = found.probe.probe, found.seen
            forms = (change_form(probe, seen, typed), remove_form(probe, seen, typed))
        error = typed.error if typed is not None and not forms else ""
        values = {"view": probe_view(found), "forms": forms, "refusal": found.seen.refusal, "error": error}
        return HTMLResponse(render("setup_probe.html", **values, here=probe_path(probe_id)), status)

    def change(self, probe_id: str, form: Mapping[str, str], address: str) -> Response:
        found, wanted = asked(lambda: self._probes.one(probe_id)), form.get("wanted", "")
        if found is None:
            return nothing("probe", PROBES_PATH, "All probes")
        if wanted not in (CHANGE, REMOVE):
            return self.page(probe_id, Typed(CHANGE, form, error=_UNKNOWN_BUTTON), 400)
        places = [place for place, _ in found.seen.places]
        wish = change_wish(probe_id, form, places) if wanted == CHANGE else remove_wish(probe_id, form)
        saved = _saved(self._probes.desk, wish, wanted, form, address)
        if saved.typed is not None:
            return self.page(probe_id, saved.typed, saved.status)
        to = PROBES_PATH if wanted == REMOVE else probe_path(probe_id)
        return saved_page(saved.done, to, saved.what, form.get("mark", ""))


class _UnknownDevice:
    """Shows what came on a topic that nobody has, and takes it up."""

    def __init__(self, probes: Probing, look: Source[ProbesSeen]) -> None:
        self._probes = probes
        self._look = look

    def page(self, topic: str, typed: Typed | None = None, status: int = 200) -> HTMLResponse:
        found = asked(lambda: self._probes.unknown(topic))
        if found is None:
            return nothing("message", PROBES_PATH, "All probes")
        seen, device = self._device(found)
        view = take_up_view(found, device, seen, typed)
        values = {"view": view, "here": f"{TAKE_UP_PATH}", "back": PROBES_PATH, "may_change": may("keeper")}
        return HTMLResponse(render("setup_take_up.html", **values), status)

    def take_up(self, form: Mapping[str, str], address: str) -> Response:
        topic = form.get("topic", "")[:_LONGEST_TOPIC]
        found = asked(lambda: self._probes.unknown(topic))
        if found is None:
            return nothing("message", PROBES_PATH, "All probes")
        seen, device = self._device(found)
        wish = take_up_wish(form, device, seen)
        saved = _saved(self._probes.desk, wish, TAKE_UP, form, address)
        if saved.typed is not None:
            return self.page(topic, saved.typed, saved.status)
        return saved_page(saved.done, PROBES_PATH, saved.what, form.get("mark", ""))

    def _device(self, found: UnknownTopic) -> tuple[ProbesSeen, Device]:
        seen = self._look()
        return seen, device_of(found, seen, None if found.probe is None else self._probes.probe(found.probe))


def _saved(desk: SiteDesk, wish: Wish | Typed, wanted: str, form: Mapping[str, str], address: str) -> Saved:
    if isinstance(wish, Typed):
        return Saved(wish)
    here = visitor()
    done = desk.change("page" if here is None else here.who, address, wish.what, wish.edit, wish.why, wish.mark)
    if isinstance(done, Changed):
        return Saved(done=done, what=wish.what)
    return Saved(refused(wanted, form, done.mistakes), 409 if done.outdated else 422)


def _address(request: Request) -> str:
    return request.client.host if request.client else ""
