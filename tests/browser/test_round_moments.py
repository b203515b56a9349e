"""What a page of a round does while something of it is still on its way: a picture, an answer, a box shown anew."""

import re

import pytest
from playwright.sync_api import Browser, Route, expect

from tests.browser.one_round import LATE_PICTURES, box, said, stored
from tests.support.processes import wait_until
from tests.support.round_phone import phone, photo_bytes
from tests.support.round_site import RoundHouse, key_of, label_of

pytestmark = pytest.mark.services


def test_why_a_photo_was_not_kept_is_told_of_its_own_box(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "nia")
    page.add_init_script(LATE_PICTURES)
    page.goto(box(house, 10))
    stored(page)
    page.get_by_label("Photo").set_input_files({"name": "e.jpg", "mimeType": "image/jpeg", "buffer": b"no photo"})
    page.wait_for_function("() => Boolean(window.goOn)")
    page.get_by_role("button", name="All well").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(11))
    page.evaluate("window.goOn()")
    expect(page.locator("#saved")).to_contain_text("Not kept: north/upper/N10: This is no photo")
    page.get_by_label("Photo").set_input_files({"name": "f.jpg", "mimeType": "image/jpeg", "buffer": b"no photo"})
    page.wait_for_function("() => window.begun === 2")
    page.go_back()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(10))
    page.evaluate("window.goOn()")
    for number in (10, 11):
        expect(page.locator("#saved")).to_contain_text(f"north/upper/N{number}: This is no photo")
    expect(page.locator("[data-field='photo'] .error")).to_have_count(0)
    page.get_by_role("button", name="Understood").tap()
    expect(page.locator("#saved")).not_to_contain_text("Not kept")
    page.context.close()


def test_a_correction_leaves_the_keyboard_where_it_is(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "oli")
    page.goto(box(house, 14))
    stored(page)
    mark = page.locator("article.box").get_attribute("data-mark")
    page.locator("[name=medium]").first.focus()
    page.keyboard.press("Space")
    page.keyboard.press("ArrowRight")
    # The service has both, and the box is shown anew.
    expect(page.locator("article.box")).not_to_have_attribute("data-mark", mark or "")
    wait_until(lambda: len(said(house, 14)) == 2, "both entries", 40)
    stored(page)
    assert page.evaluate("document.activeElement.name") == "medium"
    assert page.evaluate("document.activeElement.checked") is True
    page.context.close()


def test_what_is_wanted_while_an_older_answer_is_on_its_way_is_asked_for_after_it(
    browser: Browser, house: RoundHouse
) -> None:
    page = phone(browser, house, "pia")
    # No look by itself every twenty seconds, which would find the photo too.
    page.add_init_script("window.setInterval = () => 0")
    page.goto(box(house, 9))
    stored(page)
    held: list[Route] = []

    def hold_the_first(route: Route) -> None:
        if held:
            route.continue_()
        else:
            held.append(route)

    # Its answer is of before the photo, and comes after it.
    page.route(re.compile(r".*/rounds/1/all.*"), hold_the_first)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    wait_until(lambda: page.evaluate("true") and bool(held), "the page to ask", 60)
    older = held[0].fetch()
    page.get_by_label("Photo").set_input_files(
        {"name": "egg.jpg", "mimeType": "image/jpeg", "buffer": photo_bytes(200)}
    )
    wait_until(lambda: len(house.rows("SELECT 1 FROM photo WHERE box = 'north/upper/N9'")) == 1, "the photo", 60)
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    # Until the page would ask for what is new beside a photo.
    page.evaluate("() => new Promise((done) => setTimeout(done, 1_000))")
    held[0].fulfill(response=older)
    expect(page.locator(".photos img")).to_have_count(1)
    page.context.close()


