"""The files that a keeper writes, as they were when they were last looked at. Functions work inside a transaction."""

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple


class StatedFile(NamedTuple):
    """One file. `text` is without secrets; `digest` is a hash of the whole, made with `salt`."""

    name: str
    digest: str
    salt: str
    text: str


def kept(conn: sqlite3.Connection) -> dict[str, StatedFile]:
    """Give all by name."""
    rows = conn.execute("SELECT name, digest, salt, text FROM stated_file")
    return {row[0]: StatedFile(*row) for row in rows}


def keep(conn: sqlite3.Connection, files: Iterable[StatedFile]) -> None:
    """Keep these in place of what was kept of them."""
    conn.executemany(
        "INSERT INTO stated_file (name, digest, salt, text) VALUES (?, ?, ?, ?) ON CONFLICT (name) DO UPDATE SET"
        " digest = excluded.digest, salt = excluded.salt, text = excluded.text",
        files,
    )


def forget(conn: sqlite3.Connection, names: Iterable[str]) -> None:
    """Keep nothing more of files that are gone."""
    conn.executemany("DELETE FROM stated_file WHERE name = ?", [(name,) for name in names])
