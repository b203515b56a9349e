"""Addresses to acknowledge at: the link of a message, and the button of the first page. A GET changes nothing."""

import logging
from collections.abc import Mapping
from typing import Protocol

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from daemon.alarm_desk_values import Seen
from daemon.answer_values import AT_THE_PAGE, Called, Wish
from daemon.storage.errors import JournalError
from dashboards.acknowledge import LONGEST_NOTE, acknowledge_view, acknowledged_text
from dashboards.forms import Form
from dashboards.link_routes import LinkKind, links_router, take_over_links
from dashboards.rendering import render
from dashboards.said import say
from dashboards.source import NothingToShowError
from dashboards.take_over import TakingOver
from dashboards.visiting import visitor_name

log = logging.getLogger("clutchwarden.pages")

_LINKS, _HERE = "/a", "/alarms/acknowledge"


class Acknowledging(Protocol):
    """What the pages need of the alarm desk: to look, and to answer."""

    @property
    def duty(self) -> TakingOver:
        """Where the links lead that ask to take over a duty."""

    def look(self, token: str) -> Called | None:
        """What a link is about; None where it is good for nothing."""

    def press(self, token: str, wish: Wish, note: str) -> Called | None:
        """Answer by a link."""

    def press_here(self, seen: Seen, note: str, who: str) -> Called:
        """Answer at the first page, as somebody who has signed in."""


def acknowledge_router(desk: Acknowledging) -> APIRouter:
    """Make the routes."""
    router = APIRouter(include_in_schema=False)
    router.include_router(links_router(take_over_links(desk.duty)))
    router.include_router(links_router(_acknowledge_links(desk)))

    @router.post(_HERE)
    def press_here(form: Form) -> Response:
        try:
            called = desk.press_here(_seen(form), _note(form), visitor_name(AT_THE_PAGE))
        except JournalError as error:
            log.error("Nobody can acknowledge just now: %s", error)  # noqa: TRY400 - the text is whole
            raise NothingToShowError from error
        if called.accepted:
            say(acknowledged_text(called), "/")
            return RedirectResponse("/", 303)
        return HTMLResponse(_page(called, _HERE, _fields_of(called)))

    return router


def _acknowledge_links(desk: Acknowledging) -> LinkKind[Called]:
    def press(token: str, form: Mapping[str, str]) -> Called | None:
        wish = Wish.CANNOT if form.get("answer") == Wish.CANNOT else Wish.ACKNOWLEDGE
        return desk.press(token, wish, _note(form))

    # An answer may ask for another one, by another token.
    return LinkKind(
        _LINKS, desk.look, press, lambda called, _: _page(called, f"{_LINKS}/{called.token}"), "acknowledge"
    )


def _page(called: Called, action: str, hidden: tuple[tuple[str, str], ...] = ()) -> str:
    view = acknowledge_view(called, action, hidden)
    return render("acknowledge.html", view=view, longest_note=LONGEST_NOTE)


def _note(form: Mapping[str, str]) -> str:
    return " ".join(form.get("note", "").split())[:LONGEST_NOTE]


def _seen(form: Mapping[str, str]) -> Seen:
    version = form.get("version", "")
    return Seen(form.get("key", ""), form.get("occurrence", ""), int(version) if version.isdecimal() else -1)


def _fields_of(called: Called) -> tuple[tuple[str, str], ...]:
    """Fields that answer to the alarm as it is now."""
    seen = next((each.seen for each in called.alarms if each.waits and each.seen is not None), None)
    return () if seen is None else tuple((name, str(value)) for name, value in seen._asdict().items())
