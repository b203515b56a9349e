"""Two people on one round in two tabs of one browser, and photos that wait while clutches change places."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from daemon.access.values import Role
from daemon.clutches import corrections
from daemon.storage.journal import Journal
from tests.support.accounts import carry, make_account
from tests.support.household import now_ms
from tests.support.processes import wait_until
from tests.support.round_phone import COUNT, PHONE, begin, phone, photo_bytes
from tests.support.round_site import RoundHouse, key_of, open_house

pytestmark = pytest.mark.services

TOLD = "SELECT who, medium, lid, seq FROM box_finding WHERE skipped = '' ORDER BY seq"
HOUR_S = 3_600


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RoundHouse]:
    with open_house(tmp_path, COUNT) as made:
        yield made


def tap(page: Page, name: str, value: str) -> None:
    page.locator(f'[name="{name}"][value="{value}"]').check()
    expect(page.locator(f'[name="{name}"][value="{value}"]')).to_be_checked()


def test_two_people_in_two_tabs_of_one_browser_keep_their_names_and_the_order(
    browser: Browser, house: RoundHouse
) -> None:
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    with house.access() as desk:
        ben, cleo = (make_account(desk, name, Role.RESPONDER) for name in ("ben", "cleo"))
    carry(context, house.url, ben)
    of_ben = context.new_page()
    of_ben.set_default_timeout(40_000)
    begin(of_ben, house)
    address = f"{house.url}/rounds/1/box/{key_of(1)}"
    of_ben.goto(address)
    expect(of_ben.locator("#saved")).to_contain_text("All is stored.")
    # His tab learns of nobody until all is entered: after twenty seconds it would look who is there.
    of_ben.route("**/rounds/1/all*", lambda route: route.abort())
    # Cleo signs in beside him: the session of the browser is hers from now on.
    carry(context, house.url, cleo)
    of_cleo = context.new_page()
    of_cleo.set_default_timeout(40_000)
    of_cleo.goto(address)
    expect(of_cleo.locator("#saved")).to_contain_text("All is stored.")
    context.set_offline(True)
    tap(of_ben, "medium", "dry")
    tap(of_cleo, "lid", "beads")
    tap(of_ben, "medium", "wet")
    tap(of_cleo, "lid", "dripping")
    of_ben.unroute("**/rounds/1/all*")
    context.set_offline(False)
    # Hers go at once; his wait for him, and are not sent in her name.
    wait_until(lambda: len(house.rows(TOLD)) == 2, "what Cleo saw")
    assert {row[0] for row in house.rows(TOLD)} == {"cleo"}
    expect(of_cleo.locator("#saved")).to_contain_text("ben")
    of_cleo.close()
    carry(context, house.url, ben)
    of_ben.goto(address)
    wait_until(lambda: len(house.rows(TOLD)) == 4, "what Ben saw")
    rows = house.rows(TOLD)
    assert [row[:3] for row in rows] == [
        ("ben", "dry", None),
        ("cleo", None, "beads"),
        ("ben", "wet", None),
        ("cleo", None, "dripping"),
    ]
    numbers = [row[3] for row in rows]
    assert len(set(numbers)) == len(numbers)
    with Journal.open(house.journal_path) as journal:
        view = house.desk(journal).sheet(key_of(1), 1)
        assert view is not None
        assert view.state is not None
        assert (view.state.medium, view.state.lid) == ("wet", "dripping")
    context.close()


def test_a_photo_that_waited_is_of_the_clutch_that_stood_on_the_page(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    # The clock of this phone is an hour ahead, so nothing can be told by when the photo was made.
    page.clock.install()
    page.clock.set_system_time(now_ms() / 1000 + HOUR_S)
    begin(page, house)
    page.goto(f"{house.url}/rounds/1/box/{key_of(1)}")
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    page.context.set_offline(True)
    page.get_by_label("Photo").set_input_files(
        {"name": "egg.jpg", "mimeType": "image/jpeg", "buffer": photo_bytes(400)}
    )
    expect(page.locator("#saved")).to_contain_text("Waiting to be sent")
    with Journal.open(house.journal_path) as journal:
        at_ms = now_ms()
        journal.write(lambda conn: corrections.swap_clutches(conn, 1, 2, at_ms, "ana", "", at_ms))
    page.context.set_offline(False)
    wait_until(lambda: house.rows("SELECT 1 FROM photo") == [(1,)], "the photo", 60)
    assert house.rows("SELECT box, clutch_id FROM photo") == [(key_of(1), 1)]
    page.context.close()


# The camera is open while the box is put on the page anew; then it gives its picture to the control that is gone.
TAKEN_MEANWHILE = """
async () => {
  const control = document.querySelector("[name=photo]");
  const place = control.closest("article").parentElement;
  place.innerHTML = place.innerHTML;
  const canvas = new OffscreenCanvas(40, 30);
  canvas.getContext("2d").fillRect(0, 0, 40, 30);
  const files = new DataTransfer();
  files.items.add(new File([await canvas.convertToBlob({ type: "image/jpeg" })], "egg.jpg", { type: "image/jpeg" }));
  control.files = files.files;
  control.dispatchEvent(new Event("change", { bubbles: true }));
}
"""


def test_a_photo_is_kept_where_the_box_was_shown_anew_while_it_was_taken(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    begin(page, house)
    page.goto(f"{house.url}/rounds/1/box/{key_of(1)}")
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    page.evaluate(TAKEN_MEANWHILE)
    wait_until(lambda: house.rows("SELECT 1 FROM photo") == [(1,)], "the photo", 60)
    assert house.rows("SELECT box, clutch_id FROM photo") == [(key_of(1), 1)]
    page.context.close()
