"""Addresses of the alarms as JSON: all of them, one, their journal and their measures. A GET changes nothing."""

from typing import Annotated

from fastapi import APIRouter, HTTPException, Path, Query

from daemon.alarm_measures import WINDOW_DAYS
from dashboards.alarm_answer import STEPS_OF_ONE, Board, asked
from dashboards.alarm_json import (
    AlarmListJson,
    OneAlarmJson,
    StepsJson,
    alarm_list_json,
    one_alarm_json,
    steps_json,
)
from dashboards.alarm_steps import STEPS_SHOWN
from dashboards.measures_json import MeasuresJson, measures_json
from dashboards.openapi import NOT_FOUND
from dashboards.source import Source

MOST_DAYS = 3_650
LARGEST_NUMBER = 2**63 - 1
_MOST_STEPS = 500
_LONGEST_KEY = 300

_Key = Annotated[str, Path(max_length=_LONGEST_KEY, description="As in `key` of /api/alarms, such as no-data:north.")]
_Before = Annotated[
    int | None, Query(ge=1, le=LARGEST_NUMBER, description="Steps with a smaller number than this; else the newest.")
]
_Alarm = Annotated[str, Query(max_length=_LONGEST_KEY, description="Steps of this alarm alone, by its key.")]
_Limit = Annotated[int, Query(ge=1, le=_MOST_STEPS, description="So many steps at the most.")]
_Days = Annotated[int, Query(ge=1, le=MOST_DAYS, description="So many days up to now.")]


def alarm_json_router(board: Board) -> APIRouter:
    """Make the routes."""
    router = APIRouter(prefix="/api/alarms", tags=["Alarms"])
    look = Source(board.look)

    @router.get("", summary="All alarms by state")
    def api_alarms() -> AlarmListJson:
        """Every alarm that is not in the normal state, with who was called, who answered, and what holds it back."""
        return alarm_list_json(look())

    @router.get("/journal", summary="What happened to alarms")
    def api_journal(before: _Before = None, alarm: _Alarm = "", limit: _Limit = STEPS_SHOWN) -> StepsJson:
        """Every step of every alarm, the newest first, by pages. Steps are appended and never changed."""
        return steps_json(asked(lambda: board.steps(before, alarm, limit)))

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
