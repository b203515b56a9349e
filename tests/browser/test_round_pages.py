"""A round on a phone, with a real browser at a real daemon: taps, eggs, water, what is refused, and how it looks."""

import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.support.pictures import take
from tests.support.round_phone import COUNT, SMALL_PHONE, VENOMOUS, begin, errors_of, fits, phone, photo_bytes
from tests.support.round_site import RoundHouse, label_of, open_house

pytestmark = pytest.mark.services

OUTPUT = Path(__file__).parents[1] / "output"


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RoundHouse]:
    with open_house(tmp_path, COUNT, (VENOMOUS,)) as made:
        yield made


def test_a_box_without_findings_takes_two_taps(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    errors = errors_of(page)
    begin(page, house)
    page.get_by_role("link", name=label_of(1)).tap()
    page.get_by_role("button", name="All well").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(2))
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    assert house.rows("SELECT box, who, all_well, medium FROM box_finding") == [("north/upper/N1", "ben", 1, None)]
    take(page, OUTPUT / "round-box-phone.png", full_page=True)
    assert errors == []
    page.context.close()


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_pages_of_a_round_fit_a_small_phone(browser: Browser, house: RoundHouse, dark: bool) -> None:
    page = phone(browser, house, viewport=SMALL_PHONE, color_scheme="dark" if dark else "light")
    errors = errors_of(page)
    kind = "dark" if dark else "light"
    page.goto(f"{house.url}/rounds")
    fits(page)
    take(page, OUTPUT / f"rounds-phone-{kind}.png", full_page=True)
    begin(page, house)
    for name, path in (
        ("round-walk", "/rounds/1"),
        ("round-box", "/rounds/1/box/north/upper/N1"),
        ("round-venomous", f"/rounds/1/box/north/upper/N{VENOMOUS}"),
        ("round-summary", "/rounds/1/summary"),
    ):
        page.goto(f"{house.url}{path}")
        expect(page.locator("#saved")).to_contain_text("All is stored.")
        fits(page)
        take(page, OUTPUT / f"{name}-phone-{kind}.png", full_page=True)
    assert errors == []
    page.context.close()


def test_every_touch_is_kept_at_once_and_the_next_one_corrects_it(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    errors = errors_of(page)
    begin(page, house)
    page.get_by_role("link", name=label_of(2)).tap()
    page.get_by_role("radio", name="dry, falls apart").check()
    page.get_by_role("radio", name="clumps, holds together").check()
    page.get_by_role("button", name="+25", exact=True).tap()
    page.get_by_role("button", name="+10", exact=True).tap()
    page.get_by_role("radio", name="along the edges").check()
    page.get_by_role("checkbox", name="wiped").check()
    page.get_by_role("checkbox", name="5", exact=True).check()
    page.get_by_role("radio", name="put on watch").tap()
    page.get_by_role("checkbox", name="2", exact=True).check()
    page.get_by_role("radio", name="removed", exact=True).check()
    page.get_by_role("radio", name="mould").tap()
    page.get_by_label("Remark").fill("smells of earth")
    # What is typed is kept also by whoever just goes on.
    page.get_by_role("link", name="Next", exact=True).tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(3))
    # Of others nothing is said but an egg: that is not done, but of one that is not to be opened it is all there is.
    for number in (4, VENOMOUS):
        page.goto(f"{house.url}/rounds/1/box/north/upper/N{number}")
        page.get_by_role("checkbox", name="1", exact=True).check()
        page.get_by_role("radio", name="put on watch").tap()
        expect(page.locator("#saved")).to_contain_text("All is stored.")
    page.goto(f"{house.url}/rounds/1")
    expect(page.locator("li[data-key='north/upper/N2'] .word")).to_have_text("done")
    expect(page.locator("li[data-key='north/upper/N4'] .word")).to_have_text("begun: say medium and lid")
    expect(page.locator(f"li[data-key='north/upper/N{VENOMOUS}'] .word")).to_have_text("done")
    page.goto(f"{house.url}/rounds/1/box/north/upper/N2")
    expect(page.get_by_role("radio", name="clumps, holds together")).to_be_checked()
    expect(page.get_by_label("Water added, ml", exact=True)).to_have_value("35")
    expect(page.get_by_role("radio", name="along the edges")).to_be_checked()
    expect(page.get_by_role("checkbox", name="wiped")).to_be_checked()
    expect(page.get_by_label("Remark")).to_have_value("smells of earth")
    expect(page.locator("[data-egg='5']")).to_contain_text("on watch")
    expect(page.locator(".eggs")).to_contain_text("Gone: 2 (removed)")
    take(page, OUTPUT / "round-entered-phone.png", full_page=True)
    [water] = [line for line in page.locator(".entered li").all_inner_texts() if "water" in line]
    assert "water 35 ml along the edges" in water
    page.get_by_role("button", name=re.compile("Take back.*egg 5")).tap()
    expect(page.locator(".entered")).not_to_contain_text("egg 5")
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    page.goto(f"{house.url}/rounds/1/summary")
    expect(page.locator("main")).to_contain_text("35 ml")
    expect(page.locator("main")).to_contain_text(f"{label_of(2)} (upper shelf, box N2): egg 2 removed: mould")
    expect(page.locator("main")).not_to_contain_text("egg 5")
    assert errors == []
    page.context.close()


