"""A site as large as the promises are made for, in a journal: 7 million readings of a year in 20 channels, 60 clutches.

Readings, register, roll-ups and rounds are made by the program's own functions. Hours of heat, the past of alarms
and the end of closed clutches are written as rows: what they cost to read does not depend on what they say.
"""

import itertools
import json
import math
import sqlite3
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

from fastapi import FastAPI

from config.check import check_site
from config.site import Site
from config.species import SpeciesProfile
from config.words import AlarmKind, Priority
from daemon.alarm_board import AlarmBoard
from daemon.alarms.state_values import AlarmMemory, Shown
from daemon.arrival import BrokerState
from daemon.chart_reader import ChartReader
from daemon.clutch_record import ClutchRecords
from daemon.clutches import register
from daemon.clutches.register import NewClutch
from daemon.desk_work import DeskWork
from daemon.heat_ledger import heat_rule
from daemon.overview import Overview
from daemon.queries import Queries
from daemon.rollups import RollUps
from daemon.rounds.values import Entry, Finding
from daemon.storage import findings, rounds, samples
from daemon.storage.journal import Journal
from dashboards.access.door import Door
from dashboards.app import create_app
from dashboards.clutch_routes import ClutchPages
from sensors.decoder import Decoder
from sensors.reading import ChannelKey

READINGS = 7_000_000
CLUTCHES = 60
ALARM_EVENTS = 100_000
MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
DAY_MS = 24 * HOUR_MS
YEAR_MS = 365 * DAY_MS
START_MS = 1_780_000_200_000 - 1_780_000_200_000 % HOUR_MS
NOW_MS = START_MS + YEAR_MS
BRIDGE_S = 1800.0
INCUBATORS, BOXES = 5, 12
SPECIES = 12
WEEKS = 17
_INSERT = "INSERT INTO sample (channel_id, measured_at_ms, received_at_ms, value, quality) VALUES (?, ?, ?, ?, 0)"
_EVENT = """INSERT INTO alarm_event (at_ms, recorded_at_ms, alarm_key, occurrence, event, value, limit_value, reason)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?)"""
_RECORD = """INSERT INTO alarm_record (at_ms, recorded_at_ms, alarm_key, occurrence, priority, event, before, after,
    shown, who, reason, annunciated, accepted) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 1)"""
_HOUR = "INSERT INTO heat_hour VALUES (?, ?, 11.7, 12.0, 12.3, -0.3, 0.3, 12.0, 28.0, 3600000, 3600000, 0, 0, 0)"


@dataclass(frozen=True, slots=True)
class BigSite:
    """The journal and what reads it. `now_ms` gives the moment at which all of it is looked at."""

    journal: Journal
    site: Site
    profiles: dict[str, SpeciesProfile]
    channels: dict[str, ChannelKey]
    queries: Queries

    def overview(self) -> Overview:
        """What the first page shows."""
        return self.queries.overview(newest_ms(self.journal), 1.0, BrokerState(True, "", START_MS))

    def app(self, keep_s: float = 0.0, door: Door | None = None) -> FastAPI:
        """All pages, as the service builds them."""

        def now_ms() -> int:
            return newest_ms(self.journal)

        work = DeskWork(self.site, self.profiles)
        board = AlarmBoard(self.journal, work, self.site, self.profiles, now_ms)
        records = ClutchRecords(self.journal, self.site, self.profiles, BRIDGE_S)
        return create_app(
            self.overview,
            alarms=board,
            charts=ChartReader(self.journal, self.site, BRIDGE_S, now_ms),
            clutches=ClutchPages.of(records, now_ms),
            keep_s=keep_s,
            door=door,
        )


def newest_ms(journal: Journal) -> int:
    """The time of the newest reading: the clock of this site."""
    with journal.read() as conn:
        (at_ms,) = conn.execute("SELECT measured_at_ms FROM sample ORDER BY seq DESC LIMIT 1").fetchone()
    return int(at_ms)


def make(
    folder: Path, readings: int = READINGS, clutches: int = CLUTCHES, events: int = ALARM_EVENTS, days: int = 365
) -> float:
    """Write the site's files and fill its journal; give how long rolling up took, microseconds a reading.

    The readings are of so many days up to now, the alarms of a year.
    """
    folder.mkdir(parents=True, exist_ok=True)
    _write_site(folder)
    with Journal.open(folder / "journal.sqlite3") as journal:
        site = opened(folder, journal)
        _readings(site, readings, days)
        _clutches(site, clutches)
        _alarms(site, events)
        began_s = time.perf_counter()
        RollUps(journal).run()
        return (time.perf_counter() - began_s) / readings * 1e6


def opened(folder: Path, journal: Journal) -> BigSite:
    """Read the site's files, and what is needed to answer for it."""
    checked = check_site(folder)
    if checked.site is None:
        raise SystemExit("\n".join(map(str, checked.mistakes)))
    profiles, channels = dict(checked.profiles), dict(Decoder(checked.site).channels)
    queries = Queries(journal, checked.site, profiles, channels, BRIDGE_S)
    return BigSite(journal, checked.site, profiles, channels, queries)


