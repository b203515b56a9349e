"""Everything on record of one clutch, read inside the caller's transaction."""

import sqlite3
from dataclasses import dataclass

from daemon.clutches.egg_records import eggs, events
from daemon.clutches.eggs import Egg, EggCounts, EggEvent, counts_of
from daemon.clutches.measures import Measure
from daemon.clutches.remarks import Note, measures, notes
from daemon.clutches.rows import by_number
from daemon.clutches.values import Clutch
from daemon.storage.clutch_history import Change, changes


@dataclass(frozen=True, slots=True)
class ClutchFile:
    """A clutch with its eggs, what was said of them, notes, sizes and changes; each in order of time."""

    clutch: Clutch
    eggs: tuple[Egg, ...]
    events: tuple[EggEvent, ...]
    notes: tuple[Note, ...]
    measures: tuple[Measure, ...]
    changes: tuple[Change, ...]

    @property
    def counts(self) -> EggCounts:
        """How many eggs are what."""
        return counts_of(self.eggs)


def read_file(conn: sqlite3.Connection, clutch_id: int) -> ClutchFile | None:
    """Give all of a clutch, also of a closed or withdrawn one; None where there is none."""
    clutch = by_number(conn, clutch_id)
    if clutch is None:
        return None
    said = sorted(events(conn, clutch_id), key=lambda one: (one.at_ms, one.number))
    return ClutchFile(
        clutch,
        eggs(conn, clutch_id, clutch.egg_count),
        tuple(said),
        tuple(notes(conn, clutch_id)),
        tuple(measures(conn, clutch_id)),
        tuple(changes(conn, clutch_id)),
    )
