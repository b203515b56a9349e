"""What the account of a day without readings costs: 20 channels, 60 clutches, all silent for 24 hours.

In processor time of this process, so that a busy machine changes little.
"""

import math
import os
import time
from pathlib import Path
from typing import NamedTuple

from daemon.review.account import Review
from daemon.review.values import Span
from daemon.review_desk import ReviewDesk
from daemon.review_keeper import IncidentKeeper
from daemon.storage import samples
from daemon.storage.journal import Journal
from sensors.reading import Reading
from tests.bench import big_site

SILENT_MS = 24 * big_site.HOUR_MS
AFTER_MS = 3 * big_site.HOUR_MS


class ReviewCost(NamedTuple):
    """Seconds of processor time of the first account and of the next one, and what it tells of."""

    first_s: float
    again_s: float
    places: int
    clutches: int


def review_cost(folder: Path) -> ReviewCost:
    """Let a site that was made before be silent for a day, and measure."""
    with Journal.open(folder / "journal.sqlite3") as journal:
        site = big_site.opened(folder, journal)
        last_ms = big_site.newest_ms(journal)
        now_ms = _readings_again(site, last_ms + SILENT_MS)
        IncidentKeeper(journal, site.site, lambda: now_ms).look_at(Span(last_ms - big_site.HOUR_MS, now_ms), now_ms)
        desk = ReviewDesk(journal, site.site, site.profiles, big_site.BRIDGE_S, lambda: now_ms)
        first_s, found = _measured(desk)
        again_s, _ = _measured(desk)
    return ReviewCost(first_s, again_s, len(found.places), len(found.clutches))


def line_of(cost: ReviewCost) -> str:
    """Tell it."""
    return (
        f"review of a day without readings: {cost.again_s:.2f} s of processor time, {cost.first_s:.2f} s at first "
        f"(goal 1 s); {cost.places} places, {cost.clutches} clutches; load of this machine {os.getloadavg()[0]:.1f}"
    )


def _readings_again(site: big_site.BigSite, from_ms: int) -> int:
    """Let every channel speak again for some hours, colder at first; give the last moment."""
    ids = site.journal.write(lambda conn: samples.channel_ids(conn, site.channels.values()))
    readings = []
    for at_ms in range(from_ms, from_ms + AFTER_MS, 90_000):
        warmed = 8.0 * math.exp((from_ms - at_ms) / big_site.HOUR_MS)
        for channel in site.channels:
            value = 85.0 if channel.endswith("/rh") else 28.0 - warmed
            readings.append(Reading(channel, at_ms, at_ms, value, 0))
    site.journal.write(lambda conn: samples.append(conn, ids, readings))
    return readings[-1].measured_at_ms


def _measured(desk: ReviewDesk) -> tuple[float, Review]:
    began = time.process_time()
    found = desk.newest()
    taken_s = time.process_time() - began
    if found is None:
        raise SystemExit("no incident was found in the bench journal")
    return taken_s, found
