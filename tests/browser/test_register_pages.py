"""The register, boxes and labels in a real browser: by thumb, by keyboard, without scripts, and on paper."""

import io
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
import zxingcpp
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser, Page, ViewportSize, expect

from dashboards.labels import SIZES, Size
from dashboards.server import PageServer
from tests.support.household import a_clutch
from tests.support.pictures import take
from tests.support.processes import free_port
from tests.support.registered import BOX, FREE_BOX, LAST_BOX, SET_UP_MS, SHELF, RegisterHouse, register_house

pytestmark = pytest.mark.services

OUTPUT = Path(__file__).parents[1] / "output"
PHONE: ViewportSize = {"width": 360, "height": 740}
DESK: ViewportSize = {"width": 1280, "height": 800}
FINGER_PX = 48
PRESSED = ", ".join(
    f"{each}:visible"
    for each in ("main a", "summary", "button", "input:not([type=hidden], [type=checkbox])", "select", ".check")
)
PUBLIC = "https://eggs.example.org"
LONG = "Grandmother's third clutch of the wet summer, in the far row"
POINTS_IN_MM = 72 / 25.4
PAGES = {
    "clutches": "/clutches",
    "clutch": "/clutches/1",
    "enter": "/clutches/new",
    "correct": "/clutches/1/edit",
    "move": "/clutches/1/move",
    "eggs": "/clutches/1/eggs",
    "egg": "/clutches/1/eggs/3",
    "marks": "/clutches/1/marks",
    "notes": "/clutches/1/notes",
    "sizes": "/clutches/1/sizes",
    "close": "/clutches/1/close",
    "withdraw": "/clutches/2/withdraw",
    "table": "/clutches/table",
    "boxes": "/boxes",
    "box": f"/boxes/{BOX}",
    "box-venomous": f"/boxes/{FREE_BOX}",
    "box-empty": f"/boxes/{LAST_BOX}",
    "labels": "/labels",
    "labels-sheet": f"/labels/sheet?on={BOX}&on={FREE_BOX}",
}


