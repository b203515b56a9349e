"""Rounds for programs, by pages and one with every entry, and what the JSON of a clutch and of the first page has."""

import io
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from daemon.clutch_record import ClutchRecords
from daemon.round_last import LastRounds
from dashboards.api import overview_json
from dashboards.clutch_json import clutch_record_json
from tests.dashboards import samples
from tests.dashboards.asking import ask
from tests.dashboards.test_rounds import JSON, Pages
from tests.rounds.bench import DAY_MS, S1, START_MS, entry, uuid
from tests.support.household import MINUTE_MS


@pytest.fixture
def pages(tmp_path: Path) -> Iterator[Pages]:
    made = Pages(tmp_path / "site")
    with made.bench.journal:
        made.bench.clutch(dam="Gaia", sire="Uranos", tags=("het", "2026"), venomous=True, protected="papers <b>A</b>")
        made.bench.clutch("Clover", S1)
        yield made


def test_rounds_come_by_pages_the_newest_first(pages: Pages) -> None:
    bench = pages.bench
    for number in range(1, 6):
        bench.start("north")
        bench.now_ms += MINUTE_MS
        bench.desk.finish(number, "ben", f"note {number}")
    bench.start("south", who="cleo")
    first = pages.get("/api/rounds?limit=4").json()
    assert [each["number"] for each in first["rounds"]] == [6, 5, 4, 3]
    last = pages.get(first["next"]).json()
    assert [each["number"] for each in last["rounds"]] == [2, 1]
    assert last["next"] is None
    # Begun at START_MS, ended a minute later; the clock stood in between.
    assert last["rounds"][-1] == {
        "number": 1,
        "incubator": "north",
        "incubator_name": "North cabinet",
        "who": "ana",
        "started_ms": START_MS,
        "stated_ms": 30 * MINUTE_MS,
        "ended_ms": START_MS + MINUTE_MS,
        "ended_by": "ben",
        "note": "note 1",
    }
    assert first["rounds"][0]["ended_ms"] is None
    assert pages.get("/api/rounds?limit=0").status_code == 422


def test_one_round_has_each_box_with_every_entry_and_photo(pages: Pages) -> None:
    bench = pages.bench
    bench.start("south")
    eggs = [{"state": "removed", "reason": "mould", "which": ["3"]}]
    assert pages.enter(1, box=S1, medium="dry", lid="beads", eggs=eggs).is_success
    assert pages.enter(2, box=S1, medium="clumps", remark="smells <b>odd</b>", corrects=uuid(1)).is_success
    out = io.BytesIO()
    Image.new("RGB", (40, 30)).save(out, "JPEG")
    address = f"/rounds/photos?id={uuid(9)}&round=1&box={S1}&who=ana"
    assert ask(pages.app("ana"), address, "POST", out.getvalue(), {**JSON, "Content-Type": "image/jpeg"}).is_success
    found = pages.get("/api/rounds/1").json()
    assert (found["boxes_with_clutch"], found["boxes_seen"], found["eggs_removed"]) == (1, 1, 0)
    [box] = [each for each in found["boxes"] if each["box"] == S1]
    assert (box["label"], box["medium"], box["lid"]) == ("Clover", "clumps", None)
    assert box["remarks"] == ["smells <b>odd</b>"]
    one, other = box["entries"]
    assert (one["entry_id"], one["corrected"], one["lid"]) == (uuid(1), True, "beads")
    assert one["eggs"] == [
        {"state": "removed", "reason": "mould", "note": "", "which": ["3"], "names": ["3"], "refused": ""}
    ]
    assert (other["corrects"], other["corrected"], other["at_ms"]) == (uuid(1), False, START_MS)
    [photo] = box["photos"]
    assert (photo["path"], photo["round"], photo["clutch_id"]) == (f"/rounds/photos/{uuid(9)}", 1, box["clutch_id"])
    assert pages.get(photo["path"]).headers["content-type"] == "image/jpeg"
    # A box without a clutch is there too.
    assert [each["clutch_id"] for each in found["boxes"] if each["box"] == "south/low/S2"] == [None]


def test_a_box_to_see_sooner_says_by_when_and_why(pages: Pages) -> None:
    pages.bench.start("south")
    assert pages.enter(1, box=S1, medium="dry").is_success
    pages.bench.desk.finish(1, "ana")
    [box] = [each for each in pages.get("/api/rounds/1").json()["boxes"] if each["box"] == S1]
    # A day later (project choice: AGAIN_SOON_DAYS).
    assert (box["see_by_ms"], box["see_why"]) == (START_MS + DAY_MS, ["felt dry, and no water was added"])


@pytest.mark.parametrize(("path", "status"), [("7", 404), ("x", 422), ("0", 422)])
def test_what_is_no_round_is_answered_in_words(pages: Pages, path: str, status: int) -> None:
    answer = pages.get(f"/api/rounds/{path}")
    assert answer.status_code == status
    assert answer.json()["detail"]


def test_the_json_of_a_clutch_has_its_parents_its_tags_and_what_must_be_minded(pages: Pages) -> None:
    bench = pages.bench
    record = ClutchRecords(bench.journal, bench.site, bench.profiles, 1800).one(1, bench.now_ms)
    assert record is not None
    found = clutch_record_json(record)
    assert (found.dam, found.sire, found.tags) == ("Gaia", "Uranos", ["het", "2026"])
    assert (found.venomous, found.protected, found.photos) == (True, "papers <b>A</b>", [])


def test_the_json_of_the_first_page_has_the_last_round(pages: Pages) -> None:
    bench = pages.bench
    number = bench.start("south")
    bench.enter(number, entry(1, S1, all_well=True, through_lid=True))
    bench.desk.finish(number, "ana", "all done")
    with bench.journal.read() as conn:
        last = LastRounds(bench.site).read(conn, bench.now_ms)
    shown = samples.overview()
    assert overview_json(shown).last_round is None
    told = overview_json(replace(shown, last_round=last)).last_round
    assert told is not None
    assert (told.numbers, told.who, told.boxes, told.note) == ([1], "Ana", 1, "all done")
