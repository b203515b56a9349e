"""Addresses to acknowledge at: the link of a message, and the button of the first page. A GET changes nothing."""

import logging
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Protocol, TypeVar
from urllib.parse import parse_qs

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response

from daemon.alarm_desk_values import Seen
from daemon.answer_values import Called, Wish
from daemon.storage.errors import JournalError
from dashboards.acknowledge import LONGEST_NOTE, acknowledge_view
from dashboards.origin import asks_this_machine, comes_from_elsewhere, is_our_own
from dashboards.rendering import render
from dashboards.source import NothingToShowError
from dashboards.take_over import TakingOver
from dashboards.unknown_links import UnknownLinks

log = logging.getLogger("clutchwarden.pages")

LARGEST_FORM_BYTES = 16_384
_MOST_FIELDS = 10
_FORM = "application/x-www-form-urlencoded"
_FOREIGN = "This was sent from another page, so nothing was done. Open the link from the message and press there.\n"
_NOT_HERE = "Nothing was done: alarms are acknowledged here only in a browser on the machine itself.\n"

T = TypeVar("T")


class Acknowledging(Protocol):
    """What the pages need of the alarm desk: to look, and to answer."""

    @property
    def duty(self) -> TakingOver:
        """Where the links lead that ask to take over a duty."""

    def look(self, token: str) -> Called | None:
        """What a link is about; None where it is good for nothing."""

    def press(self, token: str, wish: Wish, note: str) -> Called | None:
        """Answer by a link."""

    def press_here(self, seen: Seen, note: str) -> Called:
        """Answer at the first page."""


@dataclass(frozen=True, slots=True)
class Answers:
    """The desk, the address of the links, and whether the first page is for this machine alone and has buttons."""

    desk: Acknowledging
    public_url: str | None = None
    here: bool = False


async def _form(request: Request) -> dict[str, str]:
    """Read the few fields of a form; at most `LARGEST_FORM_BYTES` and one piece are ever held."""
    if request.headers.get("content-type", "").split(";")[0].strip().lower() != _FORM:
        raise HTTPException(415, "Send the form of the page.")
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > LARGEST_FORM_BYTES:
            raise HTTPException(413, f"The form is larger than {LARGEST_FORM_BYTES} bytes; write a shorter note.")
    try:
        fields = parse_qs(bytes(body).decode("utf-8", "replace"), keep_blank_values=True, max_num_fields=_MOST_FIELDS)
    except ValueError:
        raise HTTPException(400, "The form has more fields than the page.") from None
    return {name: values[-1] for name, values in fields.items()}


Form = Annotated[dict[str, str], Depends(_form)]


def acknowledge_router(answers: Answers) -> APIRouter:
    """Make the routes."""
    router, desk = APIRouter(include_in_schema=False), answers.desk
    ours = () if answers.public_url is None else (answers.public_url,)
    unknown = UnknownLinks()

    def shown(request: Request, called: Called | None) -> Response:
        if called is None:
            return _unknown(request, unknown)
        return _page(called, f"/a/{called.token}")

    @router.api_route("/a/{token:path}", methods=["GET", "HEAD"])
    def look(request: Request, token: str) -> Response:
        return shown(request, _asked(lambda: desk.look(token)))

    @router.post("/a/{token:path}")
    def press(request: Request, token: str, form: Form) -> Response:
        if comes_from_elsewhere(request.headers, ours):
            return PlainTextResponse(_FOREIGN, 403)
        wish = Wish.CANNOT if form.get("answer") == Wish.CANNOT else Wish.ACKNOWLEDGE
        return shown(request, _asked(lambda: desk.press(token, wish, _note(form))))

    if answers.here:

        @router.post("/alarms/acknowledge")
        def press_here(request: Request, form: Form) -> Response:
            if not (asks_this_machine(request.headers) and is_our_own(request.headers, ())):
                return PlainTextResponse(_NOT_HERE, 403)
            called = _asked(lambda: desk.press_here(_seen(form), _note(form)))
            if called.accepted:
                return RedirectResponse("/", 303)
            return _page(called, "/alarms/acknowledge", _fields_of(called))

    return router


def _asked(ask: Callable[[], T]) -> T:
    try:
        return ask()
    except JournalError as error:
        log.error("Nobody can acknowledge just now: %s", error)  # noqa: TRY400 - the text is whole
        raise NothingToShowError from error


def _page(called: Called, action: str, hidden: tuple[tuple[str, str], ...] = ()) -> HTMLResponse:
    view = acknowledge_view(called, action, hidden)
    return HTMLResponse(render("acknowledge.html", view=view, longest_note=LONGEST_NOTE))


def _unknown(request: Request, unknown: UnknownLinks) -> Response:
    """One answer for every link that is good for nothing: nobody learns which there were."""
    wait_s = unknown.failed(request.client.host if request.client else "", time.monotonic())
    if wait_s > 0:
        return HTMLResponse(render("no_link.html"), 429, {"Retry-After": f"{wait_s:.0f}"})
    return HTMLResponse(render("no_link.html"), 404)


def _note(form: Mapping[str, str]) -> str:
    return " ".join(form.get("note", "").split())[:LONGEST_NOTE]


def _seen(form: Mapping[str, str]) -> Seen:
    version = form.get("version", "")
    return Seen(form.get("key", ""), form.get("occurrence", ""), int(version) if version.isdecimal() else -1)


def _fields_of(called: Called) -> tuple[tuple[str, str], ...]:
    """Fields that answer to the alarm as it is now."""
    seen = next((each.seen for each in called.alarms if each.waits and each.seen is not None), None)
    return () if seen is None else tuple((name, str(value)) for name, value in seen._asdict().items())
