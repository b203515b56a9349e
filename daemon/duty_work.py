"""What people do about the duty rota, by a page or a command: checked against the rota as it is, and written down.

Every function works inside the caller's transaction and raises StatedError with nothing changed.
"""

import sqlite3
from collections.abc import Sequence
from zoneinfo import ZoneInfo

from config.errors import StatedError
from config.site import Site
from daemon.alarms import hand_over, people
from daemon.alarms.delivery import MessageStatus
from daemon.alarms.hand_over import Planned
from daemon.alarms.people import Rota, duty_in_force
from daemon.alarms.rota import check_change, moment_text
from daemon.hand_over_messages import HandOverMessages, subject
from daemon.rota import KnownRota, Rotas, known_rota
from daemon.storage import duties, outbox
from daemon.storage.duties import NewEntry, PlannedAbsence

LOOKED_AHEAD_MS = 30 * 86_400_000
"""A rota is checked so far beyond everything that is planned in it: somebody has to follow."""
_LOOK = "See what is planned with: clutchwarden duty list."


class DutyWork:
    """Works on the rota of one site."""

    def __init__(self, site: Site, rotas: Rotas, status: MessageStatus = MessageStatus.ACTUAL) -> None:
        self._site = site
        self._rotas = rotas
        self._zone = ZoneInfo(site.time_zone)
        self._messages = HandOverMessages(site, status)

    def known(self, conn: sqlite3.Connection) -> KnownRota:
        """The rota as the journal has it."""
        return self._rotas.of(conn)

    def plan(self, conn: sqlite3.Connection, new: Sequence[NewEntry], now_ms: int) -> tuple[list[int], tuple[str, ...]]:
        """Enter duties or absences; gives their numbers, and a warning for each time with one person left."""
        before = self.known(conn)
        for each in new:
            self._require_callable(each.person)
            if each.second:
                self._require_callable(each.second)
            _refuse_unlikely(each, before.rota, now_ms)
            self._refuse_overlap(each, before)
        numbers = [duties.add(conn, each) for each in new]
        return numbers, self._check(conn, before.rota, now_ms)

    def cancel(self, conn: sqlite3.Connection, number: int, who: str, why: str, now_ms: int) -> tuple[str, ...]:
        """Take a duty or an absence out; gives a warning for each time with one person left."""
        before, entry = self.known(conn), self._entry(conn, number)
        if entry.cancelled:
            raise StatedError(f"number {number} was cancelled already", _LOOK)
        end_ms = entry.duty.end_ms if isinstance(entry, Planned) else entry.absence.end_ms
        force = duty_in_force(before.rota, now_ms)
        if any(each.number == number and each.duty is force for each in before.duties):
            raise StatedError(
                f"the duty under number {number} is in force, and calls would move to somebody who has not accepted",
                "Plan a duty for whoever takes over. If they cannot be reached meanwhile, enter an absence.",
            )
        if end_ms is not None and end_ms <= now_ms:
            raise StatedError(f"number {number} is over, so nothing is left to cancel", _LOOK)
        duties.cancelled(conn, number, now_ms, who, why)
        warnings = self._check(conn, before.rota, now_ms)
        if isinstance(entry, Planned):
            self._say_cancelled(conn, entry, before.rota, now_ms)
        return warnings

    def accept(self, conn: sqlite3.Connection, person: str, number: int | None, how: str, now_ms: int) -> Planned:
        """A person accepts a duty of theirs, without a number the one that begins first; gives it as it was.

        `how` says by what way they did. Whoever was on duty is told.
        """
        known = self.known(conn)
        planned = self._waiting(conn, known, person, number, now_ms)
        people.accept(known.rota, planned.duty, person, now_ms)
        duties.accepted(conn, planned.number, now_ms, person, how)
        outbox.supersede(conn, [subject(planned.number)])
        before = hand_over.predecessor(planned.duty, known.rota, now_ms)
        if before is not None:
            outbox.enqueue(conn, self._messages.taken(planned, known.rota.person(person), before, now_ms))
        return planned

    def _waiting(
        self, conn: sqlite3.Connection, known: KnownRota, person: str, number: int | None, now_ms: int
    ) -> Planned:
        self._require_callable(person)
        name = known.rota.person(person).name
        if number is None:
            waiting = (each for each in known.duties if hand_over.waits(each, known.rota, now_ms))
            mine = [each for each in waiting if each.duty.person == person]
            if not mine:
                raise StatedError(f"no duty of {name} waits to be accepted", _LOOK)
            return min(mine, key=lambda each: each.duty.start_ms)
        entry = self._entry(conn, number)
        if not isinstance(entry, Planned):
            raise StatedError(f"number {number} is an absence, and nobody accepts one", _LOOK)
        if entry.cancelled:
            raise StatedError(f"the duty under number {number} was cancelled", _LOOK)
        if entry.duty.accepted_ms is not None:
            raise StatedError(f"the duty under number {number} was accepted already", "Nothing is left to do.")
        return next((each for each in known.duties if each.number == number), entry)

    def _entry(self, conn: sqlite3.Connection, number: int) -> Planned | PlannedAbsence:
        found = duties.entries(conn)
        planned: list[Planned | PlannedAbsence] = [*found.duties, *found.absences]
        for each in planned:
            if each.number == number:
                return each
        raise StatedError(f"nothing is planned under number {number}", _LOOK)

    def _require_callable(self, person: str) -> None:
        stated = next((each for each in self._site.people if each.id == person), None)
        if stated is None:
            known = ", ".join(each.id for each in self._site.people) or "nobody"
            raise StatedError(f"there is no person {person!r} in site.toml", f"Use one of: {known}.")
        if not stated.contacts:
            reason = f"{stated.name} has no contact in site.toml, so nobody can call them"
            raise StatedError(reason, "Add [[person.contact]] to that person, and restart clutchwarden.")

    def _refuse_overlap(self, new: NewEntry, before: KnownRota) -> None:
        """Refuse a second duty inside one of the same person's: a slip of the date, and one more thing to accept.

        One without an end may be planned over: what is planned next then says when it ends.
        """
        for each in before.duties:
            duty, end_ms = each.duty, each.duty.end_ms
            if each.cancelled or new.is_absence or duty.person != new.person or end_ms is None or new.end_ms is None:
                continue
            if duty.start_ms < new.end_ms and new.start_ms < end_ms:
                start, end = (moment_text(moment, self._zone) for moment in (duty.start_ms, end_ms))
                name = next((one.name for one in self._site.people if one.id == new.person), new.person)
                reason = f"{name} is on duty already from {start} to {end} (number {each.number})"
                raise StatedError(reason, "Cancel that duty first, or plan one that does not lie over it.")

    def _check(self, conn: sqlite3.Connection, before: Rota, now_ms: int) -> tuple[str, ...]:
        after = known_rota(self._site, duties.entries(conn), self._rotas.dead(conn)).rota
        moments = [now_ms]
        for rota in (before, after):
            moments += [each.start_ms for each in rota.duties]
            moments += [each.end_ms for each in rota.duties if each.end_ms is not None]
            moments += [each.end_ms for each in rota.absences]
        return check_change(before, after, now_ms, max(moments) + LOOKED_AHEAD_MS, self._zone)

    def _say_cancelled(self, conn: sqlite3.Connection, planned: Planned, before: Rota, now_ms: int) -> None:
        """Whoever was asked, or has accepted, must not go on believing that they are on duty."""
        outbox.supersede(conn, [subject(planned.number)])
        person = next((each for each in before.people if each.id == planned.duty.person), None)
        asked = bool(duties.told(conn, [planned.number])) or planned.duty.accepted_ms is not None
        if person is not None and asked:
            outbox.enqueue(conn, self._messages.cancelled(planned, person, now_ms))


def _refuse_unlikely(new: NewEntry, rota: Rota, now_ms: int) -> None:
    what = "absence" if new.is_absence else "duty"
    if new.end_ms is not None and new.end_ms <= new.start_ms:
        raise StatedError(f"this {what} ends before it begins", "Give an end after the start.")
    if new.end_ms is not None and new.end_ms <= now_ms:
        raise StatedError(f"this {what} is over already", "Give a time that lies ahead.")
    if new.second == new.person:
        raise StatedError("the second person is the first", "Name somebody else, or leave the second person out.")
    entered = {(each.person, each.start_ms, each.end_ms, each.second) for each in rota.duties}
    if new.is_absence:
        entered = {(each.person, each.start_ms, each.end_ms, "") for each in rota.absences}
    if (new.person, new.start_ms, new.end_ms, new.second) in entered:
        raise StatedError(f"this {what} is planned already", _LOOK)
