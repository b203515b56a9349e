"""What people who were called see and answer, by the link of a message or at the first page.

Looking changes nothing. An answer is for the alarms as the link says; what has changed since refuses it, is shown as it
is now, and can be answered by another link.
"""

import sqlite3
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from config.words import AlarmKind
from daemon.alarm_desk import Desk
from daemon.alarm_desk_values import Entry, Seen
from daemon.alarms.definitions import tuned
from daemon.alarms.delivery import MessageStatus
from daemon.alarms.events import Acknowledge
from daemon.alarms.wording import Stage, alert_text
from daemon.alarms.wrong import WRONG
from daemon.alerts import AlertWriter
from daemon.answer_values import AT_THE_PAGE, Called, CalledAlarm, Wish, person_name
from daemon.clutches import register
from daemon.desk_work import DeskWork, Done
from daemon.duty_desk import DutyDesk
from daemon.occupancy import Occupancy
from daemon.storage import alarm_links
from daemon.storage.alarm_links import AlarmLink
from daemon.storage.journal import Journal

LONGEST_NOTE = 500


class AnswerDesk:
    """Looks and answers for one site. Safe to use from any thread. `answered` is called after every answer."""

    def __init__(
        self,
        journal: Journal,
        work: DeskWork,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        now_ms: Callable[[], int],
        answered: Callable[[], None] = lambda: None,
    ) -> None:
        self._journal = journal
        self._site = site
        self._places = Places(site)
        self._profiles = profiles
        self._work = work
        self._writer = AlertWriter(site, self._places, MessageStatus.ACTUAL)
        self._now_ms = now_ms
        self._answered = answered
        self._names = {person.id: person.name for person in site.people}
        self._duty = DutyDesk(journal, work.duty, site, now_ms, answered)

    @property
    def duty(self) -> DutyDesk:
        """Where the links lead that ask to take over a duty."""
        return self._duty

    def look(self, token: str) -> Called | None:
        """What a link is about, as it is now; None where it is unknown, malformed or too old. Raises JournalError."""
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            link = self._link(conn, token, now_ms)
            return None if link is None else self._called(conn, link, token, now_ms)

    def press(self, token: str, wish: Wish, note: str) -> Called | None:
        """Answer by a link; None as with `look`. Raises JournalError."""
        now_ms = self._now_ms()

        def answer(conn: sqlite3.Connection) -> tuple[AlarmLink, list[Done], str] | None:
            link = self._link(conn, token, now_ms)
            if link is None:
                return None
            if wish is Wish.CANNOT:
                return link, self._work.cannot(conn, link.alarms, link.person, now_ms), token
            done = self._acknowledge(conn, link.alarms, link.person, note, now_ms)
            return link, done, self._next_token(conn, link, token, now_ms)

        answered = self._journal.write(answer)
        if answered is None:
            return None
        self._answered()
        link, done, next_token = answered
        with self._journal.read() as conn:
            called = self._called(conn, link, next_token, now_ms, done)
        return replace(called, wish=wish, accepted=bool(done) and all(each.accepted for each in done))

    def press_here(self, seen: Seen, note: str, who: str = AT_THE_PAGE) -> Called:
        """Acknowledge one alarm at the first page, as whoever is signed in there. Raises JournalError."""
        now_ms = self._now_ms()
        done = self._journal.write(lambda conn: self._acknowledge(conn, [seen], who, note, now_ms))
        self._answered()
        link = AlarmLink("", who, (seen,), now_ms, now_ms)
        with self._journal.read() as conn:
            called = self._called(conn, link, "", now_ms, done)
        return replace(called, wish=Wish.ACKNOWLEDGE, accepted=all(each.accepted for each in done))

    def _link(self, conn: sqlite3.Connection, token: str, now_ms: int) -> AlarmLink | None:
        link = alarm_links.find(conn, token, now_ms)
        # Whoever is not of the site any more was called, and has nothing to say here.
        return link if link is not None and link.person in self._names else None

    def _acknowledge(
        self, conn: sqlite3.Connection, seen: Iterable[Seen], who: str, note: str, now_ms: int
    ) -> list[Done]:
        note = note[:LONGEST_NOTE]
        events = {each.key: Acknowledge(who, each.occurrence, each.version, note) for each in seen}
        return self._work.do(conn, events, now_ms)

    def _next_token(self, conn: sqlite3.Connection, link: AlarmLink, token: str, now_ms: int) -> str:
        """Give the token to answer with next: another link where something waits that this one is not good for."""
        desk = self._work.read(conn)
        waiting = [_seen(key, desk.entries[key]) for key in _keys(desk, link) if _waits(desk, key)]
        if set(waiting) <= set(link.alarms):
            return token
        next_token, row = alarm_links.new_link(link.person, waiting, now_ms, link.expires_at_ms)
        alarm_links.store(conn, [row])
        return next_token

    def _called(
        self, conn: sqlite3.Connection, link: AlarmLink, token: str, now_ms: int, done: Iterable[Done] = ()
    ) -> Called:
        desk = self._work.read(conn)
        occupancy = Occupancy(register.clutches(conn), self._places, self._profiles)
        results = {each.key: each for each in done}
        alarms = []
        for key in _keys(desk, link):
            entry = desk.entries.get(key)
            alarm = self._over(key) if entry is None else self._alarm(conn, key, entry, occupancy, now_ms)
            if alarm is None:
                continue
            newer = alarm.seen is not None and alarm.waits and alarm.seen not in link.alarms
            said = _said(results[key], alarm) if key in results else ""
            alarms.append(replace(alarm, is_newer=newer, said=said))
        alarms.sort(key=lambda each: (not each.waits, each.priority))
        person = self._names.get(link.person, "")
        return Called(person, self._site.time_zone, now_ms, tuple(alarms), token)

    def _alarm(
        self, conn: sqlite3.Connection, key: str, entry: Entry, occupancy: Occupancy, now_ms: int
    ) -> CalledAlarm:
        state, raised = entry.state, entry.raised
        facts = self._writer.facts(conn, replace(raised, value=None), occupancy, now_ms)
        facts = replace(facts, stage=Stage.RAISED if state.in_alarm else Stage.CLEARED, ended_ms=state.returned_ms)
        return CalledAlarm(
            key=key,
            kind=raised.kind,
            priority=facts.definition.priority,
            headline=alert_text(facts).headline,
            state=state.shown.value,
            in_alarm=state.in_alarm,
            since_ms=raised.since_ms if state.since_ms is None else state.since_ms,
            acknowledged_by=person_name(self._names, state.acknowledged_by),
            shelved_until_ms=None if state.shelf is None else state.shelf.until_ms,
            first_action=facts.definition.first_action if state.in_alarm else "",
            caution=". ".join(filter(None, (facts.must_say, facts.caution))),
            seen=_seen(key, entry),
            waits=state.memory.waits_for_a_person,
        )

    def _over(self, key: str) -> CalledAlarm | None:
        """An alarm that the desk has forgotten: only its name is left. None for what is no name of one."""
        kind, _, channel = key.partition(":")
        probe = next((each for each in self._site.probes if each.id == channel.partition("/")[0]), None)
        if kind not in set(AlarmKind) or probe is None:
            return None
        what = AlarmKind(kind)
        headline = f"{self._places.name(probe.place)}: was {WRONG[what]}"
        return CalledAlarm(key, what, tuned(what, self._site.alarms).priority, headline, "over", in_alarm=False)


