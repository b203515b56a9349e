"""People, rota and tests as a page shows and changes them. Looking changes nothing."""

import secrets
import sqlite3
from collections.abc import Callable, Sequence
from zoneinfo import ZoneInfo

from config.errors import StatedError
from config.site import Person, Site
from daemon.alarms.people import on_duty
from daemon.alarms.rota import thin_windows
from daemon.alarms.trial import trial_message
from daemon.contacts import contact_ids, names_by_contact
from daemon.duty_days import DAYS_AHEAD, days_ahead
from daemon.duty_text import absence_state, duty_state
from daemon.duty_work import DutyWork
from daemon.people_values import AskedTest, ContactNow, DutyNow, OpenTest, PeopleNow, PersonNow
from daemon.rota import KnownRota
from daemon.storage import deliveries, duties, outbox, trials
from daemon.storage.deliveries import Failing
from daemon.storage.duties import NewEntry
from daemon.storage.journal import Journal
from daemon.storage.outbox import OutboxMessage
from daemon.storage.trials import Trial
from daemon.weekly_test import LINK_PATH

TEST_SHOWN_MS = 24 * 3_600_000
"""So long what became of a test that somebody asked for is shown."""
PAUSE_MS = 60_000
"""Between two tests to one contact, so that a thumb that presses twice sends one. Project choice."""
_DAY_MS = 86_400_000
_OVER = ("over", "cancelled")


