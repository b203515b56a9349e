"""A site with a mirror."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.mirror.house import Mirrored
from tests.support.influxdb import InfluxDb


@pytest.fixture
def house(tmp_path: Path, influxdb: InfluxDb) -> Iterator[Mirrored]:
    found = Mirrored(tmp_path, influxdb)
    yield found
    found.journal.close()
