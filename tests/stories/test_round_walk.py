"""A whole round on a phone: the connection is cut, the service goes and comes back, people take over from each other.

Real browser, real daemon process, real journal.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Request, expect, sync_playwright

from daemon.access.values import Role
from tests.support.accounts import PASSWORD, carry, make_account, sign_in
from tests.support.processes import wait_until
from tests.support.round_phone import QUIET
from tests.support.round_site import BOXES, RoundHouse, key_of, label_of, open_house

pytestmark = pytest.mark.services

LOST_MS, BACK_MS = 40_000, 60_000
MOST_SENT_BYTES = 200_000
MOST_RECEIVED_BYTES = 400_000
CUT = (
    "ERR_INTERNET_DISCONNECTED",
    "ERR_CONNECTION_REFUSED",
    "ERR_CONNECTION_RESET",
    "ERR_EMPTY_RESPONSE",
    "ERR_FAILED",
)
SAID = "SELECT box, who, all_well, seq FROM box_finding ORDER BY finding_id"


@pytest.fixture(scope="module")
def browser(chromium: str) -> Iterator[Browser]:
    expect.set_options(timeout=LOST_MS)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=QUIET)
        yield browser
        browser.close()


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RoundHouse]:
    with open_house(tmp_path) as made:
        yield made


def phone(browser: Browser, house: RoundHouse, name: str) -> BrowserContext:
    """A phone of a responder who has signed in."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    with house.access() as desk:
        carry(context, house.url, make_account(desk, name, Role.RESPONDER))
    context.set_default_timeout(40_000)
    return context


def complaints(page: Page) -> list[str]:
    """What the browser complains of, beside what a cut connection makes it say."""
    found: list[str] = []
    page.on("pageerror", lambda error: found.append(str(error)))
    page.on("console", lambda said: found.append(said.text) if said.type == "error" else None)
    return found


def begin(page: Page, house: RoundHouse) -> None:
    page.goto(f"{house.url}/rounds")
    page.get_by_role("button", name="Start as").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"0 of {BOXES} done")
    # Without a connection nothing can be begun that is not here yet.
    expect(page.locator("#saved")).to_contain_text("All is stored.")


def all_well(page: Page, *numbers: int) -> None:
    """Tap through these boxes, which follow each other, until the page has gone on from the last of them."""
    head = page.get_by_role("heading", level=1)
    for number in numbers:
        expect(head).to_contain_text(label_of(number))
        page.get_by_role("button", name="All well").tap()
        expect(head).not_to_contain_text(label_of(number))


def waiting(page: Page, count: int) -> None:
    expect(page.locator("#saved")).to_contain_text(f"Waiting to be sent: {count}.", timeout=LOST_MS)


def stored(page: Page, house: RoundHouse, count: int) -> None:
    """The service has so many entries by now, and the page says so."""
    wait_until(lambda: len(house.rows(SAID)) >= count, f"{count} entries", 60)
    expect(page.locator("#saved")).to_contain_text("All is stored.", timeout=BACK_MS)


def cut_off(context: BrowserContext, page: Page, house: RoundHouse) -> None:
    """Boxes 3 to 5 without a connection, to and fro between pages."""
    context.set_offline(True)
    all_well(page, 3, 4)
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(5))
    page.get_by_role("radio", name="dry, falls apart").check()
    page.get_by_role("button", name="+50", exact=True).tap()
    waiting(page, 4)
    page.go_back()
    page.go_forward()
    expect(page.get_by_role("radio", name="dry, falls apart")).to_be_checked()
    expect(page.get_by_label("Water added, ml", exact=True)).to_have_value("50")
    context.set_offline(False)
    stored(page, house, 6)


def end(page: Page) -> None:
    """The summary, and the end of the round."""
    page.get_by_role("link", name="All are done: to the end").tap()
    page.get_by_role("button", name="End the round").tap()
    expect(page.locator("main")).to_contain_text(f"{BOXES} of {BOXES}")
    expect(page.locator("main")).to_contain_text("50 ml")
    expect(page.get_by_role("button", name="End the round")).to_have_count(0)


