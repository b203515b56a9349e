"""The set-up of probes on a phone, against the real daemon and a real broker: heard, tapped, watched."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, ViewportSize, expect

from tests.support.accounts import carry, make_account
from tests.support.household import House, Probe, now_ms, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.pictures import take

pytestmark = pytest.mark.services

OUTPUT = Path(__file__).parents[1] / "output"
PHONE: ViewportSize = {"width": 360, "height": 740}
FINGER_PX = 48
LIVE_MS = 40_000
BOX = "clutchwarden/box-7/measure"
HUT = "hut/shelf/state"


@pytest.fixture
def house(tmp_path: Path, mosquitto: Mosquitto) -> Iterator[House]:
    made = House(write_site(tmp_path / "site", mosquitto.port))
    # Without an account the daemon makes a code for the first one, and another one would be good no longer.
    with made.access() as desk:
        make_account(desk)
    made.start()
    yield made
    made.service.stop()


@pytest.fixture
def probe(mosquitto: Mosquitto) -> Iterator[Probe]:
    made = Probe(mosquitto.port)
    yield made
    made.close()


def keeper(browser: Browser, house: House) -> tuple[Page, list[str]]:
    """A phone that has signed in as a keeper."""
    context = browser.new_context(viewport=PHONE)
    with house.access() as desk:
        carry(context, house.url, make_account(desk, "mara"))
    page = context.new_page()
    page.set_default_timeout(LIVE_MS)
    errors: list[str] = []
    page.on(
        "console", lambda said: errors.append(said.text) if said.type == "error" and " 422 " not in said.text else None
    )
    page.on("pageerror", lambda error: errors.append(str(error)))
    return page, errors


def fits(page: Page) -> None:
    """No sideways scrolling, and nothing smaller than a finger to press."""
    wide = page.evaluate(
        "[...document.querySelectorAll('*')].filter((each) => each.getBoundingClientRect().right > window.innerWidth)"
        ".map((each) => each.outerHTML.slice(0, 200))"
    )
    assert wide == []
    small = page.evaluate(
        "(most) => [...document.querySelectorAll('main a, main button, main summary, main select, main input')]"
        ".filter((each) => each.type !== 'hidden' && each.type !== 'checkbox' && each.offsetParent !== null"
        " && each.getBoundingClientRect().height < most).map((each) => each.outerHTML)",
        FINGER_PX,
    )
    assert small == []
    serious = [
        each["id"] for each in Axe().run(page).response["violations"] if each["impact"] in ("serious", "critical")
    ]
    assert serious == []


def pack(celsius: float) -> bytes:
    return json.dumps([{"bt": now_ms() / 1000, "n": "t", "u": "Cel", "v": celsius}]).encode()


def test_from_an_unknown_probe_to_its_reading_on_the_first_page(browser: Browser, house: House, probe: Probe) -> None:
    page, errors = keeper(browser, house)
    page.goto(f"{house.url}/set-up/probes")
    expect(page.get_by_role("heading", level=1)).to_have_text("1 probe, 1 silent")
    probe.send([pack(27.5)], BOX)
    # It comes by itself to a page that is open.
    tap = page.get_by_role("link", name="Take it up")
    expect(tap).to_be_visible(timeout=LIVE_MS)
    fits(page)
    take(page, OUTPUT / "probes-unknown-phone.png", full_page=True)
    tap.click()
    expect(page.get_by_label("What is t?")).to_have_value("air_temperature")
    fits(page)
    take(page, OUTPUT / "probe-take-up-phone.png", full_page=True)

    page.get_by_role("button", name="Save: take it up").click()
    expect(page.locator("#take-up-place-error")).to_contain_text("Choose where it is")
    page.get_by_label("Where is it?").select_option("north/upper/N1")
    page.get_by_role("button", name="Save: take it up").click()
    expect(page.get_by_role("link", name="box-7", exact=True)).to_be_visible(timeout=LIVE_MS)

    probe.send([pack(28.75)], BOX)
    page.goto(f"{house.url}/")
    expect(page.get_by_text("28.8")).to_be_visible(timeout=LIVE_MS)
    page.goto(f"{house.url}/set-up/probes/box-7")
    expect(page.locator("main")).to_contain_text("28.75")
    fits(page)
    take(page, OUTPUT / "probe-phone.png", full_page=True)
    assert house.service.running
    assert errors == []


def test_listening_to_everything_finds_a_device_with_messages_of_its_own(
    browser: Browser, house: House, probe: Probe
) -> None:
    page, errors = keeper(browser, house)
    page.goto(f"{house.url}/set-up/probes")
    probe.send([b'{"temperature": 27.5, "note": "<b>hello</b>"}'], HUT, retain=True)
    page.get_by_role("button", name="Listen for two minutes").click()
    tap = page.get_by_role("link", name="Take it up")
    expect(tap).to_be_visible(timeout=LIVE_MS)
    expect(page.locator("#head")).to_contain_text("Listening to everything")
    fits(page)
    tap.click()
    page.get_by_label("Its id").fill("hut")
    page.get_by_label("Where is it?").select_option("north")
    # Nothing says in which unit, so nothing is guessed.
    expect(page.get_by_label("What is /temperature?")).to_have_value("")
    page.get_by_label("What is /temperature?").select_option("air_temperature|Cel")
    fits(page)
    page.get_by_role("button", name="Save: take it up").click()
    expect(page.get_by_role("link", name="hut", exact=True)).to_be_visible(timeout=LIVE_MS)
    probe.send([b'{"temperature": 26.25}'], HUT)
    page.goto(f"{house.url}/")
    expect(page.get_by_text("26.3").or_(page.get_by_text("26.2"))).to_be_visible(timeout=LIVE_MS)
    assert errors == []
