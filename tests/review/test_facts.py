"""Facts of a period: whole, whatever the period, and at a cost that the history before it has no part in."""

import random
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from config.check import check_site
from config.words import AlarmKind
from daemon.review.values import Fact, FactKind
from daemon.review_facts import FactReader
from daemon.storage import runs
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.review.nights import ALL, EVENING_MS, HOUR_MS, MINUTE_MS, Night, at, night
from tests.standing.powered import AIR
from tests.support.journals import new_journal

END_MS = EVENING_MS + 12 * HOUR_MS


@pytest.fixture
def dark(tmp_path: Path) -> Iterator[Night]:
    with night(tmp_path) as made:
        yield made


def wild(dark: Night) -> None:
    """A night in which everything goes wrong by chance: silences, late readings, restarts, alarms, calls."""
    chance = random.Random(2026)
    moments = iter(sorted(EVENING_MS + chance.randrange(0, 11 * 60) * MINUTE_MS for _ in range(6)))
    start_ms = EVENING_MS
    for boot, end_ms in zip("aabbcc", moments, strict=True):
        dark.runs(start_ms, end_ms, boot, ended=chance.random() < 0.3)
        start_ms = end_ms + chance.randrange(0, 40) * MINUTE_MS
    dark.runs(start_ms, END_MS, "d")
    for channel in ALL:
        now_ms = EVENING_MS
        while now_ms < END_MS:
            until_ms = now_ms + chance.randrange(1, 180) * MINUTE_MS
            dark.speaks(channel, now_ms, min(until_ms, END_MS), value=float(chance.random() < 0.8))
            silent_ms = until_ms + chance.randrange(1, 60) * MINUTE_MS
            if chance.random() < 0.3:
                dark.speaks(channel, until_ms, min(silent_ms, END_MS), value=1.0, came_ms=END_MS)
            now_ms = silent_ms
    for kind in (AlarmKind.TEMPERATURE_LOW, AlarmKind.TEMPERATURE_LETHAL_LOW, AlarmKind.PROBE_FAULT):
        since_ms = EVENING_MS
        for _ in range(4):
            since_ms += chance.randrange(10, 120) * MINUTE_MS
            cleared_ms = since_ms + chance.randrange(1, 100) * MINUTE_MS
            dark.alarm(kind, AIR, since_ms, cleared_ms, after_ms=30_000, limit=20.0)
            since_ms = cleared_ms
    for number in range(6):
        created_ms = EVENING_MS + chance.randrange(0, 600) * MINUTE_MS + number
        message = dark.call(created_ms, "ana/0", f"no-data:{AIR}:5")
        dark.attempt(message, created_ms + 20 * MINUTE_MS, "delivered" if number % 2 else "abandoned", "no route")
    dark.pass_to(END_MS)


def test_what_two_periods_hold_is_what_both_together_hold(dark: Night) -> None:
    wild(dark)
    reader, now_ms = FactReader(dark.powered.site), END_MS + HOUR_MS
    chance = random.Random(7)
    with dark.journal.read() as conn:
        whole = reader.read(conn, EVENING_MS, now_ms, now_ms).facts
        assert {fact.kind for fact in whole} >= {
            FactKind.PROBE_GAP,
            FactKind.SITE_GAP,
            FactKind.EXCURSION,
            FactKind.PROBE_FAULT,
            FactKind.MACHINE_RESTARTED,
            FactKind.MAINS_ABSENT,
            FactKind.DELIVERY_FAILED,
        }
        for _ in range(25):
            one_ms, other_ms = sorted(EVENING_MS + chance.randrange(0, 13 * 60 * 60) * 1000 for _ in range(2))
            spans = ((EVENING_MS, one_ms), (one_ms, other_ms), (other_ms, now_ms))
            parts = {fact for from_ms, to_ms in spans for fact in reader.read(conn, from_ms, to_ms, now_ms).facts}
            assert parts == set(whole)
            found = reader.read(conn, one_ms, other_ms, now_ms).facts
            assert set(found) == {fact for fact in whole if _touches(fact, one_ms, other_ms, now_ms)}


def _touches(fact: Fact, from_ms: int, to_ms: int, now_ms: int) -> bool:
    return fact.span.from_ms <= to_ms and fact.span.until(now_ms) >= from_ms


BOX_OF = """
[[incubator.zone.box]]
id = "B{0}"
"""
MANY = """
[[probe]]
id = "p{0}"
place = "north/upper/B{0}"
interval_s = 60
[[probe.channel]]
name = "t"
quantity = "air_temperature"
"""


def test_a_day_of_twenty_channels_is_read_in_a_moment_whatever_came_before(tmp_path: Path) -> None:
    """Ten days of history before it cost nothing; the figure is for a busy machine, in time of the processor."""
    head = '[site]\nname = "x"\ntime_zone = "UTC"\n[[incubator]]\nid = "north"\nname = "North"\n'
    head += '[[incubator.zone]]\nid = "upper"\nname = "upper"\n'
    parts = [part.format(number) for part in (BOX_OF, MANY) for number in range(20)]
    (tmp_path / "site.toml").write_text(head + "".join(parts), encoding="utf-8")
    (tmp_path / "settings.toml").write_text("", encoding="utf-8")
    checked = check_site(tmp_path)
    site = checked.site
    assert site is not None, checked.mistakes
    channels = Decoder(site).channels
    days = 11

    def fill(conn: sqlite3.Connection) -> None:
        runs.begin_run(conn, EVENING_MS, "test", "boot")
        for number, channel in enumerate(channels, start=1):
            conn.execute("INSERT INTO channel VALUES (?, ?, 'p', 'air_temperature')", (number, channel))
            conn.execute(
                "WITH RECURSIVE minute (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM minute WHERE n < ?)"
                " INSERT INTO sample (channel_id, measured_at_ms, received_at_ms, value, quality)"
                " SELECT ?, ? + n * 60000, ? + n * 60000, 28.0, 0 FROM minute WHERE n % 720 NOT BETWEEN 100 AND 110",
                (days * 1440 - 1, number, EVENING_MS, EVENING_MS),
            )

    with new_journal(tmp_path / "journal.sqlite3") as journal:
        journal.write(fill)
        reader, now_ms = FactReader(site), EVENING_MS + days * 24 * HOUR_MS
        with journal.read() as conn:
            taken = []
            for _ in range(3):
                began_s = time.thread_time()
                found = reader.read(conn, now_ms - 24 * HOUR_MS, now_ms, now_ms)
                taken.append(time.thread_time() - began_s)
    # Two gaps of each channel in the day, and of the site two.
    assert len(found.facts) == 2 * 20 + 2
    assert min(taken) < 0.3


def test_a_reading_out_of_its_time_is_heard_only_where_it_came_in_time(dark: Night) -> None:
    dark.runs(EVENING_MS, at(4), "a")
    dark.all_speak(EVENING_MS, at(4), but=(AIR,))
    dark.speaks(AIR, EVENING_MS, at(0))
    dark.speaks(AIR, at(1), at(4))
    # Five minutes after it was measured a reading is in time, later it is late: `daemon/alarms/lateness.py`.
    dark.readings += [Reading(AIR, at(0, 20), at(0, 25), 28.0, 0), Reading(AIR, at(0, 40), at(0, 45, 1), 28.0, 0)]
    dark.pass_to(at(4))
    with dark.journal.read() as conn:
        facts = FactReader(dark.powered.site).read(conn, at(0), at(2), dark.now_ms).facts
    assert [fact.span for fact in facts] == [(at(23, 59), at(0, 20)), (at(0, 20), at(1))]
    assert "A part of its readings of that time came afterwards" in facts[1].words
