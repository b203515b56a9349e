"""A site with contacts, and a journal of its own."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.standing.powered import Powered, powered


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Powered]:
    with powered(tmp_path) as made:
        yield made
