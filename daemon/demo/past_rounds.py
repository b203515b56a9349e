"""The round that somebody made in the demo before it began, with what they found. Invented throughout."""

import sqlite3
import uuid

from config.site import Site
from config.species import SpeciesProfile
from daemon.clutches import register
from daemon.demo import scenario
from daemon.round_entries import RoundEntries
from daemon.rounds.values import Entry, Lid, Medium, Where
from daemon.storage import rounds

_MINUTE_MS = 60_000
WHO = "demo"
_NOTE = "Invented. Bracken took some water; the rest as it should be."
_MOIST = {"medium": Medium.CLUMPS, "lid": Lid.DRY, "looked_at_eggs": True}


def walk_through(
    conn: sqlite3.Connection, site: Site, profiles: dict[str, SpeciesProfile], incubator: str, now_ms: int
) -> None:
    """Somebody went through the boxes of an incubator two days ago."""
    begun_ms = now_ms - 2 * scenario.DAY_MS
    number = rounds.start(conn, incubator, WHO, begun_ms, 20 * _MINUTE_MS).number
    entries = RoundEntries(site, profiles)
    here = [each for each in register.clutches(conn) if each.placements[-1].place.startswith(f"{incubator}/")]
    for minute, clutch in enumerate(here, 1):
        box, watered = clutch.placements[-1].place, clutch.label == "Bracken"
        more = {"water_ml": 20.0, "water_where": Where.EDGES, **_MOIST} if watered else {"all_well": True}
        entry = Entry(str(uuid.uuid4()), box, WHO, **more)
        entries.put(conn, number, entry, begun_ms + minute * _MINUTE_MS, queued=False)
    rounds.end(conn, incubator, WHO, _NOTE, begun_ms + 15 * _MINUTE_MS)
