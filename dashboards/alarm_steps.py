"""The journal of alarms and their measures, as pages. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from daemon.alarm_board_values import AlarmSteps, MeasuredAlarms
from daemon.alarm_measures import MeasureRow, measure_rows
from daemon.alarm_names import keys_in
from daemon.answer_values import person_name
from dashboards import figures
from dashboards.alarm_paths import JOURNAL_PATH, alarm_path
from dashboards.places import sentence_start

STEPS_SHOWN = 50
EVENT_WORDS = {
    "on": "began",
    "off": "back in order",
    "no data": "readings stopped",
    "data again": "readings came again",
    "acknowledge": "acknowledgement",
    "shelve": "shelving",
    "unshelve": "end of the shelf",
    "suppress by design": "held back by design",
    "end suppression by design": "held back no longer",
    "out of service": "taken out of service",
    "return to service": "return to service",
    "clock stepped": "clock was set",
    "restart": "service started again",
    "time": "time had passed",
}
"""What the journal calls an event, in words for people; also for one that was refused."""


@dataclass(frozen=True, slots=True)
class StepView:
    """One step of one alarm."""

    at: str
    at_iso: str
    key: str
    name: str
    path: str
    event: str
    state: str
    who: str
    reason: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StepsView:
    """A page of the journal. `older` leads to the page before it in time, `newest_path` to the first; may be empty."""

    heading: str
    clock: str
    zone: str
    version: str
    key: str
    name: str
    steps: tuple[StepView, ...]
    older: str
    newest_path: str
    all_path: str


@dataclass(frozen=True, slots=True)
class MeasuresView:
    """The measures, over so many days."""

    heading: str
    clock: str
    zone: str
    version: str
    days: int
    rows: tuple[MeasureRow, ...]
    too_little: str


def steps_view(steps: AlarmSteps, before: int | None, key: str) -> StepsView:
    """Turn a page of the journal into texts."""
    named = {"alarm": key} if key else {}
    older = ""
    if steps.has_older:
        older = f"{JOURNAL_PATH}?{urlencode({**named, 'before': steps.steps[-1].number})}"
    newest = f"{JOURNAL_PATH}?{urlencode(named)}" if named else JOURNAL_PATH
    return StepsView(
        heading="Journal of alarms",
        clock=figures.moment_text(figures.local(steps.now_ms, ZoneInfo(steps.time_zone))),
        zone=steps.time_zone,
        version=str(steps.newest),
        key=key,
        name=steps.called.get(key, key),
        steps=step_views(steps),
        older=older,
        newest_path=newest if before is not None else "",
        all_path=JOURNAL_PATH if key else "",
    )


def step_views(steps: AlarmSteps) -> tuple[StepView, ...]:
    """One text for each step."""
    zone, names = ZoneInfo(steps.time_zone), dict(steps.names)
    found = []
    for _, step in steps.steps:
        at = figures.local(step.at_ms, zone)
        notes = (
            *(("Refused: nothing was done.",) if not step.accepted else ()),
            *(("People were called.",) if step.annunciated else ()),
        )
        found.append(
            StepView(
                at=f"{figures.full_date_text(at)}, {at:%H:%M:%S}",
                at_iso=at.isoformat(),
                key=step.alarm_key,
                name=steps.called.get(step.alarm_key, step.alarm_key),
                path=alarm_path(step.alarm_key),
                event=EVENT_WORDS.get(step.event, step.event),
                state=step.shown,
                who=person_name(names, step.who) if step.who else "",
                reason=f"{sentence_start(_named(step.reason, steps.called))}.",
                notes=notes,
            )
        )
    return tuple(found)


def _named(reason: str, called: Mapping[str, str]) -> str:
    for key in dict.fromkeys(keys_in(reason)):
        reason = reason.replace(key, called.get(key, key))
    return reason


def measures_view(found: MeasuredAlarms) -> MeasuresView:
    """Turn the measures into rows, the same as the command shows."""
    return MeasuresView(
        heading="How well the alarms do their work",
        clock=figures.moment_text(figures.local(found.now_ms, ZoneInfo(found.time_zone))),
        zone=found.time_zone,
        version=str(found.newest),
        days=found.days,
        rows=tuple(measure_rows(found.metrics, found.called)),
        too_little=found.metrics.performance.too_little,
    )
