"""Backups and restore tests: what was made, checked, kept and removed."""

from daemon.storage.schema import append_only

BACKUPS: tuple[str, ...] = (
    # Tells the backups of this journal from others in one folder. A restored journal goes on with it.
    "CREATE TABLE backup_origin (origin TEXT NOT NULL)",
    "INSERT INTO backup_origin (origin) VALUES (lower(hex(randomblob(4))))",
    # Every attempt. `told`: what went wrong, or what deserves a warning, as sentences. Bytes without photos.
    """CREATE TABLE backup_run (
        run_id INTEGER PRIMARY KEY,
        began_ms INTEGER NOT NULL,
        ended_ms INTEGER NOT NULL,
        folder TEXT NOT NULL,
        name TEXT NOT NULL,
        good INTEGER NOT NULL,
        byte_count INTEGER NOT NULL,
        told TEXT NOT NULL)""",
    "CREATE INDEX backup_run_good ON backup_run (good, run_id)",
    *append_only("backup_run"),
    """CREATE TABLE backup_removed (
        removed_id INTEGER PRIMARY KEY,
        at_ms INTEGER NOT NULL,
        name TEXT NOT NULL,
        why TEXT NOT NULL)""",
    *append_only("backup_removed"),
    """CREATE TABLE restore_test (
        test_id INTEGER PRIMARY KEY,
        began_ms INTEGER NOT NULL,
        ended_ms INTEGER NOT NULL,
        name TEXT NOT NULL,
        good INTEGER NOT NULL,
        told TEXT NOT NULL)""",
    *append_only("restore_test"),
)
