"""The page of backups on a phone and a desk, in a real browser."""

from collections.abc import Iterator
from dataclasses import replace

import pytest
from playwright.sync_api import Browser

from dashboards.server import PageServer
from tests.browser.test_ahead_pages import DESK, OUTPUT, PHONE, fits, opened
from tests.dashboards.test_backups import FAILED, WELL, app
from tests.support.pictures import take
from tests.support.processes import free_port

pytestmark = pytest.mark.services

LONG = replace(
    WELL,
    folder="/mnt/a-share-with-a-name-that-somebody-made-much-longer-than-a-phone-is-wide/backups-of-the-eggs",
    trouble="the backup folder /mnt/a-share-with-a-name-that-somebody-made-longer-than-a-phone-is-wide is not there",
    runs=(FAILED._replace(told="the backup folder /mnt/a-share-with-a-name-that-is-longer-than-a-phone-is-wide/x"),)
    * 3,
)


@pytest.fixture
def url() -> Iterator[str]:
    port = free_port()
    server = PageServer(app(LONG), "127.0.0.1", port)
    server.start()
    yield f"http://127.0.0.1:{port}"
    server.stop()


def test_it_fits_a_phone_and_a_desk_in_light_and_dark(browser: Browser, url: str) -> None:
    for size, scheme in ((PHONE, "light"), (PHONE, "dark"), (DESK, "light")):
        page, errors = opened(browser, size, scheme)
        assert page.goto(f"{url}/set-up/backups").status == 200  # type: ignore[union-attr]
        fits(page)
        take(page, OUTPUT / f"backups-{size['width']}-{scheme}.png", full_page=True)
        assert errors == []
        page.context.close()
