"""A house with a drift, for the pages where people acknowledge."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.called import CalledHouse, called_house


@pytest.fixture
def house(tmp_path: Path) -> Iterator[CalledHouse]:
    with called_house(tmp_path) as made:
        made.minutes(5, 28.0)
        yield made


@pytest.fixture
def drifted(house: CalledHouse) -> CalledHouse:
    house.minutes(15, 31.0)
    return house
