"""Nights with a known truth, written into a real journal as the service writes them, and looked at while they pass."""

import bisect
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from config.words import AlarmKind, Priority
from daemon.alarms.delivery import MessageKind, MessageStatus, OutgoingMessage
from daemon.review.values import Fact, FactKind, Incident
from daemon.review_incidents import IncidentDesk
from daemon.review_keeper import IncidentKeeper
from daemon.storage import alarm_log, clock_steps, outbox, runs, samples
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.clock_steps import ClockStep
from daemon.storage.journal import Journal
from daemon.storage.outbox import OutboxMessage
from sensors.reading import Reading
from tests.standing.powered import AIR, BOX, DOOR, MAINS, NORTH_MAINS, ROOM, SOUTH, SOUTH_DOOR, Powered, powered

MINUTE_MS, HOUR_MS = 60_000, 3_600_000
EVENING_MS = 1_780_005_600_000
"""2026-05-28 22:00:00 UTC"""
ALL = (AIR, BOX, SOUTH, ROOM, MAINS, NORTH_MAINS, DOOR, SOUTH_DOOR)
EVERY_MS = {MAINS: 10_000, NORTH_MAINS: 10_000}
PRESENT = {MAINS: 1.0, NORTH_MAINS: 1.0, DOOR: 0.0, SOUTH_DOOR: 0.0}


def at(hour: int, minute: int = 0, second: int = 0) -> int:
    """A moment of the night: 22:00 is its begin, hours before that are of the next morning."""
    return EVENING_MS + ((hour - 22) % 24 * 60 + minute) * MINUTE_MS + second * 1000


