"""An upgrade of the service while a phone keeps a round: each page with what it is drawn with, and no walk lost."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

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
)
from tests.support.between import Between
from tests.support.processes import wait_until
from tests.support.round_phone import errors_of, phone
from tests.support.round_site import RoundHouse

pytestmark = pytest.mark.services

LATE = "/static/round-around.js"
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
    made.change = impatient
    # The newer worker does not come: the older one looks after the newer page.
    made.refused[WORKER] = 503
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
    made.change = impatient
    made.refused |= {WORKER: 503, WALK: 502}
    page.goto(f"{made.url}{WALK}")
    assert page.locator(OF_BEFORE).count() == 1
    is_drawn(page)
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    page.context.close()
