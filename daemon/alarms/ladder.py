"""Who is told what next of one incident, and when: `plan(ladder, rota, now_ms) -> Plan`. Pure. Times are UTC ms.

The caller writes the messages of a plan and stores `plan.ladder` in one transaction; so a crash sends nothing twice and
forgets nothing. What became due while nobody looked is told once and together. Nothing here acknowledges by itself: a
ladder at its end loops at its last rung.

That a service has accepted a message does not say that it has arrived, and nothing else says so before somebody
acknowledges. So a ladder never takes a message for received, and after a restart it is the outbox that sends again what
was not accepted.
"""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from enum import StrEnum

from config.words import Priority
from daemon.alarms.people import OnDuty, Person, Rota, on_duty
from daemon.alarms.rungs import REMIND_MS, RUNGS, How, Rung, Who, chosen
from daemon.alarms.state_json import (
    INTEGER,
    INTEGER_OR_NONE,
    LIST,
    TEXT,
    YES_OR_NO,
    StateError,
    read_fields,
    write_fields,
)

_WHAT = "a ladder"


class LadderPace(StrEnum):
    """Where a ladder stands."""

    CALL = "call"
    REMIND = "remind"
    """the condition has returned to normal, and nobody has acknowledged"""
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class LadderState:
    """What is remembered of the ladder of one incident.

    `rungs` is how many rungs are behind. `cannot` are those who replied that they cannot go. `harm_ms` is when harm is
    forecast, None where that is unknown. `last_told_ms` is when people heard anything, also that it is over.
    """

    priority: Priority
    started_ms: int
    pace: LadderPace = LadderPace.CALL
    rungs: int = 0
    last_told_ms: int | None = None
    cannot: tuple[str, ...] = ()
    harm_ms: int | None = None
    told: tuple[str, ...] = ()
    """ids of the people who were told, in that order"""
    called_ms: int | None = None
    """when a rung was told last; None with rungs behind: the last of them is due again now"""


@dataclass(frozen=True, slots=True)
class Call:
    """One person, by these contacts. `rung` counts from 1; 0 is a reminder."""

    person: str
    contacts: tuple[str, ...]
    rung: int
    silent: bool
    reason: str


@dataclass(frozen=True, slots=True)
class Plan:
    """Who is told now, when to ask again (None: only when something happens), the ladder after that, and why."""

    calls: tuple[Call, ...]
    sounder: bool
    next_ms: int | None
    ladder: LadderState
    reason: str


def plan(ladder: LadderState, rota: Rota, now_ms: int) -> Plan:
    """Work out what is due now. Asking more often than `next_ms` says changes nothing."""
    if ladder.pace is LadderPace.STOPPED:
        return Plan((), False, None, ladder, "somebody has acknowledged, or it is over")
    held_until_ms = _held_until_ms(ladder, rota, now_ms)
    if held_until_ms is not None:
        return Plan((), False, held_until_ms, ladder, "held until the end of the quiet hours")
    if ladder.pace is LadderPace.REMIND:
        return _reminder(ladder, rota, now_ms)
    return _climb(ladder, rota, now_ms)


def started(priority: Priority, now_ms: int, harm_ms: int | None = None) -> LadderState:
    """Begin at the first rung."""
    return LadderState(priority, now_ms, harm_ms=harm_ms)


def slowed(ladder: LadderState, now_ms: int) -> LadderState:
    """Go on with reminders, the first one after a full interval; a ladder that has stopped stays so."""
    if ladder.pace is LadderPace.STOPPED:
        return ladder
    return replace(ladder, pace=LadderPace.REMIND, last_told_ms=now_ms)


def stopped(ladder: LadderState) -> LadderState:
    """Stop for everybody: one acknowledgement is enough."""
    return replace(ladder, pace=LadderPace.STOPPED)


def shifted(ladder: LadderState, by_ms: int) -> LadderState:
    """Move every remembered moment, after the clock was set."""
    last_ms, harm_ms, called_ms = ladder.last_told_ms, ladder.harm_ms, ladder.called_ms
    return replace(
        ladder,
        started_ms=ladder.started_ms + by_ms,
        last_told_ms=None if last_ms is None else last_ms + by_ms,
        harm_ms=None if harm_ms is None else harm_ms + by_ms,
        called_ms=None if called_ms is None else called_ms + by_ms,
    )


