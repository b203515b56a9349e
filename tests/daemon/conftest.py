"""A journal of a small invented site, ready to be filled."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.daemon.kept import SOUTH, Kept
from tests.support.household import write_site
from tests.support.journals import new_journal


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Kept]:
    folder = write_site(tmp_path / "site", 1883, "http://127.0.0.1:9/phone", SOUTH)
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Kept(journal, folder)
