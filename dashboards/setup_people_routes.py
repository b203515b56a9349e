"""Address at which a keeper changes people and quiet hours. A GET changes nothing."""

from collections.abc import Callable, Mapping
from typing import Protocol

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from config.site_edit import Edit
from daemon.answer_values import AT_THE_PAGE
from daemon.people_values import PeopleNow
from daemon.site_desk import Changed, NotChanged
from dashboards.alarm_answer import asked
from dashboards.forms import Form
from dashboards.rendering import render
from dashboards.setup_forms import Typed
from dashboards.setup_paths import PEOPLE_SETUP_PATH
from dashboards.setup_people import people_setup_view
from dashboards.setup_people_forms import Act, wanted_of
from dashboards.setup_people_wishes import refused, wish_of
from dashboards.setup_saved import saved_page
from dashboards.source import Source
from dashboards.visiting import is_confirmed, may, visitor_name

_UNKNOWN_BUTTON = "Nothing was done: press one of the buttons of this page."


class ChangesSite(Protocol):
    """What the page needs of whatever changes the site file."""

    refusal: str

    def mark(self) -> str:
        """The mark of the file as it stands."""

    def free_secret(self, person_id: str) -> str:
        """A name for the file of an address."""

    def change(
        self,
        who: str,
        from_where: str,
        what: str,
        edit: Edit,
        why: str,
        seen_mark: str,
        secrets: Mapping[str, str] | None = None,
    ) -> Changed | NotChanged:
        """Make one change."""


def people_setup_router(look: Callable[[], PeopleNow], desk: ChangesSite) -> APIRouter:
    """Make the routes."""
    router, people = APIRouter(include_in_schema=False), Source(look)

    def page(typed: Typed | None = None, status: int = 200) -> HTMLResponse:
        may_change = may("keeper")
        view = people_setup_view(
            people(), desk.mark() if may_change else "", may_change=may_change, refusal=desk.refusal, typed=typed
        )
        return HTMLResponse(
            render("setup_people.html", view=view, here=PEOPLE_SETUP_PATH, confirmed=is_confirmed()), status
        )

    @router.api_route(PEOPLE_SETUP_PATH, methods=["GET", "HEAD"])
    def shown() -> HTMLResponse:
        return page()

    @router.post(PEOPLE_SETUP_PATH)
    def changed(request: Request, form: Form) -> Response:
        act = form.get("act", "")
        if act not in set(Act):
            return page(Typed(wanted_of(act, form), form, error=_UNKNOWN_BUTTON), 400)
        wish = wish_of(Act(act), form, people(), desk.free_secret)
        if isinstance(wish, Typed):
            return page(wish, 422)
        address = request.client.host if request.client else ""
        done = asked(
            lambda: desk.change(
                visitor_name(AT_THE_PAGE), address, wish.what, wish.edit, "", form.get("mark", ""), wish.secrets
            )
        )
        if isinstance(done, Changed):
            return saved_page(done, PEOPLE_SETUP_PATH, wish.what, form.get("mark", ""))
        return page(refused(Act(act), form, done.mistakes), 409 if done.outdated else 422)

    return router
