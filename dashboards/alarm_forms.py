"""The forms of one alarm: which there are, what they ask, and what was typed. Pure."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from zoneinfo import ZoneInfo

from config.words import Priority
from daemon.alarm_board_values import AlarmList, ListedAlarm
from daemon.alarms.classes import HOUR_MS, MINUTE_MS
from daemon.alarms.figures import duration_text
from daemon.answer_values import AT_THE_PAGE
from dashboards import figures

LONGEST_TEXT = 500
SPANS_MS = tuple(minutes * MINUTE_MS for minutes in (20, 60, 120, 240, 480, 720, 1440))
_SOMEBODY = (AT_THE_PAGE, "Somebody at this machine")
_DATE_PATTERN = "%Y-%m-%dT%H:%M"


class Wanted(StrEnum):
    """What a form is for; the value of its button."""

    ACKNOWLEDGE = "acknowledge"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    RESET = "reset"
    OUT_OF_SERVICE = "out-of-service"
    IN_SERVICE = "in-service"


@dataclass(frozen=True, slots=True)
class Field:
    """One field. `kind` is text, select, check or moment; `error` says what is wrong with what was typed."""

    name: str
    label: str
    kind: str = "text"
    value: str = ""
    hint: str = ""
    error: str = ""
    options: tuple[tuple[str, str], ...] = ()
    required: bool = False


@dataclass(frozen=True, slots=True)
class FormView:
    """One form: `is_open` shows it without a touch, `error` is what is wrong with the whole of it."""

    wanted: Wanted
    heading: str
    button: str
    explained: str
    fields: tuple[Field, ...]
    is_open: bool = False
    error: str = ""


@dataclass(frozen=True, slots=True)
class Typed:
    """What was sent and refused: the fields as they were typed, what is wrong with each, and with the whole."""

    wanted: Wanted
    fields: Mapping[str, str]
    errors: Mapping[str, str]
    error: str = ""


def forms_of(
    alarm: ListedAlarm, listed: AlarmList, typed: Typed | None = None, *, asks_who: bool = True
) -> tuple[FormView, ...]:
    """Give the forms that this alarm has as it stands now, the one that was refused filled in as it was sent.

    `asks_who`: nobody signs in, so each form asks who is there.
    """
    return tuple(_as_typed(form, typed) for form in _forms(alarm, listed, _who(listed) if asks_who else ()))


def not_offered(alarm: ListedAlarm) -> tuple[str, ...]:
    """Say why an alarm cannot be silenced, where that is so."""
    lines = []
    if not alarm.longest_shelf_ms:
        lines.append(f"An alarm of the class {alarm.class_name} is never shelved.")
    if not alarm.may_leave_service:
        lines.append(f"An alarm of the class {alarm.class_name} stays in service.")
    return tuple(lines)


def _forms(alarm: ListedAlarm, listed: AlarmList, who: tuple[Field, ...]) -> Iterator[FormView]:
    if alarm.waits:
        needs_note = alarm.priority is Priority.CRITICAL and not alarm.in_alarm
        hint = "It is over: say what it was." if needs_note else "May stay empty."
        note = Field("note", "What you found or did there", hint=hint, required=needs_note)
        told = "Calls for it stop, and whoever was called is told."
        yield FormView(Wanted.ACKNOWLEDGE, "Acknowledge", "Acknowledge", told, (note, *who), is_open=True)
    if alarm.latched:
        told = "Releases it once somebody has acknowledged it and the readings are back in range."
        yield FormView(Wanted.RESET, "Reset", "Reset", told, who)
    if alarm.shelf is not None:
        told = "If it is still on, it is told at once."
        yield FormView(Wanted.UNSHELVE, "End the shelf", "Unshelve", told, who, is_open=True)
    if alarm.longest_shelf_ms:
        yield _shelve(alarm, who)
    if alarm.out is not None:
        tested = Field("tested", "How was it seen to work?", required=True)
        told = "Takes a fresh good reading. If it is still on, it is told at once."
        yield FormView(Wanted.IN_SERVICE, "Put back into service", "In service", told, (tested, *who), is_open=True)
    if alarm.may_leave_service:
        yield _out_of_service(alarm, listed, who)


def _shelve(alarm: ListedAlarm, who: tuple[Field, ...]) -> FormView:
    longest = duration_text(alarm.longest_shelf_ms)
    spans = tuple((str(each // MINUTE_MS), duration_text(each)) for each in _spans_ms(alarm))
    critical = alarm.priority is Priority.CRITICAL
    return FormView(
        Wanted.SHELVE,
        "Shelve anew" if alarm.shelf is not None else "Shelve",
        "Shelve",
        f"Nobody is told of it for a while. At this priority the longest is {longest}.",
        (
            Field("why", "Why?", required=True),
            Field("long", "For how long?", "select", spans[min(1, len(spans) - 1)][0], options=spans),
            Field("once", "Only until it is next back in range", "check"),
            Field(
                "second",
                "Who agrees, or what somebody beside the eggs says",
                hint="Needed for a critical alarm, and for a third shelf in a row.",
                required=critical,
            ),
            *who,
        ),
    )


def _out_of_service(alarm: ListedAlarm, listed: AlarmList, who: tuple[Field, ...]) -> FormView:
    zone = ZoneInfo(listed.time_zone)
    longest = duration_text(alarm.longest_review_ms)
    # A little before the longest, so that it is still possible when the form is sent.
    latest = figures.local(listed.now_ms + alarm.longest_review_ms - HOUR_MS, zone)
    eggs = "With eggs there" if alarm.eggs_inside else "Without eggs there"
    return FormView(
        Wanted.OUT_OF_SERVICE,
        "Set another review date" if alarm.out is not None else "Take out of service",
        "Out of service",
        f"Nobody is told of it until it is mended; people are reminded from the review date on. {eggs} that may lie "
        f"{longest} ahead at most.",
        (
            Field("why", "Why?", required=True),
            Field("meanwhile", "What or who watches the eggs meanwhile?", required=True),
            Field(
                "until",
                f"When is it looked at again? ({listed.time_zone})",
                "moment",
                latest.strftime(_DATE_PATTERN),
                required=True,
            ),
            *who,
        ),
    )


def _spans_ms(alarm: ListedAlarm) -> tuple[int, ...]:
    return tuple(each for each in SPANS_MS if each <= alarm.longest_shelf_ms)


def _who(listed: AlarmList) -> tuple[Field, ...]:
    return (Field("who", "Who are you?", "select", AT_THE_PAGE, options=(_SOMEBODY, *listed.people)),)


def _as_typed(form: FormView, typed: Typed | None) -> FormView:
    if typed is None or typed.wanted is not form.wanted:
        return form
    fields = tuple(
        replace(each, value=typed.fields.get(each.name, ""), error=typed.errors.get(each.name, ""))
        for each in form.fields
    )
    return replace(form, fields=fields, is_open=True, error=typed.error)
