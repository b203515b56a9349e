"""The pages of rounds and what is sent to them, over the real desk and journal."""

import asyncio
import json
import re
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from urllib.parse import urlencode

import httpx
import pytest

from daemon.access.values import Role
from daemon.clutches.desk import RegisterDesk
from daemon.photo_image import MOST_SENT_BYTES
from daemon.rounds.values import Refused
from dashboards.app import create_app
from dashboards.rounds_entry import entry_of_form
from dashboards.rounds_pages import RoundPages
from dashboards.rounds_paths import numbers_in
from dashboards.rounds_send import read_photo
from tests.dashboards import samples
from tests.dashboards.asking import ask
from tests.rounds.bench import N1, START_MS, Bench, uuid
from tests.support.doors import open_to
from tests.support.household import MINUTE_MS

GUARD = "guard-of-the-session"
JSON = {"Clutchwarden-Guard": GUARD, "Content-Type": "application/json", "Accept": "application/json"}


class Pages:
    """The pages of the bench, as somebody has them."""

    def __init__(self, folder: Path) -> None:
        self.bench = Bench(folder)

    def get(self, path: str, who: str = "ana", role: Role = Role.RESPONDER) -> httpx.Response:
        return ask(self.app(who, role), path)

    def send(self, path: str, fields: dict[str, str], who: str = "ana", guard: str = GUARD) -> httpx.Response:
        """Send a form of the pages."""
        headers = {"Content-Type": "application/x-www-form-urlencoded", "Sec-Fetch-Site": "same-origin"}
        return ask(self.app(who), path, "POST", urlencode({"guard": guard, **fields}).encode(), headers)

    def enter(self, number: int, who: str = "ana", **more: object) -> httpx.Response:
        """Send an entry as the script does."""
        sent = {"id": uuid(number), "round": 1, "box": N1, "who": who, **more}
        return ask(self.app("ana"), "/rounds/entries", "POST", json.dumps(sent).encode(), JSON)

    def app(self, who: str, role: Role = Role.RESPONDER):  # type: ignore[no-untyped-def]  # noqa: ANN201
        bench = self.bench
        register = RegisterDesk(bench.journal, bench.site, bench.profiles, lambda: bench.now_ms)
        rounds = RoundPages.of(bench.desk, register, bench.site, lambda: bench.now_ms)
        return create_app(samples.overview, rounds=rounds, door=open_to(role, who, guard=GUARD))


@pytest.fixture
def pages(tmp_path: Path) -> Iterator[Pages]:
    made = Pages(tmp_path / "site")
    with made.bench.journal:
        made.bench.clutch()
        yield made


def test_a_round_starts_where_somebody_says_and_leads_to_its_boxes(pages: Pages) -> None:
    page = pages.get("/rounds").text
    assert "Salmonella" in page
    assert "Start as ana" in page
    refused = pages.send("/rounds", {"minutes": "20"})
    assert refused.status_code == 422
    assert "Say where." in refused.text
    assert "Say how long" in pages.send("/rounds", {"incubator": "north", "minutes": "999"}).text
    unknown = pages.send("/rounds", {"incubator": "nord", "minutes": "20"})
    assert "there is no incubator" in unknown.text.lower()
    begun = pages.send("/rounds", {"incubator": "all", "minutes": "20"})
    assert (begun.status_code, begun.headers["location"]) == (303, "/rounds/1,2,3")
    for wanted, path in (("all", "/rounds/1,2,3"), ("north", "/rounds/1")):
        # The second touch of the button leads to what the first one began.
        again = pages.send("/rounds", {"incubator": wanted, "minutes": "20"})
        assert (again.status_code, again.headers["location"]) == (303, path)
    other = pages.send("/rounds", {"incubator": "north", "minutes": "20"}, "ben")
    assert other.status_code == 422
    assert re.search(r"ana began a round here at \d\d:\d\d\. Go on with it, or end it first\.", other.text)
    assert "clutchwarden" not in other.text.partition('role="alert"')[2].partition("</p>")[0]
    assert len(pages.bench.desk.running()) == 3
    assert 'href="/rounds/1,2,3"' in pages.get("/rounds").text


