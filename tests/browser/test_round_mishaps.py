"""What goes wrong with a phone on a round: nothing that was entered is lost, or called stored when it is not."""

import re

import pytest
from playwright.sync_api import Browser, Route, expect

from daemon.access.values import Role
from tests.browser.one_round import BACK_MS, SENT, box, said, stored
from tests.support.accounts import carry, make_account
from tests.support.processes import wait_until
from tests.support.round_phone import phone
from tests.support.round_site import RoundHouse, label_of

pytestmark = pytest.mark.services


TOUCHED_AGAIN = """([x, y, label]) => {
  let count = 0, moved = false;
  const done = new Promise((end) => {
    const touch = () => {
      const isHere = document.querySelector("article.box h1")?.textContent.includes(label);
      const moves = document.getAnimations().length > 0;
      moved ||= isHere && moves;
      if (count && !isHere || isHere && !moves && (moved || count >= 30)) {
        return end(count);
      }
      if (isHere) {
        document.elementFromPoint(x, y)?.click();
        count += 1;
      }
      requestAnimationFrame(touch);
    };
    touch();
  });
  return { done };
}"""
"""Taps here from when the box of this name is there until nothing moves, and a while where nothing does. In the page,
since a test that stands still would tap only when a tap counts again."""


def test_a_double_tap_is_one_all_well(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "cem")
    page.goto(box(house, 5))
    stored(page)
    # What has just come takes no tap for a moment.
    wait_until(lambda: bool(page.evaluate("document.getAnimations().length === 0")), "the page to rest", 60)
    place = page.get_by_role("button", name="All well").bounding_box()
    assert place is not None
    x, y = place["x"] + place["width"] / 2, place["y"] + place["height"] / 2
    touched = page.evaluate_handle(TOUCHED_AGAIN, [x, y, label_of(6)])
    page.touchscreen.tap(x, y)
    # As often as a hand can, from the moment the next box is there until it has come to rest.
    assert page.evaluate("(touched) => touched.done", touched) >= 1
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(6))
    stored(page)
    assert [row[3] for row in said(house, 5)] == [1]
    assert said(house, 6) == []
    # A moment later the button works as ever.
    page.get_by_role("button", name="All well").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(7))
    page.context.close()


def test_a_note_that_is_typed_after_its_eggs_belongs_to_them(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "dan")
    page.goto(box(house, 7))
    stored(page)
    page.get_by_role("checkbox", name="5", exact=True).check()
    page.get_by_role("radio", name="put on watch").tap()
    page.get_by_label("Note on these eggs").fill("dent at the left side")
    page.get_by_role("link", name="Next", exact=True).tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(8))
    stored(page)
    standing = "SELECT egg, note FROM egg_event WHERE what = 'watch' AND event_id NOT IN"
    corrected = "(SELECT corrects FROM egg_event WHERE corrects IS NOT NULL)"
    assert house.rows(f"{standing} {corrected}") == [(5, "dent at the left side")]
    page.context.close()


def test_eggs_that_were_tapped_and_nothing_was_said_of_hold_the_box_open(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "dan")
    page.goto(box(house, 8))
    stored(page)
    page.get_by_role("checkbox", name="5", exact=True).check()
    for way_on in (page.get_by_role("link", name="Next", exact=True), page.get_by_role("button", name="All well")):
        way_on.tap()
        expect(page.locator("[data-field=eggs] .error")).to_contain_text("Say what these eggs are")
        expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(8))
    page.locator("[data-egg='5'] input").uncheck()
    page.get_by_role("link", name="Next", exact=True).tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(9))
    assert said(house, 8) == []
    page.context.close()


def test_one_entry_that_the_service_cannot_take_lets_the_others_pass(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "eve")
    page.goto(box(house, 10))
    stored(page)

    def fail(route: Route) -> None:
        if '"dripping"' in (route.request.post_data or ""):
            route.fulfill(status=500, body="{}")
        else:
            route.continue_()

    page.context.route(SENT, fail)
    page.get_by_role("radio", name="dripping").check()
    page.get_by_role("checkbox", name="wiped").check()
    expect(page.locator(".entered li", has_text="lid wiped")).to_contain_text("stored", timeout=BACK_MS)
    expect(page.locator("#saved")).to_contain_text("Waiting to be sent: 1.")
    expect(page.locator(".entered")).to_contain_text("could not take this (500)")
    assert [row[2] for row in said(house, 10)] == [1]
    page.context.close()


