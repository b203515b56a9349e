"""How long the service takes to keep what somebody enters on a round, measured at the real daemon."""

import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from daemon.access.values import Role
from tests.support.accounts import client_of, guard_in, make_account
from tests.support.round_site import BOXES, RoundHouse, key_of, open_house

MOST_SAVE_S = 0.1
SAVES = 60


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RoundHouse]:
    with open_house(tmp_path) as made:
        yield made


def test_a_save_takes_the_service_less_than_a_tenth_of_a_second_of_the_processor(house: RoundHouse) -> None:
    with house.access() as desk:
        session = make_account(desk, "ben", Role.RESPONDER)
    with client_of(house.url, session) as client:
        guard = guard_in(client.get("/rounds").text)
        fields = {"guard": guard, "incubator": "north", "minutes": "30"}
        assert client.post("/rounds", data=fields).status_code == 303
        client.get("/rounds/1/all")
        before_s = house.processor_s()
        waited_s = sorted(_save(client, guard, number) for number in range(SAVES))
        each_s = (house.processor_s() - before_s) / SAVES
    assert each_s <= MOST_SAVE_S
    # The clock on the wall goes on also while other programs have the processor, so it is asked of the quickest quarter
    # alone: a save that always waits for something is none of these.
    assert waited_s[SAVES // 4] <= MOST_SAVE_S
    assert house.rows("SELECT count(*) FROM box_finding") == [(SAVES,)]


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
    begun_s = time.perf_counter()
    answer = client.post("/rounds/entries", json=entry, headers={"Clutchwarden-Guard": guard})
    waited_s = time.perf_counter() - begun_s
    assert answer.json() == {"result": "stored", "said": []}
    return waited_s
