"""An upgrade of the service while a phone keeps a round: each page with what it is drawn with, and no walk lost."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.kept_round import (
    PATIENCE_MS,
    WAIT,
    WALK,
    WORKER,
    distant_house,
    impatient,
    is_drawn,
    keep_round,
    older,
    works,
)
from tests.support.between import Between
from tests.support.processes import wait_until
from tests.support.round_phone import errors_of, phone
from tests.support.round_site import RoundHouse

pytestmark = pytest.mark.services

OLDER = "clutchwarden-rounds-older"
LATE = "/static/round-around.js"
CACHES = "caches.keys()"
KEPT_PAGES = """async () => {
  const found = [];
  for (const name of await caches.keys()) {
    const kept = await (await caches.open(name)).keys();
    found.push(...kept.map((each) => new URL(each.url).pathname).filter((path) => path.startsWith("/rounds/")));
  }
  return found;
}"""
# A walk of two days ago, in the cache of the older version.
PUT_OLD = """async () => {
  const headers = { Date: new Date(Date.now() - 2 * 86_400_000).toUTCString() };
  await (await caches.open((await caches.keys())[0])).put("/rounds/7", new Response("of before", { headers }));
}"""
OF_BEFORE = "script[src*='?v=000000000000']"


@pytest.fixture
def house_between(tmp_path: Path) -> Iterator[tuple[RoundHouse, Between]]:
    with distant_house(tmp_path) as (house, made):
        made.change = older
        yield house, made


def test_a_newer_page_is_not_drawn_with_older_scripts(
    browser: Browser, house_between: tuple[RoundHouse, Between]
) -> None:
    house, made = house_between
    page = phone(browser, house)
    keep_round(page, made)
    # The newer worker does not come: the older one looks after the newer page.
    made.refused[WORKER] = 503
    made.change = impatient
    errors = errors_of(page)
    made.hold(LATE)
    count = made.asked.count(LATE)
    page.goto(f"{made.url}{WALK}", wait_until="commit")
    wait_until(lambda: made.asked.count(LATE) > count, "the script to be asked for")
    page.evaluate(WAIT, 2 * PATIENCE_MS)
    made.let_go()
    is_drawn(page)
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    assert page.locator(OF_BEFORE).count() == 0
    assert [each for each in errors if "SyntaxError" in each] == []
    page.context.close()


def test_an_older_page_is_not_drawn_with_newer_scripts(
    browser: Browser, house_between: tuple[RoundHouse, Between]
) -> None:
    house, made = house_between
    page = phone(browser, house)
    keep_round(page, made)
    made.refused |= {WORKER: 503, WALK: 502}
    made.change = impatient
    page.goto(f"{made.url}{WALK}")
    assert page.locator(OF_BEFORE).count() == 1
    is_drawn(page)
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    page.context.close()


def upgrade(page: Page, made: Between) -> None:
    """The newer worker comes while another page than the round is open."""
    page.goto(f"{made.url}/clutches")
    made.change = impatient
    page.goto(f"{made.url}/rounds")
    wait_until(lambda: len(set(page.evaluate(CACHES)) - {OLDER}) == 1, "the newer version", 60)
    works(page)


def test_a_walk_is_kept_by_the_newer_version_too(browser: Browser, house_between: tuple[RoundHouse, Between]) -> None:
    house, made = house_between
    page = phone(browser, house)
    keep_round(page, made)
    assert page.evaluate(CACHES) == [OLDER]
    upgrade(page, made)
    wait_until(lambda: OLDER not in page.evaluate(CACHES), "the older version to give way", 60)
    made.is_cut = True
    page.goto(f"{made.url}{WALK}")
    is_drawn(page)
    assert page.locator(OF_BEFORE).count() == 0
    page.context.close()


def test_a_walk_that_cannot_be_had_anew_is_opened_as_it_was_until_it_can(
    browser: Browser, house_between: tuple[RoundHouse, Between]
) -> None:
    house, made = house_between
    page = phone(browser, house)
    keep_round(page, made)
    page.evaluate(PUT_OLD)
    made.refused[WALK] = 502
    upgrade(page, made)
    # One that is of no use any more is not kept for it.
    wait_until(lambda: page.evaluate(KEPT_PAGES) == [WALK], "the walk alone", 60)
    made.is_cut = True
    page.goto(f"{made.url}{WALK}")
    is_drawn(page)
    assert page.locator(OF_BEFORE).count() == 1
    made.is_cut = False
    del made.refused[WALK]
    page.goto(f"{made.url}/")
    wait_until(lambda: OLDER not in page.evaluate(CACHES), "the older version to give way", 60)
    assert page.evaluate(KEPT_PAGES) == [WALK]
    page.context.close()


def test_whoever_is_signed_out_leaves_no_walk_of_an_older_version(
    browser: Browser, house_between: tuple[RoundHouse, Between]
) -> None:
    house, made = house_between
    page = phone(browser, house)
    keep_round(page, made)
    made.refused[WALK] = 502
    upgrade(page, made)
    wait_until(lambda: page.evaluate(KEPT_PAGES) == [WALK], "the walk of before", 60)
    del made.refused[WALK]
    page.context.clear_cookies()
    # The page of sign-in has no scripts here, so that the worker alone forgets.
    made.refused["/static/leave.js"] = 503
    page.goto(f"{made.url}{WALK}")
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()
    wait_until(lambda: page.evaluate(KEPT_PAGES) == [], "the walk to go", 60)
    page.context.close()
