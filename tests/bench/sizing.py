"""How large it gets: bytes on the disk for a reading, in the journal and in a real InfluxDB, and what follows of them.

Twenty channels in ten probes are stored as they come, batch after batch and day after day, with roll-ups, hours of heat
and alarms in between as the service makes them. Values are those of a thermometer that tells sixteenths of a degree and
of a humidity chip that tells tenths. What is said of other numbers of channels follows by multiplication.
"""

import random
import shutil
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from config.mirror import MirrorSettings
from config.site import Site
from config.words import Quantity
from daemon.alarms.state_values import AlarmMemory, Shown
from daemon.clutches import register
from daemon.clutches.register import NewClutch
from daemon.day_digests import DayDigests
from daemon.development.heat_interval import HeatPiece
from daemon.mirror_filling import fill
from daemon.rollups import RollUps
from daemon.storage import alarm_log, alarm_records, heat, samples
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.alarm_records import AlarmRecord
from daemon.storage.heat import HeatHour
from daemon.storage.journal import Journal
from sensors.reading import ChannelKey, Reading
from tests.bench import big_site, pages
from tests.bench.big_site import DAY_MS, HOUR_MS, MINUTE_MS
from tests.support.influxdb import InfluxDb
from tests.support.processes import wait_until

DAYS = 21
CLUTCHES = 20
ALARMS_A_DAY = 10
HISTORY_DAYS = (36, 365)
"""Of the shorter and the longer history that pages are asked about."""
CHANNELS = (1, 20, 200, 2000)
INTERVALS_S = (15, 60)
_BUCKET = "sizing"
_BATCH = 200
_COLD = '[data]\n  cache-snapshot-write-cold-duration = "1s"\n  compact-full-write-cold-duration = "3s"\n'
_PARTS = {
    "sample": ("sample", "sqlite_autoindex_sample_1"),
    "rollup": ("rollup",),
    "heat": ("heat_hour", "heat_change"),
    "chain": ("chain_link", "sample_day", "unsealed"),
    "alarm": ("alarm_event", "alarm_record", "alarm_event_of_subject", "alarm_event_of_occurrence",
              "alarm_record_of_key", "alarm_record_of_key_by_time", "alarm_record_acknowledged"),
}  # fmt: skip


class Sizes(NamedTuple):
    """Bytes on the disk, and how many readings a second were stored in batches of 20 and of 1,000.

    `reading`: of one reading in the journal with its index. `rolled`: of the roll-ups of one channel and day, whatever
    its interval. `heat`: of an hour of heat. `alarm`: of an alarm that begins, is acknowledged and ends, with its links
    of the chain. `mirrored`: of one reading in the InfluxDB, with what is derived, compacted.
    """

    readings: int
    reading: float
    rolled: float
    heat: float
    alarm: float
    mirrored: float
    per_second_20: float
    per_second_1000: float

    def journal_gb(self, channels: int, interval_s: int, days: float) -> float:
        """What readings and roll-ups take in so many days, 10^9 bytes."""
        return channels * days * (86_400 / interval_s * self.reading + self.rolled) / 1e9

    def mirror_gb(self, channels: int, interval_s: int, days: float) -> float:
        """The same in the InfluxDB."""
        return channels * days * 86_400 / interval_s * self.mirrored / 1e9


def measure(folder: Path, days: int = DAYS) -> Sizes:
    """Measure in a folder."""
    big_site._write_site(folder)
    with Journal.open(folder / "journal.sqlite3") as journal:
        site = big_site.opened(folder, journal)
        _live(journal, list(site.channels.values()), days)
        count = _count(journal)
        table = _bytes(journal)
        mirrored = _mirrored(folder, journal, site.site)
    return Sizes(
        count,
        table["sample"] / count,
        table["rollup"] / len(site.channels) / days,
        table["heat"] / (CLUTCHES * 24 * days),
        (table["alarm"] + table["chain"]) / (ALARMS_A_DAY * days),
        mirrored / count,
        _per_second(folder / "small.sqlite3", 20),
        _per_second(folder / "large.sqlite3", 1000),
    )


