"""Addresses of the page of people: to look, to send a test, to plan, to take over. A GET changes nothing."""

import threading
from collections.abc import Callable, Mapping, Sequence
from typing import Protocol

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, RedirectResponse, Response, StreamingResponse

from config.errors import StatedError
from daemon.answer_values import AT_THE_PAGE
from daemon.people_values import PeopleNow
from daemon.storage.duties import NewEntry
from dashboards.alarm_answer import asked
from dashboards.feed import Feed
from dashboards.forms import Form
from dashboards.people_forms import (
    ACCEPT,
    ARRIVED,
    AWAY,
    CANCEL,
    PLAN,
    TEST,
    Actor,
    actor_of,
    read_away,
    read_number,
    read_plan,
)
from dashboards.people_json import PeopleJson, people_json
from dashboards.people_page import people_view
from dashboards.rendering import render
from dashboards.setup_forms import Typed, sentence
from dashboards.setup_paths import PEOPLE_PATH
from dashboards.source import Source
from dashboards.visiting import visitor

_UNKNOWN_BUTTON = "Nothing was done: press one of the buttons of this page."
_LOOKER = Actor("", may_respond=False, acts_for=())
_NOT_YOURS = "Nothing was done: only {name} or a keeper can accept this duty. Ask {name}."
_GONE = "Nothing was done: it is over, cancelled, or never was planned. What is planned now is below."


class People(Protocol):
    """What the pages need: to look, and to act."""

    def look(self) -> PeopleNow:
        """Everything as it is now."""

    def send_test(self, wanted: str, asked_by: str) -> None:
        """Send a TEST message to a person or a contact."""

    def say_arrived(self, person: str, contact: str, message_id: str) -> None:
        """A person says that a test to them arrived."""

    def plan(self, new: Sequence[NewEntry]) -> None:
        """Enter duties or absences."""

    def accept(self, person: str, number: int, how: str) -> None:
        """A person takes over a duty."""

    def cancel(self, number: int, who: str, why: str) -> None:
        """Take out what was planned."""


def people_router(desk: People, closing: threading.Event) -> APIRouter:
    """Make the routes."""
    router, look = APIRouter(), Source(desk.look)
    feed = Feed(lambda: people_view(look(), _LOOKER).version, closing)
    acts = _Acts(desk, look)

    @router.api_route(PEOPLE_PATH, methods=["GET", "HEAD"], response_class=HTMLResponse, include_in_schema=False)
    def people() -> HTMLResponse:
        return acts.page()

    @router.get(f"{PEOPLE_PATH}/events", include_in_schema=False)
    def events() -> StreamingResponse:
        return feed.response()

    @router.post(PEOPLE_PATH, include_in_schema=False)
    def act(form: Form) -> Response:
        return acts.do(form)

    @router.get("/api/people", summary="People and duty", tags=["Alarms"])
    def api_people() -> PeopleJson:
        """Who is called now, by which kinds of contact, what is planned, and where somebody is missing."""
        return people_json(look())

    return router


class _Acts:
    """Shows the page, and does what somebody wants on it."""

    def __init__(self, desk: People, look: Source[PeopleNow]) -> None:
        self._desk = desk
        self._look = look
        self._acts: Mapping[str, Callable[[Mapping[str, str]], Response]] = {
            TEST: self._test,
            ARRIVED: self._arrived,
            AWAY: self._away,
            PLAN: self._plan,
            ACCEPT: self._accept,
            CANCEL: self._cancel,
        }

    def page(self, typed: Typed | None = None, said: str = "", status: int = 200) -> HTMLResponse:
        found = self._look()
        view = people_view(found, actor_of(visitor(), found), typed, said)
        return HTMLResponse(render("people.html", view=view), status)

    def do(self, form: Mapping[str, str]) -> Response:
        # What is cancelled has its number behind the word.
        act = self._acts.get(form.get("wanted", "").partition("-")[0])
        return self.page(said=_UNKNOWN_BUTTON, status=400) if act is None else act(form)

    def _test(self, form: Mapping[str, str]) -> Response:
        by = self._actor().who
        asked_by = "Somebody at the page" if by == AT_THE_PAGE else self._look().name(by)
        return self._tried(
            lambda: self._desk.send_test(form.get("to", ""), asked_by), Typed(TEST, form), field="to", at="people-head"
        )

    def _arrived(self, form: Mapping[str, str]) -> Response:
        contact, message_id = form.get("contact", ""), form.get("message", "")
        person = self._actor().person
        return self._tried(
            lambda: self._desk.say_arrived(person, contact, message_id), Typed(ARRIVED, form), at="people-head"
        )

    def _away(self, form: Mapping[str, str]) -> Response:
        read = read_away(form, self._look(), self._actor())
        if isinstance(read, Typed):
            return self.page(read, status=422)
        return self._tried(lambda: self._desk.plan([read]), Typed(AWAY, form), field="until")

    def _plan(self, form: Mapping[str, str]) -> Response:
        read = read_plan(form, self._look(), self._actor())
        if isinstance(read, Typed):
            return self.page(read, status=422)
        return self._tried(lambda: self._desk.plan(read), Typed(PLAN, form), field="until")

    def _accept(self, form: Mapping[str, str]) -> Response:
        entry, actor = read_number(form, self._look()), self._actor()
        if entry is None:
            return self.page(said=_GONE, status=409)
        if entry.person not in actor.acts_for:
            return self.page(said=_NOT_YOURS.format(name=entry.name), status=403)
        how = f"at the page, by {actor.who}"
        return self._tried(lambda: self._desk.accept(entry.person, entry.number, how), Typed(ACCEPT, form))

    def _cancel(self, form: Mapping[str, str]) -> Response:
        entry = read_number(form, self._look())
        if entry is None:
            return self.page(said=_GONE, status=409)
        why = " ".join(form.get("why", "").split())
        typed = Typed(f"{CANCEL}-{entry.number}", form)
        return self._tried(lambda: self._desk.cancel(entry.number, self._actor().who, why), typed, field="why")

    def _actor(self) -> Actor:
        return actor_of(visitor(), self._look())

    def _tried(self, act: Callable[[], None], typed: Typed, field: str = "", at: str = "planned-head") -> Response:
        """Do it, or show why not beside the field that it is about, with all that was typed."""
        try:
            asked(act)
        except StatedError as error:
            told = f"Not done: {sentence(error)}"
            if not field:
                return self.page(said=told, status=422)
            return self.page(Typed(typed.wanted, typed.fields, {field: told}), status=422)
        return RedirectResponse(f"{PEOPLE_PATH}#{at}", 303)
