"""Bringing a journal file up to the schema of this program, step by step."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from daemon.storage.errors import JournalError
from daemon.storage.schema import FIRST
from daemon.storage.schema_access import ACCESS
from daemon.storage.schema_audit import AUDIT
from daemon.storage.schema_backups import BACKUPS
from daemon.storage.schema_calendar import CALENDAR
from daemon.storage.schema_chain import CHAIN
from daemon.storage.schema_contacts import CONTACTS
from daemon.storage.schema_derived import ALARM_DESK, CALIBRATION, COOLING, HEAT_INTERVAL
from daemon.storage.schema_eggs import EGGS
from daemon.storage.schema_findings import FINDINGS, FINDINGS_OF_CLUTCH
from daemon.storage.schema_identity import IDENTITY
from daemon.storage.schema_incidents import INCIDENTS
from daemon.storage.schema_indexes import INDEXES
from daemon.storage.schema_late import LATE
from daemon.storage.schema_mirror import MIRROR
from daemon.storage.schema_paging import PAGING
from daemon.storage.schema_rollups import ROLLUPS
from daemon.storage.schema_work import WORK

APPLICATION_ID = int.from_bytes(b"Clwd", "big")
"""Stands in the header of every journal, so that no other program's SQLite file is taken for one."""


@dataclass(frozen=True, slots=True)
class Migration:
    """One step. Its number, name and statements never change once released."""

    number: int
    name: str
    statements: tuple[str, ...]


MIGRATIONS: tuple[Migration, ...] = (
    Migration(1, "first schema", FIRST),
    Migration(2, "heat as an interval", HEAT_INTERVAL),
    Migration(3, "calibration", CALIBRATION),
    Migration(4, "cooling curves", COOLING),
    Migration(5, "alarm desk", ALARM_DESK),
    Migration(6, "rounds, duties, test messages", WORK),
    Migration(7, "roll-ups", ROLLUPS),
    Migration(8, "accounts and audit", (*ACCESS, *AUDIT)),
    Migration(9, "eggs", EGGS),
    Migration(10, "findings of rounds", FINDINGS),
    Migration(11, "indexes of the read side", INDEXES),
    Migration(12, "calendar feeds and hand-over", CALENDAR),
    Migration(13, "addresses of contacts", CONTACTS),
    Migration(14, "chain and digests", CHAIN),
    Migration(15, "incidents", INCIDENTS),
    Migration(16, "backups", BACKUPS),
    Migration(17, "late readings", LATE),
    Migration(18, "mirror", MIRROR),
    Migration(19, "identity of the journal", IDENTITY),
    Migration(20, "paging", PAGING),
    Migration(21, "findings of a clutch", FINDINGS_OF_CLUTCH),
)


def refuse_unusable(
    conn: sqlite3.Connection, where: str, migrations: Sequence[Migration] = MIGRATIONS
) -> frozenset[int]:
    """Give the numbers of the migrations that the file has had; changes nothing.

    Raises JournalError for another program's file and for a journal that a newer version of this program wrote.
    """
    (objects,) = conn.execute("SELECT count(*) FROM sqlite_master").fetchone()
    (application_id,) = conn.execute("PRAGMA application_id").fetchone()
    if not objects:
        return frozenset()
    if application_id != APPLICATION_ID:
        raise JournalError(
            "cannot open the journal",
            where,
            "the file is a database of another program",
            "It was left as it is. Name another file for the journal in settings.toml.",
        )
    applied = frozenset(number for (number,) in conn.execute("SELECT number FROM migration"))
    newest = max(migration.number for migration in migrations)
    if max(applied) > newest:
        raise JournalError(
            "cannot open the journal",
            where,
            f"a newer version of clutchwarden wrote it (schema {max(applied)}, this version knows {newest})",
            "It was left as it is. Install the newer version again, or restore the backup made before the upgrade.",
        )
    return applied


def migrate(conn: sqlite3.Connection, where: str, migrations: Sequence[Migration] = MIGRATIONS) -> None:
    """Apply the missing migrations in order, each in one transaction together with the record of it."""
    applied = refuse_unusable(conn, where, migrations)
    for migration in sorted(migrations, key=lambda each: each.number):
        if migration.number not in applied:
            _apply(conn, where, migration, migrations)


def _apply(conn: sqlite3.Connection, where: str, migration: Migration, migrations: Sequence[Migration]) -> None:
    conn.execute("BEGIN IMMEDIATE")
    try:
        # Another process may have done it while this one waited for the lock.
        if migration.number not in refuse_unusable(conn, where, migrations):
            conn.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            conn.execute(
                "CREATE TABLE IF NOT EXISTS migration (number INTEGER PRIMARY KEY, name TEXT NOT NULL,"
                " applied_at TEXT NOT NULL DEFAULT CURRENT_TIMESTAMP)"
            )
            for statement in migration.statements:
                conn.execute(statement)
            conn.execute("INSERT INTO migration (number, name) VALUES (?, ?)", (migration.number, migration.name))
        conn.execute("COMMIT")
    except BaseException:
        if conn.in_transaction:
            conn.execute("ROLLBACK")
        raise
