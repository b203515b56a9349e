"""One Chromium for all tests of this folder that a process runs in a row; each test opens contexts of its own.

A machine with much else to do takes its time: what is expected is waited for generously, and costs nothing where it
comes at once.
"""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, expect, sync_playwright

from daemon.storage.journal import Journal
from tests.support.round_phone import QUIET, VENOMOUS
from tests.support.round_site import RoundHouse, open_house

EXPECTED_MS = 40_000


# Not for the whole session: while playwright runs, no test of the same process may run a loop of its own.
@pytest.fixture(scope="package")
def browser(chromium: str) -> Iterator[Browser]:
    expect.set_options(timeout=EXPECTED_MS)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=QUIET)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RoundHouse]:
    """One house with one round, in which every test of a file has a box of its own."""
    with open_house(tmp_path_factory.mktemp("house"), 14, (VENOMOUS,)) as made:
        with Journal.open(made.journal_path) as journal:
            made.desk(journal).start("ben")
        yield made
