"""Other ways through a round: without scripts, by the keyboard, quickly, without a database, and only to read."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from daemon.access.values import Role
from tests.support.round_phone import COUNT, VENOMOUS, begin, errors_of, phone, photo_bytes
from tests.support.round_site import RoundHouse, label_of, open_house

pytestmark = pytest.mark.services


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RoundHouse]:
    with open_house(tmp_path, COUNT, (VENOMOUS,)) as made:
        yield made


def test_a_round_works_without_scripts(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house, java_script_enabled=False)
    begin(page, house, scripts=False)
    page.get_by_role("link", name=label_of(1)).tap()
    page.get_by_role("button", name="All well").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(2))
    page.get_by_role("radio", name="dry, falls apart").check()
    page.get_by_label("Water added, ml", exact=True).fill("a lot")
    page.get_by_label("Remark").fill("by hand <b>alone</b>")
    # This presses the first button of the form, which must not be that all is well.
    page.get_by_label("Water added, ml", exact=True).press("Enter")
    expect(page.locator("#box-water_ml-error")).to_contain_text("'a lot' is no number of ml.")
    expect(page.get_by_role("radio", name="dry, falls apart")).to_be_checked()
    expect(page.get_by_label("Remark")).to_have_value("by hand <b>alone</b>")
    page.get_by_label("Water added, ml", exact=True).fill("40")
    page.get_by_label("Photo").set_input_files(
        {"name": "egg.jpg", "mimeType": "image/jpeg", "buffer": photo_bytes(400)}
    )
    page.get_by_role("button", name="Save and next").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(3))
    page.goto(f"{house.url}/rounds/1/box/north/upper/N4")
    page.get_by_label("Photo").set_input_files(
        {"name": "egg.jpg", "mimeType": "image/jpeg", "buffer": photo_bytes(400)}
    )
    page.get_by_role("button", name="Send the photo").tap()
    expect(page.locator(".photos img")).to_have_count(1)
    page.goto(f"{house.url}/rounds/1/summary")
    page.get_by_label("Note for whoever").fill("N4 once more")
    page.get_by_role("button", name="End the round").tap()
    # Of twenty boxes most were not seen: it asks, leads back to the first of them, and ends at the second word.
    expect(page.locator("#not-seen")).to_contain_text("Not ended yet.")
    expect(page.locator("#not-seen")).to_contain_text(label_of(5))
    expect(page.get_by_role("link", name=f"Back to {label_of(3)}")).to_be_visible()
    expect(page.get_by_label("Note for whoever")).to_have_value("N4 once more")
    page.get_by_role("button", name="End the round all the same").tap()
    expect(page.locator("main")).to_contain_text("40 ml")
    expect(page.locator("main")).to_contain_text("N4 once more")
    expect(page.get_by_role("button", name="End the round")).to_have_count(0)
    page.context.close()


def test_a_viewer_reads_a_round_and_changes_nothing(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    begin(page, house)
    reader = phone(browser, house, "vera", Role.VIEWER)
    errors = errors_of(reader)
    reader.goto(f"{house.url}/rounds/1/box/north/upper/N1")
    expect(reader.get_by_role("heading", level=1)).to_contain_text(label_of(1))
    expect(reader.get_by_role("button", name="All well")).to_have_count(0)
    expect(reader.locator("#saved")).to_contain_text("All is stored.")
    reader.goto(f"{house.url}/rounds/99")
    expect(reader.get_by_role("heading", level=1)).to_contain_text("There is no such round")
    assert [each for each in errors if "404" not in each] == []
    reader.context.close()
    page.context.close()


def test_a_box_is_done_by_the_keyboard_alone(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    errors = errors_of(page)
    begin(page, house)
    page.get_by_role("link", name=label_of(1)).focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(1))
    kinds = ("a", "button", "textarea", "summary")
    wanted = page.locator(", ".join(f"article {kind}:visible" for kind in kinds))
    reached = set()
    for _ in range(wanted.count() + 40):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("[...document.querySelectorAll('*')].indexOf(document.activeElement)"))
    assert len(reached) >= wanted.count()
    page.locator("[name=medium]").first.focus()
    page.keyboard.press("Space")
    page.keyboard.press("ArrowRight")
    page.get_by_label("Water added, ml", exact=True).focus()
    page.keyboard.type("30")
    page.keyboard.press("Enter")
    expect(page.locator(".entered")).to_contain_text("water 30 ml")
    expect(page.locator(".entered")).to_contain_text("medium clumps")
    page.locator(".all-well").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(2))
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    assert house.rows("SELECT sum(all_well), max(water_ml) FROM box_finding") == [(1, 30.0)]
    assert errors == []
    page.context.close()


def test_quick_taps_are_one_sum_of_water(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    begin(page, house)
    page.get_by_role("link", name=label_of(1)).tap()
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    steps = "button.step[data-ml]:not([data-ml=clear])"
    page.evaluate(f"document.querySelectorAll('{steps}').forEach((one) => one.click())")
    expect(page.get_by_label("Water added, ml", exact=True)).to_have_value("85")
    expect(page.locator(".entered li")).to_have_count(1)
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    page.goto(f"{house.url}/rounds/1/summary")
    expect(page.locator("main")).to_contain_text("85 ml")
    page.context.close()


def test_entries_wait_also_where_the_browser_has_no_database(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    page.add_init_script("Object.defineProperty(window, 'indexedDB', { value: undefined })")
    begin(page, house)
    page.get_by_role("link", name=label_of(1)).tap()
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    house.service.stop()
    page.get_by_role("button", name="All well").tap()
    expect(page.locator("#saved")).to_contain_text("Waiting to be sent: 1.")
    page.get_by_label("Photo").set_input_files(
        {"name": "egg.jpg", "mimeType": "image/jpeg", "buffer": photo_bytes(200)}
    )
    expect(page.locator("#saved")).to_contain_text("Waiting to be sent: 2.")
    house.open()
    page.reload()
    expect(page.locator("#saved")).to_contain_text("All is stored.", timeout=40_000)
    assert house.rows("SELECT box, all_well FROM box_finding") == [("north/upper/N1", 1)]
    assert house.rows("SELECT box, width FROM photo") == [("north/upper/N2", 200)]
    page.context.close()
