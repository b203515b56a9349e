"""The round as commands and pages use it: start, walk, sheet, entry, photo, end, summary.

Every method that changes something does it in one transaction and gives what was done, or a `Refused` with nothing
changed; all raise JournalError where the journal cannot be used. Times are UTC ms.

Starting a round holds back what an open door would trigger in that incubator, for 30 minutes at the most; ending it, or
its hard end, lifts that. Whoever starts several incubators at once holds back all of them from then on: where that
takes longer, start the next one when the one before is closed.
"""

import sqlite3
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from zoneinfo import ZoneInfo

from config.errors import StatedError
from config.plain import nearest
from config.site import Site
from config.species import SpeciesProfile
from daemon.alarms.round_suppression import LONGEST_ROUND_MS
from daemon.box_sheets import BoxSheets
from daemon.clutches import register
from daemon.desk_work import DeskWork
from daemon.round_boxes import RoundBoxes
from daemon.round_entries import RefusedError, RoundEntries
from daemon.round_photos import RoundPhotos
from daemon.rounds.beside import beside
from daemon.rounds.cautions import cautions
from daemon.rounds.hints import SHOWN_FIRST, hints
from daemon.rounds.need import CareTimes, need_of
from daemon.rounds.sheet import BoxSheet
from daemon.rounds.summary import BoxOfRound, Summary, summary
from daemon.rounds.values import (
    ALL_WELL_THROUGH_LID_WORDS,
    ALL_WELL_WORDS,
    Already,
    BoxState,
    Entry,
    Photo,
    Refused,
    Stop,
    Stored,
)
from daemon.rounds.walk import BoxView, IncubatorDue, Walk, WalkBox
from daemon.rounds_now import due_by
from daemon.storage import rounds
from daemon.storage.journal import Journal
from daemon.storage.rounds import RoundOnRecord

_MINUTE_MS = 60_000


@dataclass(frozen=True, slots=True)
class Started:
    """The rounds that were started, and the alarms (keys) that are held back at once."""

    rounds: tuple[RoundOnRecord, ...]
    held: tuple[str, ...]


