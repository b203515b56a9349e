"""A desk on a real journal, with a clock that the test sets."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.storage.journal import Journal
from tests.access.desk import AtDesk, at_desk


@pytest.fixture
def at(tmp_path: Path) -> Iterator[AtDesk]:
    """A site without accounts."""
    with at_desk(tmp_path) as made:
        yield made


@pytest.fixture
def house(at: AtDesk) -> AtDesk:
    """The same with a keeper, mara, who is signed in nowhere."""
    at.first_keeper()
    return at


@pytest.fixture
def journal(at: AtDesk) -> Journal:
    """The journal below."""
    return at.journal