def cannot(ladder: LadderState, person: str, rota: Rota, now_ms: int) -> LadderState:
    """A person replied that they cannot go: the first rung that tells somebody else is due now."""
    if person in ladder.cannot or ladder.pace is not LadderPace.CALL:
        return ladder
    ladder = replace(ladder, cannot=(*ladder.cannot, person))
    duty, rungs = on_duty(rota, now_ms), RUNGS[ladder.priority]
    ahead = [index for index in range(ladder.rungs, len(rungs)) if not rungs[index].once_more]
    ahead = ahead or [len(rungs) - 1]
    able = [each.id for each in duty.order if each.id not in ladder.cannot]
    for index in ahead:
        if any(each.id in able and each.id not in ladder.told for each in _people(rungs[index], duty, rota, ladder)):
            return _due_now(ladder, index, now_ms)
    if rungs[-1].again_ms is None:
        return ladder
    # whoever is left has been told and has not answered: they are called again, and where nobody is left, everybody is
    return _due_now(ladder, ahead[0] if able else len(rungs) - 1, now_ms)


def _due_now(ladder: LadderState, index: int, now_ms: int) -> LadderState:
    started_ms = min(ladder.started_ms, now_ms - RUNGS[ladder.priority][index].after_ms)
    return replace(ladder, rungs=index, started_ms=started_ms)


def to_json(ladder: LadderState) -> str:
    """Write one line of JSON."""
    return write_fields(asdict(ladder))


def from_json(text: str) -> LadderState:
    """Read what `to_json` wrote. Raises StateError where it is not exactly such a text."""
    fields = _FIELDS | _FORMER_FIELDS if f'"{_FORMER}":' in text else _FIELDS
    found = read_fields(text, _WHAT, fields if f'"{_LATER}":' in text else _without(fields, _LATER))
    found.pop(_FORMER, None)
    found.setdefault(_LATER, found["last_told_ms"])
    if found["pace"] not in set(LadderPace) or found["priority"] not in set(Priority):
        raise StateError(_WHAT, f"pace is {found['pace']!r}, priority is {found['priority']!r}")
    priority = Priority(found["priority"])
    if not 0 <= found["rungs"] <= len(RUNGS[priority]):
        raise StateError(_WHAT, f"rungs is {found['rungs']}")
    for key in ("cannot", "told"):
        if not all(isinstance(each, str) for each in found[key]):
            raise StateError(_WHAT, f"{key} is {found[key]!r}")
        found[key] = tuple(found[key])
    return LadderState(**{**found, "priority": priority, "pace": LadderPace(found["pace"])})


_FIELDS = {
    "priority": INTEGER,
    "started_ms": INTEGER,
    "pace": TEXT,
    "rungs": INTEGER,
    "last_told_ms": INTEGER_OR_NONE,
    "cannot": LIST,
    "harm_ms": INTEGER_OR_NONE,
    "told": LIST,
    "called_ms": INTEGER_OR_NONE,
}
_LATER = "called_ms"
"""A ladder of an earlier version is without it."""
_FORMER = "delivered"
_FORMER_FIELDS = {_FORMER: YES_OR_NO}
"""A ladder of an earlier version has it: with an alarm on, an update must not stop the calls."""


def _without(fields: Mapping[str, tuple[type, ...]], key: str) -> dict[str, tuple[type, ...]]:
    return {name: types for name, types in fields.items() if name != key}


def _held_until_ms(ladder: LadderState, rota: Rota, now_ms: int) -> int | None:
    """Quiet hours hold the lowest priority, and the middle one only where harm is forecast for after their end."""
    until_ms = rota.quiet.end_of_quiet_ms(now_ms) if rota.quiet is not None else None
    if until_ms is None or ladder.priority is Priority.CRITICAL:
        return None
    if ladder.priority is Priority.LOW or ladder.pace is LadderPace.REMIND:
        return until_ms
    return until_ms if ladder.harm_ms is not None and ladder.harm_ms >= until_ms else None


