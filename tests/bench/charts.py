"""How long the data of a year's chart takes on a server that keeps seven million readings."""

import asyncio
import itertools
import math
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import httpx
from fastapi import FastAPI

from config.site import Site
from config.words import Quantity
from daemon.chart_reader import ChartReader
from daemon.rollups import RollUps
from daemon.storage import samples
from daemon.storage.journal import Journal
from dashboards.app import create_app
from sensors.reading import ChannelKey
from tests.dashboards import samples as shown

CHANNELS = 20
READINGS = 7_000_000
YEAR_MS = 365 * 86_400_000
START_MS = 1_780_000_000_000
WIDTH = 1200
REPEATS = 60
_INSERT = "INSERT INTO sample (channel_id, measured_at_ms, received_at_ms, value, quality) VALUES (?, ?, ?, ?, 0)"


class ChartCost(NamedTuple):
    """95 of 100 requests for a year take at most so long, with four channels and with all; and the rolling up."""

    four_p95_ms: float
    all_p95_ms: float
    roll_up_us: float


def chart_cost(readings: int = READINGS, repeats: int = REPEATS) -> ChartCost:
    """Fill a journal, roll it up, and ask for a year as a page does."""
    probes = [
        {"id": f"p{n}", "place": "north", "channel": ({"name": "t", "quantity": "air_temperature"},)}
        for n in range(CHANNELS)
    ]
    site = Site.model_validate(
        {
            "name": "Bench",
            "time_zone": "Europe/Berlin",
            "incubators": ({"id": "north", "name": "North cabinet"},),
            "probes": probes,
            "people": (),
            "alarms": {},
        }
    )
    with tempfile.TemporaryDirectory() as folder, Journal.open(Path(folder) / "journal.sqlite3") as journal:
        _fill(journal, readings)
        started = time.perf_counter()
        RollUps(journal).run()
        rolled_s = time.perf_counter() - started
        reader = ChartReader(journal, site, 1800.0, lambda: START_MS + YEAR_MS)
        app = create_app(shown.overview, charts=reader)
        times = {count: asyncio.run(_ask(app, count, repeats)) for count in (4, CHANNELS)}
    return ChartCost(times[4], times[CHANNELS], rolled_s / readings * 1e6)


def _fill(journal: Journal, readings: int) -> None:
    keys = [ChannelKey(f"p{n}/t", f"p{n}", "t", Quantity.AIR_TEMPERATURE) for n in range(CHANNELS)]
    ids = journal.write(lambda conn: samples.channel_ids(conn, keys))
    rows = _rows(list(ids.values()), readings // CHANNELS)
    while batch := list(itertools.islice(rows, 200_000)):

        def store(conn: sqlite3.Connection, batch: list[tuple[int, int, int, float]] = batch) -> None:
            conn.executemany(_INSERT, batch)

        journal.write(store)


def _rows(numbers: list[int], each: int) -> Iterator[tuple[int, int, int, float]]:
    step_ms = YEAR_MS // each
    for n in range(each):
        for number in numbers:
            at_ms = START_MS + n * step_ms + number
            yield number, at_ms, at_ms, 28 + math.sin(n / 960) + n * 7919 % 97 / 500


async def _ask(app: FastAPI, count: int, repeats: int) -> float:
    """The 95th percentile, ms."""
    query = "&".join(f"channel=p{n}/t" for n in range(count))
    path = f"/api/series?{query}&from={START_MS}&until={START_MS + YEAR_MS}&width={WIDTH}"
    times = []
    async with httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url="http://pages") as client:
        for _ in range(repeats):
            started = time.perf_counter()
            answer = await client.get(path)
            times.append((time.perf_counter() - started) * 1000)
            answer.raise_for_status()
    return statistics.quantiles(times, n=20)[-1]


def main() -> None:
    """Print the figures."""
    cost = chart_cost()
    print(
        f"a year of chart data, 7 M readings: 95 of 100 within {cost.four_p95_ms:.0f} ms with 4 channels, "
        f"{cost.all_p95_ms:.0f} ms with 20 (goal 150); rolling up costs {cost.roll_up_us:.1f} µs a reading"
    )


if __name__ == "__main__":
    main()