def test_in_the_demo_the_pages_say_that_all_is_invented_and_in_real_time(pages: Pages) -> None:
    bench = pages.bench
    bench.start("north")
    paths = ("/rounds", "/rounds/1", f"/rounds/1/box/{N1}", "/rounds/1/summary")
    assert not any("Demo" in pages.get(path).text for path in paths)
    register = RegisterDesk(bench.journal, bench.site, bench.profiles, lambda: bench.now_ms)
    rounds = RoundPages.of(bench.desk, register, bench.site, lambda: bench.now_ms, is_demo=True)
    app = create_app(samples.overview, rounds=rounds, door=open_to(Role.RESPONDER, "ana", guard=GUARD))
    for path in paths:
        page = ask(app, path).text
        assert "in real time" in re.sub(r"\s+", " ", page), path
        # By this the script knows that the clock of the phone says nothing here.
        assert 'data-demo="yes"' in page, path


def test_without_the_guard_of_the_session_nothing_is_done(pages: Pages) -> None:
    assert pages.send("/rounds", {"incubator": "north", "minutes": "20"}, guard="another").status_code == 403
    headers = {"Content-Type": "application/json"}
    whole = json.dumps({"id": uuid(1), "round": 1, "box": N1, "who": "ana", "medium": "dry"}).encode()
    assert ask(pages.app("ana"), "/rounds/entries", "POST", whole, headers).status_code == 403
    assert ask(pages.app("ana"), f"/rounds/photos?id={uuid(1)}&round=1&box={N1}", "POST", b"x").status_code == 403
    assert pages.bench.desk.running() == ()


@pytest.mark.parametrize(
    "path",
    [
        "/rounds/7",
        "/rounds/x",
        "/rounds/1,99",
        "/rounds/1/box/north/upper/N9",
        "/rounds/photos/none",
        "/rounds/7/summary",
    ],
)
def test_what_is_not_there_is_said_with_a_way_back(pages: Pages, path: str) -> None:
    pages.bench.start("north")
    answer = pages.get(path)
    assert answer.status_code == 404
    assert 'href="/rounds' in answer.text


def test_the_numbers_of_a_walk_are_read_strictly() -> None:
    assert numbers_in("7") == (7,)
    assert numbers_in("7,8,7") == (7, 8)
    for odd in ("", ",", "7,", "-1", "1.5", "\u0667", "1" * 13, ",".join(["1"] * 41)):
        assert numbers_in(odd) == (), odd


def test_an_entry_is_stored_once_and_a_repeat_is_known(pages: Pages) -> None:
    pages.bench.start("north")
    first, again = pages.enter(1, medium="dry", water_ml=40), pages.enter(1, medium="dry", water_ml=40)
    assert (first.json()["result"], again.json()["result"]) == ("stored", "already")
    other = pages.enter(1, medium="wet")
    assert (other.status_code, other.json()["field"]) == (422, "entry_id")
    assert pages.bench.rows("SELECT medium, water_ml FROM box_finding") == [("dry", 40.0)]


def test_an_entry_of_somebody_else_is_not_taken_unless_it_is_taken_over(pages: Pages) -> None:
    pages.bench.start("north")
    refused = pages.enter(1, who="ben", medium="dry")
    assert (refused.status_code, refused.json()["field"]) == (409, "who")
    taken = pages.enter(1, seen_by="ben", medium="dry")
    assert taken.json()["result"] == "stored"
    assert pages.bench.rows("SELECT who, remark FROM box_finding") == [("ana", "(Seen by ben, sent by ana.)")]


