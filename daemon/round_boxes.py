"""The boxes of a round with what was found in them, read from the journal."""

import sqlite3
from collections.abc import Mapping, Sequence

from config.species import SpeciesProfile
from daemon.box_sheets import BoxSheets
from daemon.clutches.rows import by_number
from daemon.rounds.state import state_of
from daemon.rounds.stops import place_of, stop_of
from daemon.rounds.summary import BoxOfRound
from daemon.rounds.values import BoxState, Finding, Photo, Stop
from daemon.rounds.whose import gone, shared_out, whose_stop
from daemon.storage import findings, photos
from daemon.storage.rounds import RoundOnRecord


class RoundBoxes:
    """Of one site. Safe to use from any thread."""

    def __init__(self, sheets: BoxSheets, profiles: Mapping[str, SpeciesProfile]) -> None:
        self._sheets = sheets
        self._profiles = profiles

    def of_round(self, conn: sqlite3.Connection, found: RoundOnRecord, now_ms: int) -> list[BoxOfRound]:
        """Give the boxes as they stand, or stood at the end of the round, and what was entered of others.

        What has gone from its box has no sheet where something else is there by now.
        """
        at_ms = now_ms if found.round.ended_ms is None else found.round.ended_ms
        said = shared_out(findings.of_round(conn, found.number))
        shown = shared_out(photos.of_round(conn, found.number))
        here = list(self._sheets.stops(conn, at_ms, [found.round.incubator]))
        about = {whose_stop(each): each for each in here}
        keys = {each.key for each in here}
        for each in gone(here, [*said, *shown]):
            stop = self._was(conn, [*said.get(each, ()), *shown.get(each, ())])
            if stop is not None:
                about[each] = stop
        once = [stop for whose, stop in about.items() if stop.key not in keys or whose in map(whose_stop, here)]
        sheets = self._sheets.read(conn, once, found.round.started_ms, found.number)
        return [
            BoxOfRound(
                stop,
                state_of(stop.key, said[whose]) if whose in said else None,
                sheets[stop.key] if stop in once else None,
                tuple(shown.get(whose, ())),
            )
            for whose, stop in about.items()
        ]

    def of_stops(
        self, conn: sqlite3.Connection, round_number: int, stops: Sequence[Stop]
    ) -> dict[str, tuple[BoxState | None, tuple[Photo, ...]]]:
        """Give what was entered for each of these stops in a round, and its photos, by the key of the stop."""
        said = shared_out(findings.of_round(conn, round_number))
        shown = shared_out(photos.of_round(conn, round_number))
        found = {}
        for stop in stops:
            whose = whose_stop(stop)
            state = state_of(stop.key, said[whose]) if said.get(whose) else None
            found[stop.key] = state, tuple(shown.get(whose, ()))
        return found

    def _was(self, conn: sqlite3.Connection, things: Sequence[Finding | Photo]) -> Stop | None:
        """Give the stop as it was when this was entered of it; None where the site has no such place any more."""
        last = things[-1]
        place, _ = place_of(last.entry.box if isinstance(last, Finding) else last.box)
        if not self._sheets.places.exists(place):
            return None
        clutch = None if last.clutch_id is None else by_number(conn, last.clutch_id)
        return stop_of(self._sheets.places, self._profiles, place, clutch)