def _live(journal: Journal, keys: list[ChannelKey], days: int) -> None:
    ids = journal.write(lambda conn: samples.channel_ids(conn, keys))
    start_ms = (time.time_ns() // 1_000_000 // DAY_MS - days - 1) * DAY_MS
    clutches = journal.write(lambda conn: _clutches(conn, start_ms))
    coming, rolling = _coming(keys, start_ms), RollUps(journal)
    for day_ms in range(start_ms, start_ms + days * DAY_MS, DAY_MS):
        for _ in range(24 * 60 * len(keys) // _BATCH):
            batch = [next(coming) for _ in range(_BATCH)]
            journal.write(lambda conn, batch=batch: samples.append(conn, ids, batch))  # type: ignore[misc]
        rolling.run()
        journal.write(lambda conn, day_ms=day_ms: _heat(conn, clutches, day_ms))  # type: ignore[misc]
        journal.write(lambda conn, day_ms=day_ms: _alarms(conn, keys, day_ms))  # type: ignore[misc]
    DayDigests(journal, lambda: start_ms + (days + 1) * DAY_MS).run()


def _coming(keys: list[ChannelKey], start_ms: int) -> Iterator[Reading]:
    """Every channel each minute, a probe's two at one moment; heard some tenths of a second later."""
    drawn = random.Random(20260921)
    values = [28.0 if key.quantity is Quantity.AIR_TEMPERATURE else 85.0 for key in keys]
    minute = 0
    while True:
        for place, key in enumerate(keys):
            is_air = key.quantity is Quantity.AIR_TEMPERATURE
            middle, step = (28.0, 1 / 16) if is_air else (85.0, 0.1)
            values[place] += 0.05 * (middle - values[place]) + drawn.gauss(0, 1.2 * step)
            at_ms = start_ms + minute * MINUTE_MS + place // 2 * 997
            value = round(round(values[place] / step) * step, 4)
            yield Reading(key.channel, at_ms, at_ms + drawn.randrange(20, 400), value, 0)
        minute += 1


def _clutches(conn: sqlite3.Connection, start_ms: int) -> list[int]:
    def one(number: int) -> NewClutch:
        place = f"c{number % big_site.INCUBATORS}/z/B{number % big_site.BOXES}"
        return NewClutch(f"C{number}", "elaphe-taeniura", None, start_ms, start_ms, 8, "", place, start_ms)

    return [register.add_clutch(conn, one(number), "bench", start_ms) for number in range(CLUTCHES)]


def _heat(conn: sqlite3.Connection, clutches: list[int], day_ms: int) -> None:
    piece = HeatPiece(11.6, 11.7, 11.8, 0.3, 0.3, 11.7, 28.1, HOUR_MS, HOUR_MS)
    for clutch_id in clutches:
        heat.put_hours(conn, clutch_id, [HeatHour(day_ms + hour * HOUR_MS, piece) for hour in range(24)])


def _alarms(conn: sqlite3.Connection, keys: list[ChannelKey], day_ms: int) -> None:
    quiet, on, seen = AlarmMemory.NORMAL, AlarmMemory.UNACKNOWLEDGED, AlarmMemory.ACKNOWLEDGED
    for number in range(ALARMS_A_DAY):
        key, at_ms = f"temperature-high:{keys[number * 2].channel}", day_ms + number * HOUR_MS
        name, why = f"{key}#{at_ms}", "30.4 °C for 5 min, the limit of Juniper here is 30.0 °C"
        steps = (("raised", quiet, on, ""), ("acknowledge", on, seen, "mara"), ("cleared", seen, quiet, ""))
        alarm_records.append(
            conn,
            [
                AlarmRecord(at_ms, at_ms, key, name, 2, event, before, after, Shown.NORMAL, who, why, True, True)
                for event, before, after, who in steps
            ],
        )
        for event in ("raised", "cleared"):
            alarm_log.append_event(conn, AlarmEvent(at_ms, at_ms, key, name, event, 30.4, 30.0, why))


def _count(journal: Journal) -> int:
    with journal.read() as conn:
        return samples.count(conn)


def _bytes(journal: Journal) -> dict[str, int]:
    """What each part of the journal takes, whole pages with what is free in them."""
    with journal.read() as conn:
        of = dict(conn.execute("SELECT name, sum(pgsize) FROM dbstat GROUP BY name").fetchall())
    return {part: sum(of.get(table, 0) for table in tables) for part, tables in _PARTS.items()}


def _mirrored(folder: Path, journal: Journal, site: Site) -> int:
    """Fill an InfluxDB, wait until it has compacted all of it, and give the size of its files of data."""
    program = shutil.which("influxd")
    if program is None:
        raise SystemExit("InfluxDB is not installed; deploy/test-services.sh brings it")
    engine = InfluxDb(folder / "influxdb", program)
    configuration = folder / "influxdb" / "influxdb.conf"
    configuration.write_text(configuration.read_text().replace("[data]\n", _COLD))
    engine.start()
    try:
        engine.query(f'CREATE DATABASE "{_BUCKET}"')
        settings = MirrorSettings(url=engine.url, bucket=_BUCKET)
        fill(journal, site, settings, lambda: time.time_ns() // 1_000_000, None, lambda _: lambda _: None)
        wait_until(lambda: _is_compacted(folder / "influxdb"), "the InfluxDB to have compacted its files", 300)
        return sum(file.stat().st_size for file in _data_files(folder / "influxdb"))
    finally:
        engine.stop()


def _data_files(folder: Path) -> list[Path]:
    return list((folder / "data").glob(f"{_BUCKET}/*/*/*.tsm"))


def _is_compacted(folder: Path) -> bool:
    """True where nothing waits in the log and each shard is one file, and stays that for some seconds."""

    def now() -> tuple[bool, list[Path]]:
        files = _data_files(folder)
        waiting = sum(file.stat().st_size for file in (folder / "wal").glob(f"{_BUCKET}/*/*/*.wal"))
        return bool(files) and not waiting and len(files) == len({file.parent for file in files}), sorted(files)

    before = now()
    time.sleep(6)
    return before[0] and now() == before


def _per_second(path: Path, batch: int) -> float:
    """How many readings a second the journal stores, each batch on the disk before the next."""
    keys = [ChannelKey(f"p{number}/t", f"p{number}", "t", Quantity.AIR_TEMPERATURE) for number in range(20)]
    coming = _coming(keys, 1_790_000_000_000)
    work = [[next(coming) for _ in range(batch)] for _ in range(max(20_000 // batch, 40))]
    with Journal.open(path) as journal:
        ids = journal.write(lambda conn: samples.channel_ids(conn, keys))
        began_s = time.perf_counter()
        for each in work:
            journal.write(lambda conn, each=each: samples.append(conn, ids, each))  # type: ignore[misc]
        return len(work) * batch / (time.perf_counter() - began_s)


def lines(found: Sizes) -> Iterator[str]:
    """Tell it."""
    yield (
        f"{found.readings:,} readings: {found.reading:.1f} bytes each in the journal with their index, "
        f"{found.mirrored:.1f} in the InfluxDB; {found.rolled / 1000:.1f} kB of roll-ups a channel and day, "
        f"{found.heat:.0f} bytes an hour of heat, {found.alarm:.0f} bytes an alarm"
    )
    yield (
        f"stored in a second: {found.per_second_20:,.0f} readings in batches of 20, {found.per_second_1000:,.0f} in "
        f"batches of 1,000"
    )
    yield "| channels | every | readings a day | journal a day | a year | ten years | InfluxDB a year | ten years |"
    yield "| --- | --- | --- | --- | --- | --- | --- | --- |"
    for channels in CHANNELS:
        for interval_s in INTERVALS_S:
            cells = [_gb(found.journal_gb(channels, interval_s, days)) for days in (1, 365.25, 3652.5)]
            cells += [_gb(found.mirror_gb(channels, interval_s, days)) for days in (365.25, 3652.5)]
            a_day = f"{channels * 86_400 // interval_s:,}"
            yield f"| {channels:,} | {interval_s} s | {a_day} | {' | '.join(cells)} |"


def history_line(folder: Path, days: int) -> str:
    """Tell how long pages take after so many days of 20 channels each minute and a half; processor time."""
    readings = days * 24 * 40 * 20
    big_site.make(folder, readings, days=days)
    told = (f"{cost.page.name} {cost.cpu_p95_ms:.0f} ms" for cost in pages.page_costs(folder, 10))
    return f"after {days} days and {readings:,} readings: {', '.join(told)}"


def _gb(size: float) -> str:
    if size >= 1000:
        return f"{size / 1000:.1f} TB"
    if size >= 1:
        return f"{size:.0f} GB" if size >= 10 else f"{size:.1f} GB"
    return f"{size * 1000:.0f} MB" if size >= 0.01 else f"{size * 1000:.1f} MB"