def test_all_well_can_be_undone_and_a_box_left_out(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    begin(page, house)
    page.get_by_role("link", name=label_of(1)).tap()
    page.get_by_role("button", name="All well").tap()
    page.get_by_role("button", name="Undo").tap()
    page.get_by_role("link", name="All boxes").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"0 of {COUNT} done")
    page.get_by_role("link", name=label_of(4)).tap()
    page.get_by_role("button", name="No time").tap()
    page.get_by_role("link", name="All boxes").tap()
    expect(page.locator("#rows [data-key='north/upper/N4']")).to_contain_text("left out")
    expect(page.get_by_role("heading", level=1)).to_have_text(f"1 of {COUNT} done")
    page.context.close()


def test_a_box_of_venomous_animals_says_so_first_and_asks_for_no_hand(browser: Browser, house: RoundHouse) -> None:
    page = phone(browser, house)
    errors = errors_of(page)
    begin(page, house)
    expect(page.locator(f"#rows [data-key='north/upper/N{VENOMOUS}']")).to_contain_text("Venomous")
    page.goto(f"{house.url}/rounds/1/box/north/upper/N{VENOMOUS}")
    first = page.locator("article.box").inner_text().index("Venomous: trained handlers only.")
    assert first < page.locator("article.box").inner_text().index(label_of(VENOMOUS))
    expect(page.get_by_role("button", name="All well")).to_contain_text("Looked through the lid only")
    for name in ("dry, falls apart", "removed"):
        expect(page.get_by_role("radio", name=name)).to_have_count(0)
    page.locator("details.trained summary").tap()
    expect(page.get_by_role("radio", name="dry, falls apart")).to_be_disabled()
    page.get_by_role("checkbox", name="I am trained").check()
    page.get_by_role("radio", name="dry, falls apart").check()
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    page.get_by_role("button", name="All well").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(label_of(4))
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    said = house.rows("SELECT medium, trained_handler, all_well, through_lid FROM box_finding ORDER BY finding_id")
    assert said == [("dry", 1, 0, 0), (None, 0, 1, 1)]
    assert errors == []
    page.context.close()


def test_a_photo_is_made_small_before_it_is_sent(browser: Browser, house: RoundHouse, tmp_path: Path) -> None:
    page = phone(browser, house)
    errors = errors_of(page)
    begin(page, house)
    page.get_by_role("link", name=label_of(1)).tap()
    sent: list[int] = []
    page.on("request", lambda one: sent.append(len(one.post_data_buffer or b"")) if "/photos" in one.url else None)
    file = photo_bytes()
    page.get_by_label("Photo").set_input_files({"name": "egg.jpg", "mimeType": "image/jpeg", "buffer": file})
    expect(page.locator(".photos img")).to_have_count(1, timeout=30_000)
    assert len(sent) == 1
    assert 1_000 < sent[0] < len(file)
    [(width, height)] = house.rows("SELECT width, height FROM photo")
    assert max(int(str(width)), int(str(height))) <= 1600
    page.get_by_label("Photo").set_input_files({"name": "a.jpg", "mimeType": "image/jpeg", "buffer": b"no photo"})
    expect(page.locator("[data-field='photo'] .error")).to_contain_text("This is no photo that can be read here.")
    large = tmp_path / "large.jpg"
    large.write_bytes(os.urandom(80_000_000))
    page.get_by_label("Photo").set_input_files(large)
    expect(page.locator("[data-field='photo'] .error")).to_contain_text("80 MB, too many", timeout=30_000)
    assert len(sent) == 1
    assert errors == []
    page.context.close()


def test_more_eggs_than_there_are_is_refused_beside_the_box_and_can_be_dropped(
    browser: Browser, house: RoundHouse
) -> None:
    page = phone(browser, house)
    begin(page, house)
    page.get_by_role("link", name=label_of(1)).tap()
    page.locator(".by-count summary").tap()
    page.get_by_label("How many of them").fill("99")
    page.get_by_role("button", name="Save for these eggs").tap()
    expect(page.locator(".eggs .error")).to_contain_text("Say what these eggs are.")
    page.get_by_role("radio", name="removed", exact=True).check()
    page.get_by_role("radio", name="mould").tap()
    expect(page.locator(".entered .refused")).to_contain_text("there are only 8")
    expect(page.locator("#saved")).to_contain_text("Not taken")
    page.reload()
    expect(page.locator(".entered .refused")).to_contain_text("there are only 8")
    page.get_by_role("button", name="Drop it").tap()
    expect(page.locator(".entered .refused")).to_have_count(0)
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    assert house.rows("SELECT count(*) FROM box_finding") == [(0,)]
    page.context.close()
