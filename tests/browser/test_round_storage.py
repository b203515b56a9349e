"""What a browser keeps of a round where its storage fails: no answer, no room, nothing to be had; nothing is lost."""

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.one_round import BACK_MS, SENT, SLOW, box, said, stored
from tests.support.processes import wait_until
from tests.support.round_phone import phone
from tests.support.round_site import RoundHouse, label_of

pytestmark = pytest.mark.services
NO_ANSWER = "if (!sessionStorage.getItem('well')) { indexedDB.open = () => ({}); }"
WELL = "sessionStorage.setItem('well', '1')"
BESIDE = "Object.keys(localStorage).filter((key) => key.includes(':entries:')).length"
# A database was there, as the page remembers it.
HAS_ONE = "localStorage.getItem('clutchwarden-rounds.database')"
# What is in it, by whether it was tried.
TRIED = """() => new Promise((resolve, reject) => {
  const request = indexedDB.open("clutchwarden-rounds");
  request.onerror = () => reject(request.error);
  request.onsuccess = () => {
    const all = request.result.transaction("entries").objectStore("entries").getAll();
    all.onsuccess = () => { request.result.close(); resolve(all.result.map((each) => each.tried)); };
  };
})"""
# A database that was there and then leaves every request without an answer; and that where timers run fast then.
SILENT = """
const given = IDBDatabase.prototype.transaction;
const silent = { objectStore: () => new Proxy({}, { get: () => () => ({}) }), abort() {} };
IDBDatabase.prototype.transaction = function (...asked) { return window.silent ? silent : given.apply(this, asked); };
"""
FALLS_SILENT = f"""{SILENT}
const after = window.setTimeout;
window.setTimeout = (work, ms) => after(work, window.silent ? ms / 20 : ms);
"""

# The radio that is marked, at every change of the page for two seconds after two taps in a row.
TAPPED_TWICE = """
async () => {
  const marked = () => document.querySelector('[name="medium"]:checked')?.value ?? "none";
  for (const value of ["dry", "clumps"]) {
    document.querySelector(`[name="medium"][value="${value}"]`).click();
  }
  const seen = [marked()];
  for (const end = performance.now() + 2000; performance.now() < end;) {
    const line = new MessageChannel();
    await new Promise((go) => { line.port1.onmessage = go; line.port2.postMessage(0); });
    seen.push(marked());
  }
  return [...new Set(seen)];
}
"""


def test_what_was_kept_beside_a_database_without_an_answer_is_sent_when_it_answers(
    browser: Browser, house: RoundHouse
) -> None:
    page = phone(browser, house)
    page.add_init_script(NO_ANSWER)
    page.context.route(SENT, lambda route: route.abort())
    page.goto(box(house, 1))
    page.get_by_role("radio", name="wet, water").check()
    # At once: whoever has tapped may be gone before a database answers or is given up.
    assert page.evaluate(BESIDE) == 1
    expect(page.locator("#saved")).to_contain_text("Waiting to be sent: 1.", timeout=BACK_MS)
    page.context.unroute(SENT)
    page.evaluate(WELL)
    page.goto("about:blank")
    page.goto(box(house, 1))
    page.evaluate(WELL)
    page.reload()
    wait_until(lambda: len(said(house, 1)) == 1, "the entry", 40)
    stored(page)
    page.context.close()


def test_a_database_that_falls_silent_under_an_open_page_holds_nothing_up(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    page.add_init_script(FALLS_SILENT)
    page.goto(box(house, 14))
    stored(page)
    wait_until(lambda: bool(page.evaluate(HAS_ONE)), "the page to have its database", 60)
    page.evaluate("window.silent = true")
    page.get_by_role("radio", name="wet, water").check()
    wait_until(lambda: len(said(house, 14)) == 1, "the entry", 40)
    expect(page.locator("#saved")).to_contain_text("cannot be read just now", timeout=BACK_MS)
    page.evaluate("window.silent = false")

    def is_well() -> bool:
        page.evaluate("window.dispatchEvent(new Event('online'))")
        return "All is stored." in page.locator("#saved").inner_text()

    wait_until(is_well, "the database to be asked again", 40)
    assert page.evaluate(BESIDE) == 0
    page.context.close()


def test_whoever_goes_elsewhere_while_a_box_is_kept_stays_there(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    page.add_init_script(SILENT)
    page.goto(box(house, 6))
    stored(page)
    page.evaluate("window.silent = true")
    page.get_by_role("button", name="All well").tap()
    page.get_by_role("link", name="All boxes").tap()
    # This is said once the box is kept, when the page would have gone on to the next one.
    expect(page.locator("#saved")).to_contain_text(f"{label_of(6)}: all well.", timeout=BACK_MS)
    expect(page.get_by_role("heading", level=1)).to_contain_text("done")
    expect(page.get_by_role("button", name="All well")).to_be_hidden()
    page.context.close()


def test_each_press_counts_while_an_earlier_one_is_kept_slowly(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "lea")
    page.add_init_script(SLOW)
    page.goto(box(house, 8))
    stored(page)
    page.evaluate("window.slow = { put: 2_000 }")
    page.get_by_role("button", name="All well").tap()
    page.get_by_role("link", name="All boxes").tap()
    page.get_by_role("link", name=label_of(10)).tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(10))
    page.get_by_label("Water added, ml", exact=True).fill("30")
    page.get_by_label("Water added, ml", exact=True).press("Enter")
    page.get_by_role("button", name="All well").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(11))
    stored(page)
    assert [row[3] for row in said(house, 8)] == [1]
    assert sum(bool(row[3]) for row in said(house, 10)) == 1
    assert house.rows("SELECT max(water_ml) FROM box_finding WHERE box = 'north/upper/N10'") == [(30.0,)]
    page.context.close()


