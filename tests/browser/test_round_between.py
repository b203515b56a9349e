"""A phone on a round, and what may stand between it and what it wants: storage, a slow link, a password, a sign-in."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.kept_round import IS_KEPT, PATIENCE_MS, WAIT, WALK, distant_house, impatient, is_drawn, keep_round
from tests.support.accounts import sign_in
from tests.support.between import PASSWORD, USER, Between
from tests.support.processes import wait_until
from tests.support.round_phone import phone
from tests.support.round_site import RoundHouse

pytestmark = pytest.mark.services

# The storage of the worker fails from the moment at which it is told.
FAILING = """
let fails = false;
self.addEventListener("message", (event) => {
  if (event.data === "fail") {
    fails = true;
    event.source.postMessage("failing");
  }
});
for (const name of ["open", "match", "keys"]) {
  const given = CacheStorage.prototype[name];
  CacheStorage.prototype[name] = function (...asked) {
    return fails ? Promise.reject(new DOMException("storage", "UnknownError")) : given.apply(this, asked);
  };
}
"""
FAIL = """() => new Promise((told) => {
  navigator.serviceWorker.addEventListener("message", (event) => event.data === "failing" && told(true));
  navigator.serviceWorker.startMessages();
  navigator.serviceWorker.controller.postMessage("fail");
})"""
ONLINE_AFTER_A_TAP = """
document.addEventListener("click", () => setTimeout(() => window.dispatchEvent(new Event("online")), 500));
"""
COUNT_WORKERS = "navigator.serviceWorker.getRegistrations().then((all) => all.length)"
FORGET = """async (path) => {
  for (const name of await caches.keys()) {
    await (await caches.open(name)).delete(path);
  }
  return !(await caches.match(path));
}"""
FORGET_SCRIPTS = """async () => {
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const each of await cache.keys()) {
      each.url.includes("/static/round-list.js") && await cache.delete(each);
    }
  }
}"""


@pytest.fixture
def house_between(tmp_path: Path) -> Iterator[tuple[RoundHouse, Between]]:
    with distant_house(tmp_path) as made:
        yield made


def test_a_browser_whose_storage_fails_opens_a_round_all_the_same(
    browser: Browser, house_between: tuple[RoundHouse, Between]
) -> None:
    house, made = house_between
    made.change = lambda path, text: impatient(path, f"{FAILING}{text}" if path.endswith("/worker.js") else text)
    page = phone(browser, house)
    keep_round(page, made)
    assert page.evaluate(FAIL) is True
    page.goto(f"{made.url}{WALK}")
    is_drawn(page)
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    # One that is late or cannot come is told as ever.
    made.refused["/static/round-list.js"] = 503
    answer = page.evaluate("fetch('/static/round-list.js', { cache: 'reload' }).then((one) => one.status)")
    assert answer == 503
    page.context.close()


def test_a_page_that_could_not_be_kept_at_once_is_kept_later(
    browser: Browser, house_between: tuple[RoundHouse, Between]
) -> None:
    house, made = house_between
    page = phone(browser, house, "fay")
    keep_round(page, made)
    wait_until(lambda: made.asked.count(WALK) == made.answered.count(WALK), "what was under way", 60)
    # As with a service that takes too long to answer the worker.
    made.refused[WALK] = 504
    assert page.evaluate(FORGET, WALK)
    asked = made.asked.count(WALK)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    wait_until(lambda: made.asked.count(WALK) > asked, "the worker to ask", 60)
    assert not page.evaluate(IS_KEPT)
    del made.refused[WALK]
    page.evaluate("window.dispatchEvent(new Event('online'))")
    wait_until(lambda: bool(page.evaluate(IS_KEPT)), "the page to be kept after all", 60)
    page.context.close()


def test_what_is_late_and_not_kept_is_waited_for(browser: Browser, house_between: tuple[RoundHouse, Between]) -> None:
    house, made = house_between
    page = phone(browser, house)
    keep_round(page, made)
    page.evaluate(FORGET_SCRIPTS)
    made.hold("/static/round-list.js")
    count = made.asked.count("/static/round-list.js")
    page.goto(f"{made.url}{WALK}", wait_until="commit")
    wait_until(lambda: made.asked.count("/static/round-list.js") > count, "the script to be asked for")
    page.evaluate(WAIT, 2 * PATIENCE_MS)
    made.let_go()
    is_drawn(page)
    page.context.close()


@pytest.mark.parametrize("path", ["/", "/rounds", WALK, f"{WALK}/summary"])
def test_a_password_that_something_between_wants_is_asked_of_people(
    browser: Browser, house_between: tuple[RoundHouse, Between], path: str
) -> None:
    house, made = house_between
    page = phone(browser, house)
    keep_round(page, made)
    made.asks_password = True
    # As whoever sits there answers what the browser asks: nobody else is asked, and no worker.
    session = page.context.new_cdp_session(page)
    asked: list[str] = []

    def answer(event: dict[str, str]) -> None:
        asked.append(event["requestId"])
        given = {"response": "ProvideCredentials", "username": USER, "password": PASSWORD}
        session.send("Fetch.continueWithAuth", {"requestId": event["requestId"], "authChallengeResponse": given})

    def go_on(event: dict[str, str]) -> None:
        session.send("Fetch.continueRequest", {"requestId": event["requestId"]})

    session.on("Fetch.authRequired", answer)
    session.on("Fetch.requestPaused", go_on)
    session.send("Fetch.enable", {"handleAuthRequests": True})
    page.goto(f"{made.url}{path}")
    assert asked
    expect(page.locator("main")).to_be_visible()
    assert page.url == f"{made.url}{path}"
    page.context.close()


def test_an_open_round_stays_covered_after_a_sign_in_in_another_tab(
    browser: Browser, house_between: tuple[RoundHouse, Between]
) -> None:
    house, made = house_between
    page = phone(browser, house)
    keep_round(page, made)
    other = page.context.new_page()
    page.context.clear_cookies()
    other.goto(f"{made.url}/sign-in")
    wait_until(lambda: other.evaluate(COUNT_WORKERS) == 0 and not other.evaluate(IS_KEPT), "what was kept to go", 60)
    sign_in(other, "ben")
    expect(other.locator("#sign-out")).to_be_visible()
    other.close()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    wait_until(lambda: bool(page.evaluate(IS_KEPT)), "the page to be kept anew", 60)
    made.is_cut = True
    # As after the browser has thrown the tab away.
    wait_until(lambda: page.evaluate(COUNT_WORKERS) == 1, "the worker to be there again", 60)
    page.reload()
    is_drawn(page)
    page.context.close()


def test_whoever_goes_on_is_not_led_back_by_a_connection_that_comes(
    browser: Browser, house_between: tuple[RoundHouse, Between]
) -> None:
    house, made = house_between
    page = phone(browser, house)
    # Here the worker has all its patience, so that the page may look in between.
    made.change = lambda _path, text: text
    keep_round(page, made)
    made.is_cut = True
    page.goto(f"{made.url}/")
    go_on = page.get_by_role("link", name="Go on: North")
    expect(go_on).to_be_visible()
    made.is_cut = False
    made.hold(WALK)
    page.evaluate(ONLINE_AFTER_A_TAP)
    counts = made.answered.count("/rounds/who")
    go_on.tap(no_wait_after=True)
    wait_until(lambda: WALK in made.waiting, "the round to be asked for")
    wait_until(lambda: made.answered.count("/rounds/who") > counts, "it to hear that the service answers")
    expect(page).to_have_url(f"{made.url}{WALK}")
    is_drawn(page)
    page.context.close()
