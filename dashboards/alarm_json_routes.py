"""Addresses of the alarms as JSON: all of them, one, their journal and their measures. A GET changes nothing."""

from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Path, Query
from fastapi.responses import Response

from daemon.alarm_measures import WINDOW_DAYS
from dashboards.alarm_answer import STEPS_OF_ONE, Board, asked
from dashboards.alarm_json import AlarmListJson, OneAlarmJson, alarm_list_json, one_alarm_json
from dashboards.alarm_steps import STEPS_SHOWN
from dashboards.alarm_steps_json import AlarmEventsJson, StepsJson, alarm_events_json, steps_json
from dashboards.measures_json import MeasuresJson, measures_json
from dashboards.openapi import NOT_FOUND
from dashboards.paging import PageWish, page_wish, paged
from dashboards.source import Source

MOST_DAYS = 3_650
_MOST_STEPS = 500
_LONGEST_KEY = 300

_Key = Annotated[str, Path(max_length=_LONGEST_KEY, description="As in `key` of /api/alarms, such as no-data:north.")]
_Alarm = Annotated[str, Query(max_length=_LONGEST_KEY, description="Steps of this alarm alone, by its key.")]
_Steps = Annotated[PageWish, Depends(page_wish(STEPS_SHOWN, _MOST_STEPS, ["alarm"]))]
_Events = Annotated[PageWish, Depends(page_wish(STEPS_SHOWN, _MOST_STEPS))]
_Days = Annotated[int, Query(ge=1, le=MOST_DAYS, description="So many days up to now.")]


def alarm_json_router(board: Board) -> APIRouter:
    """Make the routes."""
    router = APIRouter(prefix="/api/alarms", tags=["Alarms"])
    look = Source(board.look)

    @router.get("", summary="All alarms by state")
    def api_alarms() -> AlarmListJson:
        """Every alarm that is not in the normal state, with who was called, who answered, and what holds it back."""
        return alarm_list_json(look())

    @router.get("/journal", summary="What happened to alarms", **paged(StepsJson))
    def api_journal(page: _Steps, alarm: _Alarm = "") -> Response:
        """Every step of every alarm, the newest first, by pages. Steps are appended and never changed."""
        found = asked(lambda: board.steps(page.number, alarm, page.limit))
        older = page.address_after(found.steps[-1].number) if found.has_older else None
        return page.answer(steps_json(found, older))

    @router.get("/events", summary="What the readings raised and cleared", **paged(AlarmEventsJson))
    def api_events(page: _Events) -> Response:
        """Every event, with its value and the limit, the newest first, by pages; also what was found afterwards."""
        shown, older = page.cut(asked(lambda: board.events(page.number, page.limit + 1)), lambda each: each[0])
        return page.answer(alarm_events_json(shown, older))

    @router.get("/metrics", summary="How well the alarms do their work")
    def api_measures(days: _Days = WINDOW_DAYS) -> MeasuresJson:
        """Calls per day, floods, time to acknowledge, and which alarms chatter or are stale."""
        return measures_json(asked(lambda: board.measures(days)))

    @router.get("/of/{key:path}", summary="One alarm", responses=NOT_FOUND)
    def api_alarm(key: _Key) -> OneAlarmJson:
        """How one alarm stands, and its newest steps."""
        found = one_alarm_json(look(), key, asked(lambda: board.steps(None, key, STEPS_OF_ONE)))
        if found is None:
            raise HTTPException(404, "Nothing is known of such an alarm. /api/alarms lists those that are on.")
        return found

    return router
