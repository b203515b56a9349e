"""Whoever signs out leaves no page of a round on the phone, and loses no entry that still waits."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.support.processes import wait_until
from tests.support.round_phone import COUNT, VENOMOUS, begin, phone
from tests.support.round_site import RoundHouse, open_house

pytestmark = pytest.mark.services

KEPT_PAGES = """async () => {
  const found = [];
  for (const name of await caches.keys()) {
    const kept = await (await caches.open(name)).keys();
    found.push(...kept.map((each) => new URL(each.url).pathname).filter((path) => path.startsWith("/rounds/")));
  }
  return found;
}"""
IN_DATABASE = """(kind) => new Promise((resolve, reject) => {
  const request = indexedDB.open("clutchwarden-rounds");
  request.onerror = () => reject(request.error);
  request.onsuccess = () => {
    const all = request.result.transaction(kind).objectStore(kind).getAllKeys();
    all.onsuccess = () => { request.result.close(); resolve(all.result); };
  };
})"""
PUT_WAITING = """() => new Promise((resolve, reject) => {
  const request = indexedDB.open("clutchwarden-rounds");
  request.onsuccess = () => {
    const step = request.result.transaction("entries", "readwrite");
    step.objectStore("entries").put({ id: "waits", who: "somebody-else", box: "N1", round: 1, status: "waiting" });
    step.oncomplete = () => { request.result.close(); resolve(); };
    step.onerror = () => reject(step.error);
  };
})"""


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RoundHouse]:
    with open_house(tmp_path, COUNT, (VENOMOUS,)) as made:
        yield made


def is_kept(page: Page) -> bool:
    return bool(page.evaluate(KEPT_PAGES)) and bool(page.evaluate(IN_DATABASE, "walks"))


def test_pages_go_and_what_waits_stays(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    begin(page, house)
    wait_until(lambda: is_kept(page), "the round to be kept in the browser")
    page.evaluate(PUT_WAITING)
    page.goto(f"{house.url}/")
    page.locator("#sign-out").tap()
    expect(page).to_have_url(f"{house.url}/sign-in")
    wait_until(lambda: page.evaluate(KEPT_PAGES) == [], "the kept pages to go")
    wait_until(lambda: page.evaluate(IN_DATABASE, "walks") == [], "what the pages knew to go")
    assert page.evaluate(IN_DATABASE, "entries") == ["waits"]
    page.context.close()


# The page hears that its session has ended as soon as its form is on its way, before that is answered.
HEARS_FIRST = """
window.streams = [];
window.EventSource = class extends EventSource {
  constructor(...asked) {
    super(...asked);
    window.streams.push(this);
  }
};
addEventListener("submit", () => setTimeout(() => {
  window.streams.forEach((each) => each.dispatchEvent(new Event("signed-out")));
}));
"""


def test_whoever_signs_in_next_is_not_led_to_the_page_of_the_last(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    page.add_init_script(HEARS_FIRST)
    page.goto(f"{house.url}/")
    wait_until(lambda: bool(page.evaluate("window.streams.length")), "the page to listen")
    page.locator("#sign-out").tap()
    expect(page).to_have_url(re.compile(r".*/sign-in.*"))
    assert page.url == f"{house.url}/sign-in"
    page.context.close()


def test_where_nothing_was_kept_a_round_can_be_kept_afterwards(browser: Browser, house: RoundHouse) -> None:
    stranger = browser.new_page()
    stranger.goto(f"{house.url}/sign-in")
    wait_until(lambda: stranger.evaluate("document.readyState") == "complete", "the page")
    assert stranger.evaluate("async () => (await indexedDB.databases()).length") == 0
    stranger.close()
