"""Addresses of the pages of alarms: all of them, one, their journal and their measures. A GET changes nothing."""

import threading

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response, StreamingResponse

from daemon.alarm_measures import WINDOW_DAYS
from dashboards.alarm_answer import Board, OneAlarm, asked, nothing
from dashboards.alarm_board import board_view
from dashboards.alarm_paths import BOARD_PATH, JOURNAL_PATH, METRICS_PATH
from dashboards.alarm_steps import STEPS_SHOWN, measures_view, steps_view
from dashboards.feed import Feed
from dashboards.forms import Form
from dashboards.rendering import render
from dashboards.source import Source

_MOST_DAYS = 3_650
_LARGEST_NUMBER = 2**63 - 1


def alarms_router(board: Board, closing: threading.Event) -> APIRouter:
    """Make the routes."""
    router = APIRouter(include_in_schema=False)
    look = Source(board.look)
    feed = Feed(lambda: board_view(look()).version, closing)
    one = OneAlarm(board, look)

    @router.api_route(BOARD_PATH, methods=["GET", "HEAD"], response_class=HTMLResponse)
    def all_alarms() -> str:
        return render("alarms.html", view=board_view(look()))

    @router.get(f"{BOARD_PATH}/events")
    def events() -> StreamingResponse:
        return feed.response()

    @router.api_route(f"{BOARD_PATH}/of/{{key:path}}", methods=["GET", "HEAD"])
    def one_alarm(key: str) -> HTMLResponse:
        return one.page(key)

    @router.post(f"{BOARD_PATH}/of/{{key:path}}")
    def answer(key: str, form: Form) -> Response:
        return one.answer(key, form)

    _add_past(router, board, closing)
    return router


def _add_past(router: APIRouter, board: Board, closing: threading.Event) -> None:
    newest = Source(board.newest_step)
    feed = Feed(lambda: str(newest()), closing)

    @router.api_route(JOURNAL_PATH, methods=["GET", "HEAD"], response_class=HTMLResponse)
    def journal(before: str = "", alarm: str = "") -> HTMLResponse:
        number = _whole(before, _LARGEST_NUMBER)
        if before and number is None:
            return nothing("page of the journal", JOURNAL_PATH, "The newest page of the journal")
        found = asked(lambda: board.steps(number, alarm, STEPS_SHOWN))
        return HTMLResponse(render("alarm_journal.html", view=steps_view(found, number, alarm)))

    @router.get(f"{JOURNAL_PATH}/events")
    def journal_events() -> StreamingResponse:
        return feed.response()

    @router.api_route(METRICS_PATH, methods=["GET", "HEAD"], response_class=HTMLResponse)
    def metrics(days: str = str(WINDOW_DAYS)) -> HTMLResponse:
        number = _whole(days, _MOST_DAYS)
        if number is None:
            return nothing("span of days", METRICS_PATH, f"The last {WINDOW_DAYS} days")
        found = asked(lambda: board.measures(number))
        return HTMLResponse(render("alarm_metrics.html", view=measures_view(found)))


def _whole(text: str, most: int) -> int | None:
    """Read a whole number from 1 to the most; None for anything else."""
    is_short = text.isascii() and text.isdecimal() and len(text) <= len(str(most))
    return int(text) if is_short and 1 <= int(text) <= most else None
