"""Presses on a round that come twice, too soon, by keyboard, or while something is kept slowly: each counts once."""

import pytest
from playwright.sync_api import Browser, Route, expect

from tests.browser.one_round import LATE_PICTURES, SENT, SLOW, box, said, stored
from tests.support.processes import wait_until
from tests.support.round_phone import phone, photo_bytes
from tests.support.round_site import RoundHouse, key_of, label_of

pytestmark = pytest.mark.services

# Presses what the keyboard is on, as a key does that is held, at each change of the box and for half a second after it.
HELD = """
() => {
  window.pressed = 0;
  new MutationObserver(() => {
    const press = () => { document.activeElement.click(); window.pressed += 1; };
    press();
    setTimeout(press, 100);
    setTimeout(press, 500);
  }).observe(document.getElementById("box"), { childList: true });
}
"""


def answered_with_a_remark(route: Route) -> None:
    """The service tells something of what it has stored."""
    answer = route.fetch()
    route.fulfill(response=answer, json={**answer.json(), "said": ["Somebody has to read this."]})


def test_a_key_that_is_held_answers_one_box(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "uli")
    page.add_init_script(SLOW)
    page.goto(box(house, 5))
    stored(page)
    page.evaluate(HELD)
    page.evaluate("window.slow = { getAll: 400 }")
    page.get_by_role("button", name="All well").press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(6))
    page.wait_for_function("() => window.pressed >= 3")
    stored(page)
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(6))
    assert [len(said(house, number)) for number in (5, 6)] == [1, 0]
    page.context.close()


def test_a_photo_that_fails_after_its_box_was_left_for_the_list_is_told(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "vic")
    page.add_init_script(LATE_PICTURES)
    page.goto(box(house, 4))
    stored(page)
    page.get_by_label("Photo").set_input_files({"name": "e.jpg", "mimeType": "image/jpeg", "buffer": b"no photo"})
    page.wait_for_function("() => Boolean(window.goOn)")
    page.get_by_role("link", name="All boxes").tap()
    expect(page.locator("#progress")).to_be_focused()
    page.evaluate("window.goOn()")
    expect(page.locator("#saved")).to_contain_text(f"Not kept: {key_of(4)}: This is no photo")
    page.context.close()


def test_water_that_is_no_number_keeps_the_box_until_it_is_one(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "wes")
    page.goto(box(house, 7))
    stored(page)
    field, wrong = page.get_by_label("Water added, ml"), page.locator("[data-field=water_ml] .error")
    field.fill("a lot")
    page.get_by_role("button", name="All well").tap()
    expect(wrong).to_contain_text("Not kept: a lot is no number of ml.")
    page.get_by_label("wiped").tap()
    stored(page)
    page.get_by_role("link", name="Next").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(7))
    expect(field).to_have_value("a lot")
    expect(wrong).to_contain_text("Not kept: a lot is no number of ml.")
    # The unit is understood.
    field.fill("30 ml")
    page.get_by_role("link", name="Next").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(8))
    stored(page)
    assert house.rows(f"SELECT water_ml FROM box_finding WHERE box = '{key_of(7)}' AND water_ml > 0") == [(30.0,)]
    assert not any(row[3] for row in said(house, 7))
    page.context.close()


def test_a_double_tap_on_understood_takes_nothing_back(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "xia")
    page.route(SENT, answered_with_a_remark)
    page.goto(box(house, 9))
    stored(page)
    page.get_by_label("wiped").tap()
    read = page.get_by_role("button", name="Understood")
    expect(read).to_be_visible()
    # Again and again, as a finger that trembles has it, on whatever stands there then.
    page.evaluate("""async () => {
      const press = () => document.querySelector(".entered button")?.click();
      press();
      const end = performance.now() + 300;
      while (await new Promise(requestAnimationFrame) && performance.now() < end) {
        press();
      }
    }""")
    expect(read).to_have_count(0)
    stored(page)
    expect(page.get_by_role("button", name="Take back")).to_be_visible()
    assert [row[2] for row in said(house, 9)] == [1]
    page.context.close()


