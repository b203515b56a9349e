"""The pages that compare places: the best first, the unknown told, text that stays text, ways to move."""

from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from fastapi import FastAPI

from daemon.access.values import Role, Visitor
from dashboards.placing_routes import days_of, placing_router
from dashboards.visiting import visit
from tests.dashboards.asking import ask
from tests.placement.shelves import Shelves, shelves
from tests.support.upkept import words


def look(house: Shelves, path: str, role: Role = Role.KEEPER) -> httpx.Response:
    app = FastAPI()

    @app.middleware("http")
    async def sign_in(request, call_next):  # type: ignore[no-untyped-def] # noqa: ANN001, ANN202
        visit(Visitor("ana", role))
        return await call_next(request)

    app.include_router(placing_router(house.desk))
    return ask(app, path)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Shelves]:
    with shelves(tmp_path) as made:
        made.measured("top-air", lambda ago: 31.0 if ago % 24 < 12 else 29.0)
        made.measured("bottom-air", lambda _: 27.0)
        yield made


def test_a_table_with_the_best_place_first_and_ways_to_move(house: Shelves) -> None:
    number = house.clutch("Juniper", "south/top/S1")
    page = look(house, f"/clutches/{number}/placement").text
    assert "Least out of range: South &lt;b&gt;cabinet&lt;/b&gt;, bottom shelf." in page
    assert page.index("bottom shelf") < page.index("top shelf</th>")
    assert f'href="/clutches/{number}/move?place=south%2Fbottom%2FS3"' in page
    assert "Unknown: no probe measures the air there." in words(page)
    assert 'role="img" aria-label="South &lt;b&gt;cabinet&lt;/b&gt;, bottom shelf: nine tenths of the time' in page
    assert "style=" not in page
    assert "<script" not in page


def test_who_may_not_move_a_clutch_gets_no_way_to_it(house: Shelves) -> None:
    number = house.clutch("Juniper", "south/top/S1")
    assert "/move?" not in look(house, f"/clutches/{number}/placement", Role.VIEWER).text


def test_a_venomous_clutch_has_its_caution_first_and_no_way_to_move(house: Shelves) -> None:
    number = house.clutch("Cobra", "south/top/S1", "naja-atra")
    page = look(house, f"/clutches/{number}/placement").text
    assert page.index("Venomous: trained handlers only.") < page.index("<h1")
    assert "/move?" not in page
    assert "Carry the box" not in page


def test_a_new_clutch_by_its_species(house: Shelves) -> None:
    page = look(house, "/placement?species=elaphe-taeniura&days=3").text
    assert "Enter it in box S3" in page
    assert 'href="/clutches/new?place=south%2Fbottom%2FS3&amp;species=elaphe-taeniura"' in page
    assert '<option value="3" selected>3 days</option>' in page
    assert '<input type="hidden" name="species" value="elaphe-taeniura">' in page
    chosen = look(house, "/placement").text
    assert '<option value="naja-atra">' in chosen


@pytest.mark.parametrize("path", ["/clutches/99/placement", "/clutches/x/placement", "/placement?species=%3Cb%3E"])
def test_what_there_is_not_has_a_way_back(house: Shelves, path: str) -> None:
    answer = look(house, path)
    assert answer.status_code == 404
    assert 'href="/clutches"' in answer.text
    assert "<b>" not in answer.text.partition("<main")[2]


def test_days_that_are_none_are_the_usual_ones() -> None:
    assert [days_of(text) for text in ("", "x", "0", "61", "60", "1", "-3")] == [7, 7, 7, 7, 60, 1, 7]


def test_the_same_for_programs(house: Shelves) -> None:
    number = house.clutch("Juniper", "south/top/S1")
    found = look(house, f"/api/clutches/{number}/placement").json()
    assert found["places"][0]["place"] == "south/bottom"
    assert found["places"][0]["stay"]["outside"]["best"] == 0.0
    assert found["places"][-1]["stay"] is None
    new = look(house, "/api/placement?species=elaphe-taeniura&days=3").json()
    assert (new["clutch_id"], new["days"], new["low_c"], new["high_c"]) == (None, 3, 24.0, 30.0)
    assert look(house, "/api/clutches/99/placement").status_code == 404
    assert look(house, "/api/placement?species=x").status_code == 404
    assert look(house, "/api/placement?species=x&days=61").status_code == 422
