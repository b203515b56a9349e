"""Every row that only grows is in the chain; what is done to the file past the program is found by day and row."""

import hashlib
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from daemon.chain_rules import Head, TypedCode, link_hash, read_code, row_hash
from daemon.storage import chain, rounds
from daemon.storage.connections import connect
from daemon.storage.journal import Journal
from daemon.verify import verify
from daemon.verify_values import Wrong
from tests.storage.chained import (
    DAYS,
    START_MS,
    all_sources,
    changed_a_little,
    fill_every_table,
    found,
    past_clutchwarden,
    whole,
    write_event,
)


def test_a_row_and_a_link_are_hashed_as_the_rules_say() -> None:
    # Written out by hand after the docstring of the rules.
    row = b'["calibration",7,"caf\\u00e9",-0.1,1e+300,null,{"bytes":"00ff"}]'
    assert row_hash("calibration", (7, "café", -0.1, 1e300, None, b"\x00\xff")) == hashlib.sha256(row).digest()
    before, of_row = b"\x11" * 32, b"\x22" * 32
    link = before + (5).to_bytes(8, "big") + (-1).to_bytes(8, "big", signed=True) + of_row + b'[3,"[1,\\"x\\"]"]'
    assert link_hash(before, 5, -1, of_row, 3, '[1,"x"]') == hashlib.sha256(link).digest()


def test_a_whole_number_and_a_real_number_are_two_values() -> None:
    assert row_hash("t", (1,)) != row_hash("t", (1.0,))
    assert row_hash("t", ("1",)) != row_hash("t", (1,))
    assert row_hash("t", (None,)) != row_hash("t", ("null",))


def test_a_code_holds_the_first_80_bits_and_is_read_as_people_write_it() -> None:
    # Crockford's base 32: 5 bits a sign. 00000 00001 ... so the bytes below are 0, 1, 2, ... 15.
    digest = int("".join(f"{n:05b}" for n in range(16)), 2).to_bytes(10, "big") + bytes(22)
    head = Head(42, digest)
    assert head.code == "42-0123-4567-89AB-CDEF"
    typed = read_code(" 42-o123 4567 89ab cdef ")
    assert typed == TypedCode(42, "0123456789ABCDEF")
    assert typed is not None
    assert typed.is_of(head)
    assert not typed.is_of(Head(43, digest))
    for wrong in ("", "42", "42-0123", "x-0123-4567-89AB-CDEF", "42-0123-4567-89AB-CDEU", f"{'9' * 20}-{'0' * 16}"):
        assert read_code(wrong) is None


def test_each_table_that_only_grows_is_covered(path: Path) -> None:
    with Journal.open(path):
        pass
    covered = {source.wanted.table for source in all_sources(path)}
    with closing(connect(path, 1)) as conn:
        growing = {
            table
            for (table,) in conn.execute(
                "SELECT tbl_name FROM sqlite_master WHERE type = 'trigger' AND name = tbl_name || '_refuses_update'"
            )
        }
    assert covered == (growing | {"round"}) - {"sample", "chain_link"}
    assert {"alarm_record", "audit_event", "register_change", "placement", "calibration", "photo"} <= covered


def test_what_is_written_is_sealed_by_the_same_transaction(journal: Journal, path: Path) -> None:
    write_event(journal, 0)
    with journal.read() as conn:
        before = chain.head(conn)
    write_event(journal, 1)
    with journal.read() as conn:
        assert chain.waiting_count(conn) == 0
        assert chain.head(conn).link == before.link + 1
    assert whole(path).code == chain_code(journal)


def chain_code(journal: Journal) -> str:
    with journal.read() as conn:
        return chain.head_code(conn)


def test_what_is_rolled_back_leaves_no_link(journal: Journal, path: Path) -> None:
    write_event(journal, 0)
    before = chain_code(journal)

    def fails(conn: sqlite3.Connection) -> None:
        conn.execute("INSERT INTO channel (channel, probe, quantity) VALUES ('a/b', 'a', 'air_temperature')")
        raise RuntimeError

    with pytest.raises(RuntimeError):
        journal.write(fails)
    assert chain_code(journal) == before
    whole(path)


