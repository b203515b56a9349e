"""Addresses of calibrations: all channels, one, and its two steps of entering one. A GET changes nothing."""

import threading
from collections.abc import Mapping
from typing import Protocol

from fastapi import APIRouter, HTTPException
from fastapi.responses import HTMLResponse, RedirectResponse, Response, StreamingResponse

from daemon.calibration_wishes import AllChannels, FieldError, Offered, OneChannel, Terms, Wish
from dashboards.alarm_answer import asked, nothing
from dashboards.calibration_json import CalibrationsJson, calibrations_json
from dashboards.feed import Feed
from dashboards.forms import Form
from dashboards.rendering import render
from dashboards.said import say
from dashboards.setup_calibration import calibration_list_view
from dashboards.setup_calibration_forms import MARK, Wanted, wish_of
from dashboards.setup_calibration_one import OfferView, calibration_view, offer_view
from dashboards.setup_forms import Typed, sentence
from dashboards.setup_paths import CALIBRATION_EVENTS_PATH, CALIBRATION_PATH, calibration_path
from dashboards.source import Source
from dashboards.visiting import may, visitor

_CHANGED = "Nothing was stored yet: readings or calibrations have changed since this was shown. Look again."
_UNKNOWN_BUTTON = "Nothing was done: press one of the buttons of this page."


class Calibrating(Protocol):
    """What the pages need: to look, to be shown what a calibration changes, and to store it."""

    def all(self) -> AllChannels:
        """Every channel."""

    def one(self, channel: str) -> OneChannel | None:
        """One channel, None where there is none of that name."""

    def offer(self, channel: str, wish: Wish, terms: Terms, who: str) -> Offered:
        """What would be stored."""

    def store(self, offered: Offered) -> bool:
        """Store it."""


def calibration_router(desk: Calibrating, closing: threading.Event) -> APIRouter:
    """Make the routes."""
    router, look = APIRouter(), Source(desk.all)
    one = _OneChannel(desk)
    feed = Feed(lambda: calibration_list_view(look()).version, closing)
    feeds: dict[str, Feed] = {}

    @router.api_route(CALIBRATION_PATH, methods=["GET", "HEAD"], response_class=HTMLResponse, include_in_schema=False)
    def all_channels() -> str:
        return render("setup_calibration.html", view=calibration_list_view(look()))

    @router.get(CALIBRATION_EVENTS_PATH, include_in_schema=False)
    def events() -> StreamingResponse:
        return feed.response()

    @router.get(f"{CALIBRATION_EVENTS_PATH}/{{channel:path}}", include_in_schema=False)
    def events_of_one(channel: str) -> StreamingResponse:
        if one.find(channel) is None:
            raise HTTPException(404, "There is no such channel.")
        of_one = feeds.setdefault(channel, Feed(lambda: one.version(channel), closing))
        return of_one.response()

    @router.api_route(f"{CALIBRATION_PATH}/{{channel:path}}", methods=["GET", "HEAD"], include_in_schema=False)
    def one_channel(channel: str) -> HTMLResponse:
        return one.page(channel)

    @router.post(f"{CALIBRATION_PATH}/{{channel:path}}", include_in_schema=False)
    def enter(channel: str, form: Form) -> Response:
        return one.enter(channel, form)

    @router.get("/api/calibrations", summary="Calibrations", tags=["Readings"])
    def api_calibrations() -> CalibrationsJson:
        """What corrects each channel now, how old that is, when it is due, and how sure a reading is."""
        return calibrations_json(look())

    return router


class _OneChannel:
    """Shows one channel, and enters what somebody wants."""

    def __init__(self, desk: Calibrating) -> None:
        self._desk = desk

    def find(self, channel: str) -> OneChannel | None:
        return asked(lambda: self._desk.one(channel))

    def version(self, channel: str) -> str:
        found = self.find(channel)
        return "" if found is None else calibration_view(found, may_change=False).version

    def page(
        self, channel: str, typed: Typed | None = None, offer: OfferView | None = None, status: int = 200
    ) -> HTMLResponse:
        found = self.find(channel)
        if found is None:
            return nothing("channel that can be calibrated", CALIBRATION_PATH, "All channels")
        view = calibration_view(found, may_change=may("keeper"), typed=typed, offer=offer)
        return HTMLResponse(render("setup_calibration_one.html", view=view), status)

    def enter(self, channel: str, form: Mapping[str, str]) -> Response:
        found, wanted = self.find(channel), form.get("wanted", "")
        if found is None or wanted not in set(Wanted):
            typed = Typed(Wanted.ONE_POINT, form, error=_UNKNOWN_BUTTON)
            return self.page(channel, typed, status=400)
        read = wish_of(Wanted(wanted), form, found)
        if isinstance(read, Typed):
            return self.page(channel, read, status=422)
        wish, terms = read
        here = visitor()
        try:
            offered = asked(lambda: self._desk.offer(channel, wish, terms, "page" if here is None else here.who))
        except FieldError as error:
            return self.page(channel, _refused(wanted, form, error), status=422)
        given = form.get(MARK, "")
        if given == offered.mark and asked(lambda: self._desk.store(offered)):
            say("Stored. Pages, alerts and heat follow it from its date on.", calibration_path(channel))
            return RedirectResponse(calibration_path(channel), 303)
        said = _CHANGED if given else ""
        shown = offer_view(offered, Typed(wanted, form), found, _at_ms(offered, terms), said)
        return self.page(channel, Typed(wanted, form), shown, 409 if given else 200)


def _at_ms(offered: Offered, terms: Terms) -> int:
    """The moment up to which the probe was read, for the second step."""
    record = offered.offer.record
    return record.taken_at_ms if terms.taken_ms is None else record.recorded_at_ms


def _refused(wanted: str, form: Mapping[str, str], error: FieldError) -> Typed:
    told = sentence(error)
    if error.field:
        return Typed(wanted, form, {error.field: told})
    return Typed(wanted, form, error=f"Nothing was stored. {told}")
