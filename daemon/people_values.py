"""The people of a site as pages show them: who is called, how each is reached, and what is planned. Pure values.

No address is ever in any of it. Times are UTC ms.
"""

from dataclasses import dataclass
from datetime import time

from daemon.alarms.rota import Window
from daemon.duty_days import DutyDay


@dataclass(frozen=True, slots=True)
class AskedTest:
    """A test that somebody asked for: what became of its message, and when somebody said that it arrived."""

    sent_ms: int
    state: str
    attempts: int
    next_attempt_ms: int | None
    error: str
    confirmed_ms: int | None


@dataclass(frozen=True, slots=True)
class OpenTest:
    """The newest test of a contact, sent and not confirmed: whose phone shows it may say so. UTC ms."""

    message_id: str
    sent_ms: int


@dataclass(frozen=True, slots=True)
class ContactNow:
    """One way to a person. `failing_since_ms` and `error` tell of the last attempts, where they failed.

    `tested_ms` is when the newest weekly test was sent, `confirmed_ms` when somebody last said that a test arrived.
    """

    contact: str
    number: int
    kind: str
    signed: bool
    tested_ms: int | None
    confirmed_ms: int | None
    failing_since_ms: int | None = None
    gone: bool = False
    error: str = ""
    asked: AskedTest | None = None
    open_test: OpenTest | None = None


@dataclass(frozen=True, slots=True)
class PersonNow:
    """One person. `place` is where in the order they are called now, from 0; None where they are not."""

    person: str
    name: str
    emergency: bool
    place: int | None
    away_until_ms: int | None
    contacts: tuple[ContactNow, ...]


@dataclass(frozen=True, slots=True)
class DutyNow:
    """A planned duty, or an absence where `is_absence`; `state` in the words of the command."""

    number: int
    is_absence: bool
    person: str
    name: str
    second: str
    start_ms: int
    end_ms: int | None
    state: str
    why: str
    waits: bool = False


@dataclass(frozen=True, slots=True)
class PeopleNow:
    """All of it at one moment. `tests_weekly` and `has_links`: as the site and settings state.

    `entries` are the duties and absences that are not over or cancelled, in order of time. `thin` are stretches ahead
    with one person or nobody.
    """

    now_ms: int
    site_name: str
    time_zone: str
    tests_weekly: bool
    has_links: bool
    people: tuple[PersonNow, ...]
    order: tuple[str, ...]
    reason: str
    quiet: tuple[time, time] | None
    quiet_until_ms: int | None
    entries: tuple[DutyNow, ...]
    thin: tuple[Window, ...]
    days: tuple[DutyDay, ...]

    def name(self, person: str) -> str:
        """Give the name of a person by id; the id itself where there is nobody of it."""
        return next((each.name for each in self.people if each.person == person), person)
