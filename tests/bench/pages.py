"""How long the server takes for each page of a site with seven million readings: wall and processor time, ms.

Asked without a network in between, as a browser on a phone asks: compressed, and each page with what it loads. Before
each request one new reading comes in, so that nothing is answered from what was kept for the one before.
"""

import asyncio
import gc
import re
import statistics
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo

import httpx
from fastapi import FastAPI

from daemon.alarms.state_values import AlarmMemory
from daemon.chart_reader import ChartReader
from daemon.clutches import register
from daemon.storage import alarm_records, samples
from daemon.storage.alarm_records import AlarmRecord
from daemon.storage.journal import Journal
from dashboards.series_json import series_json
from sensors.reading import Quality, Reading
from tests.bench import big_site
from tests.bench.big_site import NOW_MS, START_MS, BigSite

REPEATS = 40
HEAVIEST_BYTES = 100_000
PLOTLY = "plotly.min.js"
_WARM = 60
"""So many requests until what is worked out in turn, some clutches at a time, is there for all."""
WIDTH = 1200
_YEAR = f"from={START_MS}&until={NOW_MS}&width={WIDTH}"
_ROWS = """SELECT * FROM rollup WHERE level_ms = 21600000 AND start_ms >= ?2 AND start_ms < ?3
    AND channel_id = (SELECT channel_id FROM channel WHERE channel = ?1)"""


class Page(NamedTuple):
    """What is asked for, in words, and the promise in milliseconds at the 95th percentile."""

    name: str
    path: str
    goal_ms: float


class Cost(NamedTuple):
    """95 of 100 answers take at most so long by the clock, and by the processor.

    `wire_bytes` is what goes over the wire at a first visit: the answer, and every style, script and picture that it
    names. 0 for what is no page, or brings the drawing library with it.
    """

    page: Page
    wall_p95_ms: float
    cpu_p95_ms: float
    wire_bytes: int


class Ratio(NamedTuple):
    """How long all channels of a year take up to the JSON, and SQLite alone for the same rows of the roll-ups, ms."""

    whole_ms: float
    bare_ms: float


def pages(site: BigSite) -> tuple[Page, ...]:
    """Every page with a promise. The clutch is the one that lies there longest."""
    with site.journal.read() as conn:
        longest = register.clutches(conn)[0].clutch_id
    every, four = ("&".join(f"channel={channel}" for channel in list(site.channels)[:count]) for count in (20, 4))
    return (
        Page("Now", "/", 100),
        Page("clutch list", "/clutches", 150),
        Page("clutch page", f"/clutches/{longest}", 150),
        Page("a year of 4 channels", f"/api/series?{four}&{_YEAR}", 150),
        Page("a year of 20 channels", f"/api/series?{every}&{_YEAR}", 150),
        Page("alarms", "/alarms", 150),
        Page("measures of alarms", "/alarms/metrics", 150),
        Page("journal of alarms", "/alarms/journal", 150),
        Page("journal of one alarm", f"/alarms/journal?alarm=temperature-high:{next(iter(site.channels))}", 150),
    )


def page_costs(folder: Path, repeats: int = REPEATS) -> list[Cost]:
    """Ask for every page of a site that was made in this folder."""
    with Journal.open(folder / "journal.sqlite3") as journal:
        site = big_site.opened(folder, journal)
        return asyncio.run(_ask_all(site, repeats))


async def _ask_all(site: BigSite, repeats: int) -> list[Cost]:
    app, coming = site.app(), _new_readings(site)
    async with _client(app) as client:
        for _ in range(_WARM):
            (await client.get("/")).raise_for_status()
        # As the service does once it runs.
        gc.collect()
        gc.freeze()
        gc.set_threshold(50_000, 20, 20)
        return [await _cost(client, page, repeats, coming) for page in pages(site)]


def _client(app: FastAPI) -> httpx.AsyncClient:
    headers = {"Accept-Encoding": "gzip"}
    return httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url="http://pages", headers=headers)


def _new_readings(site: BigSite) -> Iterator[None]:
    """Store one new reading at each turn, and one more step of an alarm."""
    ids = site.journal.write(lambda conn: samples.channel_ids(conn, site.channels.values()))
    at_ms = big_site.newest_ms(site.journal)
    while True:
        for channel in site.channels:
            at_ms += 1000
            reading = Reading(channel, at_ms, at_ms, 28.0 if channel.endswith("/t") else 85.0, Quality.GOOD)
            site.journal.write(lambda conn, reading=reading: samples.append(conn, ids, [reading]))  # type: ignore[misc]
            site.journal.write(lambda conn, at_ms=at_ms: alarm_records.append(conn, [_step(at_ms)]))  # type: ignore[misc]
            yield


