"""Writing down what was found in a box, with what it changes in the register; in the caller's transaction."""

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.places import Places
from config.plain import nearest
from config.site import Site
from config.species import SpeciesProfile
from daemon.clutches.egg_changes import say_of_eggs, withdraw_event
from daemon.clutches.egg_records import events
from daemon.clutches.errors import RegisterError
from daemon.clutches.rows import by_number, ever_in
from daemon.clutches.values import Clutch
from daemon.rounds.entries import CLOCK_SENTENCES, moment_of, refusal
from daemon.rounds.stops import last_lay_ms, place_at, place_of, stop_of
from daemon.rounds.values import Already, Clock, EggsDone, EggsSeen, Entry, Finding, Refused, Stop, Stored
from daemon.storage import findings, rounds
from daemon.storage.rounds import RoundOnRecord

_LATE = "The round had been ended before this arrived; it is kept with it, marked as late."
_TWICE = "Somebody corrected the same entry before: look which of the two holds."
_CORRECTED = "another entry that came before corrects this one"


_ANOTHER = "another clutch lay there than the one on the page"
_NOBODY_KNOWS = "two clutches lay there during the round, and by its clock nobody knows which it is about"


@dataclass(frozen=True, slots=True)
class Then:
    """When an entry counts (UTC ms) and what was there. `doubt`: why nothing can be said of eggs by it."""

    at_ms: int
    clock: Clock
    stop: Stop
    doubt: str = ""


class RefusedError(Exception):
    """Ends the transaction with nothing stored; carries the refusal."""

    def __init__(self, refused: Refused) -> None:
        super().__init__(str(refused))
        self.refused = refused


