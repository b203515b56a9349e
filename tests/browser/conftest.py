"""One Chromium for all tests of this folder that a process runs in a row; each test opens contexts of its own."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.support.round_phone import QUIET


# Not for the whole session: while playwright runs, no test of the same process may run a loop of its own.
@pytest.fixture(scope="package")
def browser(chromium: str) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=QUIET)
        yield browser
        browser.close()