def _reminder(ladder: LadderState, rota: Rota, now_ms: int) -> Plan:
    every_ms = REMIND_MS[ladder.priority]
    if every_ms is None:
        return Plan((), False, None, ladder, "of this priority nobody is reminded")
    last_ms = ladder.started_ms if ladder.last_told_ms is None else ladder.last_told_ms
    if now_ms < last_ms + every_ms:
        return Plan((), False, last_ms + every_ms, ladder, "the next reminder is not due")
    order = on_duty(rota, now_ms).order
    people = [each for each in order if each.id in ladder.told] or order[:1]
    calls = tuple(_call(each, How.ONE, 0, "back in range, and nobody has acknowledged") for each in people)
    return Plan(calls, False, now_ms + every_ms, replace(ladder, last_told_ms=now_ms), "a reminder is due")


def _climb(ladder: LadderState, rota: Rota, now_ms: int) -> Plan:
    rungs, duty = RUNGS[ladder.priority], on_duty(rota, now_ms)
    due = [index for index in range(ladder.rungs, len(rungs)) if ladder.started_ms + rungs[index].after_ms <= now_ms]
    reached = due[-1] + 1 if due else ladder.rungs
    if not due and _loops(ladder, rungs, now_ms):
        due = [ladder.rungs - 1]
    calls = _merged(
        _call(person, rungs[index].how, index + 1, rungs[index].who)
        for index in due
        for person in _people(rungs[index], duty, rota, ladder)
    )
    told = tuple(dict.fromkeys((*ladder.told, *(each.person for each in calls))))
    after = replace(ladder, rungs=reached, told=told)
    after = replace(after, last_told_ms=now_ms, called_ms=now_ms) if due else after
    reason = f"rung {reached} of {len(rungs)}, {duty.reason}" if due else "the next rung is not due"
    sounder = any(rungs[index].sounder for index in due)
    return Plan(calls, sounder, _next_ms(after, rungs), after, reason)


def _loops(ladder: LadderState, rungs: tuple[Rung, ...], now_ms: int) -> bool:
    if not ladder.rungs or ladder.called_ms is None:
        return ladder.rungs > 0
    again_ms = rungs[ladder.rungs - 1].again_ms
    return again_ms is not None and ladder.called_ms + again_ms <= now_ms


def _next_ms(ladder: LadderState, rungs: tuple[Rung, ...]) -> int | None:
    moments = [ladder.started_ms + rungs[ladder.rungs].after_ms] if ladder.rungs < len(rungs) else []
    again_ms = rungs[ladder.rungs - 1].again_ms if ladder.rungs else None
    if again_ms is not None and ladder.called_ms is not None:
        moments.append(ladder.called_ms + again_ms)
    return min(moments, default=None)


def _people(rung: Rung, duty: OnDuty, rota: Rota, ladder: LadderState) -> tuple[Person, ...]:
    """Give the people of a rung. Whoever cannot go is left out, as long as somebody else is left to be told."""
    able = tuple(each for each in duty.order if each.id not in ladder.cannot)
    pool = able or duty.order
    if rung.who is Who.FIRST:
        return pool[:1]
    if rung.who is Who.SECOND:
        return tuple(each for each in pool if each not in duty.order[:1])[:1] or pool[:1]
    if rung.who is Who.BOTH:
        return pool
    emergency = tuple(rota.person(name) for name in rota.emergency)
    return (*pool, *(each for each in emergency if each not in pool))


def _call(person: Person, how: How, rung: int, reason: str) -> Call:
    contacts = tuple(each.id for each in chosen(person, how))
    return Call(person.id, contacts, rung, how is How.SILENT, reason)


def _merged(calls: Iterable[Call]) -> tuple[Call, ...]:
    """One call for each person, by every contact that a due rung named."""
    found: dict[str, Call] = {}
    for call in calls:
        before = found.get(call.person)
        contacts = call.contacts if before is None else tuple(dict.fromkeys((*before.contacts, *call.contacts)))
        found[call.person] = replace(call, contacts=contacts)
    return tuple(found.values())
