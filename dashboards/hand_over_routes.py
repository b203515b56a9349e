"""Addresses of the sheet of a hand-over, and of the keeper's own words on it. A GET changes nothing."""

from typing import Protocol

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from daemon.answer_values import AT_THE_PAGE
from daemon.hand_over_sheet import LONGEST_NOTE, MOST_NOTE_LINES, HandOver, Note
from daemon.hand_over_sheet_desk import OUTDATED
from dashboards.access.middleware import client_address
from dashboards.alarm_answer import asked
from dashboards.forms import Form
from dashboards.hand_over import HAND_OVER_PATH, HAND_OVER_SETUP_PATH, hand_over_view
from dashboards.register_paths import number_of
from dashboards.rendering import render
from dashboards.source import KEPT_S, Source
from dashboards.visiting import may, visitor_name

_HINT = (
    f"Emergency numbers, where the keys are, the breaker, the veterinarian. Up to {LONGEST_NOTE} characters in "
    f"{MOST_NOTE_LINES} lines. Everybody who may read these pages sees it, and it lies about on paper: no passwords, "
    "no codes of locks."
)


class HandingOver(Protocol):
    """What these pages need."""

    def look(self) -> HandOver:
        """Everything on the sheet as it is now."""

    def note(self) -> Note | None:
        """The keeper's own words."""

    def state(self, who: str, from_where: str, text: str, seen: int) -> str:
        """Keep new words; gives why not."""


def hand_over_router(desk: HandingOver) -> APIRouter:
    """Make the routes."""
    router = APIRouter(include_in_schema=False)
    look, note = Source(desk.look, KEPT_S), Source(desk.note)

    @router.api_route(HAND_OVER_PATH, methods=["GET", "HEAD"], response_class=HTMLResponse)
    def sheet() -> str:
        return render("hand_over.html", view=hand_over_view(look()), here=HAND_OVER_PATH)

    def form(typed: str | None = None, error: str = "", status: int = 200) -> HTMLResponse:
        kept = note()
        html = render(
            "hand_over_note.html",
            note=kept,
            text=(kept.text if kept else "") if typed is None else typed,
            seen=0 if kept is None else kept.number,
            error=error,
            hint=_HINT,
            path=HAND_OVER_SETUP_PATH,
            sheet=HAND_OVER_PATH,
            may_change=may("keeper"),
        )
        return HTMLResponse(html, status)

    @router.api_route(HAND_OVER_SETUP_PATH, methods=["GET", "HEAD"])
    def stated() -> HTMLResponse:
        return form()

    @router.post(HAND_OVER_SETUP_PATH)
    def state(request: Request, sent: Form) -> Response:
        text, seen = sent.get("text", ""), number_of(sent.get("seen", "")) or 0
        who, address = visitor_name(AT_THE_PAGE), client_address(request.scope)
        error = asked(lambda: desk.state(who, address, text, seen))
        if error:
            return form(text, error, 409 if error == OUTDATED else 422)
        look.forget()
        return RedirectResponse(HAND_OVER_PATH, 303)

    return router
