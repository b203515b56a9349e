"""Pictures of every page of the demo's site, and the two of the README.

`tests/output/pages` keeps each page on a phone and on a desk, light and dark, and as it is printed. `make pictures`
makes those of the README anew.
"""

import re
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Literal
from urllib.parse import urljoin

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, ViewportSize

from dashboards.server import PageServer
from tests.support.demo_site import demo_site
from tests.support.pictures import take

pytestmark = pytest.mark.services

ROOT = Path(__file__).parents[2]
PAGES, PICTURES = ROOT / "tests" / "output" / "pages", ROOT / "tests" / "output" / "pictures"
COMMITTED = ROOT / "dashboards" / "pictures"
PHONE: ViewportSize = {"width": 360, "height": 740}
DESK: ViewportSize = {"width": 1280, "height": 800}
LARGEST_BYTES = 120_000
COLOURS = 128
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
OF_README: dict[str, tuple[str, ViewportSize, int]] = {
    "now-on-a-phone.png": ("/", {"width": 360, "height": 900}, 1),
    "a-clutch-on-a-desk.png": ("/clutches/1", {"width": 1280, "height": 1000}, 1),
}
"""File, page, size in CSS pixels, and pixels for each of them."""
ALARM = "/alarms/of/temperature-low:warm-air/air"
SHOWN = {
    "now": "/",
    "alarms": "/alarms",
    "alarm": ALARM,
    "alarm-journal": "/alarms/journal",
    "alarm-metrics": "/alarms/metrics",
    "incidents": "/incidents",
    "incident": "/incidents/1",
    "review": "/review",
    "clutches": "/clutches",
    "clutch": "/clutches/1",
    "charts": "/charts",
    "messages": "/messages",
    "inbox": "/inbox",
    "people": "/people",
    "rounds": "/rounds",
    "set-up": "/set-up",
    "set-up-probes": "/set-up/probes",
    "set-up-probe": "/set-up/probes/warm-air",
    "set-up-people": "/set-up/people",
    "set-up-calibration": "/set-up/calibration",
    "set-up-calibration-one": "/set-up/calibration/warm-air/air",
    "set-up-species": "/set-up/species",
    "set-up-species-one": "/set-up/species/python-regius",
    "set-up-accounts": "/set-up/accounts",
    "set-up-audit": "/set-up/audit",
    "account": "/account",
    "sign-in": "/sign-in",
    "welcome": "/welcome",
    "not-found": "/clutches/999",
}


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with demo_site(tmp_path_factory.mktemp("demo")) as site, ExitStack() as ending:
        server = PageServer(site.app(ending), "127.0.0.1", 0)
        yield server.start()
        server.stop()


def new_page(browser: Browser, size: ViewportSize, scale: float = 1) -> tuple[Page, list[str]]:
    """A page without an address, and what its console will say."""
    context = browser.new_context(
        viewport=size,
        color_scheme="light",
        device_scale_factor=scale,
        locale="en-GB",
        reduced_motion="reduce",
    )
    page = context.new_page()
    errors: list[str] = []
    page.on("console", lambda said: errors.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: errors.append(str(error)))
    return page, errors


def open_at(page: Page, errors: list[str], address: str) -> None:
    page.goto(address)
    page.wait_for_load_state("load")
    # A page that is not there is told to the console by the browser itself.
    assert [each for each in errors if "404" not in each] == [], address


@pytest.fixture(scope="module")
def windows(browser: Browser) -> Iterator[dict[str, tuple[Page, list[str]]]]:
    """One window of each size for all addresses: a new one costs more than what it shows."""
    made = {where: new_page(browser, size) for size, where in ((PHONE, "phone"), (DESK, "desk"))}
    yield made
    for page, _ in made.values():
        page.context.close()


@pytest.mark.parametrize(("name", "path"), SHOWN.items())
def test_every_page_is_kept_in_every_form(
    windows: dict[str, tuple[Page, list[str]]], url: str, name: str, path: str
) -> None:
    PAGES.mkdir(parents=True, exist_ok=True)
    for where, (page, errors) in windows.items():
        errors.clear()
        page.emulate_media(color_scheme="light")
        open_at(page, errors, urljoin(url, path))
        for scheme in SCHEMES:
            page.emulate_media(color_scheme=scheme)
            take(page, PAGES / f"{name}-{where}-{scheme}.png", full_page=True)
        width, room = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
        assert width <= room, f"{path} is wider than a {where}"
        if where == "desk":
            page.pdf(path=PAGES / f"{name}-print.pdf", format="A4")
    assert (PAGES / f"{name}-print.pdf").read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize("name", OF_README)
def test_the_pictures_of_the_readme_are_made(browser: Browser, url: str, name: str) -> None:
    """Small enough for a page that is read on a phone: few colours are enough for what is drawn and written."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    path, size, scale = OF_README[name]
    page, errors = new_page(browser, size, scale)
    open_at(page, errors, urljoin(url, path))
    file = PICTURES / name
    take(page, file)
    page.context.close()
    with Image.open(file) as shot:
        shot.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE).save(file, optimize=True)
    assert_picture(file, name)


def assert_picture(file: Path, name: str) -> None:
    """A PNG of the size that it is made in, small, and not of one colour."""
    _, size, scale = OF_README[name]
    with Image.open(file) as picture:
        assert picture.format == "PNG"
        assert picture.size == (size["width"] * scale, size["height"] * scale)
        assert len(picture.convert("RGB").getcolors(1 << 24) or ()) > 10
    assert file.stat().st_size <= LARGEST_BYTES


@pytest.mark.parametrize("name", OF_README)
def test_the_readme_shows_them_and_says_what_is_on_them(name: str) -> None:
    assert_picture(COMMITTED / name, name)
    shown = dict(re.findall(r"!\[([^\]]*)\]\(dashboards/pictures/([^)]+)\)", (ROOT / "README.md").read_text("utf-8")))
    said = {file: alt for alt, file in shown.items()}
    assert len(said.get(name, "")) > 40