def test_a_database_that_cannot_be_read_today_is_not_called_empty(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    page.goto(box(house, 1))
    stored(page)
    page.context.route(SENT, lambda route: route.abort())
    page.get_by_role("checkbox", name="wiped").check()
    expect(page.locator("#saved")).to_contain_text("Waiting to be sent: 1.")
    # After the first try it is put there once more, as one that was tried.
    wait_until(lambda: page.evaluate(TRIED) == [True] and page.evaluate(BESIDE) == 0, "it to be in the database", 60)
    page.add_init_script(NO_ANSWER)
    page.reload()
    expect(page.locator("#saved")).to_contain_text("cannot be read just now", timeout=BACK_MS)
    page.context.close()


def test_a_database_that_the_browser_throws_away_loses_nothing(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    page.goto(box(house, 2))
    stored(page)
    page.context.route(SENT, lambda route: route.abort())
    page.get_by_role("checkbox", name="wiped").check()
    expect(page.locator("#saved")).to_contain_text("Waiting to be sent: 1.")
    session = page.context.new_cdp_session(page)
    session.send("Storage.clearDataForOrigin", {"origin": house.url, "storageTypes": "indexeddb"})
    page.get_by_role("radio", name="wet, water").check()
    expect(page.locator("#saved")).to_contain_text("Waiting to be sent: 2.")
    page.context.unroute(SENT)
    page.reload()
    stored(page)
    assert [row[1:3] for row in said(house, 2)] == [(None, 1), ("wet", 0)]
    page.context.close()


def test_a_browser_without_room_says_so_and_sends_what_it_can(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    page.goto(box(house, 4))
    stored(page)
    page.context.route(SENT, lambda route: route.abort())
    page.evaluate(
        "() => { const full = () => { throw new DOMException('full', 'QuotaExceededError'); };"
        " IDBObjectStore.prototype.put = full; Storage.prototype.setItem = full; }"
    )
    page.get_by_role("radio", name="wet, water").check()
    expect(page.locator("#saved")).to_contain_text("This browser keeps nothing")
    expect(page.locator("#saved")).to_contain_text("Waiting: 1.")
    page.context.unroute(SENT)
    wait_until(lambda: len(said(house, 4)) == 1, "the entry", 40)
    page.context.close()


def test_walks_that_are_over_are_not_kept(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "kim")
    page.goto(f"{house.url}/rounds/1")
    stored(page)
    store = "import('/static/round-store.js').then((each) => each.openStore())"
    page.evaluate(f"{store}.then((store) => store.put('walks', {{ id: '77', who: 'kim', kept_ms: 1, boxes: [] }}))")
    page.reload()
    kept = f"{store}.then((store) => store.all('walks')).then((all) => all.map((each) => each.id).join())"
    wait_until(lambda: page.evaluate(kept) == "1", "old walks to go", 60)
    page.context.close()


def test_without_room_for_the_walk_the_boxes_come_all_the_same(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "leo")
    page.add_init_script("Object.defineProperty(window, 'indexedDB', { value: undefined })")
    page.add_init_script(
        "const put = Storage.prototype.setItem; Storage.prototype.setItem = function (key, text) {"
        " if (text.length > 10_000) { throw new DOMException('full', 'QuotaExceededError'); }"
        " put.call(this, key, text); };"
    )
    page.goto(f"{house.url}/rounds/1")
    stored(page)
    page.get_by_role("link", name=label_of(2)).tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(2))
    page.context.close()


def test_a_second_tap_is_not_undone_while_the_first_is_kept(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    page.goto(box(house, 13))
    stored(page)
    stayed = page.evaluate(TAPPED_TWICE)
    assert set(stayed) == {"clumps"}
    stored(page)
    wait_until(lambda: len(said(house, 13)) == 2, "both entries", 40)
    page.context.close()


# While the database is written to, another tab of the browser puts something newer beside it.
NEWER_MEANWHILE = """
async () => {
  const store = await (await import("/static/round-store.js")).openStore();
  while (!(await store.reach())) {
    await new Promise((go) => setTimeout(go, 100));
  }
  const given = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (...asked) {
    const key = Object.keys(localStorage).find((each) => each.endsWith(":entries:apart"));
    localStorage.setItem(key, localStorage.getItem(key).replace("first", "second"));
    return given.apply(this, asked);
  };
  await store.put("entries", { id: "apart", who: "kim", remark: "first", status: "waiting" });
  IDBObjectStore.prototype.put = given;
  return (await store.get("entries", "apart")).remark;
}
"""

# The same of a photo, which is put beside a database only where that does not answer.
NEWER_PHOTO = """
async () => {
  const store = await (await import("/static/round-store.js")).openStore();
  while (!(await store.reach())) {
    await new Promise((go) => setTimeout(go, 100));
  }
  const photo = { id: "apart", who: "kim", remark: "first", status: "waiting" };
  const given = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (...asked) {
    store.plain.put("photos", { ...photo, remark: "second" });
    return given.apply(this, asked);
  };
  await store.put("photos", photo);
  IDBObjectStore.prototype.put = given;
  return (await store.get("photos", "apart")).remark;
}
"""


def test_what_another_tab_kept_meanwhile_is_not_cleared(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    page.context.route(SENT, lambda route: route.abort())
    page.goto(box(house, 5))
    stored(page)
    assert page.evaluate(NEWER_MEANWHILE) == "second"
    assert page.evaluate(NEWER_PHOTO) == "second"
    page.context.close()