@dataclass
class Night:
    """What happens is noted with its time and written once the clock of the night has come there."""

    powered: Powered
    now_ms: int = EVENING_MS
    coming: list[tuple[int, int, Callable[[], object]]] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    run_id: int = 0

    def __post_init__(self) -> None:
        self.journal: Journal = self.powered.journal
        self.keeper = IncidentKeeper(self.journal, self.powered.site, lambda: self.now_ms)
        self.desk = IncidentDesk(self.journal, lambda: self.now_ms)

    def then(self, at_ms: int, what: Callable[[], object]) -> None:
        """Let something happen at a moment."""
        self.coming.append((at_ms, len(self.coming), what))

    def speaks(self, channel: str, start_ms: int, end_ms: int, value: float | None = None, came_ms: int = 0) -> None:
        """A reading in each interval from start to before end; with `came_ms` all of them come afterwards, then."""
        said = PRESENT.get(channel, 28.0) if value is None else value
        for moment in range(start_ms, end_ms, EVERY_MS.get(channel, MINUTE_MS)):
            self.readings.append(Reading(channel, moment, came_ms or moment + 40, said, 0))

    def all_speak(self, start_ms: int, end_ms: int, *, but: tuple[str, ...] = (), came_ms: int = 0) -> None:
        """All channels but some."""
        for channel in ALL:
            if channel not in but:
                self.speaks(channel, start_ms, end_ms, came_ms=came_ms)

    def runs(
        self, start_ms: int, alive_ms: int, boot: str, *, ended: bool = False, shown_ms: int | None = None
    ) -> None:
        """The service ran; `shown_ms` is what its clock showed at the start, where that was another moment."""

        def start() -> None:
            shown = start_ms if shown_ms is None else shown_ms
            self.run_id = self.journal.write(lambda conn: runs.begin_run(conn, shown, "test", boot))

        def end() -> None:
            done = runs.end_run if ended else runs.touch_run
            self.journal.write(lambda conn: done(conn, self.run_id, alive_ms))

        self.then(start_ms, start)
        self.then(alive_ms, end)

    def clock_set(self, at_ms: int, by_ms: int) -> None:
        """The clock was set and then showed `at_ms`."""
        self.then(
            at_ms,
            lambda: self.journal.write(lambda conn: clock_steps.append(conn, ClockStep(at_ms, by_ms, self.run_id))),
        )

    def alarm(
        self, kind: AlarmKind, subject: str, since_ms: int, cleared_ms: int | None, *, after_ms: int = 0,
        limit: float | None = None, reason: str = "it holds",
    ) -> None:  # fmt: skip
        """An alarm was raised `after_ms` after its condition began, and cleared."""
        key = f"{kind}:{subject}"
        events = [(since_ms + after_ms, "raised")] + ([(cleared_ms, "cleared")] if cleared_ms is not None else [])
        for moment, word in events:
            event = AlarmEvent(moment, moment, key, f"{key}:{since_ms}", word, None, limit, reason)
            self.then(
                moment,
                lambda each=event: self.journal.write(lambda conn: alarm_log.append_event(conn, each)),  # type: ignore[misc]
            )

    def call(self, at_ms: int, contact: str, occurrence: str) -> str:
        """A message that calls somebody; gives its id."""
        message = OutgoingMessage(
            message_id=f"{contact}|{at_ms}", kind=MessageKind.ALARM, status=MessageStatus.ACTUAL, site="Test house",
            place="North cabinet", priority=Priority.CRITICAL, headline="hot", body="hot", occurrence=occurrence,
        )  # fmt: skip
        row = OutboxMessage(message.message_id, contact, 1, at_ms, message.to_json(), f"{occurrence}@{at_ms}")
        self.then(at_ms, lambda: self.journal.write(lambda conn: outbox.enqueue(conn, [row])))
        return message.message_id

    def attempt(self, message_id: str, at_ms: int, state: outbox.State, error: str = "") -> None:
        """An attempt to deliver it."""
        self.then(
            at_ms,
            lambda: self.journal.write(
                lambda conn: outbox.record_attempt(conn, message_id, state, at_ms, at_ms + 1, error)
            ),
        )

    def pass_to(self, now_ms: int, look_every_ms: int | None = None) -> list[Incident]:
        """Let time pass; look now and then on the way, where the service runs, and at the end. Gives all incidents."""
        self.coming.sort(key=lambda each: each[:2])
        self.readings.sort(key=lambda reading: reading.received_at_ms)
        while self.now_ms < now_ms:
            self.now_ms = now_ms if look_every_ms is None else min(self.now_ms + look_every_ms, now_ms)
            while self.coming and self.coming[0][0] <= self.now_ms:
                self.coming.pop(0)[2]()
            self._store()
            if look_every_ms is not None:
                self.look()
        return self.look()

    def look(self) -> list[Incident]:
        """Let the keeper look until it has seen all."""
        while self.keeper.look():
            pass
        return self.desk.incidents(0, self.now_ms + HOUR_MS)

    def _store(self) -> None:
        """Store the readings that have come by now."""
        come = bisect.bisect_right(self.readings, self.now_ms, key=lambda reading: reading.received_at_ms)
        batch, self.readings = self.readings[:come], self.readings[come:]
        self.journal.write(lambda conn: samples.append(conn, self.powered.ids, batch))


def kinds(incident: Incident) -> set[FactKind]:
    """The kinds of its facts."""
    return {fact.kind for fact in incident.facts}


def fact_of(incident: Incident, kind: FactKind) -> Fact:
    """Its only fact of a kind."""
    (found,) = (fact for fact in incident.facts if fact.kind is kind)
    return found


def only(incidents: list[Incident]) -> Incident:
    """The one that there is."""
    (one,) = incidents
    return one


def said(incident: Incident) -> str:
    """Its evidence, as people read it."""
    return " ".join(incident.evidence)


@contextmanager
def night(folder: Path, without: frozenset[str] = frozenset()) -> Iterator[Night]:
    """A site with two incubators, thermometers, contacts of mains and doors; ten o'clock in the evening."""
    with powered(folder, without) as house:
        yield Night(house)
