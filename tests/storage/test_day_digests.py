"""Daily digests of readings: every reading of a day that is over is in one, and none is changed by what comes late."""

import hashlib
import struct
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from daemon.chain_rules import BLOCK, day_name, packed
from daemon.day_digests import DayDigests
from daemon.storage import day_digests
from daemon.storage.day_digests import DayDigest
from daemon.storage.journal import Journal
from tests.storage.chained import DAY_MS, DAYS, START_MS, digest_until, store_readings, whole
from tests.support.journals import new_journal

HOUR_MS = 3_600_000


@pytest.fixture
def journal(path: Path) -> Iterator[Journal]:
    with Journal.open(path) as opened:
        yield opened


def digests(journal: Journal) -> list[DayDigest]:
    with journal.read() as conn:
        return day_digests.stored(conn)


def spans(journal: Journal) -> list[tuple[str, int, int]]:
    return [(each.day, each.first_seq, each.last_seq) for each in digests(journal)]


def test_a_reading_is_packed_in_40_bytes_as_the_rules_say() -> None:
    row = (3, 1_767_225_600_000, 1_767_225_600_040, 28.125, 0)
    by_hand = b"".join(
        number.to_bytes(8, "little") for number in (3, 1_767_225_600_000, 1_767_225_600_040)
    ) + bytes.fromhex("0000000000203c400000000000000000")
    # 28.125 is 1.7578125 · 2^4: binary64 0x403C200000000000.
    assert packed([row]) == by_hand
    assert packed([row] * BLOCK) == by_hand * BLOCK
    for wrong in ((3, 1, 1, "warm", 0), (3.5, 1, 1, 28.0, 0), (3, 1, None, 28.0, 0)):
        with pytest.raises(ValueError):
            packed([wrong])


def test_a_digest_is_the_hash_of_the_readings_in_order_of_storing(journal: Journal) -> None:
    store_readings(journal, [START_MS, START_MS + 1])
    digest_until(journal, START_MS + DAY_MS)
    with journal.read() as conn:
        (number,) = conn.execute("SELECT channel_id FROM channel").fetchone()
    # The readings of the support: measured a second apart, 28 and 28.125.
    pieces = [struct.pack("<qqqdq", number, START_MS + n * 1000, START_MS + n, 28 + n / 8, 0) for n in range(2)]
    assert digests(journal) == [DayDigest(DAYS[0], 1, 2, 2, hashlib.sha256(b"".join(pieces)).hexdigest())]


def test_a_day_gets_its_digest_once_it_is_over_by_utc(journal: Journal) -> None:
    store_readings(journal, [START_MS, START_MS + DAY_MS - 1])
    digest_until(journal, START_MS + DAY_MS - 1)
    assert digests(journal) == []
    digest_until(journal, START_MS + DAY_MS)
    assert spans(journal) == [(DAYS[0], 1, 2)]
    digest_until(journal, START_MS + DAY_MS)
    assert len(digests(journal)) == 1


def test_days_without_the_service_are_made_up_for_at_once(journal: Journal) -> None:
    store_readings(journal, [START_MS + day * DAY_MS + n for day in range(3) for n in range(1100)])
    digest_until(journal, START_MS + 30 * DAY_MS)
    assert spans(journal) == [(DAYS[0], 1, 1100), (DAYS[1], 1101, 2200), (DAYS[2], 2201, 3300)]


def test_what_comes_late_belongs_to_the_day_on_which_it_came(journal: Journal, path: Path) -> None:
    store_readings(journal, [START_MS + n for n in range(10)])
    digest_until(journal, START_MS + DAY_MS)
    before = digests(journal)
    # Measured on the first day, stored on the second.
    store_readings(journal, [START_MS + DAY_MS + 5], first=10)
    digest_until(journal, START_MS + 2 * DAY_MS)
    assert digests(journal) == [*before, *digests(journal)[1:]]
    assert spans(journal)[1:] == [(DAYS[1], 11, 11)]
    whole(path)


def test_a_clock_that_was_ahead_holds_nothing_up(journal: Journal, path: Path) -> None:
    store_readings(journal, [START_MS, START_MS + 500 * DAY_MS, START_MS + 1])
    digest_until(journal, START_MS + DAY_MS)
    assert spans(journal) == [(DAYS[0], 1, 1), (day_name(20_454 + 500), 2, 2), (DAYS[0], 3, 3)]
    assert whole(path).days == 2


def test_two_that_make_the_same_digest_make_it_once(journal: Journal) -> None:
    store_readings(journal, [START_MS])
    with journal.read() as conn:
        due = day_digests.due(conn, START_MS + DAY_MS, lambda: False)
    assert due is not None
    assert [journal.write(lambda conn: day_digests.add(conn, due, START_MS)) for _ in range(2)] == [True, False]


def test_a_job_that_is_to_end_leaves_the_day_for_the_next_run(journal: Journal) -> None:
    store_readings(journal, [START_MS])
    job = DayDigests(journal, lambda: START_MS + DAY_MS)
    job.stop()
    job.run()
    assert digests(journal) == []
    digest_until(journal, START_MS + DAY_MS)
    assert spans(journal) == [(DAYS[0], 1, 1)]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(hours=st.lists(st.integers(-60, 60), min_size=1, max_size=40))
def test_digests_cover_all_once_and_each_is_of_one_day(
    hours: list[int], tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.mktemp("days") / "journal.sqlite3"
    received = [START_MS + hour * HOUR_MS for hour in hours]
    with new_journal(path) as journal:
        store_readings(journal, received)
        digest_until(journal, START_MS + 10 * DAY_MS)
        found = spans(journal)
    covered = [seq for _, first, last in found for seq in range(first, last + 1)]
    assert covered == list(range(1, len(hours) + 1))
    for day, first, last in found:
        assert {day_name(at_ms // DAY_MS) for at_ms in received[first - 1 : last]} == {day}
    whole(path)
