"""A site of the test's own with a desk for rounds."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.rounds.bench import Bench


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path / "site")
    with made.journal:
        yield made
