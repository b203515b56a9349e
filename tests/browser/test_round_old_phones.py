"""A round on a phone that gets no newer browser: what it lacks is done without, and what is on the page is not lost."""

import pytest
from playwright.sync_api import Browser, Route, expect

from tests.browser.one_round import SENT, box, said, stored
from tests.support.processes import wait_until
from tests.support.round_phone import errors_of, phone
from tests.support.round_site import RoundHouse, label_of

pytestmark = pytest.mark.services

# What Safari 15 does not have: AbortSignal.timeout came with 16, the others with 15.4 (from memory).
LACKS = """
delete AbortSignal.timeout;
for (const kind of [Array, Uint8Array, Float64Array]) {
  delete Object.getPrototypeOf(kind.prototype).findLast;
  delete kind.prototype.findLast;
  delete Object.getPrototypeOf(kind.prototype).at;
  delete kind.prototype.at;
}
delete String.prototype.at;
"""
HIDDEN = """
() => {
  Object.defineProperty(document, "hidden", { value: true, configurable: true });
  document.dispatchEvent(new Event("visibilitychange"));
}
"""


def test_an_old_browser_walks_and_sends(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "ada")
    page.add_init_script(LACKS)
    errors = errors_of(page)
    page.goto(box(house, 1))
    stored(page)
    page.get_by_label("wiped").tap()
    stored(page)
    page.get_by_role("button", name="All well").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(2))
    stored(page)
    assert [(row[2], row[3]) for row in said(house, 1)] == [(1, 0), (0, 1)]
    # A live page is kept true too.
    page.goto(house.url)
    shown = page.locator("body").get_attribute("data-version")
    page.evaluate("document.body.dataset.version = 'older'")
    expect(page.locator("body")).not_to_have_attribute("data-version", "older")
    assert shown is not None
    assert errors == []
    page.context.close()


@pytest.mark.parametrize("begun", ["eggs", "water"])
def test_the_way_back_keeps_what_was_begun_as_the_way_on_does(browser: Browser, house: RoundHouse, begun: str) -> None:
    page = phone(browser, house, f"bob{begun}")
    page.goto(box(house, 5))
    stored(page)
    page.get_by_role("link", name="Next").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(6))
    if begun == "eggs":
        page.locator("label:has([name=egg])").nth(2).tap()
        wrong, words = page.locator("[data-field=eggs] .error"), "Not kept yet, so this box stays open"
    else:
        page.get_by_label("Water added, ml").fill("4o")
        wrong, words = page.locator("[data-field=water_ml] .error"), "Not kept: 4o is no number of ml."
    page.go_back()
    expect(wrong).to_contain_text(words)
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(6))
    assert page.url == box(house, 6)
    # The ways at the top of the page hold it as well.
    page.locator("nav a", has_text="Alarms").first.tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(6))
    if begun == "eggs":
        page.locator("label:has([name=egg])").nth(2).tap()
    else:
        page.get_by_label("Water added, ml").fill("")
    page.go_back()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(5))
    page.context.close()


def test_water_whose_field_nobody_left_is_kept_when_the_phone_is_locked(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "cai")
    page.goto(box(house, 7))
    stored(page)
    page.get_by_label("Water added, ml").press_sequentially("40")
    page.evaluate(HIDDEN)
    wait_until(lambda: page.evaluate("true") and len(said(house, 7)) == 1, "the water", 60)
    # Once, also where the field is left afterwards, and not again when it is locked again.
    page.get_by_label("Remark").focus()
    page.evaluate(HIDDEN)
    page.evaluate("delete document.hidden")
    stored(page)
    page.get_by_label("wiped").tap()
    stored(page)
    waters = house.rows("SELECT water_ml FROM box_finding WHERE box = 'north/upper/N7' ORDER BY finding_id")
    assert {(40.0,)} == set(waters) - {(None,)}
    page.context.close()


def test_what_was_not_taken_is_not_called_stored(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "dea")
    page.goto(box(house, 8))
    stored(page)

    def refuse(route: Route) -> None:
        route.fulfill(status=422, json={"reason": "no such box", "hint": "Look again."})

    page.route(SENT, refuse)
    page.get_by_label("wiped").tap()
    first = page.locator("#saved-said")
    expect(first).to_have_text("Not taken: 1, see below. All else of yours is stored.")
    expect(first.locator("use")).to_have_attribute("href", "#shape-caution")
    page.get_by_role("button", name="Drop it").tap()
    stored(page)
    page.context.close()
