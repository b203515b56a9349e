"""A mistyped address: people get a page with a way back, programs the JSON that they always get."""

import pytest

from tests.dashboards import samples
from tests.dashboards.asking import ask, pages

AS_A_PERSON = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}


@pytest.mark.parametrize(("path", "back"), [("/nonsense", "/"), ("/<b>x", "/"), ("/events/more", "/events")])
def test_a_person_gets_a_page_with_a_way_back(path: str, back: str) -> None:
    answer = ask(pages(samples.overview()), path, headers=AS_A_PERSON)
    assert answer.status_code == 404
    assert "There is no such page" in answer.text
    assert f'href="{back}"' in answer.text
    assert "<b>x" not in answer.text


@pytest.mark.parametrize("path", ["/api/nonsense", "/nonsense"])
def test_a_program_gets_json(path: str) -> None:
    answer = ask(pages(samples.overview()), path, headers={"Accept": "*/*"})
    assert (answer.status_code, answer.json()) == (404, {"detail": "Not Found"})


def test_whoever_uses_the_wrong_method_hears_so() -> None:
    assert ask(pages(samples.overview()), "/", "DELETE", headers=AS_A_PERSON).status_code == 405