def test_what_had_arrived_before_it_was_taken_over_is_not_stored_twice(pages: Pages) -> None:
    pages.bench.start("north")
    sent = {"id": uuid(1), "round": 1, "box": N1, "who": "ben", "medium": "dry"}
    assert ask(pages.app("ben"), "/rounds/entries", "POST", json.dumps(sent).encode(), JSON).status_code == 200
    assert pages.enter(1, seen_by="ben", medium="dry").json()["result"] == "already"
    assert pages.bench.rows("SELECT who FROM box_finding") == [("ben",)]


def test_a_clock_that_is_ahead_is_told_and_nothing_is_lost(pages: Pages) -> None:
    pages.bench.start("north")
    said = pages.enter(1, medium="dry", made_ms=START_MS + 3 * 24 * 60 * MINUTE_MS).json()["said"]
    assert "clock of this phone is ahead" in said[0]
    assert pages.bench.rows("SELECT at_ms FROM box_finding") == [(START_MS,)]


@pytest.mark.parametrize(
    "more",
    [
        {"medium": "soup"},
        {"water_ml": "NaN"},
        {"eggs": [{"state": "eaten", "which": ["1"]}]},
        {"remark": "x" * 3_000},
        {"unknown": 1},
        {"made_ms": -1},
        {"eggs": [{"state": "watch", "which": ["99"]}]},
        {"eggs": [{"state": "removed", "which": 9, "reason": "mould"}]},
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_stored(pages: Pages, more: dict[str, object]) -> None:
    pages.bench.start("north")
    assert pages.enter(1, "ana", **more).status_code == 422
    assert pages.bench.rows("SELECT count(*) FROM box_finding") == [(0,)]


def test_text_with_markup_is_text(pages: Pages) -> None:
    pages.bench.start("north")
    assert pages.enter(1, remark="<script>alert(1)</script>").status_code == 200
    page = pages.get(f"/rounds/1/box/{N1}").text
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_the_whole_walk_is_given_once_and_later_only_what_changed(pages: Pages) -> None:
    pages.bench.start("north", "south")
    whole = pages.get("/rounds/1,2/all").json()
    assert [box["key"] for box in whole["boxes"]] == [N1, "south/low/S1", "south/low/S2"]
    assert all(box["html"] for box in whole["boxes"])
    assert (whole["who"], whole["guard"], whole["may"]) == ("ana", GUARD, True)
    have = ",".join(box["mark"] for box in whole["boxes"])
    assert not any("html" in box for box in pages.get(f"/rounds/1,2/all?have={have}").json()["boxes"])
    pages.enter(1, medium="dry")
    changed = [box["key"] for box in pages.get(f"/rounds/1,2/all?have={have}").json()["boxes"] if "html" in box]
    assert changed == [N1]


def test_the_plain_form_says_what_is_wrong_and_keeps_what_was_typed(pages: Pages) -> None:
    pages.bench.start("north")
    path = f"/rounds/1/box/{N1}"
    typed = {"entry_id": uuid(1), "egg_count": "99", "egg_state": "removed", "egg_reason": "mould", "remark": "hm <i>"}
    page = pages.send(path, typed)
    assert page.status_code == 422
    assert "there are only 8" in page.text
    assert 'value="99"' in page.text
    assert "hm &lt;i&gt;" in page.text
    assert (
        "Enter what was found without all well"
        in pages.send(path, {"press": "all-well", "medium": "dry", "entry_id": uuid(2)}).text
    )
    done = pages.send(path, {"press": "all-well", "remark": "warm", "entry_id": uuid(3)})
    assert done.status_code == 303
    assert "To take it back, open that box again." in pages.get(done.headers["location"]).text
    assert pages.bench.rows("SELECT all_well, remark FROM box_finding") == [(1, "warm")]
    assert pages.send(path, {"take_back": uuid(3), "entry_id": uuid(4)}).headers["location"] == path
    assert 'data-done="0"' in pages.get("/rounds/1").text


def test_a_form_of_eggs_is_read_or_refused() -> None:
    def read(**fields: list[str]) -> object:
        found = entry_of_form({"entry_id": [uuid(1)], **fields}, N1, "ana", through_lid=False)
        return found["eggs"] if isinstance(found, dict) else [(each.stated.words, each.which) for each in found.eggs]

    assert read(egg=["1", "B"], egg_state=["watch"]) == [("on watch", ("1", "B"))]
    assert read(egg_count=["2"], egg_state=["removed"], egg_reason=["stuck"]) == [
        ("lost: dead, stuck and left in place", 2)
    ]
    assert read(egg=["1"], egg_state=["watch"], egg_reason=["mould"]) == [("on watch", ("1",))]
    assert "Say what these eggs are" in str(read(egg=["1"]))
    assert "not both" in str(read(egg=["1"], egg_count=["2"], egg_state=["watch"]))
    assert "in digits" in str(read(egg_count=["two"], egg_state=["watch"]))
    assert "for a reason" in str(read(egg=["1"], egg_state=["removed"]))


def test_the_orders_of_the_list_are_links(pages: Pages) -> None:
    pages.bench.start("north", "south")
    stand, need = pages.get("/rounds/1,2").text, pages.get("/rounds/1,2?order=need").text
    assert 'href="/rounds/1,2?order=need" aria-current="true"' in need
    assert re.findall(r'data-key="([^"]+)"', stand) == [N1, "south/low/S1", "south/low/S2"]
    assert pages.get("/rounds/1,2?order=odd").status_code == 200


def test_a_round_is_ended_once_and_what_comes_later_is_late(pages: Pages) -> None:
    pages.bench.start("north")
    ended = pages.send("/rounds/1/end", {"note": "N1 <b>soon</b>", "all_the_same": "1"})
    assert (ended.status_code, ended.headers["location"]) == (303, "/rounds/1/summary")
    page = pages.get("/rounds/1/summary").text
    assert "N1 &lt;b&gt;soon&lt;/b&gt;" in page
    assert "ended by ana" in page
    assert "marked as late" in pages.enter(1, medium="dry", waited=True).json()["said"][0]
    assert "Came after the end" in pages.get("/rounds/1/summary").text
    assert "/rounds/1/summary" in pages.get("/rounds").text


def test_a_viewer_gets_no_control(pages: Pages) -> None:
    pages.bench.start("north")
    page = pages.get(f"/rounds/1/box/{N1}", role=Role.VIEWER).text
    assert "All well" not in page
    assert 'name="medium"' not in page
    assert "Start as" not in pages.get("/rounds", role=Role.VIEWER).text


def test_a_photo_that_is_too_large_is_never_held_whole() -> None:
    async def pieces() -> AsyncIterator[bytes]:
        for _ in range(40):
            yield bytes(1_000_000)

    assert isinstance(asyncio.run(read_photo(pieces())), Refused)

    async def small() -> AsyncIterator[bytes]:
        yield bytes(MOST_SENT_BYTES)

    assert asyncio.run(read_photo(small())) == bytes(MOST_SENT_BYTES)


def test_the_worker_keeps_addresses_that_there_are_and_no_others(pages: Pages) -> None:
    answer = pages.get("/rounds/worker.js")
    assert answer.headers["service-worker-allowed"] == "/"
    assert answer.headers["cache-control"] == "no-cache"
    found = re.search(r"const KEPT = (\[.*\]);", answer.text)
    assert found is not None
    kept = json.loads(found[1])
    assert len(kept) > 8
    for path in kept:
        assert path.startswith("/static/")
        assert pages.get(path).status_code == 200, path
    # Every script that the pages load by its plain name is among them.
    for path in [each for each in kept if each.endswith(".js")]:
        for name in re.findall(r'from "\./([^"]+)"', pages.get(path).text):
            assert f"/static/{name}" in kept
