"""The page of one alarm and what is sent from it: asks the board, and says what became of it."""

import logging
from collections.abc import Callable, Mapping
from typing import Protocol, TypeVar

from fastapi.responses import HTMLResponse, RedirectResponse, Response

from daemon.alarm_board_values import AlarmList, AlarmSteps, MeasuredAlarms, PersonEvent, Wished
from daemon.answer_values import AT_THE_PAGE
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.errors import JournalError
from dashboards.alarm_forms import Typed, Wanted
from dashboards.alarm_page import alarm_page_view
from dashboards.alarm_paths import BOARD_PATH, JOURNAL_PATH, alarm_path
from dashboards.alarm_wishes import wish_of
from dashboards.rendering import render
from dashboards.source import NothingToShowError, Source
from dashboards.visiting import visitor_name

log = logging.getLogger("clutchwarden.pages")

STEPS_OF_ONE = 12

T = TypeVar("T")


class Board(Protocol):
    """What the pages need of the alarms."""

    def look(self) -> AlarmList:
        """Every alarm as it is now."""

    def do(self, key: str, mark: str, event: PersonEvent) -> Wished:
        """Do what a person wants."""

    def steps(self, before: int | None, alarm_key: str, limit: int) -> AlarmSteps:
        """A page of the journal."""

    def events(self, before: int | None, limit: int) -> list[tuple[int, AlarmEvent]]:
        """The newest events before one, each with its number."""

    def newest_step(self) -> int:
        """The number of its newest step."""

    def measures(self, days: int) -> MeasuredAlarms:
        """How well the alarms do their work."""


class OneAlarm:
    """Shows one alarm and answers to it."""

    def __init__(self, board: Board, look: Source[AlarmList]) -> None:
        self._board = board
        self._look = look

    def page(self, key: str, typed: Typed | None = None, said: str = "", status: int = 200) -> HTMLResponse:
        """The page as things are now. Raises NothingToShowError."""
        listed, steps = self._look(), asked(lambda: self._board.steps(None, key, STEPS_OF_ONE))
        view = alarm_page_view(listed, key, steps, asks_who=_asks_who(), typed=typed, said=said)
        if view is None:
            return nothing("alarm", BOARD_PATH, "All alarms")
        return HTMLResponse(render("alarm.html", view=view, journal_path=JOURNAL_PATH), status)

    def answer(self, key: str, form: Mapping[str, str]) -> Response:
        """Do what was sent, or show the page with what is wrong and all that was typed. Raises NothingToShowError."""
        wanted = form.get("wanted", "")
        if wanted not in set(Wanted):
            return self.page(key, said="Nothing was done: press one of the buttons of this page.", status=400)
        listed = self._look()
        alarm = listed.find(key)
        if alarm is None:
            return self.page(key, said="Nothing was done: this alarm is over.", status=409)
        event = wish_of(Wanted(wanted), form, alarm, listed, None if _asks_who() else visitor_name(AT_THE_PAGE))
        if isinstance(event, Typed):
            return self.page(key, event, status=422)
        done = asked(lambda: self._board.do(key, form.get("mark", ""), event))
        if done.accepted:
            return RedirectResponse(BOARD_PATH if form.get("back") == "all" else alarm_path(key), 303)
        said = f"Nothing was done: {done.reason}."
        if done.is_older:
            return self.page(key, Typed(Wanted(wanted), form, {}), said, 409)
        return self.page(key, Typed(Wanted(wanted), form, {}, said), status=422)


def _asks_who() -> bool:
    """Only where nobody signs in does the form ask who is there."""
    return visitor_name(AT_THE_PAGE) == AT_THE_PAGE


def nothing(what: str, path: str, back: str) -> HTMLResponse:
    """Say that there is nothing at this address, with a way back."""
    return HTMLResponse(render("not_found.html", what=what, path=path, back=back), 404)


def asked(ask: Callable[[], T]) -> T:
    """Ask the journal. Raises NothingToShowError; the log has said why."""
    try:
        return ask()
    except JournalError as error:
        log.error("The page of alarms cannot be answered just now: %s", error)  # noqa: TRY400 - the text is whole
        raise NothingToShowError from error
