"""What somebody entered on a round is about what they saw, costs little to send back, and reaches its summary."""

import io
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

from daemon.clutches.desk import RegisterDesk
from tests.dashboards.asking import ask
from tests.dashboards.test_rounds import JSON, Pages
from tests.rounds.bench import N1, uuid
from tests.support.household import MINUTE_MS


@pytest.fixture
def pages(tmp_path: Path) -> Iterator[Pages]:
    made = Pages(tmp_path / "site")
    with made.bench.journal:
        made.bench.clutch()
        yield made


def clutch_on(page: str) -> str:
    found = re.search(r'name="clutch_id" value="(\d+)"', page)
    assert found is not None
    return found[1]


def test_a_form_made_before_a_swap_says_nothing_of_the_clutch_that_lies_there_now(pages: Pages) -> None:
    bench = pages.bench
    other = bench.clutch("Bea", "south/low/S1")
    bench.start("north", "south")
    path = f"/rounds/1,2/box/{N1}"
    shown = clutch_on(pages.get(path).text)
    bench.now_ms += MINUTE_MS
    register = RegisterDesk(bench.journal, bench.site, bench.profiles, lambda: bench.now_ms)
    register.swap(int(shown), other, "ana")
    bench.now_ms += MINUTE_MS
    typed = {"clutch_id": shown, "egg": "3", "egg_state": "removed", "egg_reason": "mould"}
    for number in (1, 2):
        refused = pages.send(path, {**typed, "entry_id": uuid(number)})
        assert refused.status_code == 422
        assert "another clutch lay there" in refused.text.lower()
        # Pressed once more it is still about the clutch that was looked at.
        assert clutch_on(refused.text) == shown
        assert "Load this box again" in refused.text
    sent = pages.enter(3, clutch_id=int(shown), eggs=[{"state": "removed", "reason": "mould", "which": ["3"]}])
    assert sent.status_code == 422
    assert bench.rows("SELECT count(*) FROM egg_event") == [(0,)]


@pytest.mark.parametrize("more", [b'"remark": "a\\ud800b"', b'"water_ml": NaN', b'"water_ml": 1e400'])
def test_what_is_no_text_or_no_number_is_refused_in_words(pages: Pages, more: bytes) -> None:
    pages.bench.start("north")
    head = f'{{"id": "{uuid(1)}", "round": 1, "box": "{N1}", "who": "ana", '.encode()
    answer = ask(pages.app("ana"), "/rounds/entries", "POST", head + more + b"}", JSON)
    assert (answer.status_code, answer.json()["result"]) == (422, "refused")
    assert answer.json()["reason"]
    assert pages.bench.rows("SELECT count(*) FROM box_finding") == [(0,)]


def test_the_whole_walk_costs_each_table_once_and_has_what_the_pages_have(pages: Pages) -> None:
    bench = pages.bench
    bench.clutch("Bea", "south/low/S1")
    bench.clutch("Cleo", "south/low/S2")
    bench.start("north", "south")
    pages.enter(1, medium="wet", remark="smells")

    def statements(path: str) -> int:
        asked: list[str] = []
        with bench.journal.read() as conn:
            conn.set_trace_callback(asked.append)
        assert pages.get(path).status_code == 200
        with bench.journal.read() as conn:
            conn.set_trace_callback(None)
        return sum("FROM clutch" in each for each in asked)

    pages.get("/rounds/1,2/all")
    assert statements("/rounds/1,2/all") < 2 * statements("/rounds/1/all")
    for box in pages.get("/rounds/1,2/all").json()["boxes"]:
        article = pages.get(f"/rounds/1,2/box/{box['key']}").text.split("<article")[1].split("</article>")[0]
        there = box["html"].split("<article")[1].split("</article>")[0]
        changing = r'(entry_id|photo_id)" value="[^"]*"|href="[^"]*">Next'
        assert re.sub(changing, "", article) == re.sub(changing, "", there)


def test_a_round_whose_time_is_over_says_so_on_each_of_its_pages(pages: Pages) -> None:
    pages.bench.start("north")
    paths = ("/rounds/1", f"/rounds/1/box/{N1}", "/rounds/1/summary")
    over = "the time of this round was over at"
    assert not any(over in pages.get(path).text for path in paths)
    # A round holds alarms back for 30 minutes at the most (project choice).
    pages.bench.now_ms += 31 * MINUTE_MS
    assert all(over in pages.get(path).text for path in paths)
    assert pages.get("/rounds/1/all").json()["over"][0]["is_over"] is True
    pages.send("/rounds/1/end", {"all_the_same": "1"})
    assert not any(over in pages.get(path).text for path in paths)


def test_a_box_that_is_done_does_not_say_that_nobody_looked(pages: Pages) -> None:
    pages.bench.start("north")
    paths = ("/rounds/1", f"/rounds/1/box/{N1}")
    assert all("nobody" in pages.get(path).text.lower() for path in paths)
    pages.enter(1, all_well=True)
    assert not any("nobody" in pages.get(path).text.lower() for path in paths)


