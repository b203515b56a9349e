"""A season of one clutch by phone, beside a running daemon: real broker, real daemon process, real Chromium."""

import io
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import BrowserContext, Page, ViewportSize, expect, sync_playwright

from tests.support.accounts import carry, make_account
from tests.support.household import MINUTE_MS, House, Probe, now_ms, pack, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until
from tests.support.round_phone import QUIET

pytestmark = pytest.mark.services

PHONE: ViewportSize = {"width": 360, "height": 740}
HOUR_MS = 60 * MINUTE_MS
EXPECTED_MS = 40_000
FIRST_BOX, SECOND_BOX = "north/upper/N1", "south/low/S1"
SOUTH = """
[[incubator]]
id = "south"
name = "South cabinet"
[[incubator.zone]]
id = "low"
name = "lower shelf"
[[incubator.zone.box]]
id = "S1"
[[probe]]
id = "south-air"
place = "south/low"
interval_s = 300
[[probe.channel]]
name = "air"
quantity = "air_temperature"
"""
NORTH_C, SOUTH_C = 26.0, 28.0
"""Both between the developmental zero of the species and its cap, so that each degree more is one degree-hour more."""
HOURS, MOVED_HOURS_AGO = 24, 12


@pytest.fixture
def house(tmp_path: Path, mosquitto: Mosquitto) -> Iterator[House]:
    home = House(write_site(tmp_path / "site", mosquitto.port, extra=SOUTH))
    yield home
    home.service.stop()


@pytest.fixture
def phone(house: House, chromium: str) -> Iterator[BrowserContext]:
    """A phone on which the keeper has signed in."""
    with house.access() as desk:
        session = make_account(desk)
    expect.set_options(timeout=EXPECTED_MS)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=QUIET)
        context = browser.new_context(viewport=PHONE, device_scale_factor=2, has_touch=True, is_mobile=True)
        carry(context, house.url, session)
        yield context
        browser.close()


def warm(port: int, start_ms: int) -> int:
    """Both probes measured the same all the time; gives how many messages that were."""
    north, south = Probe(port, "north"), Probe(port, "south")
    moments = range(start_ms - 10 * MINUTE_MS, now_ms(), 5 * MINUTE_MS)
    north.send(pack(each, {"air": NORTH_C, "rh": 90.0}) for each in moments)
    south.send((pack(each, {"air": SOUTH_C}) for each in moments), "clutchwarden/south-air/measure")
    north.close()
    south.close()
    return 2 * len(moments)


def heat_ch(house: House) -> float:
    """The heat of the clutch, as its page has it, °C·h."""
    found = house.read("/api/clutches/1")
    assert found.status_code == 200, found.text
    return float(found.json()["clutch"]["degree_hours_ch"] or 0.0)


def local(page: Page, moment_ms: int) -> str:
    """A moment as its field takes it, in the zone of the site."""
    given = page.evaluate(
        "at => new Date(at).toLocaleString('sv-SE', {timeZone: 'Europe/Madrid'}).slice(0, 16).replace(' ', 'T')",
        moment_ms,
    )
    return str(given)


def test_a_clutch_is_entered_labelled_moved_looked_after_and_closed(
    house: House, mosquitto: Mosquitto, phone: BrowserContext
) -> None:
    house.start()
    # Whole minutes, as a field for a date and a time has them.
    set_up_ms = (now_ms() // MINUTE_MS - HOURS * 60) * MINUTE_MS
    house.settle(warm(mosquitto.port, set_up_ms))
    page = phone.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    _enter(page, house, set_up_ms)
    wait_until(lambda: heat_ch(house) > 0, "heat to be counted", 60)
    before_ch = heat_ch(house)
    _follow_its_label(page, house)
    _move_back_dated(page, set_up_ms)
    more_ch = (SOUTH_C - NORTH_C) * (HOURS - MOVED_HOURS_AGO)
    # While the test runs a few minutes more are counted: far less than half a degree-hour for each degree.
    wait_until(
        lambda: abs(heat_ch(house) - before_ch - more_ch) < more_ch / 8, f"{more_ch} °C·h more than {before_ch}", 60
    )
    _eggs_and_end(page, house)
    assert errors == []


def _enter(page: Page, house: House, set_up_ms: int) -> None:
    page.goto(f"{house.url}/clutches")
    page.get_by_role("link", name="Enter a clutch").tap()
    page.get_by_label("Label").fill("Juniper")
    page.get_by_label("Species").fill("Elaphe taeniura")
    page.get_by_label("Eggs", exact=True).fill("8")
    page.get_by_label("Laid on, or between this day").fill(local(page, set_up_ms)[:10])
    page.get_by_label("Set up in the incubator").fill(local(page, set_up_ms))
    page.locator(f'input[value="{FIRST_BOX}"]').check()
    page.get_by_role("button", name="Enter this clutch").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Juniper")


def _follow_its_label(page: Page, house: House) -> None:
    """Print the label of its box, and go where its code leads."""
    page.goto(f"{house.url}/labels")
    expect(page.get_by_text("A phone cannot follow these codes")).to_be_visible()
    page.get_by_role("button", name="Show the sheets").tap()
    page.emulate_media(media="print")
    # The neighbour's code is in the picture as well.
    read = zxingcpp.read_barcodes(Image.open(io.BytesIO(page.locator(".sheet").screenshot())))
    page.emulate_media(media="screen")
    assert sorted(each.text for each in read) == [f"{house.url}/boxes/{each}" for each in (FIRST_BOX, SECOND_BOX)]
    page.goto(min(each.text for each in read))
    expect(page.get_by_role("heading", level=1)).to_have_text("Juniper")
    expect(page.locator("#now")).to_contain_text("26.0")


def _move_back_dated(page: Page, set_up_ms: int) -> None:
    page.get_by_role("link", name="Move it").tap()
    expect(page.locator("#now")).to_contain_text("heat is counted by probe north-air")
    expect(page.get_by_label("South cabinet")).to_contain_text("heat is counted by probe south-air")
    page.locator(f'input[value="{SECOND_BOX}"]').check()
    page.locator("#move-at").fill(local(page, set_up_ms + (HOURS - MOVED_HOURS_AGO) * HOUR_MS))
    page.get_by_role("button", name="Move it").tap()
    expect(page.locator(".stays")).to_contain_text("South cabinet, lower shelf, box S1")


def _eggs_and_end(page: Page, house: House) -> None:
    page.get_by_role("link", name="Eggs").tap()
    page.get_by_label("Or how many?").fill("3")
    page.get_by_label("removed", exact=True).check()
    page.get_by_label("Reason").select_option(label="mould")
    page.get_by_role("button", name="Keep it").tap()
    expect(page.locator("#now")).to_contain_text("5 sound, 3 lost of 8 in all")
    page.goto(f"{house.url}/clutches/1/close")
    expect(page.get_by_label("Lost, in all")).to_have_value("3")
    page.get_by_role("button", name="Close it").tap()
    expect(page.locator("#close-rest-error")).to_contain_text("what became of 5 of the 8 eggs")
    page.get_by_label("What became of all the others?").select_option("hatched")
    page.get_by_role("button", name="Close it").tap()
    expect(page.locator(".closed")).to_contain_text("Closed.")
    told = house.read("/api/clutches/1")
    assert told.status_code == httpx.codes.OK
    expect(page.locator(".facts")).to_contain_text("5 hatched, 3 lost")
    page.goto(f"{house.url}/boxes/{SECOND_BOX}")
    expect(page.get_by_role("heading", level=1)).to_have_text("Empty box")