class PeopleDesk:
    """Looks and acts for one site. Safe to use from any thread. `changed` is called after messages were written."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        work: DutyWork,
        now_ms: Callable[[], int],
        changed: Callable[[], None],
        public_url: str | None = None,
    ) -> None:
        self._journal = journal
        self._site = site
        self._zone = ZoneInfo(site.time_zone)
        self._work = work
        self._now_ms = now_ms
        self._changed = changed
        self._public_url = public_url

    def look(self) -> PeopleNow:
        """Everything as it is now. Raises JournalError."""
        now_ms, site = self._now_ms(), self._site
        with self._journal.read() as conn:
            known, entries = self._work.known(conn), duties.entries(conn)
            failing = {each.contact: each for each in deliveries.failing(conn)}
            order = [person.id for person in on_duty(known.rota, now_ms).order]
            people = tuple(self._person(conn, each, known, order, failing, now_ms) for each in site.people)
        rota = known.rota
        quiet = site.quiet
        return PeopleNow(
            now_ms=now_ms,
            site_name=site.name,
            time_zone=site.time_zone,
            tests_weekly=site.messages.test,
            has_links=self._public_url is not None,
            people=people,
            order=tuple(order),
            reason=on_duty(rota, now_ms).reason,
            quiet=None if quiet is None else (quiet.start, quiet.end),
            quiet_until_ms=None if rota.quiet is None else rota.quiet.end_of_quiet_ms(now_ms),
            entries=self._entries(entries, known, now_ms),
            thin=thin_windows(rota, now_ms, now_ms + DAYS_AHEAD * _DAY_MS) if rota.people else (),
            days=days_ahead(rota, now_ms, self._zone),
        )

    def send_test(self, wanted: str, asked_by: str) -> None:
        """Send a TEST message to a contact, or every contact of a person, by id. Raises StatedError, JournalError."""
        now_ms = self._now_ms()
        chosen = self._contacts(wanted)
        messages: list[OutboxMessage] = []

        def enter(conn: sqlite3.Connection) -> None:
            for contact, person in chosen:
                before = trials.last_asked(conn, contact, now_ms - PAUSE_MS, now_ms)
                if before is not None:
                    reason = f"a test went to {names_by_contact(self._site)[contact]} less than a minute ago"
                    raise StatedError(reason, "Look at the phone first, then try again.")
                messages.append(self._test(conn, contact, person, asked_by, now_ms))
            outbox.enqueue(conn, messages)

        self._journal.write(enter)
        self._changed()

    def say_arrived(self, person: str, contact: str, message_id: str) -> None:
        """A person says that the newest test of one of their contacts arrived. Raises StatedError, JournalError."""
        now_ms = self._now_ms()

        def press(conn: sqlite3.Connection) -> None:
            found = _open_test(conn, contact, now_ms)
            own = any(each.id == person and contact in contact_ids(each) for each in self._site.people)
            if not own or found is None or found.message_id != message_id:
                reason = "this is not the newest test that was sent to you, or it was confirmed already"
                raise StatedError(reason, "Look at the page as it is now, and send another test where it helps.")
            trials.confirm(conn, message_id, now_ms, person, "page")

        self._journal.write(press)

    def plan(self, new: Sequence[NewEntry]) -> None:
        """Enter duties or absences, all or none. Raises StatedError, JournalError."""
        now_ms = self._now_ms()
        self._journal.write(lambda conn: self._work.plan(conn, new, now_ms))
        self._changed()

    def accept(self, person: str, number: int, how: str) -> None:
        """A person takes over. Raises StatedError, JournalError."""
        now_ms = self._now_ms()
        self._journal.write(lambda conn: self._work.accept(conn, person, number, how, now_ms))
        self._changed()

    def cancel(self, number: int, who: str, why: str) -> None:
        """Take out what was planned. Raises StatedError, JournalError."""
        now_ms = self._now_ms()
        self._journal.write(lambda conn: self._work.cancel(conn, number, who, why, now_ms))
        self._changed()

    def _test(self, conn: sqlite3.Connection, contact: str, person: Person, by: str, now_ms: int) -> OutboxMessage:
        message_id = secrets.token_hex(12)
        token = "" if self._public_url is None else trials.new_token()
        trials.add(conn, Trial(message_id, contact, person.id, trials.ASKED, now_ms), token)
        link = f"{self._public_url}{LINK_PATH}/{token}" if token else ""
        message = trial_message(self._site.name, person.name, message_id, by, link)
        return OutboxMessage(message_id, contact, int(message.priority), now_ms, message.to_json())

    def _contacts(self, wanted: str) -> list[tuple[str, Person]]:
        for person in self._site.people:
            ways = contact_ids(person)
            if wanted == person.id and ways:
                return [(each, person) for each in ways]
            if wanted in ways:
                return [(wanted, person)]
        raise StatedError("there is nobody of that name who has a contact", "Choose again; the site file has changed.")

    def _person(
        self,
        conn: sqlite3.Connection,
        person: Person,
        known: KnownRota,
        order: Sequence[str],
        failing: dict[str, Failing],
        now_ms: int,
    ) -> PersonNow:
        away = [
            each.end_ms
            for each in known.rota.absences
            if each.person == person.id and each.start_ms <= now_ms < each.end_ms
        ]
        contacts = tuple(
            self._contact(conn, person, number, failing.get(contact), now_ms)
            for number, contact in enumerate(contact_ids(person), start=1)
        )
        place = order.index(person.id) if person.id in order else None
        return PersonNow(person.id, person.name, person.emergency, place, max(away, default=None), contacts)

    def _contact(
        self, conn: sqlite3.Connection, person: Person, number: int, failing: Failing | None, now_ms: int
    ) -> ContactNow:
        contact, stated = contact_ids(person)[number - 1], person.contacts[number - 1]
        newest = trials.newest_weekly(conn, contact)
        return ContactNow(
            contact=contact,
            number=number,
            kind=stated.kind,
            signed=bool(stated.signing_key_file or stated.signing_key_variable),
            tested_ms=None if newest is None else newest.sent_at_ms,
            confirmed_ms=trials.last_confirmed_ms(conn, contact),
            failing_since_ms=None if failing is None else failing.since_ms,
            gone=failing is not None and failing.gone,
            error="" if failing is None else failing.error,
            asked=_asked(conn, contact, now_ms),
            open_test=_open_test(conn, contact, now_ms),
        )

    def _entries(self, entries: duties.Entries, known: KnownRota, now_ms: int) -> tuple[DutyNow, ...]:
        names = {person.id: person.name for person in self._site.people}
        found = []
        for planned in entries.duties:
            duty, state = planned.duty, duty_state(planned, known, now_ms)
            second = names.get(duty.second, duty.second)
            name = names.get(duty.person, duty.person)
            waits = state == "not accepted"
            found.append(
                DutyNow(
                    planned.number,
                    False,
                    duty.person,
                    name,
                    second,
                    duty.start_ms,
                    duty.end_ms,
                    state,
                    planned.why,
                    waits,
                )
            )
        for away in entries.absences:
            person, state = away.absence.person, absence_state(away, now_ms)
            span = (away.absence.start_ms, away.absence.end_ms)
            found.append(DutyNow(away.number, True, person, names.get(person, person), "", *span, state, away.why))
        shown = [each for each in found if each.state not in _OVER]
        return tuple(sorted(shown, key=lambda each: (each.start_ms, each.number)))


def _open_test(conn: sqlite3.Connection, contact: str, now_ms: int) -> OpenTest | None:
    trial = trials.newest(conn, contact)
    if trial is None or trial.confirmed_at_ms is not None or not 0 <= now_ms - trial.sent_at_ms < trials.GOOD_FOR_MS:
        return None
    fate = outbox.fate(conn, trial.message_id)
    # What nobody has accepted yet is on no phone.
    return OpenTest(trial.message_id, trial.sent_at_ms) if fate is None or fate.state == "delivered" else None


def _asked(conn: sqlite3.Connection, contact: str, now_ms: int) -> AskedTest | None:
    trial = trials.last_asked(conn, contact, now_ms - TEST_SHOWN_MS, now_ms)
    fate = None if trial is None else outbox.fate(conn, trial.message_id)
    if trial is None or fate is None:
        return None
    return AskedTest(
        trial.sent_at_ms, fate.state, fate.attempts, fate.next_attempt_at_ms, fate.error, trial.confirmed_at_ms
    )
