"""What is sent by the calendar: the test of the week and the digest of the day. A thread of its own.

Both go into the outbox, each in one transaction, under names that follow from the date. A kill at any moment leaves all
of one or nothing of it, and the next start writes what is missing and nothing twice. It waits by real time and asks the
service's clock, so that a clock that is set holds nothing up. A digest may read for seconds; no alarm waits for it.
"""

import logging
import sqlite3
import threading
from collections.abc import Callable, Mapping
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo

from config.settings import Settings
from config.site import Site
from config.species import SpeciesProfile
from daemon.alarms.delivery import MessageStatus
from daemon.alarms.occasions import is_to_be_sent, newest_daily, newest_weekly
from daemon.clock import Clock
from daemon.digest import DigestReader, DigestWriter, RoundLines, no_rounds
from daemon.overview import Overview
from daemon.rota import DeadContacts
from daemon.storage import outbox, runs
from daemon.storage.journal import Journal, JournalError
from daemon.undelivered import dead_contacts
from daemon.weekly_test import WeeklyTest

log = logging.getLogger("clutchwarden.letters")

LOOK_EVERY_S = 20.0
TEST_LATE_MS = 3 * 24 * 3_600_000
"""So late a test is still sent where the service was off; after that the next one is near enough."""
DIGEST_LATE_MS = 12 * 3_600_000
"""So late a digest is still news, and does not come in the middle of the night. Project choice."""
QUIET_START_S = 60.0
"""Real seconds at the beginning of a demo in which nothing is sent by the calendar: first of all comes the alarm."""


class Letter(NamedTuple):
    """What is to be written, and for which week or day."""

    what: Literal["test", "digest"]
    occasion: str


class Letters:
    """Looks again and again, once `start` was called. `written` is called after messages were put into the outbox."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        test: WeeklyTest,
        reader: DigestReader,
        writer: DigestWriter,
        overview: Callable[[], Overview],
        clock: Clock,
        written: Callable[[], None],
    ) -> None:
        self._journal = journal
        self._site = site
        self._zone = ZoneInfo(site.time_zone)
        self._test, self._reader, self._writer = test, reader, writer
        self._overview = overview
        self._clock = clock
        self._written = written
        self._has_contacts = any(person.contacts for person in site.people)
        self._done: set[Letter] = set()
        self._from_ms: int | None = None
        quiet_ms = 0 if clock.rate == 1 else round(QUIET_START_S * 1000 * clock.rate)
        self._quiet_until_ms = clock.now_ms() + quiet_ms if quiet_ms else None
        self._told = ""
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="letters", daemon=True)

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self, seconds: float = 10.0) -> None:
        """End; what was not written yet is written by the next run."""
        self._stopping.set()
        if self._thread.ident is not None:
            self._thread.join(seconds)

    @property
    def alive(self) -> bool:
        """True as long as its thread runs."""
        return self._thread.is_alive()

    def due(self, now_ms: int) -> tuple[Letter, ...]:
        """What is to be written now and was not yet, as far as this run knows. Raises JournalError."""
        if not self._has_contacts or (self._quiet_until_ms is not None and now_ms < self._quiet_until_ms):
            return ()
        times, from_ms, wanted = self._site.messages, self._counts_from_ms(now_ms), []
        if times.test:
            test = newest_weekly(now_ms, times.test_day, times.test_time, self._zone)
            if is_to_be_sent(test, now_ms, from_ms, TEST_LATE_MS):
                wanted.append(Letter("test", test.name))
        if times.digest:
            digest = newest_daily(now_ms, times.digest_time, self._zone)
            if is_to_be_sent(digest, now_ms, from_ms, DIGEST_LATE_MS):
                wanted.append(Letter("digest", digest.name))
        return tuple(one for one in wanted if one not in self._done)

    def look(self) -> bool:
        """Write what is due; True where something was written. What fails is logged once, and tried again."""
        now_ms, wrote, trouble = self._clock.now_ms(), False, ""
        try:
            letters = self.due(now_ms)
        except JournalError as error:
            self._tell(str(error))
            return False
        except Exception as error:
            if not self._told:
                log.exception("What is to be sent by the calendar could not be found out.")
            self._tell(f"a fault in the program ({type(error).__name__})")
            return False
        for one in letters:
            try:
                wrote |= self._write_test(one, now_ms) if one.what == "test" else self._write_digest(one, now_ms)
                self._done.add(one)
            except JournalError as error:
                trouble = str(error)
            except Exception as error:
                # Nothing may end this: without tests nobody learns that alerts do not arrive any more.
                trouble = f"a fault in the program ({type(error).__name__})"
                if trouble != self._told:
                    log.exception("The %s of %s could not be written.", one.what, one.occasion)
        self._tell(trouble)
        if wrote:
            self._written()
        return wrote

    def _write_test(self, letter: Letter, now_ms: int) -> bool:
        count = self._journal.write(lambda conn: self._test.store(conn, letter.occasion, now_ms))
        if count:
            log.info("The test of the week %s goes to %d contacts.", letter.occasion, count)
        return bool(count)

    def _write_digest(self, letter: Letter, now_ms: int) -> bool:
        day = letter.occasion
        with self._journal.read() as conn:
            people = self._writer.missing(conn, day)
        if not people:
            return False
        overview = self._overview()
        with self._journal.read() as conn:
            digest = self._reader.read(conn, overview, now_ms)

        def store(conn: sqlite3.Connection) -> None:
            outbox.enqueue(conn, self._writer.messages(conn, people, digest, day))

        self._journal.write(store)
        log.info("The digest of %s goes to %d people.", day, len(people))
        return True

    def _counts_from_ms(self, now_ms: int) -> int:
        """What fell before the first start of all is not late. A first start with a clock far ahead counts from now."""
        if self._from_ms is None:
            with self._journal.read() as conn:
                first_ms = runs.first_start_ms(conn)
            self._from_ms = now_ms if first_ms is None else first_ms
        self._from_ms = min(self._from_ms, now_ms)
        return self._from_ms

    def _run(self) -> None:
        while not self._stopping.wait(LOOK_EVERY_S / min(self._clock.rate, LOOK_EVERY_S)):
            self.look()

    def _tell(self, trouble: str) -> None:
        if trouble and trouble != self._told:
            log.error("A test or a digest could not be written, and is tried again: %s", trouble)
        self._told = trouble


def letters_of(
    journal: Journal,
    site: Site,
    profiles: Mapping[str, SpeciesProfile],
    settings: Settings,
    overview: Callable[[], Overview],
    clock: Clock,
    written: Callable[[], None],
    status: MessageStatus = MessageStatus.ACTUAL,
    rounds: RoundLines = no_rounds,
    dead: DeadContacts = dead_contacts,
) -> Letters:
    """Put them together for one site. `dead` are contacts whose receiver says that the address is gone."""
    return Letters(
        journal,
        site,
        WeeklyTest(site, settings.web.public_url),
        DigestReader(site, profiles, int(settings.heat.longest_bridge_s * 1000), rounds),
        DigestWriter(site, status, dead),
        overview,
        clock,
        written,
    )
