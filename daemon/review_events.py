"""What else happened in a period: alarms, people, rounds, doors, changes, restarts; lines of the timeline."""

import sqlite3
from collections.abc import Iterator, Sequence

from config.model import ROOM
from config.places import Places
from config.site import Site
from config.words import AlarmKind, Quantity
from daemon.alarms.wrong import LIMITED, WRONG
from daemon.answer_values import person_name
from daemon.review.account import LineKind, ToldLine
from daemon.review.telling import Telling, listed
from daemon.review.timeline import Happened
from daemon.storage import alarm_records, alarm_spans, happened, heard_times
from daemon.storage.alarm_records import AlarmRecord
from daemon.storage.alarm_spans import AlarmSpan
from daemon.storage.happened import ChangeThen

_BY_PEOPLE = {
    "acknowledge": "acknowledged",
    "shelve": "was shelved",
    "unshelve": "is told again: its shelf was ended",
    "reset": "was released",
    "out of service": "was taken out of service",
    "return to service": "was put back into service",
}
_REGISTER = {
    "add": "entered",
    "move": "moved",
    "edit": "corrected",
    "close": "closed",
    "reopen": "opened again",
    "withdraw": "withdrawn",
    "eggs": "said of its eggs",
    "eggs-withdrawn": "said of an egg, taken back",
    "eggs-named": "it was another egg",
    "egg-marked": "mark on a shell",
    "note": "note",
    "measure": "size",
    "measure-withdrawn": "size taken back",
}
_OPEN = 1.0
"""What a contact of a door says while it is open."""


class Events:
    """Reads for one site and one moment of the journal."""

    def __init__(self, conn: sqlite3.Connection, site: Site, telling: Telling) -> None:
        self._conn, self._places, self._telling = conn, Places(site), telling
        self._names = {person.id: person.name for person in site.people}
        self._channels = {
            f"{probe.id}/{channel.name}": (probe.place, channel.quantity)
            for probe in site.probes
            for channel in probe.channels
        }

    def between(self, from_ms: int, to_ms: int, told: Sequence[ToldLine]) -> Iterator[Happened]:
        """Give all of it, in no order; `told` are the messages of the time."""
        for alarm in alarm_spans.spans(self._conn, set(AlarmKind), from_ms, to_ms):
            yield from self._alarm(alarm)
        for step in alarm_records.between(self._conn, from_ms, to_ms + 1):
            if step.event in _BY_PEOPLE:
                yield self._by_person(step)
        yield from self._messages(told)
        yield from self._doors(from_ms, to_ms)
        yield from self._rounds(from_ms, to_ms)
        yield from self._changes(from_ms, to_ms)

    def place_of(self, subject: str) -> str:
        """The place that an alarm is about; empty for the whole site."""
        if subject in self._channels:
            return self._channels[subject][0]
        return subject if self._places.exists(subject) else ""

    def _alarm(self, alarm: AlarmSpan) -> Iterator[Happened]:
        kind, place = AlarmKind(alarm.kind), self.place_of(alarm.subject)
        yield Happened(alarm.raised_ms, LineKind.ALARM, place, f"Alarm: {self._what(kind, alarm)}.")
        if alarm.cleared_ms is not None:
            yield Happened(alarm.cleared_ms, LineKind.ALARM, place, f"Over: {WRONG[kind]} ({alarm.subject}).")

    def _what(self, kind: AlarmKind, alarm: AlarmSpan) -> str:
        begin = f"{WRONG[kind]} ({alarm.subject})"
        if kind not in LIMITED or alarm.limit is None:
            return f"{begin}: {alarm.reason.rstrip('. ')}" if alarm.reason else begin
        humidity = not kind.startswith("temperature")
        limit = self._telling.value(alarm.limit, humidity=humidity)
        value = "" if alarm.value is None else f" {self._telling.value(alarm.value, humidity=humidity)},"
        return f"{begin}:{value} limit {limit}"

    def _by_person(self, step: AlarmRecord) -> Happened:
        kind, _, subject = step.alarm_key.partition(":")
        wrong = WRONG[AlarmKind(kind)] if kind in set(AlarmKind) else kind
        who = person_name(self._names, step.who) if step.who else "nobody named"
        refused = "" if step.accepted else " This was refused, and changed nothing."
        # Who acknowledged is told already; what they noted stands behind it.
        said = step.reason.partition("note: ")[2] if step.event == "acknowledge" else step.reason
        why = f" {said[:1].upper()}{said[1:].rstrip('. ')}." if said else ""
        words = f"{wrong[:1].upper()}{wrong[1:]} ({subject}) {_BY_PEOPLE[step.event]} by {who}.{why}{refused}"
        return Happened(step.at_ms, LineKind.PERSON, self.place_of(subject), words)

    @staticmethod
    def _messages(told: Sequence[ToldLine]) -> Iterator[Happened]:
        """One line for all who were told the same at the same moment."""
        together: dict[tuple[int, str], list[ToldLine]] = {}
        for line in told:
            together.setdefault((line.made_ms, line.about), []).append(line)
        for (made_ms, about), lines in together.items():
            who = listed([f"{each.who} ({each.fate})" for each in lines])
            word = "Called" if any(each.called for each in lines) else "Told"
            yield Happened(made_ms, LineKind.MESSAGE, "", f"{word}: {who}. {about.rstrip('. ')}.")

    def _doors(self, from_ms: int, to_ms: int) -> Iterator[Happened]:
        for channel, (place, quantity) in self._channels.items():
            number = heard_times.number_of(self._conn, channel) if quantity is Quantity.DOOR else None
            if number is None:
                continue
            for open_ms, shut_ms in heard_times.runs_of(self._conn, number, _OPEN, from_ms, to_ms):
                yield Happened(open_ms, LineKind.DOOR, "" if place == ROOM else place, f"Door open ({channel}).")
                if shut_ms is not None:
                    yield Happened(shut_ms, LineKind.DOOR, "" if place == ROOM else place, f"Door shut ({channel}).")

    def _rounds(self, from_ms: int, to_ms: int) -> Iterator[Happened]:
        for each in happened.rounds(self._conn, from_ms, to_ms):
            yield Happened(each.started_ms, LineKind.ROUND, each.incubator, f"Round begun by {each.who}.")
            if each.ended_ms is not None:
                note = f" {each.note}" if each.note else ""
                yield Happened(each.ended_ms, LineKind.ROUND, each.incubator, f"Round ended by {each.ended_by}.{note}")

    def _changes(self, from_ms: int, to_ms: int) -> Iterator[Happened]:
        for change in happened.stated(self._conn, from_ms, to_ms):
            yield self._change(change, f"Changed: {change.what} ({change.about})")
        for change in happened.registered(self._conn, from_ms, to_ms):
            yield self._change(change, f"Register, {change.about}: {_REGISTER.get(change.what, change.what)}")
        for change in happened.calibrated(self._conn, from_ms, to_ms):
            yield self._change(change, f"Calibration of {change.about} written down")

    def _change(self, change: ChangeThen, what: str) -> Happened:
        who = person_name(self._names, change.who) or "somebody"
        why = f": {change.why.rstrip('. ')}" if change.why else ""
        return Happened(change.at_ms, LineKind.CHANGE, "", f"{what}, by {who}{why}.")
