"""The ways to a round where nothing answers: first page, list of rounds and summary lead back to the walk."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, Page, expect

from tests.support.pictures import take
from tests.support.processes import wait_until
from tests.support.round_phone import COUNT, SMALL_PHONE, begin, fits, phone
from tests.support.round_site import RoundHouse, label_of, open_house

pytestmark = pytest.mark.services

OUTPUT = Path(__file__).parents[1] / "output"
KEPT = "caches.match('/rounds/1').then((found) => Boolean(found))"
REGISTERED = "navigator.serviceWorker.getRegistrations()"
WORKS = f"{REGISTERED}.then((all) => all.some((each) => each.active?.state === 'activated'))"
SCOPES = f"{REGISTERED}.then((all) => all.map((each) => new URL(each.scope).pathname))"
STARTED = "performance.getEntriesByType('navigation')[0].workerStart > 0"
HEARS = """() => new Promise((resolve) => {
  const stream = new EventSource(document.body.dataset.events);
  stream.onopen = () => { stream.close(); resolve(true); };
  stream.onerror = () => resolve(false);
})"""
BY_WORKER = "navigator.serviceWorker.controller !== null"


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RoundHouse]:
    with open_house(tmp_path, COUNT) as made:
        yield made


def is_unreached(page: Page) -> None:
    expect(page.get_by_role("heading", level=1)).to_have_text("No connection")


def ready(page: Page) -> None:
    """The worker looks after what is opened from now on."""
    wait_until(lambda: bool(page.evaluate(WORKS)), "the worker", 60)


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_signs_that_somebody_knows_lead_back_to_the_round(browser: Browser, house: RoundHouse, dark: bool) -> None:
    page = phone(browser, house, viewport=SMALL_PHONE, color_scheme="dark" if dark else "light")
    begin(page, house)
    wait_until(lambda: bool(page.evaluate(KEPT)), "the page to be kept", 60)
    ready(page)
    page.get_by_role("link", name=label_of(1)).tap()
    house.service.stop()
    page.get_by_role("button", name="All well").tap()
    expect(page.locator("#saved")).to_contain_text("Waiting to be sent: 1.")
    context = page.context
    page.close()

    page = context.new_page()
    page.goto(f"{house.url}/")
    is_unreached(page)
    expect(page.locator("#waits li")).to_have_text(re.compile("Waiting to be sent: 1, by ben"))
    fits(page)
    take(page, OUTPUT / f"round-unreached-phone-{'dark' if dark else 'light'}.png", full_page=True)
    page.get_by_role("link", name="Go on: North").tap()
    expect(page.locator("#rows [data-key='north/upper/N1'] .word")).to_have_text("done")
    expect(page.get_by_role("heading", level=1)).to_have_text(f"1 of {COUNT} done")

    for link, path in (("All rounds", "/rounds"), ("Summary and end", "/rounds/1/summary")):
        page.goto(f"{house.url}/rounds/1")
        page.get_by_role("link", name=link, exact=True).tap()
        is_unreached(page)
        assert page.url == f"{house.url}{path}"
        expect(page.get_by_role("link", name="Go on: North")).to_be_visible()

    house.open()
    page.goto(f"{house.url}/")
    expect(page.locator("#sign-out")).to_be_visible()
    page.goto(f"{house.url}/rounds")
    expect(page.get_by_role("heading", level=1)).to_have_text("Rounds")
    wait_until(lambda: house.rows("SELECT box FROM box_finding") == [("north/upper/N1",)], "what waited", 60)
    context.close()


def test_where_no_round_is_kept_it_says_so_and_goes_away_by_itself(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    page.goto(f"{house.url}/rounds")
    ready(page)
    house.service.stop()
    page.goto(f"{house.url}/")
    is_unreached(page)
    expect(page.locator("#waits")).to_be_hidden()
    expect(page.get_by_role("link")).to_have_text(["Try again"])
    page.get_by_role("link", name="Try again").tap()
    is_unreached(page)
    house.open()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator("#sign-out")).to_be_visible()
    page.context.close()


def test_an_ended_round_is_not_to_be_gone_on_with(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    begin(page, house)
    wait_until(lambda: bool(page.evaluate(KEPT)), "the page to be kept", 60)
    ready(page)
    page.goto(f"{house.url}/rounds/1/summary")
    page.get_by_role("button", name="End the round").tap()
    page.get_by_role("button", name="End the round all the same").tap()
    expect(page.get_by_role("button", name="End the round")).to_have_count(0)
    noted = "import('/static/round-store.js').then(({ openStore }) => openStore().get('walks', '1'))"
    wait_until(lambda: page.evaluate(f"{noted}.then((walk) => walk.is_ended)") is True, "the end to be noted", 60)
    house.service.stop()
    page.goto(f"{house.url}/rounds")
    is_unreached(page)
    expect(page.get_by_role("link")).to_have_text(["Try again"])
    page.context.close()


def test_whoever_signs_out_leaves_no_way_back(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    begin(page, house)
    wait_until(lambda: bool(page.evaluate(KEPT)), "the page to be kept", 60)
    ready(page)
    page.goto(f"{house.url}/")
    page.locator("#sign-out").tap()
    expect(page).to_have_url(f"{house.url}/sign-in")
    wait_until(lambda: page.evaluate(SCOPES) == [] and not page.evaluate(KEPT), "what was kept to go", 60)
    house.service.stop()
    for path in ("/", "/rounds", "/rounds/1"):
        with pytest.raises(Error, match="ERR_CONNECTION_REFUSED"):
            page.goto(f"{house.url}{path}")
    page.context.close()


def test_an_answer_of_the_service_is_shown_as_it_is(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    page.goto(f"{house.url}/rounds")
    ready(page)
    page.goto(f"{house.url}/")
    assert page.evaluate(STARTED)
    page.context.route(f"{house.url}/", lambda route: route.fulfill(status=503, body="busy just now"))
    answer = page.goto(f"{house.url}/")
    assert answer is not None
    assert (answer.status, answer.text()) == (503, "busy just now")
    # A round that is not there has an answer of its own too.
    page.goto(f"{house.url}/rounds/99/summary")
    expect(page.get_by_role("heading", level=1)).to_contain_text("There is no such round")
    page.context.close()


def test_other_pages_and_what_they_listen_to_do_not_wait_for_the_worker(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    page.goto(f"{house.url}/rounds")
    ready(page)
    page.goto(f"{house.url}/")
    wait_until(lambda: bool(page.evaluate(BY_WORKER)), "the worker to look after the first page", 60)
    assert page.evaluate(HEARS) is True
    for path in ("/alarms", "/clutches", "/reports"):
        page.goto(f"{house.url}{path}")
        assert not page.evaluate(STARTED), path
    house.service.stop()
    with pytest.raises(Error, match="ERR_CONNECTION_REFUSED"):
        page.goto(f"{house.url}/alarms")
    page.context.close()


def test_what_an_older_version_left_gives_way(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    page.goto(f"{house.url}/clutches")
    older = "navigator.serviceWorker.register('/rounds/worker.js', { scope: '/rounds' })"
    page.evaluate(f"{older}.then(() => true)")
    wait_until(lambda: bool(page.evaluate(WORKS)), "the older one", 60)
    assert page.evaluate(SCOPES) == ["/rounds"]
    page.goto(f"{house.url}/rounds")
    wait_until(lambda: page.evaluate(SCOPES) == ["/"], "the newer one alone", 60)
    page.context.close()
