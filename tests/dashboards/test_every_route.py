"""All addresses of a running daemon: none is open by oversight, and none changes anything without its guard."""

from collections.abc import Iterable, Iterator
from typing import Any

import httpx
import pytest
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute
from starlette.routing import Mount

from daemon.access.values import Role
from daemon.clock import SystemClock
from daemon.commands.site_folder import read_site
from daemon.service import Service
from daemon.stated import Stated
from dashboards.access.policy import SAFE_METHODS, needed_role
from dashboards.forms import GUARDS, read_open_form
from tests.support.household import write_site
from tests.support.processes import free_port

OPEN_TO_READ = {
    "/sign-in",
    "/welcome",
    "/health",
    "/static/plotly.min.js",
    "/a/duty/{token:path}",
    "/a/test/{token:path}",
    "/a/{token:path}",
    "/calendar/{name:path}",
}
OPEN_TO_SEND = {"/sign-in", "/welcome", "/a/duty/{token:path}", "/a/test/{token:path}", "/a/{token:path}"}
FOR_THE_DEMO = {"/inbox/messages"}
"""Stands in for a phone, and takes JSON, which no form of another site can send."""


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The app of a daemon as `clutchwarden run` starts it, with the pages of the demo as well."""
    folder = write_site(tmp_path_factory.mktemp("routes") / "site", free_port())
    site = read_site(folder)
    service = Service(Stated(site.folder, site.site, site.settings, site.profiles), SystemClock(), demo=True)
    service.start()
    service.app.state.page_url = service.page_url
    yield service.app
    service.stop()


def routes(app: Any) -> list[APIRoute]:
    every = list(flat(app.routes))
    found = [each for each in every if isinstance(each, APIRoute)]
    # Whatever else there is serves files, or describes the API, and takes nothing in.
    rest = [each for each in every if not isinstance(each, APIRoute | Mount)]
    assert all(each.methods <= SAFE_METHODS for each in rest)
    assert len(found) > 30
    return found


def flat(found: Iterable[Any]) -> Iterator[Any]:
    """Every route; newer versions of the framework keep a router that was included as one of its own."""
    for each in found:
        router = getattr(each, "original_router", None)
        if router is None:
            yield each
        else:
            yield from flat(router.routes)


def sends(route: APIRoute) -> set[str]:
    """The methods of a route that may change something."""
    return (route.methods or set()) - SAFE_METHODS


def calls(dependant: Dependant) -> set[Any]:
    """Everything that a route depends on, at any depth."""
    return {dependant.call}.union(*(calls(each) for each in dependant.dependencies))


def test_only_a_few_addresses_are_open_to_strangers(app: Any) -> None:
    reading = {
        each.path for each in routes(app) if "GET" in (each.methods or ()) and needed_role("GET", each.path) is None
    }
    assert reading == OPEN_TO_READ
    sending = {each.path for each in routes(app) for method in sends(each) if needed_role(method, each.path) is None}
    assert sending == OPEN_TO_SEND | FOR_THE_DEMO


def test_every_address_that_changes_something_looks_at_the_guard(app: Any) -> None:
    unguarded = {each.path for each in routes(app) if sends(each) and not calls(each.dependant) & GUARDS}
    assert unguarded == OPEN_TO_SEND | FOR_THE_DEMO
    for each in routes(app):
        if each.path in OPEN_TO_SEND and sends(each):
            assert read_open_form in calls(each.dependant)


def test_no_address_reads_and_changes_by_one_and_the_same_function(app: Any) -> None:
    for each in routes(app):
        assert not sends(each) or sends(each) == each.methods, each.path


def test_viewers_change_nothing_but_their_own_account(app: Any) -> None:
    theirs = {
        each.path for each in routes(app) for method in sends(each) if needed_role(method, each.path) is Role.VIEWER
    }
    assert theirs
    assert all(path.startswith("/account/") or path in ("/sign-out", "/sign-in/confirm") for path in theirs)


def test_a_stranger_who_asks_the_running_daemon_gets_none_of_its_pages(app: Any) -> None:
    asked = 0
    with httpx.Client(base_url=app.state.page_url) as stranger:
        for each in routes(app):
            if "GET" in (each.methods or ()) and each.path not in OPEN_TO_READ:
                path = each.path.replace("{key:path}", "x").partition("{")[0]
                answer = stranger.get(path)
                assert answer.status_code in (303, 401), path
                assert "Test house" not in answer.text
                asked += 1
    assert asked > 20
