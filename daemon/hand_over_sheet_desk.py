"""Reads what the sheet of a hand-over is made of, and keeps the keeper's own words. Raises JournalError."""

import sqlite3
from collections.abc import Callable, Mapping
from zoneinfo import ZoneInfo

from config.site import Site
from config.species import SpeciesProfile
from daemon.alarm_board_values import AlarmList
from daemon.box_sheets import BoxSheets
from daemon.clutches import register
from daemon.hand_over_sheet import (
    HandOver,
    Note,
    Seen,
    boxes_of,
    due_of,
    hatching_of,
    mistake_in_note,
    venomous_of,
)
from daemon.overview import Overview
from daemon.people_values import PeopleNow
from daemon.round_sooner import SoonerChecks
from daemon.rounds.need import CareTimes, need_of
from daemon.rounds_now import due_by
from daemon.storage import audit, calibrations, hand_over_notes
from daemon.storage.audit import Change
from daemon.storage.journal import Journal
from sensors.calibration import stated_of

SHEETS_EVERY_MS = 300_000
"""What was measured of boxes is worked out anew so often; alarms are as they are now. Project choice."""
OUTDATED = "Somebody else changed this since the page was made. Their words are shown above; yours are still below."


class HandOverDesk:
    """For one site. Safe to use from any thread."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        longest_bridge_s: float,
        now_ms: Callable[[], int],
        overview: Callable[[], Overview],
        alarms: Callable[[], AlarmList],
        people: Callable[[], PeopleNow],
        public_url: str | None = None,
        sooner: SoonerChecks | None = None,
    ) -> None:
        self._journal = journal
        self._site = site
        self._zone = ZoneInfo(site.time_zone)
        self._care = CareTimes(site.care.round_every_days, site.care.near_pipping_days)
        self._sheets = BoxSheets(site, profiles, int(longest_bridge_s * 1000))
        self._sooner = sooner or SoonerChecks(site, profiles, longest_bridge_s)
        self._now_ms = now_ms
        self._overview, self._alarms, self._people = overview, alarms, people
        self._public_url = public_url

    def look(self) -> HandOver:
        """Everything as it is now. About a third of a second for twenty boxes, and then little for five minutes."""
        overview, alarms, people, now_ms = self._overview(), self._alarms(), self._people(), self._now_ms()
        with self._journal.read() as conn:
            seen = self._seen(conn, now_ms)
            lying = register.clutches(conn)
            due = due_by(conn, self._site, lying, now_ms)
            sooner = self._sooner.read(conn, lying, due.clutches_ms, now_ms).values()
            known = calibrations.load(conn, self._site)
            records = [known.in_force(channel, now_ms) for channel in stated_of(self._site)]
            note = hand_over_notes.newest(conn)
        names = {each.id: each.name for each in self._site.incubators}
        return HandOver(
            overview=overview,
            alarms=alarms,
            people=people,
            venomous=venomous_of(seen),
            boxes=boxes_of(seen),
            hatching=hatching_of(seen, now_ms),
            due=due_of(due.rounds_ms, names, sooner, [each for each in records if each is not None], now_ms),
            note=note if note is not None and note.text else None,
            public_url=self._public_url,
        )

    def note(self) -> Note | None:
        """Give the keeper's own words; None where none were ever written."""
        with self._journal.read() as conn:
            return hand_over_notes.newest(conn)

    def state(self, who: str, from_where: str, text: str, seen: int) -> str:
        """Keep new words in place of those with the number `seen`; gives why not, empty where it was done."""
        told = "\n".join(line.rstrip() for line in text.replace("\r\n", "\n").strip().split("\n"))
        mistake = mistake_in_note(told)
        if mistake:
            return mistake
        now_ms = self._now_ms()

        def work(conn: sqlite3.Connection) -> str:
            before = hand_over_notes.newest(conn)
            if (0 if before is None else before.number) != seen:
                return OUTDATED
            old = "" if before is None else before.text
            if old != told:
                hand_over_notes.add(conn, who, told, now_ms)
                change = Change(who, from_where, "hand-over sheet", "note", old={"text": old}, new={"text": told})
                audit.record(conn, change, now_ms)
            return ""

        return self._journal.write(work)

    def _seen(self, conn: sqlite3.Connection, now_ms: int) -> tuple[Seen, ...]:
        until_ms = now_ms // SHEETS_EVERY_MS * SHEETS_EVERY_MS
        stops = self._sheets.stops(conn, now_ms, [each.id for each in self._site.incubators])
        lying = [each for each in stops if each.clutch_id is not None]
        sheets = self._sheets.read(conn, lying, until_ms)
        return tuple(Seen(each, sheets[each.key], need_of(sheets[each.key], self._care, self._zone)) for each in lying)
