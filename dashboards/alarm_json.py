"""Alarms as JSON: the same values as on the pages. Pure.

Moments are UTC milliseconds since the epoch. Temperatures are always °C. People are named as on the pages.
"""

from pydantic import Field

from config.words import AlarmKind, Quantity
from daemon.alarm_board_values import AlarmList, AlarmSteps, ListedAlarm
from daemon.alarms.state_values import OutOfService, Shelf, Shown
from daemon.answer_values import person_name
from dashboards.alarm_board import GROUPS
from dashboards.alarm_steps_json import StepJson, step_list
from dashboards.api_values import Json, RoundJson
from dashboards.series_json import UNITS


class CalledJson(Json):
    """A person who was called for an alarm, and when. `has_left`: a message to them has been accepted."""

    name: str
    at_ms: list[int]
    has_left: bool


class ShelfJson(Json):
    """Somebody does not want to be told until `until_ms`. `one_shot` ends at the next return to normal as well."""

    who: str
    reason: str
    second: str
    started_ms: int
    until_ms: int
    one_shot: bool


class DesignJson(Json):
    """A designed reason not to tell: its `mode`, what it comes from, and when it ends at the latest."""

    mode: str
    name: str
    since_ms: int
    ends_ms: int


class OutOfServiceJson(Json):
    """Somebody took the alarm out of service until the review. `interim` is what watches the eggs meanwhile."""

    who: str
    reason: str
    interim: str
    since_ms: int
    review_ms: int


class ListedAlarmJson(Json):
    """An alarm that is not in the normal state; priority 1 is the most urgent.

    `state` is the word of ISA-18.2 / IEC 62682. `is_known` is false where no fresh good reading says how it stands.
    `waits`: nobody has acknowledged. `value` is the newest good reading, of an alarm that has a limit, both in `unit`
    (RFC 8428: Cel or %RH). `why` says why it was raised, where figures do not.
    """

    key: str
    kind: AlarmKind
    priority: int
    place: str
    what: str
    state: Shown
    is_on: bool
    is_known: bool
    waits: bool
    is_latched: bool
    since_ms: int
    returned_ms: int | None
    occurrence: str
    version: int
    quantity: Quantity | None
    unit: str | None
    value: float | None
    limit: float | None
    why: str
    first_action: str
    caution: str
    called: list[CalledJson]
    acknowledged_by: str
    acknowledged_ms: int | None
    shelf: ShelfJson | None
    suppressed_by_design: list[DesignJson]
    out_of_service: OutOfServiceJson | None
    class_name: str


class StateGroupJson(Json):
    """The alarms that stand under one heading of the page; `states` are the words that it covers."""

    group: str
    states: list[Shown]
    alarms: list[ListedAlarmJson]


class AlarmListJson(Json):
    """All alarms that are not in the normal state, by state; in each group the most urgent first."""

    now_ms: int
    time_zone: str
    groups: list[StateGroupJson]
    rounds: list[RoundJson]


class OneAlarmJson(Json):
    """One alarm and its newest steps. `alarm` is null where it is over and only its steps are left."""

    now_ms: int
    alarm: ListedAlarmJson | None
    steps: list[StepJson] = Field(description="The newest first.")


def alarm_list_json(listed: AlarmList) -> AlarmListJson:
    """Give the alarms by state; groups that are empty stay in, so that a program finds each at its place."""
    return AlarmListJson(
        now_ms=listed.now_ms,
        time_zone=listed.time_zone,
        groups=[
            StateGroupJson(
                group=group.key,
                states=[each for each in Shown if each in group.states],
                alarms=[_alarm(each, listed) for each in listed.alarms if each.shown in group.states],
            )
            for group in GROUPS
        ],
        rounds=[RoundJson.model_validate(each) for each in listed.rounds],
    )


def one_alarm_json(listed: AlarmList, key: str, steps: AlarmSteps) -> OneAlarmJson | None:
    """Give one alarm; None where nothing is known of such an alarm, now or in the journal."""
    alarm = listed.find(key)
    if alarm is None and not steps.steps:
        return None
    return OneAlarmJson(
        now_ms=listed.now_ms, alarm=None if alarm is None else _alarm(alarm, listed), steps=step_list(steps)
    )


def _alarm(alarm: ListedAlarm, listed: AlarmList) -> ListedAlarmJson:
    names = dict(listed.people)
    return ListedAlarmJson(
        key=alarm.key,
        kind=alarm.kind,
        priority=alarm.priority,
        place=alarm.place,
        what=alarm.what,
        state=alarm.shown,
        is_on=alarm.in_alarm,
        is_known=alarm.known,
        waits=alarm.waits,
        is_latched=alarm.latched,
        since_ms=alarm.since_ms,
        returned_ms=alarm.returned_ms,
        occurrence=alarm.occurrence,
        version=alarm.version,
        quantity=alarm.quantity,
        unit=None if alarm.quantity is None or alarm.limit is None else UNITS[alarm.quantity],
        value=alarm.value,
        limit=alarm.limit,
        why=alarm.why,
        first_action=alarm.first_action,
        caution=alarm.caution,
        called=[CalledJson(name=each.name, at_ms=list(each.at_ms), has_left=each.has_left) for each in alarm.called],
        acknowledged_by=alarm.acknowledged_by,
        acknowledged_ms=alarm.acknowledged_ms,
        shelf=None if alarm.shelf is None else _shelf(alarm.shelf, names),
        suppressed_by_design=[
            DesignJson(mode=each.mode.value, name=each.name, since_ms=each.since_ms, ends_ms=each.ends_ms)
            for each in alarm.design
        ],
        out_of_service=None if alarm.out is None else _out(alarm.out, names),
        class_name=alarm.class_name,
    )


def _shelf(shelf: Shelf, names: dict[str, str]) -> ShelfJson:
    return ShelfJson(
        who=person_name(names, shelf.who),
        reason=shelf.reason,
        second=person_name(names, shelf.second) if shelf.second else "",
        started_ms=shelf.started_ms,
        until_ms=shelf.until_ms,
        one_shot=shelf.one_shot,
    )


def _out(out: OutOfService, names: dict[str, str]) -> OutOfServiceJson:
    return OutOfServiceJson(
        who=person_name(names, out.who),
        reason=out.reason,
        interim=out.interim,
        since_ms=out.since_ms,
        review_ms=out.review_ms,
    )
