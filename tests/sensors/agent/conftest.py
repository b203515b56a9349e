"""What every test of the agent ends with."""

from collections.abc import Iterator

import pytest

from tests.sensors.agent import boards


@pytest.fixture(autouse=True)
def files_let_go() -> Iterator[None]:
    """Let the files of spools go that were left as after a kill, without a word to them."""
    yield
    while boards.opened:
        spool = boards.opened.pop()
        spool._reader.close()
        spool._segments.end_segment()
