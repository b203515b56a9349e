"""What people write about an incident: who may, what is refused, and what stays."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI

from daemon.access.values import Role
from daemon.review_incidents import IncidentDesk
from daemon.review_keeper import IncidentKeeper
from daemon.storage.incidents import LONGEST_NOTE
from tests.dashboards.asking import ask
from tests.dashboards.reviewed import app_of, send
from tests.support.demo_site import DemoSite, demo_site
from tests.support.upkept import error_beside, words

ODD = "the <b>breaker</b>\nof the street"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DemoSite]:
    with demo_site(tmp_path_factory.mktemp("demo")) as made:
        yield made


@pytest.fixture(scope="module")
def app(site: DemoSite) -> FastAPI:
    return app_of(site)


@pytest.fixture(scope="module")
def number(site: DemoSite) -> int:
    """That of the incident of the night."""
    [found] = IncidentDesk(site.journal, lambda: site.now_ms).open_reviews()
    return found.incident_id


@pytest.fixture
def other(tmp_path: Path) -> Iterator[DemoSite]:
    """One in which somebody may write."""
    with demo_site(tmp_path / "written") as made:
        yield made


def test_what_is_written_stands_on_the_page_with_its_name_and_older_words_stay(other: DemoSite) -> None:
    ana, ben = app_of(other, Role.RESPONDER, "ana"), app_of(other, who="ben")
    assert send(ana, 1, {"seen": "0", "cause": ODD})[0] == 303
    html = ask(ben, "/incidents/1").text
    assert "the &lt;b&gt;breaker&lt;/b&gt;\nof the street" in html
    assert "ana, Sun 21 Jun 2026 10:41" in words(html)
    # Somebody else has the page of before: nothing is written over what they have not seen.
    status, refused = send(ben, 1, {"seen": "0", "cause": "the fuse", "outcome": "all eggs sound"})
    assert status == 409
    assert "Somebody has written here meanwhile" in error_beside(refused, "note-cause")
    assert ">the fuse</textarea>" in refused
    assert ">all eggs sound</textarea>" in refused
    assert "Nothing is saved yet" in words(refused)
    assert "An incident of last night waits" in ask(ben, "/").text
    assert send(ben, 1, {"seen": "1", "cause": "the fuse", "outcome": "all eggs sound"})[0] == 303
    html = ask(ben, "/incidents/1").text
    assert "reviewed" in words(html)
    assert "1 older" in words(html)
    assert words(html).index("the fuse") < words(html).index("the <b>breaker</b>")
    assert "waits for your review" not in ask(ben, "/").text
    assert "No review waits" in words(ask(ben, "/incidents").text)
    # An incident that is looked for once more keeps what was written.
    IncidentKeeper(other.journal, other.site, lambda: other.now_ms).look()
    assert "all eggs sound" in words(ask(ben, "/incidents/1/sheet.html").text)


def test_what_is_too_long_is_refused_beside_its_field_and_nothing_is_lost(app: FastAPI, number: int) -> None:
    long = "x" * (LONGEST_NOTE + 1)
    status, html = send(app, number, {"seen": "0", "action": long, "prevention": "a cut-out"})
    assert status == 422
    assert f"at most {LONGEST_NOTE}" in error_beside(html, "note-action")
    assert f">{long}</textarea>" in html
    assert ">a cut-out</textarea>" in html
    assert "Nothing is written yet." in words(ask(app, f"/incidents/{number}/sheet.html").text)


def test_viewers_read_and_have_nothing_to_write_in(site: DemoSite, number: int) -> None:
    viewer = app_of(site, Role.VIEWER, "eve")
    html = ask(viewer, f"/incidents/{number}").text
    assert "<textarea" not in html
    assert "Responders and keepers write here." in html
    assert send(viewer, number, {"seen": "0", "cause": "x"})[0] == 403


def test_without_the_guard_of_the_page_nothing_is_written(app: FastAPI, number: int) -> None:
    assert send(app, number, {"seen": "0", "cause": "x"}, guard="another")[0] == 403
    assert send(app, 9999, {"cause": "x"})[0] == 404