class RoundDesk:
    """Rounds of one site. Safe to use from any thread."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        work: DeskWork,
        longest_bridge_s: float,
        now_ms: Callable[[], int],
        sheets: BoxSheets | None = None,
    ) -> None:
        self._journal = journal
        self._site = site
        self._profiles = profiles
        self._work = work
        self._now_ms = now_ms
        self._zone = ZoneInfo(site.time_zone)
        self._care = CareTimes(site.care.round_every_days, site.care.near_pipping_days)
        self._sheets = sheets or BoxSheets(site, profiles, int(longest_bridge_s * 1000))
        self._boxes = RoundBoxes(self._sheets, profiles)
        self._entries = RoundEntries(site, profiles)
        self._photos = RoundPhotos(journal, self._entries)

    # Before and around a round

    def incubators(self) -> tuple[IncubatorDue, ...]:
        """Give every incubator in the order of the site file: what goes on there, and when a round is due."""
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            going = {each.round.incubator: each for each in rounds.all_going_on(conn)}
            due_ms = due_by(conn, self._site, register.clutches(conn), now_ms).rounds_ms
            here = {one.id: self._sheets.stops(conn, now_ms, [one.id]) for one in self._site.incubators}
        found = []
        for one in self._site.incubators:
            clutches = sum(not each.is_empty for each in here[one.id])
            due = due_ms.get(one.id)
            found.append(IncubatorDue(one.id, one.name, going.get(one.id), due, len(here[one.id]), clutches))
        return tuple(found)

    def running(self) -> tuple[RoundOnRecord, ...]:
        """Give the rounds that nobody has ended, those past their hard end as well."""
        with self._journal.read() as conn:
            return tuple(rounds.all_going_on(conn))

    def start(self, who: str, incubators: Sequence[str] = (), stated_ms: int = LONGEST_ROUND_MS) -> Started | Refused:
        """Start a round in each of these incubators, or in all of the site; in all of them or in none."""
        known = [each.id for each in self._site.incubators]
        for each in incubators:
            if each not in known:
                return Refused(f"there is no incubator {each!r}", nearest(each, known), "incubator")
        wanted, now_ms = dict.fromkeys(incubators or known), self._now_ms()

        def work(conn: sqlite3.Connection) -> Started:
            begun = [self._work.start_round(conn, each, who, stated_ms, now_ms) for each in wanted]
            return Started(tuple(one for one, _ in begun), tuple(key for _, held in begun for key in held))

        try:
            return self._journal.write(work)
        except StatedError as error:
            return Refused(error.reason, error.hint, "incubator")

    def finish(self, round_number: int, who: str, note: str = "") -> Summary | Refused:
        """End a round, and give what it came to. It does not count for boxes that nobody has seen."""
        now_ms = self._now_ms()

        def work(conn: sqlite3.Connection) -> None:
            found = rounds.of_number(conn, round_number)
            if found is None:
                raise StatedError(f"there is no round no. {round_number}", "Load the page again.")
            if found.round.ended_ms is not None:
                raise StatedError(f"round no. {round_number} was ended by {found.ended_by}", "Nothing to do.")
            self._work.end_round(conn, found.round.incubator, who, note, now_ms)

        try:
            self._journal.write(work)
        except StatedError as error:
            return Refused(error.reason, error.hint, "round")
        return self.summary(round_number) or Refused(f"there is no round no. {round_number}", "Load the page again.")

    # On the way

    def walk(self, round_numbers: Collection[int] = ()) -> Walk:
        """Give the boxes of these rounds, or of all that go on, in the order in which they stand, each with its need.

        The first time for a round it costs what its sheets cost, later some milliseconds.
        """
        with self._journal.read() as conn:
            chosen = [rounds.of_number(conn, each) for each in round_numbers] or rounds.all_going_on(conn)
            found = tuple(each for each in chosen if each is not None)
            now_ms = self._now_ms()
            boxes = [(each.number, box) for each in found for box in self._boxes.of_round(conn, each, now_ms)]
        order = {place: index for index, place in enumerate(self._sheets.places.all)}
        walked = [
            WalkBox(box.stop, number, need_of(box.sheet, self._care, self._zone), box.state)
            for number, box in boxes
            if box.sheet is not None
        ]
        return Walk(found, tuple(sorted(walked, key=lambda each: order[each.stop.place])))

    def sheet(self, box: str, round_number: int | None = None) -> BoxView | None:
        """Give all for the page of one box: of this round, else of the one that goes on in its incubator, else of now.

        None where there is no such box.
        """
        with self._journal.read() as conn:
            found = self._round_of(conn, box, round_number)
            # Outside of a round figures go to the last whole minute, so that they can be kept for a moment.
            until_ms = self._now_ms() // _MINUTE_MS * _MINUTE_MS if found is None else found.round.started_ms
            ended_ms = None if found is None else found.round.ended_ms
            stop = self._stop(conn, box, self._now_ms() if ended_ms is None else ended_ms, until_ms)
            if stop is None:
                return None
            number = None if found is None else found.number
            sheet = self._sheets.read(conn, [stop], until_ms, number)[stop.key]
            state: BoxState | None = None
            shown: tuple[Photo, ...] = ()
            before: tuple[Photo, ...] = ()
            if sheet.last is not None:
                last = sheet.last.findings[-1].round_number
                _, before = self._boxes.of_stops(conn, last, [stop])[stop.key]
            if number is None:
                shown, before = before, ()
            else:
                state, shown = self._boxes.of_stops(conn, number, [stop])[stop.key]
        return replace(self._view(stop, found, sheet, state, shown), last_photos=before)

    def sheets(self, walk: Walk) -> dict[str, BoxView]:
        """Give what `sheet` gives for each box of a walk, by key, for hardly more than what one of them costs."""
        views: dict[str, BoxView] = {}
        with self._journal.read() as conn:
            for found in walk.rounds:
                stops = [each.stop for each in walk.boxes if each.round_number == found.number]
                read = self._sheets.read(conn, stops, found.round.started_ms, found.number)
                entered = self._boxes.of_stops(conn, found.number, stops)
                views |= {each.key: self._view(each, found, read[each.key], *entered[each.key]) for each in stops}
        return views

    def enter(
        self, round_number: int, entry: Entry, *, queued: bool = False, clutch_id: int | None = None
    ) -> Stored | Already | Refused:
        """Write down what was found in a box; sent again it is stored once. For the rest see `RoundEntries.put`."""
        now_ms, put = self._now_ms(), self._entries.put
        try:
            return self._journal.write(
                lambda conn: put(conn, round_number, entry, now_ms, queued=queued, clutch_id=clutch_id)
            )
        except RefusedError as error:
            return error.refused

    def add_photo(
        self,
        round_number: int,
        box: str,
        photo_id: str,
        data: bytes,
        who: str,
        entry_id: str = "",
        made_ms: int | None = None,
        shown: int | None = None,
    ) -> Photo | Already | Refused:
        """Keep a photo of a box, made small and freed of all but the picture, once. See `RoundPhotos.add`."""
        return self._photos.add(round_number, box, photo_id, data, who, entry_id, made_ms, self._now_ms(), shown)

    def photo(self, photo_id: str) -> tuple[Photo, Path] | None:
        """Give a photo and its file; None where there is none."""
        return self._photos.find(photo_id)

    # Afterwards

    def summary(self, round_number: int) -> Summary | None:
        """Give what a round came to so far, or in the end; None where there is no such round."""
        found = self.record(round_number)
        return None if found is None else found[0]

    def record(self, round_number: int) -> tuple[Summary, list[BoxOfRound]] | None:
        """Give the summary of a round with each of its boxes; None where there is no such round."""
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            found = rounds.of_number(conn, round_number)
            if found is None:
                return None
            boxes = self._boxes.of_round(conn, found, now_ms)
            # While it goes on: what would be due if it were ended now.
            ending = {round_number: now_ms} if found.round.ended_ms is None else {}
            due = due_by(conn, self._site, register.clutches(conn), now_ms, ending)
        next_ms = due.rounds_ms.get(found.round.incubator)
        return summary(found, boxes, next_ms, due.clutches_ms, self._zone), boxes

    def newest(self, limit: int = 20, before: int | None = None) -> tuple[RoundOnRecord, ...]:
        """Give the rounds that were started last, or before the one with this number, the newest first."""
        with self._journal.read() as conn:
            return tuple(rounds.newest(conn, limit, before))

    def _stop(self, conn: sqlite3.Connection, key: str, *moments_ms: int) -> Stop | None:
        """Give the stop with this key at the first of these moments at which there was one."""
        place = key.partition("@")[0]
        if not self._sheets.places.exists(place):
            return None
        incubator = self._sheets.places.incubator_of(place).id
        for at_ms in moments_ms:
            for each in self._sheets.stops(conn, at_ms, [incubator]):
                if each.key == key:
                    return each
        return None

    def _round_of(self, conn: sqlite3.Connection, box: str, number: int | None) -> RoundOnRecord | None:
        if number is not None:
            return rounds.of_number(conn, number)
        return rounds.going_on(conn, box.partition("/")[0].partition("@")[0])

    def _view(
        self,
        stop: Stop,
        found: RoundOnRecord | None,
        sheet: BoxSheet,
        state: BoxState | None,
        shown: tuple[Photo, ...],
    ) -> BoxView:
        clutch = sheet.clutch
        profile = None if clutch is None else self._profiles.get(clutch.species_id)
        told = hints(sheet, profile, state)
        return BoxView(
            stop=stop,
            round=found,
            sheet=sheet,
            need=need_of(sheet, self._care, self._zone),
            state=state,
            photos=shown,
            first_hints=told[:SHOWN_FIRST],
            more_hints=told[SHOWN_FIRST:],
            cautions=cautions(profile, venomous=stop.venomous, protected="" if clutch is None else clutch.protected),
            beside=beside(sheet, state),
            through_lid_only=stop.venomous,
            all_well=ALL_WELL_THROUGH_LID_WORDS if stop.venomous else ALL_WELL_WORDS,
        )