@pytest.mark.parametrize("status", [413, 422])
def test_what_is_refused_for_its_form_is_shown_and_not_sent_for_ever(
    browser: Browser, house: RoundHouse, status: int
) -> None:
    page = phone(browser, house, "fay")
    page.goto(box(house, 11))
    stored(page)
    tries: list[int] = []

    def refuse(route: Route) -> None:
        tries.append(1)
        route.fulfill(status=status, json={"detail": [{"msg": "no"}]})

    page.context.route(SENT, refuse)
    page.get_by_role("radio", name="wet, water").check()
    expect(page.locator("#saved")).to_contain_text(f"Not taken: The service did not take it ({status}).")
    page.get_by_role("button", name=re.compile("Drop it")).tap()
    stored(page)
    assert len(tries) == 1
    page.context.close()


def test_half_a_character_is_sent_as_one_that_can_be(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "gus")
    page.goto(box(house, 12))
    stored(page)
    page.evaluate(
        "() => { const field = document.querySelector('[name=remark]'); field.value = 'a\\ud800b';"
        " field.dispatchEvent(new Event('change', { bubbles: true })); }"
    )
    wait_until(lambda: said(house, 12) != [], "the remark", 40)
    # U+FFFD stands for what cannot be read (Unicode, chapter 23).
    assert said(house, 12)[0][4] == "a\ufffdb"
    page.context.close()


def test_a_list_that_is_right_already_stays_under_the_finger(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "kit")
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.context.route(re.compile(r".*/rounds/1/all.*"), hold)
    page.goto(f"{house.url}/rounds/1")
    wait_until(lambda: page.evaluate("true") and bool(held), "the page to ask for the boxes", 60)
    page.evaluate("document.getElementById('go-on').isTheSame = true")
    held[0].continue_()
    stored(page)
    assert page.evaluate("document.getElementById('go-on').isTheSame") is True
    page.context.close()


KEPT = "caches.match('/rounds/1').then((found) => Boolean(found))"


def test_a_gateway_that_finds_nobody_gives_way_to_the_kept_page(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "hal")
    page.goto(f"{house.url}/rounds/1")
    stored(page)
    wait_until(lambda: bool(page.evaluate(KEPT)), "the page to be kept", 60)
    page.reload()
    wait_until(lambda: bool(page.evaluate("navigator.serviceWorker.controller !== null")), "the worker", 60)
    page.context.route(re.compile(r".*/rounds/1$"), lambda route: route.fulfill(status=502, body="Bad Gateway"))
    page.reload()
    expect(page.locator("#progress")).to_be_visible()
    page.context.close()


def test_what_one_typed_is_not_entered_by_the_next_who_signs_in(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "ida")
    page.goto(box(house, 13))
    stored(page)
    page.get_by_label("Remark").focus()
    page.keyboard.type("by ida")
    with house.access() as desk:
        carry(page.context, house.url, make_account(desk, "jon", Role.RESPONDER))
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator("#saved")).to_contain_text("1 entry by ida", timeout=BACK_MS)
    expect(page.get_by_label("Remark")).to_have_value("")
    page.get_by_role("link", name="Next", exact=True).tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(14))
    # Not that all is.
    expect(page.locator("#saved-said")).to_have_text("All of yours is stored. What others entered waits, see below.")
    assert all(row[4] != "by ida" for row in said(house, 13))
    page.context.close()


def test_where_nothing_was_done_yet_nothing_is_called_stored(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, "max")
    page.goto(f"{house.url}/rounds")
    ready = "document.readyState === 'complete' && navigator.serviceWorker.ready.then(() => true)"
    wait_until(lambda: bool(page.evaluate(ready)), "the worker", 60)
    expect(page.locator("#saved")).to_be_hidden()
    page.context.close()
