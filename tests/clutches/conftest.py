"""A register in memory, with nothing in it."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.storage.connections import connect
from daemon.storage.migrations import migrate


@pytest.fixture
def conn() -> Iterator[sqlite3.Connection]:
    opened = connect(Path(":memory:"), 1)
    opened.execute("PRAGMA foreign_keys = ON")
    migrate(opened, "memory")
    yield opened
    opened.close()