class RoundEntries:
    """Writes for one site. Every function works inside the caller's transaction."""

    def __init__(self, site: Site, profiles: Mapping[str, SpeciesProfile]) -> None:
        self._places = Places(site)
        self._profiles = profiles
        self._zone = ZoneInfo(site.time_zone)

    def put(
        self,
        conn: sqlite3.Connection,
        round_number: int,
        entry: Entry,
        now_ms: int,
        *,
        queued: bool,
        clutch_id: int | None = None,
    ) -> Stored | Already:
        """Store one entry once; raises RefusedError where it cannot be.

        `clutch_id`: the clutch that the page showed, 0 for an empty box, None where that is not known. Where another
        one lay there, nothing is said of its eggs.

        `queued`: it was made while there was no connection, and who made it may be gone. What the register does not
        take of it then is kept as not taken, with the reason, so that nothing else of it is lost.
        """
        entry = findings.as_kept(entry)
        found = _round(conn, round_number)
        before = findings.with_entry_id(conn, entry.entry_id)
        if before is not None:
            if (before.entry, before.round_number) == (entry, round_number):
                return Already(before.number)
            hint = "Load the page again and enter it once more."
            raise RefusedError(Refused("another entry with this id is on record", hint, "entry_id"))
        then = self._then(conn, found, entry, now_ms, clutch_id, queued=queued)
        at_ms, stop = then.at_ms, then.stop
        refused = refusal(entry, stop)
        if refused is not None:
            raise RefusedError(refused)
        said = [CLOCK_SENTENCES[then.clock]] if then.clock is not Clock.FITS else []
        late = found.round.ended_ms is not None
        if late:
            said.append(_LATE)
        said += self._take_back(conn, found, entry, now_ms, queued=queued)
        if then.doubt:
            eggs = tuple(EggsDone(seen, refused=then.doubt) for seen in entry.eggs)
        else:
            eggs = tuple(self._eggs(conn, entry, stop, at_ms, now_ms, queued=queued))
        said += [
            f"Not taken of {stop.label}: {each.seen.stated.words}: {each.refused}." for each in eggs if each.refused
        ]
        whole = Finding(0, round_number, entry, stop.clutch_id, at_ms, now_ms, late, then.clock, eggs)
        return Stored(findings.append(conn, whole), tuple(said))

    def _then(
        self,
        conn: sqlite3.Connection,
        found: RoundOnRecord,
        entry: Entry,
        now_ms: int,
        shown: int | None,
        *,
        queued: bool,
    ) -> Then:
        """Give when an entry counts, and of which clutch. Raises RefusedError."""
        target = findings.with_entry_id(conn, entry.corrects) if entry.corrects else None
        if target is not None and self._is_of_same(conn, target, found, entry.box, now_ms):
            # It takes the place of that one: the same clutch at the same moment, whatever was moved since.
            place = self._place(found, entry.box)
            clutch = None if target.clutch_id is None else by_number(conn, target.clutch_id)
            return Then(target.at_ms, Clock.FITS, stop_of(self._places, self._profiles, place, clutch))
        started_ms = found.round.started_ms
        at_ms, clock = moment_of(entry.made_ms, started_ms, now_ms, found.round.ended_ms)
        place, of_key = place_of(entry.box)
        shown = of_key or shown
        if clock is not Clock.FITS and shown:
            # When it was made nobody knows: it is about the clutch that whoever made it had before them.
            meant = by_number(conn, shown)
            lay_ms = None if meant is None else last_lay_ms(meant, place, started_ms, at_ms)
            at_ms = at_ms if lay_ms is None else lay_ms
        stop = self.stop(conn, found, entry.box, at_ms)
        doubt = ""
        if shown is not None and shown != (stop.clutch_id or 0):
            doubt = _ANOTHER
        elif clock is not Clock.FITS and shown is None and queued:
            lay = [each for each in ever_in(conn, place) if last_lay_ms(each, place, started_ms, at_ms) is not None]
            doubt = _NOBODY_KNOWS if len(lay) > 1 else ""
        if doubt and not queued:
            raise RefusedError(Refused(doubt, "Load the page again, and look which clutch it is.", "box"))
        return Then(at_ms, clock, stop, doubt)

    def _is_of_same(
        self, conn: sqlite3.Connection, target: Finding, found: RoundOnRecord, box: str, now_ms: int
    ) -> bool:
        """Tell whether an entry is about this box in this round, or about the clutch that has come into it since."""
        if target.round_number != found.number or target.entry.box == box:
            return target.round_number == found.number
        ended_ms = found.round.ended_ms
        stop = self.stop(conn, found, box, now_ms if ended_ms is None else min(now_ms, ended_ms))
        return stop.clutch_id is not None and stop.clutch_id == target.clutch_id

    def stop(self, conn: sqlite3.Connection, found: RoundOnRecord, key: str, at_ms: int) -> Stop:
        """Give the stop with this key as it was at a moment of a round. Raises RefusedError."""
        place, clutch_id = self._place(found, key), place_of(key)[1]
        clutch = self._clutch(conn, place, clutch_id, at_ms)
        stop = stop_of(self._places, self._profiles, place, clutch)
        # On a shelf several clutches may lie, so there the key has the number of one.
        if stop.key != key or (clutch is None and place not in self._places.boxes):
            hint = "Load the list of boxes again."
            raise RefusedError(Refused(f"no clutch lay at {key} then", hint, "box"))
        return stop

    def _place(self, found: RoundOnRecord, key: str) -> str:
        place, _ = place_of(key)
        if not self._places.exists(place) or self._places.incubator_of(place).id != found.round.incubator:
            here = [each for each in self._places.within(found.round.incubator) if each in self._places.boxes]
            reason = f"the round goes through {found.round.incubator}, and {key!r} is no box there"
            raise RefusedError(Refused(reason, nearest(place, here), "box"))
        return place

    def _clutch(self, conn: sqlite3.Connection, place: str, clutch_id: int | None, at_ms: int) -> Clutch | None:
        if clutch_id is not None:
            one = by_number(conn, clutch_id)
            return one if one is not None and place_at(one, at_ms) == place else None
        return next((each for each in ever_in(conn, place) if place_at(each, at_ms) == place), None)

    def _eggs(
        self, conn: sqlite3.Connection, entry: Entry, stop: Stop, at_ms: int, now_ms: int, *, queued: bool
    ) -> list[EggsDone]:
        if findings.is_corrected(conn, entry.entry_id):
            return [EggsDone(seen, refused=_CORRECTED) for seen in entry.eggs]
        if entry.corrects and findings.is_corrected(conn, entry.corrects):
            return [EggsDone(seen, refused="somebody corrected the same entry before") for seen in entry.eggs]
        return [self._eggs_of(conn, seen, entry.who, stop, at_ms, now_ms, queued=queued) for seen in entry.eggs]

    def _eggs_of(
        self,
        conn: sqlite3.Connection,
        seen: EggsSeen,
        who: str,
        stop: Stop,
        at_ms: int,
        now_ms: int,
        *,
        queued: bool,
    ) -> EggsDone:
        if stop.clutch_id is None:
            return EggsDone(seen, refused="no clutch lay there")
        try:
            said = say_of_eggs(conn, stop.clutch_id, seen.stated, seen.which, at_ms, who, now_ms)
        except RegisterError as error:
            told = error.told_in(self._zone)
            if not queued:
                raise RefusedError(Refused(told.reason, told.hint, "eggs")) from None
            return EggsDone(seen, refused=told.reason)
        return EggsDone(seen, tuple(egg.name for egg in said.eggs), said.events)

    def _take_back(
        self, conn: sqlite3.Connection, found: RoundOnRecord, entry: Entry, now_ms: int, *, queued: bool
    ) -> list[str]:
        """Take back what the corrected entry said of eggs, as far as it still stands."""
        target = findings.with_entry_id(conn, entry.corrects) if entry.corrects else None
        if target is None:
            # It may come yet; then nothing of it is taken.
            return []
        if findings.is_corrected(conn, entry.corrects):
            if not queued:
                hint = "Correct the newest entry of this box."
                raise RefusedError(Refused("that entry was corrected already", hint, "corrects"))
            return [_TWICE]
        if not self._is_of_same(conn, target, found, entry.box, now_ms):
            hint = "A correction is entered for the same box in the same round."
            raise RefusedError(Refused("the entry that this one corrects is about another box", hint, "corrects"))
        said = []
        clutch_id = target.clutch_id
        standing = set() if clutch_id is None else {e.number for e in events(conn, clutch_id) if not e.withdrawn}
        for number in [one for done in reversed(target.eggs) for one in reversed(done.events)]:
            if clutch_id is None or number not in standing:
                continue
            try:
                withdraw_event(conn, clutch_id, number, entry.who, "corrected during the round", now_ms)
            except RegisterError as error:
                told = error.told_in(self._zone)
                if not queued:
                    raise RefusedError(Refused(told.reason, told.hint, "corrects")) from None
                said.append(f"Not taken back: {told.reason}.")
        return said


def _round(conn: sqlite3.Connection, number: int) -> RoundOnRecord:
    found = rounds.of_number(conn, number)
    if found is None:
        raise RefusedError(Refused(f"there is no round no. {number}", "Load the page again.", "round"))
    return found
