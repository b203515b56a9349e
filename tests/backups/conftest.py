from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.backups.house import BackedUp, backed_up


@pytest.fixture
def house(tmp_path: Path) -> Iterator[BackedUp]:
    with backed_up(tmp_path) as made:
        yield made
