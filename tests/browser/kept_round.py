"""A round that a phone keeps, with something between phone and service that a test has in its hands."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.support.between import Between, between
from tests.support.processes import wait_until
from tests.support.round_phone import COUNT
from tests.support.round_site import RoundHouse, open_house

WORKER = "/rounds/worker.js"
WALK = "/rounds/1"
IS_KEPT = "caches.match('/rounds/1').then((found) => Boolean(found))"
WORKS = (
    "navigator.serviceWorker.getRegistrations()"
    ".then((all) => all.some((each) => each.active?.state === 'activated' && !each.installing && !each.waiting))"
)
WAIT = "(ms) => new Promise((done) => setTimeout(done, ms))"
PATIENCE_MS = 1_000
"""The workers of these tests wait so long for an answer."""


@contextmanager
def distant_house(folder: Path) -> Iterator[tuple[RoundHouse, Between]]:
    """A house, and what stands before it."""
    with open_house(folder, COUNT) as house, between(int(house.url.rpartition(":")[2])) as made:
        made.change = impatient
        yield house, made


def impatient(_path: str, text: str) -> str:
    """The worker as it is, but for how long it waits for an answer."""
    return re.sub(r"(setTimeout\(.+), PATIENCE_MS\)", rf"\1, {PATIENCE_MS})", text)


def older(path: str, text: str) -> str:
    """An older version: other marks, and modules of which each goes with those of its own version alone."""
    marked = re.sub(r"\?v=[0-9a-f]{12}", "?v=000000000000", impatient(path, text))
    return re.sub(r'(const VERSION = )"\w+"', r'\1"older"', marked).replace("showOver", "showOverAsBefore")


def works(page: Page) -> None:
    """The worker looks after what is opened from now on."""
    wait_until(lambda: bool(page.evaluate(WORKS)), "the worker", 60)


def keep_round(page: Page, made: Between) -> None:
    """Begin a round, and have it kept in the phone."""
    page.goto(f"{made.url}/rounds")
    page.get_by_role("button", name="Start as").tap()
    is_drawn(page)
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    works(page)
    wait_until(lambda: bool(page.evaluate(IS_KEPT)), "the page to be kept", 60)
    # One that was on its way while the worker came may go past it.
    page.reload()
    wait_until(lambda: bool(page.evaluate("navigator.serviceWorker.controller !== null")), "it to look after this", 60)
    is_drawn(page)


def is_drawn(page: Page) -> None:
    """The scripts of the round have come, and fit together."""
    expect(page.locator("html.with-scripts")).to_have_count(1)
