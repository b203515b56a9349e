"""The page of a test message in a real browser: it fits a phone, its button is for a finger, and it works."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, ViewportSize, expect

from dashboards.server import PageServer
from tests.support.called import PUBLIC_URL
from tests.support.lettered import TWO_CONTACTS, lettered_house

pytestmark = pytest.mark.services

PHONE: ViewportSize = {"width": 360, "height": 740}
FINGER_PX = 48


@pytest.mark.parametrize("dark", [False, True])
def test_somebody_taps_it_arrived(browser: Browser, tmp_path: Path, dark: bool) -> None:
    with lettered_house(tmp_path, "2026-11-25T12:00", TWO_CONTACTS) as house:
        house.at("2026-11-29T18:00")
        [message] = house.messages("test")["ben/1"]
        server = PageServer(house.app, "127.0.0.1", 0)
        start = server.start()
        try:
            context = browser.new_context(
                viewport=PHONE, has_touch=True, java_script_enabled=False, color_scheme="dark" if dark else "light"
            )
            page = context.new_page()
            page.goto(start.rstrip("/") + str(message.acknowledge_url).removeprefix(PUBLIC_URL))
            expect(page.get_by_role("heading", level=1)).to_have_text("Did the test arrive, Ben (contact 2)?")
            button = page.get_by_role("button", name="It arrived")
            box = button.bounding_box()
            assert box is not None
            assert box["height"] >= FINGER_PX
            assert box["y"] + box["height"] <= PHONE["height"]
            button.tap()
            expect(page.get_by_role("heading", level=1)).to_have_text("Noted, Ben (contact 2): it arrived")
            expect(page.get_by_role("button")).to_have_count(0)
            context.close()
        finally:
            server.stop()
