"""From what was typed into a form of an alarm to what a person wants, or to what is wrong with it. Pure."""

from collections.abc import Callable, Mapping
from zoneinfo import ZoneInfo

from config.errors import StatedError
from config.words import Priority
from daemon.alarm_board_values import AlarmList, ListedAlarm, PersonEvent
from daemon.alarms.classes import MINUTE_MS
from daemon.alarms.events import Acknowledge, RemoveFromService, Reset, ReturnToService, Shelve, Unshelve
from daemon.alarms.figures import duration_text
from daemon.answer_values import AT_THE_PAGE
from daemon.local_moments import stated_ms
from dashboards.alarm_forms import LONGEST_TEXT, Typed, Wanted


class _Read:
    """Reads fields, and gathers what is wrong with them."""

    def __init__(self, fields: Mapping[str, str]) -> None:
        self._fields = fields
        self.errors: dict[str, str] = {}

    def text(self, name: str, missing: str = "") -> str:
        """Read a text on one line; where `missing` says what to write, it must not be empty."""
        text = " ".join(self._fields.get(name, "").split())
        if missing and not text:
            self.errors[name] = missing
        elif len(text) > LONGEST_TEXT:
            self.errors[name] = f"This is longer than {LONGEST_TEXT} characters; write it shorter."
        return text

    def wrong(self, name: str, why: str) -> None:
        """Say what is wrong with a field."""
        self.errors.setdefault(name, why)


def wish_of(
    wanted: Wanted, fields: Mapping[str, str], alarm: ListedAlarm, listed: AlarmList, signed_in: str | None = None
) -> PersonEvent | Typed:
    """Read a form that was sent for an alarm at the moment of `listed`; gives what is wrong where it cannot be done.

    `signed_in` is who sent it; None where nobody signs in, and the form says it.
    """
    read = _Read(fields)
    sent_by = fields.get("who", "")
    who = signed_in or (sent_by if sent_by in dict(listed.people) else AT_THE_PAGE)
    if signed_in is None and sent_by not in ("", who):
        read.wrong("who", "There is nobody of that name on this site; choose from the list.")
    event = _READERS[wanted](read, who, alarm, listed, fields)
    return Typed(wanted, fields, read.errors) if read.errors else event


def _acknowledge(
    read: _Read, who: str, alarm: ListedAlarm, _listed: AlarmList, fields: Mapping[str, str]
) -> PersonEvent:
    needs_note = alarm.priority is Priority.CRITICAL and not alarm.in_alarm
    note = read.text("note", "It was critical and is over: say what you found there." if needs_note else "")
    version = fields.get("version", "")
    return Acknowledge(who, fields.get("occurrence", ""), int(version) if version.isdecimal() else -1, note)


def _shelve(read: _Read, who: str, alarm: ListedAlarm, listed: AlarmList, fields: Mapping[str, str]) -> PersonEvent:
    why = read.text("why", "Say why nobody is to be told; it is kept with it.")
    second = read.text(
        "second",
        "A critical alarm takes a second person, or a note from beside the eggs."
        if alarm.priority is Priority.CRITICAL
        else "",
    )
    long, longest = fields.get("long", ""), duration_text(alarm.longest_shelf_ms)
    span_ms = int(long) * MINUTE_MS if long.isdecimal() and len(long) < len(str(MINUTE_MS)) else 0
    if not 0 < span_ms <= alarm.longest_shelf_ms:
        read.wrong("long", f"Choose how long; at this priority the longest is {longest}.")
    return Shelve(who, why, listed.now_ms + span_ms, "once" in fields, second)


def _unshelve(
    _read: _Read, who: str, _alarm: ListedAlarm, _listed: AlarmList, _fields: Mapping[str, str]
) -> PersonEvent:
    return Unshelve(who)


def _reset(_read: _Read, who: str, _alarm: ListedAlarm, _listed: AlarmList, _fields: Mapping[str, str]) -> PersonEvent:
    return Reset(who)


def _out_of_service(
    read: _Read, who: str, alarm: ListedAlarm, listed: AlarmList, fields: Mapping[str, str]
) -> PersonEvent:
    why = read.text("why", "Say why it is out of service; it is kept with it.")
    meanwhile = read.text("meanwhile", "Say what or who watches the eggs meanwhile.")
    review_ms = 0
    try:
        review_ms = stated_ms(fields.get("until", ""), ZoneInfo(listed.time_zone))
    except (StatedError, OverflowError):
        read.wrong("until", "Write a date and a time that exist, such as 2026-05-03 14:30.")
    if not 0 < review_ms - listed.now_ms <= alarm.longest_review_ms:
        longest = duration_text(alarm.longest_review_ms)
        eggs = " while eggs lie there" if alarm.eggs_inside else ""
        read.wrong("until", f"The review has to lie ahead, by {longest} at most{eggs}.")
    return RemoveFromService(who, why, meanwhile, review_ms, alarm.eggs_inside)


def _in_service(
    read: _Read, who: str, _alarm: ListedAlarm, _listed: AlarmList, _fields: Mapping[str, str]
) -> PersonEvent:
    return ReturnToService(who, read.text("tested", "Say how it was seen to work; it is kept with it."))


_Reader = Callable[[_Read, str, ListedAlarm, AlarmList, Mapping[str, str]], PersonEvent]
_READERS: Mapping[Wanted, _Reader] = {
    Wanted.ACKNOWLEDGE: _acknowledge,
    Wanted.SHELVE: _shelve,
    Wanted.UNSHELVE: _unshelve,
    Wanted.RESET: _reset,
    Wanted.OUT_OF_SERVICE: _out_of_service,
    Wanted.IN_SERVICE: _in_service,
}
