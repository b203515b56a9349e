"""A journal of the test's own, closed in any case."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.storage.journal import Journal
from tests.support.journals import new_journal


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.sqlite3"


@pytest.fixture
def journal(path: Path) -> Iterator[Journal]:
    with new_journal(path, busy_timeout_s=0.05) as opened:
        yield opened