def test_a_double_tap_on_take_back_on_slow_storage_is_no_refusal(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "yan")
    page.add_init_script(SLOW)
    page.goto(box(house, 10))
    stored(page)
    page.get_by_label("wiped").tap()
    stored(page)
    expect(page.get_by_role("button", name="Take back")).to_be_visible()
    page.evaluate("window.slow = { put: 1_000 }")
    page.evaluate("""async () => {
      const press = () => document.querySelector(".entered [data-what=take-back]")?.click();
      press();
      await new Promise((go) => setTimeout(go, 700));
      press();
    }""")
    expect(page.get_by_role("button", name="Take back")).to_have_count(0)
    page.evaluate("window.slow = {}")
    stored(page)
    expect(page.locator("#saved")).not_to_contain_text("Not taken")
    assert len(said(house, 10)) == 2
    page.context.close()


def test_the_keyboard_stays_on_a_line_that_is_right_as_it_is(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "zoe")
    page.goto(box(house, 11))
    stored(page)
    page.get_by_label("wiped").tap()
    stored(page)
    back = page.get_by_role("button", name="Take back")
    wait_until(lambda: page.evaluate("true") and len(said(house, 11)) == 1, "the entry", 60)
    page.reload()
    stored(page)
    back.focus()
    with page.expect_response(lambda answer: "/rounds/1/all" in answer.url):
        page.evaluate("window.dispatchEvent(new Event('online'))")
    page.evaluate("async () => { for (const _ of '123') await new Promise(requestAnimationFrame); }")
    expect(back).to_be_focused()
    page.context.close()


def test_what_was_kept_slowly_is_offered_back_and_scolds_no_other_box(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "abe")
    page.add_init_script(SLOW)
    page.goto(box(house, 12))
    stored(page)
    page.evaluate("window.slow = { put: 3_000 }")
    page.get_by_role("button", name="All well").tap()
    page.get_by_role("link", name="All boxes").tap()
    page.get_by_role("link", name=label_of(13)).tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(13))
    page.locator("[data-egg='2']").tap()
    expect(page.locator("#saved")).to_contain_text(f"{label_of(12)}: all well.")
    expect(page.locator("#saved .undo")).to_be_visible()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(13))
    expect(page.locator("[data-field=eggs] .error")).to_have_count(0)
    page.context.close()


A_SAID = """
async (key) => {
  const store = await (await import("/static/round-store.js")).openStore();
  const entry = { id: "said", round: 1, box: key, who: "bea", wiped: true, seq: 1 };
  await store.put("entries", { ...entry, status: "stored", said: ["Read this."] });
}
"""
# Another tab does it first, and this page has not heard of it.
CLEARED_BEFORE = """
async () => {
  const button = document.querySelector("[data-what=understood]");
  await (await (await import("/static/round-store.js")).openStore()).remove("entries", "said");
  button.click();
}
"""


def test_understood_of_what_another_tab_has_cleared_leaves_nothing_behind(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "bea")
    page.goto(box(house, 14))
    stored(page)
    page.evaluate(A_SAID, key_of(14))
    page.reload()
    read = page.get_by_role("button", name="Understood")
    expect(read).to_be_visible()
    page.evaluate(CLEARED_BEFORE)
    expect(read).to_have_count(0)
    stored(page)
    assert page.evaluate("Object.keys(localStorage).filter((key) => key.endsWith(':undefined'))") == []
    page.context.close()


def test_what_says_nothing_beside_the_database_keeps_nothing_from_it(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "cem")
    page.goto(box(house, 13))
    stored(page)
    # As an older page may have left it.
    page.evaluate("localStorage.setItem('clutchwarden-rounds:entries:undefined', JSON.stringify({ said: [] }))")
    page.reload()
    page.get_by_label("Photo").set_input_files(
        {"name": "egg.jpg", "mimeType": "image/jpeg", "buffer": photo_bytes(200)}
    )
    expect(page.locator(".photos img")).to_have_count(1)
    stored(page)
    wait_until(
        lambda: page.evaluate("Object.keys(localStorage).filter((key) => key.includes('undefined')).length") == 0,
        "it to go",
        60,
    )
    page.context.close()
