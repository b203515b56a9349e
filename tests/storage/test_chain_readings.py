"""Readings that are changed, removed or added past the program are found with their day."""

import struct
from contextlib import closing
from datetime import date
from pathlib import Path

from daemon.chain_rules import BEFORE_ALL
from daemon.storage import chain
from daemon.storage.connections import connect
from daemon.storage.journal import Journal
from daemon.storage.migrations import migrate
from daemon.verify import verify
from daemon.verify_values import Wrong
from tests.storage.chained import (
    DAYS,
    changed_a_little,
    found,
    past_clutchwarden,
    three_days,
    whole,
    write_event,
)


def test_one_reading_changed_by_one_bit_is_found_with_its_day(path: Path) -> None:
    three_days(path)
    assert whole(path).readings == 4500
    for column in ("channel_id", "measured_at_ms", "received_at_ms", "value", "quality"):
        with past_clutchwarden(path) as conn:
            (value,) = conn.execute(f"SELECT {column} FROM sample WHERE seq = 2000").fetchone()
            conn.execute(f"UPDATE sample SET {column} = ? WHERE seq = 2000", (changed_a_little(value),))
            [fault] = found(path)
            assert (fault.day, fault.table, fault.row) == (DAYS[1], "sample", "1501 to 3000"), column
            assert fault.wrong is Wrong.READINGS_CHANGED
            conn.execute(f"UPDATE sample SET {column} = ? WHERE seq = 2000", (value,))
    whole(path)


def test_one_byte_of_a_stored_value_in_the_file_is_found(path: Path) -> None:
    three_days(path, each=20)
    with past_clutchwarden(path) as conn:
        conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    data = bytearray(path.read_bytes())
    # SQLite keeps a real number as big-endian binary64. The reading no. 2 has 28.125.
    # It may also stand where a page has been left, so each is changed.
    stored, place = struct.pack(">d", 28.125), -1
    while (place := data.find(stored, place + 1)) >= 0:
        data[place + 7] ^= 1
    path.write_bytes(data)
    assert [(fault.day, fault.wrong) for fault in found(path)] == [(DAYS[0], Wrong.READINGS_CHANGED)]


def test_readings_removed_added_or_of_a_wrong_kind_are_found(path: Path) -> None:
    three_days(path)
    attacks = {
        "DELETE FROM sample WHERE seq = 3005": (DAYS[2], "3005", Wrong.READING_REMOVED),
        "DELETE FROM sample WHERE seq = 4500": (DAYS[2], "4500", Wrong.READING_REMOVED),
        "INSERT INTO sample SELECT 0, channel_id, 1, received_at_ms, value, 0 FROM sample WHERE seq = 1": (
            DAYS[0],
            "0",
            Wrong.READING_ADDED,
        ),
        "UPDATE sample SET value = 'warm' WHERE seq = 1": (DAYS[0], "1 to 1500", Wrong.READINGS_CHANGED),
    }
    for attack, (day, row, wrong) in attacks.items():
        copy = path.with_name("attacked.sqlite3")
        copy.unlink(missing_ok=True)
        with closing(connect(path, 5)) as conn:
            conn.execute("VACUUM INTO ?", (str(copy),))
        with past_clutchwarden(copy) as conn:
            conn.execute(attack)
        assert [(each.day, each.table, each.row, each.wrong) for each in found(copy)] == [(day, "sample", row, wrong)]


def test_readings_cut_off_behind_the_last_digest_show_by_what_followed_them(path: Path) -> None:
    three_days(path)
    with past_clutchwarden(path) as conn:
        conn.execute("INSERT INTO cursor (name, seq) VALUES ('roll-ups', 4510)")
        conn.execute("DELETE FROM sample WHERE seq > 4505")
    assert [(each.row, each.wrong) for each in found(path)] == [("4506 to 4510", Wrong.READING_REMOVED)]


def test_a_digest_that_is_removed_is_found(path: Path) -> None:
    three_days(path)
    with past_clutchwarden(path) as conn:
        conn.execute("DELETE FROM sample_day WHERE day = ?", (DAYS[1],))
    assert {(each.table, each.wrong) for each in found(path)} == {
        ("sample_day", Wrong.REMOVED),
        ("sample_day", Wrong.DIGEST_MISSING),
    }


def test_since_leaves_out_what_is_older(path: Path) -> None:
    three_days(path)
    with Journal.open(path) as journal:
        for day in range(3):
            write_event(journal, day)
    with past_clutchwarden(path) as conn:
        conn.execute("UPDATE sample SET value = 0 WHERE seq = 1")
        conn.execute("UPDATE audit_event SET who = 'mara' WHERE event_id = 1")
    assert {each.day for each in found(path)} == {DAYS[0]}
    later = verify(path, since=date(2026, 1, 2))
    assert later.faults == ()
    assert (later.readings, later.days) == (3000, 2)
    with past_clutchwarden(path) as conn:
        conn.execute("UPDATE audit_event SET who = 'mara' WHERE event_id = 3")
    assert [(each.day, each.row) for each in verify(path, since=date(2026, 1, 2)).faults] == [(DAYS[2], "3")]


def test_before_all_has_no_code_to_keep(path: Path) -> None:
    with closing(connect(path, 5)) as conn:
        migrate(conn, str(path))
        assert chain.head(conn) == BEFORE_ALL
        assert chain.head_code(conn) == ""