def test_one_change_in_any_column_of_any_covered_table_is_found(path: Path) -> None:
    fill_every_table(path)
    whole(path)
    for source in all_sources(path):
        table, keys = source.wanted.table, source.wanted.keys
        with past_clutchwarden(path) as conn:
            key = source.key("t")
            order = ", ".join(f"{one} DESC" for one in keys)
            name, *before = conn.execute(
                f"SELECT {key}, {source.columns} FROM {table} AS t ORDER BY {order} LIMIT 1"
            ).fetchone()
            for column, value in zip(source.wanted.covered, before, strict=True):
                set_to = f'UPDATE {table} AS t SET "{column}" = ? WHERE {source.is_row("?")}'
                is_number = column in keys and isinstance(value, int)
                places = [value + 64 if is_number else changed_a_little(value), *[name] * len(keys)]
                conn.execute(set_to, places)
                faults = {(each.row, each.wrong) for each in found(path) if each.table == table}
                if table == "chain_source":
                    # Without it nothing more can be said of what it stands for.
                    assert found(path), column
                    faults.add((str(name), Wrong.REMOVED if column in keys else Wrong.CHANGED))
                    faults.add((str(name), Wrong.ADDED))
                wrong = Wrong.REMOVED if column in keys else Wrong.CHANGED
                assert (str(name), wrong) in faults, (table, column)
                if column in keys:
                    assert Wrong.ADDED in {each for _, each in faults}, (table, column)
                new_name = conn.execute(f"SELECT {key} FROM {table} AS t ORDER BY {order} LIMIT 1").fetchone()[0]
                back = name if column not in keys else new_name
                conn.execute(set_to, [value, *[back] * len(keys)])
        whole(path)


def test_the_first_broken_day_is_named(path: Path) -> None:
    with Journal.open(path) as journal:
        for day in range(3):
            write_event(journal, day)
    with past_clutchwarden(path) as conn:
        conn.execute("UPDATE audit_event SET new = replace(new, '32', '33')")
        conn.execute("UPDATE audit_event SET who = 'mara' WHERE event_id = 2")
    first = verify(path).first
    assert first is not None
    assert (first.day, first.table, first.row, first.wrong) == (DAYS[1], "audit_event", "2", Wrong.CHANGED)
    assert {each.day for each in found(path)} == {DAYS[1], DAYS[2]}


@pytest.mark.parametrize("row", [1, 2, 3])
def test_a_row_that_is_removed_is_named_be_it_the_last(path: Path, row: int) -> None:
    with Journal.open(path) as journal:
        for day in range(3):
            write_event(journal, day)
    with past_clutchwarden(path) as conn:
        conn.execute("DELETE FROM audit_event WHERE event_id = ?", (row,))
    [fault] = found(path)
    assert (fault.day, fault.table, fault.row, fault.wrong) == (DAYS[row - 1], "audit_event", str(row), Wrong.REMOVED)


def test_a_row_that_is_put_in_is_found_also_after_the_next_start(path: Path) -> None:
    with Journal.open(path) as journal:
        write_event(journal, 0)
    with closing(connect(path, 5)) as conn:
        for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE name GLOB 'audit_event_*'").fetchall():
            if "is_sealed" in name:
                conn.execute(f"DROP TRIGGER {name}")
        conn.execute(
            "INSERT INTO audit_event SELECT 77, at_ms, who, from_where, what, about, old, new, why"
            " FROM audit_event LIMIT 1"
        )
    for _ in range(2):
        [fault] = found(path)
        assert (fault.day, fault.table, fault.row, fault.wrong) == (DAYS[0], "audit_event", "77", Wrong.ADDED)
        with Journal.open(path) as journal:
            write_event(journal, 1)


def test_a_link_that_is_changed_or_removed_is_found(path: Path) -> None:
    with Journal.open(path) as journal:
        for day in range(3):
            write_event(journal, day)
    newest = verify(path).code.partition("-")[0]
    last = int(newest)
    for column in ("at_ms", "row_key", "row_hash", "hash"):
        with past_clutchwarden(path) as conn:
            (value,) = conn.execute(f"SELECT {column} FROM chain_link WHERE link = ?", (last,)).fetchone()
            conn.execute(f"UPDATE chain_link SET {column} = ? WHERE link = ?", (changed_a_little(value), last))
            assert ("chain_link", newest, Wrong.LINK_CHANGED) in {fault[1:] for fault in found(path)}, column
            conn.execute(f"UPDATE chain_link SET {column} = ? WHERE link = ?", (value, last))
    with past_clutchwarden(path) as conn:
        conn.execute("DELETE FROM chain_link WHERE link = ?", (last - 1,))
    assert ("chain_link", f"{last - 1} to {last - 1}", Wrong.LINKS_MISSING) in {fault[1:] for fault in found(path)}