def test_what_was_seen_reaches_the_summary_with_its_photos(pages: Pages) -> None:
    pages.bench.start("north")
    assert "What was found" not in pages.get("/rounds/1/summary").text
    pages.enter(1, lid="beads", remark="a little <b>mould</b>")
    out = io.BytesIO()
    Image.new("RGB", (40, 30)).save(out, "JPEG")
    address = f"/rounds/photos?id={uuid(2)}&round=1&box={N1}&who=ana"
    assert ask(pages.app("ana"), address, "POST", out.getvalue(), {**JSON, "Content-Type": "image/jpeg"}).is_success
    page = pages.get("/rounds/1/summary").text
    assert "Lid beads of water" in page
    assert "a little &lt;b&gt;mould&lt;/b&gt;" in page
    assert f'<a href="/rounds/photos/{uuid(2)}/page"><img src="/rounds/photos/{uuid(2)}?small=1"' in page
    assert 'loading="lazy"' in page
    assert "round no. 1</span>" in page


def test_photos_of_the_last_round_stand_on_the_page_of_the_box(pages: Pages) -> None:
    pages.bench.start("north")
    pages.enter(1, lid="beads")
    out = io.BytesIO()
    Image.new("RGB", (40, 30)).save(out, "JPEG")
    address = f"/rounds/photos?id={uuid(2)}&round=1&box={N1}&who=ana"
    assert ask(pages.app("ana"), address, "POST", out.getvalue(), {**JSON, "Content-Type": "image/jpeg"}).is_success
    for _ in ("while it goes on", "afterwards"):
        view = pages.bench.desk.sheet(N1)
        assert view is not None
        assert [each.photo_id for each in view.photos] == [uuid(2)]
        pages.bench.desk.finish(1, "ana")
        pages.bench.now_ms += 2 * MINUTE_MS
    # In the next round the page of the box shows what was found last, until somebody has looked again.
    pages.bench.start("north")
    view = pages.bench.desk.sheet(N1)
    assert view is not None
    assert (view.photos, [each.photo_id for each in view.last_photos]) == ((), [uuid(2)])


def test_a_photo_opens_on_a_page_of_its_own_with_a_way_back(pages: Pages) -> None:
    pages.bench.start("north")
    out = io.BytesIO()
    Image.new("RGB", (40, 30)).save(out, "JPEG")
    address = f"/rounds/photos?id={uuid(2)}&round=1&box={N1}&who=ana"
    assert ask(pages.app("ana"), address, "POST", out.getvalue(), {**JSON, "Content-Type": "image/jpeg"}).is_success
    own = f"/rounds/photos/{uuid(2)}"
    assert f'href="{own}/page"' in pages.get(f"/rounds/1/box/{N1}").text
    page = pages.get(f"{own}/page").text
    assert '<h1 id="answer">North cabinet, upper shelf, box N1, Juniper</h1>' in page
    # START_MS is 28 May 2026, 20:26:40 UTC; Madrid is two hours ahead of that.
    assert "Photo by ana, Thu 28 May 2026, 22:26, in round no. 1." in page.replace("\N{NO-BREAK SPACE}", " ")
    assert f'<img src="{own}" alt="Photo of North cabinet' in page
    back = re.search(r'id="back" class="far" href="([^"]+)"', page)
    assert back is not None
    assert pages.get(back[1]).status_code == 200
    assert pages.get(own).headers["content-type"] == "image/jpeg"
    gone = pages.get("/rounds/photos/nothing/page")
    assert gone.status_code == 404
    assert 'href="/rounds' in gone.text


def test_a_small_picture_of_a_photo_is_light(pages: Pages) -> None:
    pages.bench.start("north")
    out = io.BytesIO()
    Image.effect_noise((1600, 1200), 60).convert("RGB").save(out, "JPEG", quality=80)
    address = f"/rounds/photos?id={uuid(2)}&round=1&box={N1}&who=ana"
    assert ask(pages.app("ana"), address, "POST", out.getvalue(), {**JSON, "Content-Type": "image/jpeg"}).is_success
    whole, small = (pages.get(f"/rounds/photos/{uuid(2)}{wish}") for wish in ("", "?small=1"))
    with Image.open(io.BytesIO(small.content)) as image:
        assert image.size == (240, 180)
    # Noise is what a JPEG makes least small.
    assert len(small.content) < 20_000 < len(whole.content)
    assert small.headers["content-type"] == "image/jpeg"
    assert pages.get("/rounds/photos/nothing?small=1").status_code == 404


def test_cautions_are_read_the_first_time_and_folded_later(pages: Pages) -> None:
    folded = re.compile(r'<details class="cautions">.*Salmonella', re.DOTALL)
    assert not folded.search(pages.get("/rounds").text)
    pages.bench.start("north")
    pages.bench.desk.finish(1, "ana")
    assert folded.search(pages.get("/rounds").text)