def test_a_whole_round_with_the_connection_cut_twice(browser: Browser, house: RoundHouse) -> None:
    context = phone(browser, house, "ben")
    page = context.new_page()
    found = complaints(page)
    begin(page, house)
    wait_until(lambda: bool(page.evaluate("caches.match(location.pathname).then(Boolean)")), "the page to be kept", 60)
    walk = page.url
    page.get_by_role("link", name=label_of(1)).tap()
    all_well(page, 1, 2)
    # What is under way when the connection goes would wait as well.
    stored(page, house, 2)

    cut_off(context, page, house)

    house.service.stop()
    page.get_by_role("link", name="Next", exact=True).tap()
    all_well(page, 6, 7)
    waiting(page, 2)
    page.get_by_label("Remark").fill("half typed")
    page.reload()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(8))
    expect(page.get_by_label("Remark")).to_have_value("half typed")
    # Whoever leaves the box has written it, and whoever writes a remark has looked.
    page.get_by_role("link", name="All boxes").tap()
    expect(page.locator(f"#rows [data-key='{key_of(8)}']")).to_contain_text("done")
    page.close()
    page = context.new_page()
    found_later = complaints(page)
    page.goto(walk)
    expect(page.get_by_role("heading", level=1)).to_contain_text(f"of {BOXES} done")
    page.get_by_role("link", name=label_of(9)).tap()
    all_well(page, 9, 10)
    house.open()
    stored(page, house, 11)
    page.get_by_role("link", name="All boxes").tap()
    page.get_by_role("link", name=label_of(11)).tap()
    all_well(page, *range(11, BOXES + 1))
    expect(page.get_by_role("heading", level=1)).to_have_text(f"{BOXES} of {BOXES} done")
    stored(page, house, 21)
    end(page)

    said = house.rows(SAID)
    well = [box for box, _, is_well, _ in said if is_well]
    assert well == [key_of(number) for number in (1, 2, 3, 4, 6, 7, *range(9, BOXES + 1))]
    numbers = [seq for *_, seq in said]
    assert numbers == sorted(set(numbers))  # type: ignore[type-var]
    assert {who for _, who, _, _ in said} == {"ben"}
    assert house.rows("SELECT count(*) FROM box_finding WHERE remark = 'half typed'") == [(1,)]
    assert [each for each in found + found_later if not any(cut in each for cut in CUT)] == []
    context.close()


def test_a_round_of_twenty_boxes_sends_little(browser: Browser, house: RoundHouse) -> None:
    context = phone(browser, house, "ben")
    page = context.new_page()
    requests: list[Request] = []
    page.on("requestfinished", lambda one: requests.extend([one]))
    begin(page, house)
    page.get_by_role("link", name=label_of(1)).tap()
    all_well(page, *range(1, BOXES + 1))
    expect(page.get_by_role("heading", level=1)).to_have_text(f"{BOXES} of {BOXES} done")
    stored(page, house, BOXES)
    sizes = [each.sizes() for each in requests]
    sent = sum(each["requestBodySize"] + each["requestHeadersSize"] for each in sizes)
    received = sum(each["responseBodySize"] + each["responseHeadersSize"] for each in sizes)
    assert 0 < sent < MOST_SENT_BYTES
    assert received < MOST_RECEIVED_BYTES
    assert house.rows("SELECT count(*) FROM box_finding") == [(BOXES,)]
    context.close()


