"""New journals for tests that are about something else: a copy of one that was made and closed by this program.

The many steps of the schema, each on the disk before the next, are taken once for each process of the tests. What is
opened is a journal as any other. Tests of how a journal is made, migrated or damaged open their own.
"""

import os
import tempfile
from contextlib import suppress
from functools import cache
from pathlib import Path

from daemon.storage.connections import Connect, connect
from daemon.storage.journal import BUSY_TIMEOUT_S, Journal


@cache
def _empty() -> bytes:
    """The file of a journal without a row of anybody's."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "journal.sqlite3"
        with Journal.open(path):
            pass
        assert [each.name for each in path.parent.iterdir()] == [path.name]  # closed: the log is in the file
        return path.read_bytes()


def new_journal(path: Path, busy_timeout_s: float = BUSY_TIMEOUT_S, bare: Connect = connect) -> Journal:
    """Open the journal at a path; where there is none, as one that was made a moment ago."""
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        # Whole or not at all, and never over one that a daemon has begun meanwhile.
        with tempfile.NamedTemporaryFile(dir=path.parent) as file, suppress(FileExistsError):
            file.write(_empty())
            file.flush()
            os.link(file.name, path)
    return Journal.open(path, busy_timeout_s, bare)