def test_an_end_that_is_cut_off_whole_shows_only_by_a_code_from_outside(path: Path) -> None:
    with Journal.open(path) as journal:
        write_event(journal, 0)
        early = read_code(chain_code(journal))
        write_event(journal, 1)
        late = read_code(chain_code(journal))
    with past_clutchwarden(path) as conn:
        conn.execute("DELETE FROM audit_event WHERE event_id = 2")
        conn.execute("DELETE FROM chain_link WHERE link = (SELECT max(link) FROM chain_link)")
    assert early is not None
    assert late is not None
    assert found(path) == []
    assert verify(path, head=early).head_found is True
    [fault] = verify(path, head=late).faults
    assert fault.wrong is Wrong.NOT_IN_CHAIN


def test_a_chain_that_is_written_anew_does_not_hold_an_older_code(path: Path) -> None:
    with Journal.open(path) as journal:
        for day in range(3):
            write_event(journal, day)
        code = read_code(chain_code(journal))
    with past_clutchwarden(path) as conn:
        conn.execute("UPDATE audit_event SET who = 'mara' WHERE event_id = 1")
        conn.execute(
            "INSERT INTO unsealed (source_id, row_key) SELECT source_id, row_key FROM chain_link ORDER BY link"
        )
        conn.execute("DELETE FROM chain_link")
        chain.seal_all(conn)
    assert found(path) == []
    assert verify(path, head=code).head_found is False


def test_one_byte_of_the_file_itself_is_found(path: Path) -> None:
    with Journal.open(path) as journal:
        write_event(journal, 0)
        write_event(journal, 1)
    with closing(connect(path, 5)) as conn:
        conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    data = bytearray(path.read_bytes())
    data[data.index(b"summer")] ^= 1
    path.write_bytes(data)
    assert [(fault.table, fault.wrong) for fault in found(path)] == [("audit_event", Wrong.CHANGED)]


def test_a_round_is_sealed_when_it_begins_and_when_it_ends(path: Path) -> None:
    with Journal.open(path) as journal:
        journal.write(lambda conn: rounds.start(conn, "north", "ana", START_MS, 1_800_000))
        whole(path)
        with past_clutchwarden(path) as conn:
            conn.execute("UPDATE round SET who = 'mara'")
            assert [(fault.table, fault.wrong) for fault in found(path)] == [("round", Wrong.CHANGED)]
            conn.execute("UPDATE round SET who = 'ana'")
        journal.write(lambda conn: rounds.end(conn, "north", "ana", "all well", START_MS + 60_000))
        whole(path)
    with past_clutchwarden(path) as conn:
        conn.execute("UPDATE round SET note = 'all ill'")
    assert [(fault.table, fault.wrong) for fault in found(path)] == [("round", Wrong.CHANGED)]


def test_an_event_is_stored_also_where_it_cannot_be_sealed(path: Path) -> None:
    with Journal.open(path) as journal:
        write_event(journal, 0)
        with past_clutchwarden(path) as conn:
            kept = conn.execute("SELECT * FROM chain_source WHERE of_table = 'audit_event'").fetchone()
            conn.execute("DELETE FROM chain_source WHERE of_table = 'audit_event'")
        write_event(journal, 1)
        assert verify(path).waiting_events == 1
        with past_clutchwarden(path) as conn:
            conn.execute(f"INSERT INTO chain_source VALUES ({', '.join('?' * len(kept))})", kept)
        write_event(journal, 2)
    assert whole(path).waiting_events == 0


def test_one_row_that_cannot_be_sealed_holds_up_none_behind_it_and_is_said_once(
    path: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Text that is no UTF-8, as only another program can write it."""
    monkeypatch.setattr(chain, "_said_s", {})
    with Journal.open(path) as journal:
        write_event(journal, 0)
        with closing(connect(path, 5)) as conn:
            conn.execute(
                "INSERT INTO audit_event (at_ms, who, from_where, what, about, old, new, why)"
                " SELECT at_ms, who, from_where, what, about, old, new, CAST(x'ff41' AS TEXT) FROM audit_event LIMIT 1"
            )
        for number in range(1, 30):
            write_event(journal, number)
        with journal.read() as conn:
            assert chain.waiting_count(conn) == 1
            assert chain.head(conn).link >= 30
    assert len(caplog.records) == 1