def test_two_people_do_one_round_and_one_goes_on_where_the_other_stopped(browser: Browser, house: RoundHouse) -> None:
    first, second = phone(browser, house, "ben"), phone(browser, house, "cleo")
    one, two = first.new_page(), second.new_page()
    begin(one, house)
    one.get_by_role("link", name=label_of(1)).tap()
    all_well(one, 1, 2)
    stored(one, house, 2)
    two.goto(f"{house.url}/rounds")
    two.get_by_role("link", name="Go on").first.tap()
    expect(two.get_by_role("heading", level=1)).to_have_text(f"2 of {BOXES} done")
    stored(two, house, 2)
    two.get_by_role("link", name="Go on", exact=True).tap()
    all_well(two, 3, 4)
    stored(two, house, 4)
    # Both saw box 5, and each saw it differently: the page says who, and what counts.
    one.goto(f"{house.url}/rounds/1/box/{key_of(5)}")
    one.get_by_role("radio", name="dry, falls apart").check()
    stored(one, house, 5)
    two.get_by_role("radio", name="wet, water comes out").check()
    stored(two, house, 6)
    one.goto(f"{house.url}/rounds/1")
    expect(one.get_by_role("heading", level=1)).to_have_text(f"5 of {BOXES} done")
    one.goto(f"{house.url}/rounds/1/box/{key_of(5)}")
    expect(one.locator("article")).to_contain_text("cleo said wet, water comes out, which counts")
    assert {who for _, who, _, _ in house.rows(SAID)} == {"ben", "cleo"}
    first.close()
    second.close()


def test_what_one_person_saw_waits_for_them_or_is_taken_over_by_name(browser: Browser, house: RoundHouse) -> None:
    context = phone(browser, house, "ben")
    page = context.new_page()
    begin(page, house)
    page.get_by_role("link", name=label_of(1)).tap()
    all_well(page, 1)
    stored(page, house, 1)
    with house.access() as desk:
        for each in desk.all_sessions():
            assert desk.end_any_session(None, each.number, "host") is None
    all_well(page, 2, 3)
    expect(page.locator("#sign-in-again")).to_be_visible()
    waiting(page, 2)
    # It says so before it goes on to the next box, to which whoever signs in then comes back.
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(4))
    with house.access() as desk:
        make_account(desk, "cleo", Role.RESPONDER)
    page.locator("#sign-in-again").tap()
    sign_in(page, "cleo", PASSWORD)
    expect(page.locator("#saved")).to_contain_text("2 entries by ben wait here until ben signs in on this phone.")
    assert len(house.rows(SAID)) == 1
    all_well(page, 4)
    wait_until(lambda: len(house.rows(SAID)) == 2, "the entry of cleo", 60)
    page.get_by_role("button", name="Send as cleo, seen by ben").tap()
    stored(page, house, 4)
    said = house.rows("SELECT box, who, remark FROM box_finding ORDER BY finding_id")
    taken = "(Seen by ben, sent by cleo.)"
    assert said == [
        (key_of(1), "ben", ""),
        (key_of(4), "cleo", ""),
        (key_of(2), "cleo", taken),
        (key_of(3), "cleo", taken),
    ]
    context.close()


def test_an_egg_that_somebody_else_removed_meanwhile_is_told_beside_the_box(
    browser: Browser, house: RoundHouse
) -> None:
    first, second = phone(browser, house, "ben"), phone(browser, house, "cleo")
    one, two = first.new_page(), second.new_page()
    begin(one, house)
    for page in (one, two):
        page.goto(f"{house.url}/rounds/1/box/{key_of(1)}")
        expect(page.locator("#saved")).to_contain_text("All is stored.")
    first.set_offline(True)
    for page in (one, two):
        page.get_by_role("checkbox", name="5", exact=True).check()
        page.get_by_role("radio", name="removed", exact=True).check()
        page.get_by_role("radio", name="mould").tap()
    stored(two, house, 1)
    waiting(one, 1)
    first.set_offline(False)
    stored(one, house, 2)
    line = one.locator(".entered li").filter(has_text="Not taken of")
    expect(line).to_contain_text("it is removed: mould")
    line.get_by_role("button", name="Understood").tap()
    expect(line).to_have_count(0)
    expect(one.locator(".entered")).to_contain_text("(not taken: egg 5")
    assert [who for _, who, _, _ in house.rows(SAID)] == ["cleo", "ben"]
    first.close()
    second.close()
