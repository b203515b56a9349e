"""What is sent to the pages: how much, and what is answered to what cannot be read."""

import asyncio
import json
from collections.abc import AsyncIterator, Iterator
from pathlib import Path

import httpx
import pytest

from daemon.access.values import Role
from dashboards.body_limits import MOST_FILES_AT_ONCE, USUAL_BYTES, most_bytes
from tests.dashboards.asking import ask
from tests.dashboards.test_rounds import JSON, Pages
from tests.rounds.bench import N1, uuid

SECRET = "what-was-typed"


@pytest.fixture
def pages(tmp_path: Path) -> Iterator[Pages]:
    made = Pages(tmp_path / "site")
    with made.bench.journal:
        made.bench.clutch()
        yield made


def sent_entry(pages: Pages, body: bytes) -> httpx.Response:
    return ask(pages.app("ana"), "/rounds/entries", "POST", body, JSON)


def an_entry(**more: object) -> bytes:
    return json.dumps({"id": uuid(1), "round": 1, "box": N1, "who": "ana", **more}).encode()


def test_an_entry_that_is_too_large_is_refused_in_words_and_not_repeated(pages: Pages) -> None:
    answer = sent_entry(pages, an_entry(remark=SECRET * USUAL_BYTES))
    assert answer.status_code == 413
    assert "64 kB" in answer.json()["detail"]
    assert answer.json()["result"] == "refused"
    assert SECRET not in answer.text


def test_of_what_states_no_length_no_more_than_the_limit_is_read(pages: Pages) -> None:
    read: list[int] = []

    async def endless() -> AsyncIterator[bytes]:
        for _ in range(100_000):
            read.append(1_000)
            yield b" " * 1_000

    async def asked() -> httpx.Response:
        transport = httpx.ASGITransport(pages.app("ana"))
        async with httpx.AsyncClient(transport=transport, base_url="http://pages") as client:
            return await client.post("/rounds/entries", content=endless(), headers=JSON)

    answer = asyncio.run(asked())
    assert answer.status_code == 413
    assert "64 kB" in answer.json()["detail"]
    assert sum(read) <= USUAL_BYTES + 1_000


def test_a_form_that_is_too_large_gets_a_page(pages: Pages) -> None:
    answer = pages.send("/rounds", {"who": SECRET * USUAL_BYTES})
    assert answer.status_code == 413
    assert answer.headers["content-type"].startswith("text/html")
    assert "Nothing was done" in answer.text
    assert SECRET not in answer.text


def test_somebody_who_is_not_let_in_is_refused_before_anything_is_read(pages: Pages) -> None:
    app = pages.app("vic", Role.VIEWER)
    answer = ask(app, "/rounds/entries", "POST", b" " * 10 * USUAL_BYTES, JSON)
    assert answer.status_code == 403


@pytest.mark.parametrize(
    "body",
    [
        an_entry(water_ml=float("nan"), remark=SECRET),
        an_entry(water_ml=float("-inf"), remark=SECRET),
        an_entry(remark=f"{SECRET}\ud800"),
        an_entry(**{f"{SECRET}\ud800": 1}),
        an_entry(eggs=[{SECRET: each} for each in range(290)]),
        b'{"id": ' + SECRET.encode(),
    ],
    ids=["not-a-number", "infinite", "half-a-character", "half-a-name", "many-mistakes", "no-json"],
)
def test_what_cannot_be_taken_is_refused_for_good_and_not_repeated(pages: Pages, body: bytes) -> None:
    answer = sent_entry(pages, body)
    assert answer.status_code == 422
    said = answer.json()
    assert said["result"] == "refused"
    assert said["reason"]
    assert {"loc", "msg", "type"} == set(said["detail"][0])
    assert len(answer.content) < 5_000
    assert not any(SECRET in each["msg"] for each in said["detail"])


def test_photos_and_tables_may_be_large_and_nothing_else() -> None:
    large = ["/rounds/photos", "/rounds/1,2/box/north/upper/N1/photo", "/clutches/table"]
    assert min(most_bytes(each) for each in large) >= 20_000_000
    small = ["/rounds/photos/x", "/rounds/entries", "/clutches/table/take-in", "/sign-in", "/rounds/1/box/N1/photos"]
    assert {most_bytes(each) for each in small} == {65_536}


def test_a_few_photos_are_taken_in_at_once_and_the_next_one_is_to_come_again(pages: Pages) -> None:
    app = pages.app("ana")
    path = f"/rounds/photos?id={uuid(1)}&round=1&box={N1}&who=ana"
    headers = {**JSON, "Content-Type": "image/jpeg"}

    async def asked() -> tuple[list[int], httpx.Response, httpx.Response]:
        begun, go_on = asyncio.Semaphore(0), asyncio.Event()

        async def slow() -> AsyncIterator[bytes]:
            begun.release()
            yield b"x"
            await go_on.wait()

        transport = httpx.ASGITransport(app)
        async with httpx.AsyncClient(transport=transport, base_url="http://pages") as client:
            sent = [
                asyncio.create_task(client.post(path, content=slow(), headers=headers))
                for _ in range(MOST_FILES_AT_ONCE)
            ]
            for _ in sent:
                await begun.acquire()
            one_more = await client.post(path, content=b"x", headers=headers)
            go_on.set()
            return [(await each).status_code for each in sent], one_more, await client.post(path, headers=headers)

    first, one_more, afterwards = asyncio.run(asked())
    assert set(first) == {422}
    # What is not taken in now waits in the browser, and comes again (RFC 9110 section 15.6.4).
    assert (one_more.status_code, "Retry-After" in one_more.headers) == (503, True)
    assert afterwards.status_code == 422
