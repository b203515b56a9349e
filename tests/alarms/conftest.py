"""What the tests of delivery stand on: a journal and a receiver of their own."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.storage.journal import Journal
from tests.alarms.attempts import Clock
from tests.support.journals import new_journal
from tests.support.receiver import Receiver


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with new_journal(tmp_path / "journal.sqlite3") as opened:
        yield opened


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as started:
        yield started