class Served:
    """A house with its pages on a port of their own."""

    def __init__(self, house: RegisterHouse) -> None:
        self.house = house
        port = free_port()
        self.url = f"http://127.0.0.1:{port}"
        # Codes carry the public address; the pages themselves are asked for on this machine.
        house.public_url = PUBLIC
        self.server = PageServer(house.pages(), "127.0.0.1", port)
        self.server.start()


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Eggs in every state, notes, sizes, a venomous neighbour with a long name, and a clutch without a box."""
    with register_house(tmp_path_factory.mktemp("served"), public_url=None) as house:
        said = ("watch", "removed:mould", "removed:stuck", "pipped", "hatched", "given-away")
        for number, state in enumerate(said, 2):
            house.desk.say_of_eggs(house.clutch, state, [str(number)], "kim", "grey <i>spot</i>")
        house.desk.mark(house.clutch, {"1": "A", "8": "LONGMARK12"}, "kim")
        house.desk.note(house.clutch, "smells of nothing " * 20, "kim")
        number = house.enter(replace(a_clutch(SET_UP_MS, LONG, FREE_BOX), venomous=True, population="of the south"))
        house.desk.edit(number, {"protected": "Annex B", "tags": ("pale", "second")}, "kim")
        house.enter(a_clutch(SET_UP_MS, "Shelved", SHELF))
        site = Served(house)
        yield site
        site.server.stop()


def opened(
    browser: Browser, url: str, size: ViewportSize, *, dark: bool = False, scripts: bool = True, scale: float = 1
) -> tuple[Page, list[str]]:
    page = browser.new_context(
        viewport=size,
        color_scheme="dark" if dark else "light",
        java_script_enabled=scripts,
        device_scale_factor=scale,
    ).new_page()
    errors: list[str] = []
    page.on("console", lambda said: errors.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.goto(url)
    return page, errors


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize(("size", "name"), [(PHONE, "phone"), (DESK, "desk")])
def test_every_page_fits_and_can_be_read_by_anybody(
    browser: Browser, served: Served, size: ViewportSize, name: str, dark: bool
) -> None:
    OUTPUT.mkdir(exist_ok=True)
    page, errors = opened(browser, served.url, size, dark=dark)
    for kind, path in PAGES.items():
        page.goto(served.url + path)
        page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
        take(page, OUTPUT / f"register-{kind}-{name}-{'dark' if dark else 'light'}.png", full_page=True)
        width, room = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
        assert width <= room, path
        found = [each for each in Axe().run(page).response["violations"] if each["impact"] in ("serious", "critical")]
        assert [(path, each["id"], [node["html"] for node in each["nodes"]]) for each in found] == []
    assert errors == []
    page.context.close()


def test_all_that_is_pressed_is_large_enough_for_a_thumb(browser: Browser, served: Served) -> None:
    page, _ = opened(browser, served.url, PHONE)
    for path in PAGES.values():
        page.goto(served.url + path)
        page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
        small = page.locator(PRESSED).evaluate_all(
            f"all => all.filter(each => each.getBoundingClientRect().height < {FINGER_PX}).map(each => each.outerHTML)"
        )
        assert small == [], path
    page.context.close()


@pytest.mark.parametrize("scripts", [True, False])
def test_a_refusal_keeps_all_that_was_chosen_and_is_mended(browser: Browser, served: Served, scripts: bool) -> None:
    page, errors = opened(browser, f"{served.url}/boxes/{LAST_BOX}", PHONE, scripts=scripts)
    page.get_by_role("link", name="Enter a clutch here").click()
    label = f"Ada {'with' if scripts else 'without'}"
    page.get_by_label("Label").fill(label)
    page.get_by_label("Species").fill("beauty")
    page.get_by_label("Eggs", exact=True).fill("7")
    page.get_by_label("Laid on, or between this day").fill("2026-06-20")
    page.get_by_label("Set up in the incubator").fill("2026-06-19T10:00")
    page.get_by_role("button", name="Enter this clutch").click()
    expect(page.locator("#enter-set_up-error")).to_contain_text("before it can have been laid")
    expect(page.get_by_label("Label")).to_have_value(label)
    expect(page.get_by_label("by the door")).to_be_checked()
    page.locator("#enter-set_up").fill("2026-06-21 10:00")
    page.get_by_role("button", name="Enter this clutch").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(label)
    assert not [each for each in errors if "422" not in each]
    number = int(re.findall(r"/clutches/(\d+)", page.url)[0])
    served.house.desk.withdraw(number, "kim")
    page.context.close()


def test_by_keyboard_alone_an_egg_is_put_on_watch(browser: Browser, served: Served) -> None:
    number = served.house.another(f"Keys {LAST_BOX[-1]}", LAST_BOX)
    page, _ = opened(browser, f"{served.url}/clutches/{number}/eggs", DESK)
    page.locator("#egg-4").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Egg 4")
    page.locator("#say-state-sound").focus()
    page.keyboard.press("ArrowRight")
    expect(page.get_by_label("on watch")).to_be_checked()
    for _ in range(4):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "say-note":
            break
    page.locator("#say-note").focus()
    page.keyboard.type("a soft side")
    page.keyboard.press("Enter")
    expect(page.locator("#egg-4")).to_contain_text("on watch")
    assert served.house.file(number).eggs[3].stated.note == "a soft side"
    served.house.desk.withdraw(number, "kim")
    page.context.close()


def test_a_table_is_tried_and_taken_in(browser: Browser, served: Served) -> None:
    page, errors = opened(browser, f"{served.url}/clutches/table", PHONE)
    with page.expect_download() as loading:
        page.get_by_role("link", name="A row for each clutch").click()
    rows = Path(loading.value.path()).read_bytes().split(b"\r\n")
    added = (
        rows[0]
        + b"\r\n"
        + b"clutch,From a table,2026-06-22T10:00:00+02:00,elaphe-taeniura,,,,"
        + (b"2026-06-20T00:00:00+02:00,,,north/upper,,,9,,,,,,\r\n")
    )
    page.get_by_label("Table (CSV").set_input_files({"name": "a.csv", "mimeType": "text/csv", "buffer": added})
    page.get_by_role("button", name="Show what it would do").click()
    expect(page.locator("#tried")).to_contain_text("1 added")
    page.get_by_role("button", name="Take it in").click()
    expect(page.locator("#tried-head")).to_have_text("All of it is kept")
    assert errors == []
    found = served.house.desk.find("From a table")
    served.house.desk.withdraw(found.clutch_id, "kim")  # type: ignore[union-attr]
    page.context.close()


@pytest.mark.parametrize("size", SIZES, ids=lambda size: size.key)
def test_every_code_on_a_printed_sheet_leads_to_its_box_and_no_label_is_cut(
    browser: Browser, served: Served, size: Size
) -> None:
    keys = [BOX, FREE_BOX, LAST_BOX, "south/low/S1", "clutch-3"]
    asked = "&".join(f"on={each}" for each in keys)
    page, errors = opened(browser, f"{served.url}/labels/sheet?size={size.key}&{asked}", DESK, dark=True, scale=2)
    page.emulate_media(media="print")
    picture = page.locator(".sheet").screenshot()
    OUTPUT.mkdir(exist_ok=True)
    (OUTPUT / f"labels-{size.key}.png").write_bytes(picture)
    read = zxingcpp.read_barcodes(Image.open(io.BytesIO(picture)))
    expected = {f"{PUBLIC}/boxes/{each}" for each in keys[:4]} | {f"{PUBLIC}/clutches/3"}
    assert sorted(each.text for each in read) == sorted(expected)
    assert {each.ec_level for each in read} <= {"M", "Q", "H"}
    cut = page.evaluate(
        """[...document.querySelectorAll('.label-of, .label-of .words, .label-of p')].filter(each =>
            each.scrollHeight > each.clientHeight + 1 || each.scrollWidth > each.clientWidth + 1)
            .map(each => each.outerHTML)"""
    )
    assert cut == []
    in_mm = page.evaluate("document.querySelector('.code').getBoundingClientRect().width") * 25.4 / 96
    assert in_mm == pytest.approx(size.code_mm, abs=0.1)
    assert errors == []
    page.context.close()


@pytest.mark.parametrize(("key", "width_mm", "height_mm"), [("a4-2x5", 210, 297), ("letter-2x5", 215.9, 279.4)])
def test_sheets_come_out_of_the_printer_one_to_a_page(
    browser: Browser, served: Served, key: str, width_mm: float, height_mm: float
) -> None:
    loose = [served.house.enter(a_clutch(SET_UP_MS, f"Loose {number}", SHELF)) for number in range(10)]
    asked = "&".join(f"on=clutch-{number}" for number in loose)
    # Ten go on a sheet: eleven need a second one.
    page, _ = opened(browser, f"{served.url}/labels/sheet?size={key}&on={BOX}&{asked}", DESK)
    printed = page.pdf(prefer_css_page_size=True, print_background=True)
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 2
    for width, height in re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", printed):
        assert float(width) == pytest.approx(width_mm * POINTS_IN_MM, abs=1.5)
        assert float(height) == pytest.approx(height_mm * POINTS_IN_MM, abs=1.5)
    for number in loose:
        served.house.desk.withdraw(number, "kim")
    page.context.close()
