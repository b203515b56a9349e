"""The page of one alarm: how it stands, what can be done, and what happened to it. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.alarm_board_values import AlarmList, AlarmSteps
from dashboards import figures
from dashboards.alarm_board import AlarmItem, answer_fields, board_view, item_view
from dashboards.alarm_forms import FormView, Typed, forms_of, not_offered
from dashboards.alarm_paths import alarm_path
from dashboards.alarm_steps import StepView, step_views
from dashboards.alarm_words import Words

OVER = "This alarm is over"


@dataclass(frozen=True, slots=True)
class AlarmPageView:
    """The whole page. `item` is None where the alarm is over; `said` is what became of what was sent.

    `version` is that of the page of all alarms, whose event stream it shares.
    """

    heading: str
    key: str
    name: str
    path: str
    clock: str
    zone: str
    version: str
    item: AlarmItem | None
    said: str
    hidden: tuple[tuple[str, str], ...]
    forms: tuple[FormView, ...]
    not_offered: tuple[str, ...]
    steps: tuple[StepView, ...]


def alarm_page_view(
    listed: AlarmList, key: str, steps: AlarmSteps, *, asks_who: bool, typed: Typed | None = None, said: str = ""
) -> AlarmPageView | None:
    """Everything on the page; None where nothing is known of such an alarm, now or in the journal."""
    alarm = listed.find(key)
    if alarm is None and not steps.steps:
        return None
    item = None if alarm is None else item_view(alarm, Words(listed))
    return AlarmPageView(
        heading=OVER if item is None else item.headline,
        key=key,
        name=steps.called.get(key, key),
        path=alarm_path(key),
        clock=figures.moment_text(figures.local(listed.now_ms, ZoneInfo(listed.time_zone))),
        zone=listed.time_zone,
        version=board_view(listed).version,
        item=item,
        said=said,
        hidden=() if alarm is None else answer_fields(alarm),
        forms=() if alarm is None else forms_of(alarm, listed, typed, asks_who=asks_who),
        not_offered=() if alarm is None else not_offered(alarm),
        steps=step_views(steps),
    )
