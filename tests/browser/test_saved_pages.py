"""After a change of the set-up the page shows it by itself: on a phone, against a real daemon that starts anew."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, ViewportSize, expect

from tests.support.accounts import carry, make_account
from tests.support.household import House, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until

pytestmark = pytest.mark.services

PHONE: ViewportSize = {"width": 360, "height": 740}
SOON_MS = 40_000
PEOPLE = "/set-up/people"
MADE_NOW = """async () => {
  try {
    const page = new DOMParser().parseFromString(await (await fetch("/set-up/people")).text(), "text/html");
    return page.getElementById("said").dataset.made;
  } catch {
    return "";
  }
}"""


@pytest.fixture
def house(tmp_path: Path, mosquitto: Mosquitto) -> Iterator[House]:
    made = House(write_site(tmp_path / "site", mosquitto.port, "http://127.0.0.1:9/nowhere"))
    with made.access() as desk:
        make_account(desk)
    made.start()
    yield made
    made.service.stop()


def keeper(browser: Browser, house: House) -> Page:
    context = browser.new_context(viewport=PHONE)
    with house.access() as desk:
        carry(context, house.url, make_account(desk, "mara"))
    page = context.new_page()
    page.set_default_timeout(SOON_MS)
    return page


def save_quiet_hours(page: Page, house: House) -> None:
    page.goto(f"{house.url}{PEOPLE}")
    page.locator("#act-quiet-head").click()
    page.get_by_label("From").fill("22:00")
    page.get_by_label("Until").fill("06:00")
    page.get_by_role("button", name="Save the quiet hours").click()


def test_what_was_saved_is_shown_without_a_touch_and_said_to_count(browser: Browser, house: House) -> None:
    page = keeper(browser, house)
    page.goto(f"{house.url}{PEOPLE}")
    expect(page.locator("main")).to_contain_text("No quiet hours")
    save_quiet_hours(page, house)
    expect(page.locator("main")).to_contain_text("Quiet hours 22:00 to 06:00", timeout=SOON_MS)
    expect(page.locator("#said")).to_contain_text("Saved: quiet hours. It counts now.")


def test_what_somebody_types_meanwhile_is_left_to_them(browser: Browser, house: House) -> None:
    page = keeper(browser, house)
    page.clock.install()
    # Its looks find nobody until a name is typed, however soon the service has started anew.
    page.route(f"**{PEOPLE}", lambda each: each.abort() if each.request.resource_type == "fetch" else each.fallback())
    save_quiet_hours(page, house)
    expect(page.locator("#said")).to_contain_text("Saved: quiet hours.")
    shown = page.locator("#said").get_attribute("data-made")
    page.locator("#act-add-head").click()
    page.locator("#add-name").fill("Jonas")
    page.unroute(f"**{PEOPLE}")
    wait_until(lambda: page.evaluate(MADE_NOW) not in (shown, ""), "the service to have started anew")
    # Two of the looks that the page would take.
    page.evaluate("() => new Promise((done) => setTimeout(done, 2_500))")
    # However long they take, the page is not left old.
    page.clock.fast_forward(90_000)
    expect(page.locator("#add-name")).to_have_value("Jonas")
    page.locator("#add-name").fill("")
    page.locator("#answer").click()
    expect(page.locator("main")).to_contain_text("Quiet hours 22:00 to 06:00", timeout=SOON_MS)