def _keys(desk: Desk, link: AlarmLink) -> dict[str, None]:
    """The alarms of a link, and whatever waits for a person in the same incidents."""
    keys = dict.fromkeys(each.key for each in link.alarms)
    for key in list(keys):
        incident = desk.book.holding(key)
        members = incident.members if incident is not None else ()
        keys |= dict.fromkeys(each for each in members if _waits(desk, each))
    return keys


def _waits(desk: Desk, key: str) -> bool:
    return key in desk.entries and desk.entries[key].state.memory.waits_for_a_person


def _seen(key: str, entry: Entry) -> Seen:
    return Seen(key, entry.state.occurrence, entry.state.version)


def _said(done: Done, alarm: CalledAlarm) -> str:
    """Say what became of an answer, as a sentence with names of people."""
    if done.accepted:
        is_note_alone = done.reason.startswith("note: ")
        return f"The note is kept with it; it is acknowledged by {alarm.acknowledged_by}." if is_note_alone else ""
    if alarm.state == "over":
        return "It is over; nothing is left to acknowledge."
    if alarm.acknowledged_by and not alarm.waits:
        return f"{alarm.acknowledged_by[:1].upper()}{alarm.acknowledged_by[1:]} has acknowledged it already."
    return f"{done.reason[:1].upper()}{done.reason[1:]}."