def _step(at_ms: int) -> AlarmRecord:
    before, after = AlarmMemory.NORMAL, AlarmMemory.UNACKNOWLEDGED
    key = "no-data:p0-air/t"
    return AlarmRecord(at_ms, at_ms, key, f"{key}#{at_ms}", 3, "raised", before, after, after, "", "", True, True)


async def _cost(client: httpx.AsyncClient, page: Page, repeats: int, coming: Iterator[None]) -> Cost:
    walls, processors = [], []
    for number in range(repeats + 1):
        next(coming)
        wall, processor = time.perf_counter(), time.process_time()
        answer = await client.get(page.path)
        if number:
            walls.append((time.perf_counter() - wall) * 1000)
            processors.append((time.process_time() - processor) * 1000)
        answer.raise_for_status()
    return Cost(page, _p95(walls), _p95(processors), await _first_visit(client, page, answer))


async def _first_visit(client: httpx.AsyncClient, page: Page, answer: httpx.Response) -> int:
    if "html" not in answer.headers["content-type"] or PLOTLY in answer.text:
        return 0
    named = set(re.findall(r'(?:href|src)="(/static/[^"]+)"', answer.text))
    return sum([await _sent(client, path) for path in sorted({page.path, *named})])


async def _sent(client: httpx.AsyncClient, path: str) -> int:
    """Bytes of an answer as they go over the wire, without its headers."""
    async with client.stream("GET", path) as answer:
        return sum([len(part) async for part in answer.aiter_raw()])


def year_ratio(folder: Path, repeats: int = REPEATS) -> Ratio:
    """Measure both by processor time, turn by turn; the best of each."""
    with Journal.open(folder / "journal.sqlite3") as journal:
        site = big_site.opened(folder, journal)
        reader = ChartReader(journal, site.site, big_site.BRIDGE_S, lambda: NOW_MS)
        channels = {each.channel: each for each in reader.site.channels}
        names, zone = dict.fromkeys(channels, ""), ZoneInfo(site.site.time_zone)
        whole, bare = [], []
        for _ in range(repeats):
            with journal.read() as conn:
                began = time.process_time()
                for channel in channels:
                    conn.execute(_ROWS, (channel, START_MS, NOW_MS)).fetchall()
                bare.append((time.process_time() - began) * 1000)
            began = time.process_time()
            read = reader.read(list(channels), START_MS, NOW_MS, WIDTH)
            series_json(read, channels, names, zone, reader.site.bridge_ms).model_dump_json()
            whole.append((time.process_time() - began) * 1000)
    return Ratio(min(whole), min(bare))


def _p95(times: list[float]) -> float:
    return statistics.quantiles(times, n=20)[-1] if len(times) > 1 else times[0]


def lines(costs: list[Cost]) -> Iterator[str]:
    """One for each page, with its goal and whether it is met."""
    for page, wall_ms, cpu_ms, wire in costs:
        met = "ok" if wall_ms <= page.goal_ms else "MISSED"
        promise = f"(goal {page.goal_ms:.0f}, {met})"
        line = f"{page.name}: 95 of 100 within {wall_ms:.0f} ms, {cpu_ms:.0f} ms of processor {promise}"
        light = "ok" if wire <= HEAVIEST_BYTES else "MISSED"
        goal = f"goal {HEAVIEST_BYTES // 1000}, {light}"
        yield f"{line}; first visit {wire / 1000:.1f} kB over the wire ({goal})" if wire else line


def ratio_line(ratio: Ratio) -> str:
    """The figures in words."""
    times = ratio.whole_ms / ratio.bare_ms
    return (
        f"a year of 20 channels up to the JSON: {ratio.whole_ms:.0f} ms of processor, {times:.1f} times what SQLite"
        f" alone needs for the same rows ({ratio.bare_ms:.0f} ms)"
    )


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        big_site.make(Path(folder))
        print("\n".join([*lines(page_costs(Path(folder))), ratio_line(year_ratio(Path(folder)))]))


if __name__ == "__main__":
    main()
