"""The journal of alarms and the events of the readings as JSON, page by page. Pure. Moments are UTC ms."""

from collections.abc import Sequence

from daemon.alarm_board_values import AlarmSteps
from daemon.answer_values import person_name
from daemon.storage.alarm_log import AlarmEvent
from dashboards.api_values import Json
from dashboards.paging import PageJson


class StepJson(Json):
    """One step of one alarm. `shown` is the state that people saw afterwards; `accepted` is false where it was refused.

    `at_ms` is when it happened, `recorded_at_ms` when it was written down. `annunciated`: people were called.
    """

    number: int
    at_ms: int
    recorded_at_ms: int
    alarm: str
    occurrence: str
    priority: int
    event: str
    before: str
    after: str
    shown: str
    who: str
    reason: str
    annunciated: bool
    accepted: bool


class StepsJson(PageJson):
    """A page of the journal of alarms, the newest step first."""

    now_ms: int
    time_zone: str
    steps: list[StepJson]


class AlarmEventJson(Json):
    """An event as the readings gave it. `value` and `limit` are in °C or % RH, as the alarm is; null where none is.

    `event` is raised, cleared, a change of it, or found afterwards: it was over before anybody was told, `at_ms` is
    when it began and `value` the worst. `occurrence` joins all events from one raising to its end.
    """

    number: int
    at_ms: int
    recorded_at_ms: int
    alarm: str
    occurrence: str
    event: str
    value: float | None
    limit: float | None
    reason: str


class AlarmEventsJson(PageJson):
    """A page of the events, the newest number first. Those that were found afterwards stand where they were found."""

    events: list[AlarmEventJson]


def steps_json(steps: AlarmSteps, next_page: str | None) -> StepsJson:
    """Give a page of the journal."""
    return StepsJson(now_ms=steps.now_ms, time_zone=steps.time_zone, steps=step_list(steps), next=next_page)


def alarm_events_json(events: Sequence[tuple[int, AlarmEvent]], next_page: str | None) -> AlarmEventsJson:
    """Give a page of events, each with its number."""
    shown = [
        AlarmEventJson(
            number=number,
            at_ms=event.at_ms,
            recorded_at_ms=event.recorded_at_ms,
            alarm=event.alarm_key,
            occurrence=event.occurrence,
            event=event.event,
            value=event.value,
            limit=event.limit,
            reason=event.reason,
        )
        for number, event in events
    ]
    return AlarmEventsJson(events=shown, next=next_page)


def step_list(steps: AlarmSteps) -> list[StepJson]:
    """Give steps their JSON form."""
    names = dict(steps.names)
    return [
        StepJson(
            number=number,
            at_ms=step.at_ms,
            recorded_at_ms=step.recorded_at_ms,
            alarm=step.alarm_key,
            occurrence=step.occurrence,
            priority=step.priority,
            event=step.event,
            before=step.before,
            after=step.after,
            shown=step.shown,
            who=person_name(names, step.who) if step.who else "",
            reason=step.reason,
            annunciated=step.annunciated,
            accepted=step.accepted,
        )
        for number, step in steps.steps
    ]