def _write_site(folder: Path) -> None:
    """Five incubators, each with a probe for its shelf and one in a box, each of temperature and humidity."""
    boxes = "".join(f'[[incubator.zone.box]]\nid = "B{number}"\n' for number in range(BOXES))
    incubators = "".join(
        f'[[incubator]]\nid = "c{number}"\nname = "Cabinet {number}"\nroom_temperature_c = 20\n'
        "temperature_factor = 0.9\n"
        f'[[incubator.zone]]\nid = "z"\nname = "shelf"\n{boxes}'
        for number in range(INCUBATORS)
    )
    channels = "".join(
        f'[[probe.channel]]\nname = "{name}"\nquantity = "{quantity}"\n'
        for name, quantity in (("t", "air_temperature"), ("rh", "relative_humidity"))
    )
    probes = "".join(
        f'[[probe]]\nid = "p{number}-{kind}"\nplace = "c{number}/{place}"\ninterval_s = 90\n{channels}'
        for number in range(INCUBATORS)
        for kind, place in (("air", "z"), ("box", "z/B0"))
    )
    site = f'[site]\nname = "Bench"\ntime_zone = "Europe/Berlin"\n{incubators}{probes}'
    (folder / "site.toml").write_text(site)
    (folder / "settings.toml").write_text("")


def _readings(site: BigSite, readings: int, days: int) -> None:
    ids = site.journal.write(lambda conn: samples.channel_ids(conn, site.channels.values()))
    rows = _rows(ids, readings // len(ids), days)
    while batch := list(itertools.islice(rows, 200_000)):

        def store(conn: sqlite3.Connection, batch: list[tuple[int, int, int, float]] = batch) -> None:
            conn.executemany(_INSERT, batch)

        site.journal.write(store)


def _rows(ids: dict[str, int], each: int, days: int) -> Iterator[tuple[int, int, int, float]]:
    step_ms = days * DAY_MS // each
    middles = {number: 85.0 if channel.endswith("/rh") else 28.0 for channel, number in ids.items()}
    for n in range(each):
        wave = math.sin(n / 960) + n * 7919 % 97 / 500
        for number, middle in middles.items():
            at_ms = NOW_MS - days * DAY_MS + n * step_ms + number
            yield number, at_ms, at_ms, middle + wave


def _clutches(site: BigSite, count: int) -> None:
    """Set up one after another over the last 120 days, and as many that lay there before and are closed."""
    species = [one for one, profile in sorted(site.profiles.items()) if heat_rule(profile) is not None][:SPECIES]

    def store(conn: sqlite3.Connection) -> None:
        for number in range(2 * count):
            before, box = number < count, number % count
            set_up_ms = NOW_MS - (240 if before else 120) * DAY_MS + box * DAY_MS
            end_ms = set_up_ms + 110 * DAY_MS if before else NOW_MS
            place, kind = f"c{box % INCUBATORS}/z/B{box // INCUBATORS}", species[box % SPECIES]
            new = NewClutch(f"C{number}", kind, None, set_up_ms, set_up_ms, 8, "", place, set_up_ms)
            clutch_id = register.add_clutch(conn, new, "bench", NOW_MS)
            conn.executemany(_HOUR, [(clutch_id, hour_ms) for hour_ms in range(set_up_ms, end_ms - HOUR_MS, HOUR_MS)])
            if before:
                conn.execute("UPDATE clutch SET closed_at_ms = ? WHERE clutch_id = ?", (end_ms, clutch_id))
        for week in range(WEEKS):
            _rounds(conn, NOW_MS - 120 * DAY_MS + week * 7 * DAY_MS)

    site.journal.write(store)


def _rounds(conn: sqlite3.Connection, at_ms: int) -> None:
    """One through each incubator, in which all was well with every clutch that lay there."""
    lying = [each for each in register.clutches(conn) if each.placements[0].from_ms <= at_ms]
    for number in range(INCUBATORS):
        begun = rounds.start(conn, f"c{number}", "mara", at_ms, 30 * MINUTE_MS)
        for each in lying:
            place = each.placements[-1].place
            if place.startswith(f"c{number}/"):
                entry = Entry(str(uuid4()), place, "mara", all_well=True)
                findings.append(conn, Finding(0, begun.number, entry, each.clutch_id, at_ms, at_ms))
        rounds.end(conn, f"c{number}", "mara", "", at_ms + 20 * MINUTE_MS)


def _alarms(site: BigSite, count: int) -> None:
    """Raised and cleared in turn, all over the year; of each every third step was also told to somebody."""
    kinds = [AlarmKind.TEMPERATURE_HIGH, AlarmKind.TEMPERATURE_LOW, AlarmKind.NO_DATA, AlarmKind.PROBE_FAULT]
    keys = [f"{kind}:{channel}" for kind in kinds for channel in site.channels]
    step_ms = YEAR_MS // max(count, 1)

    def store(conn: sqlite3.Connection) -> None:
        events, records = [], []
        for number in range(count):
            at_ms, pair = START_MS + number * step_ms, number // 2
            key, occurrence = keys[pair % len(keys)], f"{keys[pair % len(keys)]}#{pair}"
            raised = number % 2 == 0
            what = "raised" if raised else "cleared"
            events.append((at_ms, at_ms, key, occurrence, what, 31.2, 30.0, "31.2 against 30.0"))
            before, after, shown = AlarmMemory.NORMAL, AlarmMemory.UNACKNOWLEDGED, Shown.UNACKNOWLEDGED
            if not raised:
                before, after, shown = after, before, Shown.NORMAL
            row = (at_ms, at_ms, key, occurrence, int(Priority.LOW), what, before, after, shown, "", "", raised)
            records.append(row)
        conn.executemany(_EVENT, events)
        conn.executemany(_RECORD, records)
        conn.executemany(
            "INSERT INTO outbox (message_id, contact, priority, created_at_ms, body, state, incident)"
            " VALUES (?, 'mara/0', 3, ?, ?, 'delivered', ?)",
            [(f"m{n}", event[0], json.dumps({"occurrence": event[3]}), f"i{n}") for n, event in enumerate(events[::6])],
        )

    site.journal.write(store)
