"""How long the service takes to keep what somebody enters on a round, measured at the real daemon."""

import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from daemon.access.values import Role
from tests.support.accounts import client_of, guard_in, make_account
from tests.support.round_site import BOXES, RoundHouse, key_of

MOST_SAVE_S = 0.1


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RoundHouse]:
    made = RoundHouse(tmp_path / "site")
    made.open()
    yield made
    made.service.stop()


def test_a_save_takes_the_service_less_than_a_tenth_of_a_second(house: RoundHouse) -> None:
    with house.access() as desk:
        session = make_account(desk, "ben", Role.RESPONDER)
    with client_of(house.url, session) as client:
        guard = guard_in(client.get("/rounds").text)
        fields = {"guard": guard, "incubator": "north", "minutes": "30"}
        assert client.post("/rounds", data=fields).status_code == 303
        client.get("/rounds/1/all")
        # What else runs on the machine slows some of them; of three tries the best shows what the service needs.
        tries = [sorted(_save(client, guard, 20 * turn + number) for number in range(20)) for turn in range(3)]
    slowest = min(each[18] for each in tries)
    assert slowest <= MOST_SAVE_S
    assert house.rows("SELECT count(*) FROM box_finding") == [(60,)]


def _save(client: httpx.Client, guard: str, number: int) -> float:
    entry = {
        "id": f"00000000-0000-4000-8000-{number:012}",
        "round": 1,
        "box": key_of(number % BOXES + 1),
        "who": "ben",
        "seq": number,
        "made_ms": time.time_ns() // 1_000_000,
        "medium": "clumps",
    }
    begun = time.perf_counter()
    answer = client.post("/rounds/entries", json=entry, headers={"Clutchwarden-Guard": guard})
    took = time.perf_counter() - begun
    assert answer.json() == {"result": "stored", "said": []}
    return took
