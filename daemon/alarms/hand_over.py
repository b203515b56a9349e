"""Who is asked to take over a duty, and who is told that nobody has. Pure. Times are UTC ms.

Messages move when the successor accepts, so the successor has to be asked, and whoever is on duty has to know that it
has not happened yet. The two moments are this project's choice.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from daemon.alarms.classes import HOUR_MS, MINUTE_MS
from daemon.alarms.people import Duty, Person, Rota, duty_in_force, on_duty

ASK_AHEAD_MS = HOUR_MS
"""The successor is asked so long before the duty begins, or at once where it is planned later than that."""
PATIENCE_MS = 15 * MINUTE_MS
"""So long at least the successor has for the first answer."""


class Step(StrEnum):
    """What people are told of one hand-over, each once."""

    ASKED = "asked"
    LATE = "not accepted"
    """the duty has begun and was not accepted"""


@dataclass(frozen=True, slots=True)
class Planned:
    """A duty under its number, and what became of it."""

    number: int
    duty: Duty
    planned_ms: int
    cancelled: bool = False
    why: str = ""


class Notice(NamedTuple):
    """One person who is told one thing of one hand-over, by these contacts. `asks`: they are to accept it."""

    planned: Planned
    step: Step
    person: Person
    contacts: tuple[str, ...]
    asks: bool


def waits(planned: Planned, rota: Rota, now_ms: int) -> bool:
    """Tell whether a duty can still be accepted, and nobody has taken over meanwhile by a plan made after it."""
    duty = planned.duty
    if planned.cancelled or duty.accepted_ms is not None or (duty.end_ms is not None and duty.end_ms <= now_ms):
        return False
    force = duty_in_force(rota, now_ms)
    accepted_ms = None if force is None else force.accepted_ms
    replaced = force is not None and accepted_ms is not None and accepted_ms >= planned.planned_ms
    return not (replaced and force is not None and force.start_ms >= duty.start_ms)


def due(duties: Iterable[Planned], told: Mapping[tuple[int, Step], int], rota: Rota, now_ms: int) -> tuple[Notice, ...]:
    """Give what people have to be told now. `told` says when they were told what, by number and step."""
    found: list[Notice] = []
    for planned in duties:
        step = _step(planned, told, now_ms)
        if step is not None and waits(planned, rota, now_ms):
            found += _notices(planned, step, rota, now_ms)
    return tuple(found)


def called_first(duty: Duty, rota: Rota, now_ms: int) -> Person | None:
    """Give whoever is called first now, None where that is the successor already or nobody."""
    first = next(iter(on_duty(rota, now_ms).order), None)
    return None if first is None or first.id == duty.person else first


def predecessor(duty: Duty, rota: Rota, now_ms: int) -> Person | None:
    """Give whoever hands over: who is called first now, or was until the duty began; None where there is nobody else.

    Whoever goes away just when the duty begins is not called any more, and has to hear what becomes of it all the same.
    """
    return called_first(duty, rota, now_ms) or called_first(duty, rota, min(now_ms, duty.start_ms - 1))


def _step(planned: Planned, told: Mapping[tuple[int, Step], int], now_ms: int) -> Step | None:
    asked_ms = told.get((planned.number, Step.ASKED))
    if asked_ms is None:
        ask_ms = max(planned.planned_ms, planned.duty.start_ms - ASK_AHEAD_MS)
        return Step.ASKED if now_ms >= ask_ms else None
    late = now_ms >= max(planned.duty.start_ms, asked_ms + PATIENCE_MS)
    return Step.LATE if late and (planned.number, Step.LATE) not in told else None


def _notices(planned: Planned, step: Step, rota: Rota, now_ms: int) -> list[Notice]:
    """The second time the successor is asked by every contact: the first message may have been missed."""
    successor = rota.person(planned.duty.person)
    usable = tuple(each.id for each in successor.usable)
    found = [Notice(planned, step, successor, usable[:1] if step is Step.ASKED else usable, asks=True)]
    before = predecessor(planned.duty, rota, now_ms)
    if step is Step.LATE and before is not None:
        found.append(Notice(planned, step, before, tuple(each.id for each in before.usable[:1]), asks=False))
    return found