def test_a_photo_that_hangs_on_its_way_holds_no_entry_back(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "quin")
    page.goto(box(house, 8))
    stored(page)
    held: list[Route] = []
    is_cut_off = True
    page.route(re.compile(r".*/rounds/photos.*"), lambda each: held.append(each) if is_cut_off else each.continue_())
    page.get_by_label("Photo").set_input_files(
        {"name": "egg.jpg", "mimeType": "image/jpeg", "buffer": photo_bytes(200)}
    )
    wait_until(lambda: page.evaluate("true") and bool(held), "the photo on its way", 60)
    expect(page.locator("[data-field=photo]")).to_contain_text("1 photo is kept here and waits to be sent.")
    page.get_by_role("button", name="All well").tap()
    wait_until(lambda: page.evaluate("true") and len(said(house, 8)) == 1, "the entry, beside the photo", 60)
    expect(page.locator("#saved")).to_contain_text("Waiting to be sent: 1.")
    # On its way once, and not lost: that way ends, and it goes another one.
    assert len(held) == 1
    is_cut_off = False
    held[0].abort()
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    assert house.rows("SELECT width FROM photo WHERE box = 'north/upper/N8'") == [(200,)]
    page.context.close()


# What somebody entered on the round before this one, and has to read something about.
OF_ANOTHER_ROUND = """
async (key) => {
  const store = await (await import("/static/round-store.js")).openStore();
  const said = ["This came after the round was ended. It is kept with it."];
  const entry = { id: "late", round: 99, box: key, who: "rhea", all_well: true, seq: 1 };
  await store.put("entries", { ...entry, status: "stored", said });
}
"""


def test_what_was_entered_on_an_earlier_round_does_no_box_of_this_one(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "rhea")
    page.goto(f"{house.url}/rounds/1")
    stored(page)
    row = page.locator(f"#rows li[data-key='{key_of(12)}']")
    expect(row).to_have_attribute("data-done", "open")
    page.evaluate(OF_ANOTHER_ROUND, key_of(12))
    page.reload()
    # It is still there to be read, and the walk is the service's and this browser's.
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    kept = "async () => (await (await import('/static/round-store.js')).openStore()).get('entries', 'late')"
    assert page.evaluate(kept)["round"] == 99
    page.locator("[data-order=need]").tap()
    expect(page.locator("[data-order=need]")).to_have_attribute("aria-current", "true")
    expect(row).to_have_attribute("data-done", "open")
    page.context.close()


def test_the_button_for_eggs_says_that_they_are_kept_already(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "sam")
    page.goto(box(house, 7))
    stored(page)
    save, told = page.get_by_role("button", name="Save for these eggs"), page.locator("[data-field=eggs]")
    save.tap()
    expect(told.locator(".error")).to_contain_text("Tap the eggs first")
    page.locator("[data-egg='2']").tap()
    page.get_by_role("radio", name="on watch").tap()
    expect(told.locator(".kept")).to_have_text("Kept: egg 2, put on watch.")
    save.tap()
    expect(told.locator(".kept")).to_have_text("Kept: egg 2, put on watch.")
    expect(told.locator(".error")).to_have_count(0)
    stored(page)
    page.get_by_role("button", name="Take back").first.tap()
    expect(told.locator(".kept")).to_have_count(0)
    page.context.close()


def test_water_that_cannot_be_is_told_at_its_field_and_keeps_nothing(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "tea")
    page.goto(box(house, 6))
    stored(page)
    field, wrong = page.get_by_label("Water added, ml"), page.locator("[data-field=water_ml] .error")
    for typed in ("2001", "-5"):
        field.fill(typed)
        field.blur()
        expect(wrong).to_contain_text(f"Not kept: {typed} ml. Give more than 0 and at most 2000 ml")
        expect(field).to_have_value(typed)
    field.fill("50,5")
    field.blur()
    expect(wrong).to_have_count(0)
    wait_until(
        lambda: house.rows(f"SELECT water_ml FROM box_finding WHERE box = '{key_of(6)}'") == [(50.5,)], "50.5", 60
    )
    stored(page)
    page.context.close()
