"""Who can be reached, and who is on duty at a moment. Pure. Times are UTC ms.

A hand-over moves messages when the successor has accepted it, and not before: until then they stay with the person
before, also past the end of that duty. That a hand-over is two-way and ends with the acceptance of the person who takes
over is the advice of the UK HSE (human factors: shift handover).
"""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta, tzinfo

from config.errors import StatedError


@dataclass(frozen=True, slots=True)
class Contact:
    """One way to a person. `path` is what it depends on: two ways that share a path fail together."""

    id: str
    path: str = ""
    usable: bool = True
    """False where the receiver has said that the address is dead"""


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who is told; the contact that is tried first comes first."""

    id: str
    name: str
    contacts: tuple[Contact, ...]

    @property
    def usable(self) -> tuple[Contact, ...]:
        """The contacts that can work."""
        return tuple(each for each in self.contacts if each.usable)


@dataclass(frozen=True, slots=True)
class Duty:
    """A stretch of the duty rota. `end_ms` is None where nobody follows."""

    person: str
    start_ms: int
    end_ms: int | None = None
    second: str = ""
    """who is told when `person` does not acknowledge"""
    accepted_ms: int | None = None

    @property
    def in_force_from_ms(self) -> int | None:
        """When messages move to this person; None before the acceptance."""
        return None if self.accepted_ms is None else max(self.start_ms, self.accepted_ms)


@dataclass(frozen=True, slots=True)
class Absence:
    """A person cannot be reached in this stretch of time."""

    person: str
    start_ms: int
    end_ms: int


@dataclass(frozen=True, slots=True)
class QuietHours:
    """From one local time of day to another; past midnight where `end` is before `start`. Empty where equal."""

    start: time
    end: time
    zone: tzinfo

    def end_of_quiet_ms(self, now_ms: int) -> int | None:
        """Give the end of the quiet hours that `now_ms` lies in; None outside of them."""
        now = datetime.fromtimestamp(now_ms / 1000, UTC).astimezone(self.zone)
        for day in (now.date() - timedelta(days=1), now.date()):
            last_day = day + timedelta(days=1) if self.end < self.start else day
            start_ms = _moment_ms(datetime.combine(day, self.start, self.zone))
            end_ms = _moment_ms(datetime.combine(last_day, self.end, self.zone))
            if start_ms <= now_ms < end_ms:
                return end_ms
        return None


@dataclass(frozen=True, slots=True)
class Rota:
    """The people of a site and their duties. `standing` is the order that holds as long as no duty is in force."""

    people: tuple[Person, ...]
    standing: tuple[str, ...]
    duties: tuple[Duty, ...] = ()
    absences: tuple[Absence, ...] = ()
    emergency: tuple[str, ...] = ()
    """neighbour, veterinarian: told only when an alarm of priority 1 stays unacknowledged"""
    quiet: QuietHours | None = None

    def person(self, person_id: str) -> Person:
        """Give a person by id. Raises StatedError where there is none."""
        for each in self.people:
            if each.id == person_id:
                return each
        names = ", ".join(each.id for each in self.people)
        raise StatedError(f"the rota names {person_id}, who is not among the people", f"Use one of: {names}.")

    def can_be_reached(self, person_id: str, moment_ms: int) -> bool:
        """Tell whether a person has a usable contact and is not absent."""
        away = any(each.person == person_id and each.start_ms <= moment_ms < each.end_ms for each in self.absences)
        return not away and bool(self.person(person_id).usable)


@dataclass(frozen=True, slots=True)
class OnDuty:
    """Who is told first, second and so on; nobody twice. `waits_for` has to accept a hand-over that is due."""

    order: tuple[Person, ...]
    waits_for: Duty | None
    reason: str


def duty_in_force(rota: Rota, moment_ms: int) -> Duty | None:
    """Give the duty that messages follow: the one accepted last of those that have begun."""
    begun = [
        (each.in_force_from_ms, index)
        for index, each in enumerate(rota.duties)
        if each.in_force_from_ms is not None and each.in_force_from_ms <= moment_ms
    ]
    return rota.duties[max(begun)[1]] if begun else None


def on_duty(rota: Rota, moment_ms: int) -> OnDuty:
    """Work out who is told. Whoever is absent comes last and not never: somebody has to be called."""
    duty = duty_in_force(rota, moment_ms)
    first = (duty.person, duty.second) if duty else ()
    names = dict.fromkeys(name for name in (*first, *rota.standing) if name)
    here = [name for name in names if rota.can_be_reached(name, moment_ms)]
    order = here or [name for name in names if rota.person(name).usable]
    after_ms = duty.start_ms if duty else -1
    due = [each for each in rota.duties if each.accepted_ms is None and after_ms < each.start_ms <= moment_ms]
    waits_for = max(due, key=lambda each: each.start_ms, default=None)
    if waits_for is not None:
        who = rota.person(waits_for.person).name
        reason = f"{who} has not accepted the hand-over"
        if order[:1] != [waits_for.person]:
            reason += "; messages stay where they were"
    elif not here:
        reason = "nobody can be reached by the rota; everybody is told"
    else:
        reason = "by the duty rota" if duty else "by the standing order"
    return OnDuty(tuple(rota.person(name) for name in order), waits_for, reason)


def told_once(rota: Rota, moment_ms: int) -> tuple[Person, ...]:
    """Work out whom a message goes to that nobody climbs a ladder for: whoever is on duty first.

    Where nobody can be reached by the rota everybody is told, as of an alarm; where it leaves nobody at all, the
    emergency contacts are.
    """
    order = on_duty(rota, moment_ms).order
    if order and rota.can_be_reached(order[0].id, moment_ms):
        return order[:1]
    emergency = tuple(rota.person(name) for name in rota.emergency)
    return order or tuple(each for each in emergency if each.usable)


def accept(rota: Rota, duty: Duty, who: str, now_ms: int) -> Rota:
    """Give the rota after the successor has accepted. Raises StatedError where somebody else does, or it is over."""
    if duty not in rota.duties:
        raise StatedError("that hand-over is not in the rota any more", "Look at the rota and accept what it shows.")
    if who != duty.person:
        name = rota.person(duty.person).name
        raise StatedError(
            f"only {name} can accept this hand-over", f"Ask {name}; until then messages stay as they are."
        )
    if duty.end_ms is not None and now_ms >= duty.end_ms:
        raise StatedError("this duty is over already", "Enter a new one that lies ahead.")
    if duty.accepted_ms is not None:
        return rota
    accepted = replace(duty, accepted_ms=now_ms)
    return replace(rota, duties=tuple(accepted if each == duty else each for each in rota.duties))


def _moment_ms(moment: datetime) -> int:
    return round(moment.astimezone(UTC).timestamp() * 1000)
