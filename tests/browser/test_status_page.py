"""The pages in a real browser: what a keeper sees on a phone and on a desk."""

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Browser, Page, ViewportSize, expect

from config.words import AlarmKind, Priority
from daemon.overview import Overview
from dashboards.app import create_app
from dashboards.inbox import Inbox
from dashboards.server import PageServer
from dashboards.view import page_view
from tests.dashboards import samples
from tests.support.pictures import take

pytestmark = pytest.mark.services

OUTPUT = Path(__file__).parents[1] / "output"
PHONE: ViewportSize = {"width": 360, "height": 740}
DESK: ViewportSize = {"width": 1280, "height": 800}
LONG = "Grandmother's" * 12 + " <b>clutch</b>"
LIVE_MS = 40_000
STAYS_MS = 10_000


class Site:
    """A served site whose overview a test may change."""

    def __init__(self) -> None:
        self.now: Overview = samples.overview()
        self.server = PageServer(
            create_app(lambda: self.now, Inbox("Europe/Berlin"), lambda _limit: samples.messages()), "127.0.0.1", 0
        )
        self.url = self.server.start()


class Watched:
    """A page with what went wrong in it."""

    def __init__(self, page: Page, origin: str) -> None:
        self.page = page
        self.errors: list[str] = []
        self.outside: list[str] = []
        page.on("console", lambda said: self.errors.append(said.text) if said.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("request", lambda asked: None if asked.url.startswith(origin) else self.outside.append(asked.url))

    def assert_sound(self) -> None:
        assert self.errors == []
        assert self.outside == []
        width, room = self.page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
        assert width <= room


@pytest.fixture
def site() -> Iterator[Site]:
    site = Site()
    yield site
    site.server.stop()


def opened(browser: Browser, site: Site, size: ViewportSize, path: str = "", dark: bool = False) -> Watched:
    page = browser.new_context(viewport=size, color_scheme="dark" if dark else "light").new_page()
    watched = Watched(page, site.url)
    page.goto(site.url + path)
    return watched


def keep_picture(page: Page, name: str) -> None:
    OUTPUT.mkdir(exist_ok=True)
    take(page, OUTPUT / f"{name}.png", full_page=True)


def troubled() -> Overview:
    hot = samples.alarm(AlarmKind.TEMPERATURE_LETHAL_HIGH, Priority.CRITICAL, "Dangerously hot")
    dry = samples.alarm(AlarmKind.HUMIDITY_LOW, Priority.LOW, "Too dry", channel="north-air/rh")
    north = samples.incubator(samples.temperature(34.6), samples.humidity(70.0), alarms=(hot, dry))
    long_names = replace(samples.south(), name=LONG, clutches=(samples.clutch(LONG),))
    return replace(samples.overview(north, long_names), clock_rate=300.0, site_name=LONG)


def doubtful() -> Overview:
    """A service in trouble, clutches that do not suit each other, old readings, and each sort of clutch."""
    clutches = (samples.clutch(), samples.heat_only_clutch(), samples.days_only_clutch(), samples.telling_clutch())
    old = samples.temperature(age_ms=20 * samples.MINUTE_MS)
    north = replace(samples.incubator(old, samples.humidity()), clutches=clutches, conflicts=(samples.CONFLICT,) * 2)
    return replace(samples.overview(north, samples.south()), troubles=(samples.DISK_FULL,), room=samples.room())


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize(("size", "name"), [(PHONE, "phone"), (DESK, "desk")])
def test_the_page_fits_and_loads_nothing_from_outside(
    browser: Browser, site: Site, size: ViewportSize, name: str, dark: bool
) -> None:
    for state, overview in (("well", samples.overview()), ("troubled", troubled()), ("doubtful", doubtful())):
        site.now = overview
        watched = opened(browser, site, size, dark=dark)
        keep_picture(watched.page, f"status-{state}-{name}-{'dark' if dark else 'light'}")
        watched.assert_sound()
        watched.page.context.close()


@pytest.mark.parametrize("size", [PHONE, DESK])
def test_the_answer_is_seen_without_scrolling(browser: Browser, site: Site, size: ViewportSize) -> None:
    site.now = troubled()
    page = opened(browser, site, size).page
    box = page.get_by_role("heading", level=1).bounding_box()
    assert box is not None
    assert box["y"] + box["height"] <= size["height"]
    page.context.close()


def test_a_new_value_and_a_new_alarm_appear_without_loading_the_page_anew(browser: Browser, site: Site) -> None:
    watched = opened(browser, site, PHONE)
    page = watched.page
    expect(page.get_by_role("heading", level=1)).to_have_text("All incubators are in range")
    page.evaluate("window.sameDocument = true")
    page.get_by_role("link", name="Alerts received").focus()
    site.now = troubled()
    expect(page.get_by_role("heading", level=1)).to_have_text("North cabinet: dangerously hot", timeout=LIVE_MS)
    assert page.evaluate("window.sameDocument") is True
    expect(page).to_have_title("CRITICAL alarm: North cabinet: dangerously hot · " + LONG)
    expect(page.get_by_role("link", name="Alerts received")).to_be_focused()
    expect(page.get_by_role("status")).to_contain_text("dangerously hot")
    watched.assert_sound()
    page.context.close()


def test_an_alarm_text_that_a_person_has_opened_stays_open(browser: Browser, site: Site) -> None:
    site.now = troubled()
    page = opened(browser, site, PHONE).page
    page.locator(".alarms summary").click()
    site.now = replace(troubled(), samples_stored=777)
    expect(page.locator("footer")).to_contain_text("777 readings kept", timeout=LIVE_MS)
    expect(page.locator(".alarms details")).to_have_attribute("open", "")
    page.context.close()


def test_the_state_of_the_demo_clock_comes_and_goes_with_it(browser: Browser, site: Site) -> None:
    page = opened(browser, site, PHONE).page
    expect(page.locator("#demo")).to_be_hidden()
    site.now = replace(samples.overview(), clock_rate=300.0)
    expect(page.locator("#demo")).to_contain_text("300 times faster", timeout=LIVE_MS)
    page.context.close()


def test_every_link_is_high_enough_for_a_finger_and_the_heading_leads_to_its_place(
    browser: Browser, site: Site
) -> None:
    site.now = troubled()
    page = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True).new_page()
    page.goto(site.url)
    for link in page.locator("a, summary").all():
        box = link.bounding_box()
        assert box is not None
        assert box["height"] >= 48
    page.get_by_role("link", name="North cabinet: dangerously hot").tap()
    expect(page.get_by_role("heading", name="Upper shelf")).to_be_in_viewport()
    page.context.close()


def test_the_page_of_messages_fits_and_leads_back(browser: Browser, site: Site) -> None:
    watched = opened(browser, site, PHONE, "messages")
    expect(watched.page.get_by_role("heading", level=1)).to_have_text("Messages")
    keep_picture(watched.page, "messages-phone")
    watched.assert_sound()
    watched.page.get_by_role("link", name="Now").click()
    expect(watched.page.get_by_role("heading", level=1)).to_have_text("All incubators are in range")
    expect(watched.page.get_by_role("link", name="Messages")).to_be_visible()
    watched.page.context.close()


def test_markup_in_a_label_is_text_in_the_browser(browser: Browser, site: Site) -> None:
    site.now = troubled()
    page = opened(browser, site, PHONE).page
    expect(page.locator(".clutch-name b")).to_have_text(["Ada 2026-1", samples.heat_only_clutch().label, LONG])
    page.context.close()


def test_a_page_without_its_server_says_that_it_is_cut_off(browser: Browser, site: Site) -> None:
    page = browser.new_context(viewport=PHONE).new_page()
    page.clock.install()
    page.goto(site.url)
    expect(page.locator("#cut-off")).to_be_hidden()
    site.server.stop()
    page.clock.fast_forward(20_000)
    expect(page.get_by_role("alert")).to_contain_text("Cut off from the server")
    keep_picture(page, "status-cut-off-phone")
    page.context.close()


def test_a_word_that_stays_marked_keeps_an_old_page_for_some_seconds_only(browser: Browser, site: Site) -> None:
    page = opened(browser, site, PHONE).page
    page.evaluate("getSelection().selectAllChildren(document.getElementById('answer'))")
    marked_ms = page.evaluate("performance.now()")
    site.now = troubled()
    expect(page.get_by_role("heading", level=1)).to_have_text("North cabinet: dangerously hot", timeout=LIVE_MS)
    # Without the mark it is there within a few seconds; what somebody marks to copy stays for longer than that.
    assert page.evaluate("performance.now()") - marked_ms > STAYS_MS
    page.context.close()


def test_a_part_that_was_being_filled_becomes_new_as_soon_as_it_is_not(browser: Browser, site: Site) -> None:
    watched = opened(browser, site, PHONE)
    page = watched.page
    page.evaluate("document.getElementById('now').insertAdjacentHTML('beforeend', '<input id=\"typed\">')")
    page.locator("#typed").fill("a note that somebody is writing")
    later_ms = site.now.now_ms + samples.MINUTE_MS
    site.now = replace(samples.overview(samples.incubator(samples.temperature(29.9))), now_ms=later_ms)
    # The head of the page has become new, and what somebody writes has stayed.
    clock = page_view(site.now).clock
    expect(page.locator("#shown-at")).to_have_text(clock, timeout=LIVE_MS)
    expect(page.locator("#typed")).to_have_value("a note that somebody is writing")
    expect(page.locator("#now")).not_to_contain_text("29.9")
    # Nothing changes any more, and still the part must not stay old.
    page.locator("#typed").fill("")
    page.locator("#typed").blur()
    expect(page.locator("#now")).to_contain_text("29.9", timeout=LIVE_MS)
    watched.assert_sound()


def test_without_scripts_the_page_reads_the_same_and_asks_to_be_loaded_again(browser: Browser, site: Site) -> None:
    page = browser.new_context(viewport=PHONE, java_script_enabled=False).new_page()
    page.goto(site.url)
    expect(page.get_by_role("heading", level=1)).to_have_text("All incubators are in range")
    assert '<meta http-equiv="refresh" content="15">' in page.content()
    page.context.close()


@pytest.mark.parametrize(("size", "name"), [(PHONE, "phone"), (DESK, "desk")])
def test_an_alert_that_arrives_is_shown_in_the_open_inbox(
    browser: Browser, site: Site, size: ViewportSize, name: str
) -> None:
    watched = opened(browser, site, size, "inbox")
    expect(watched.page.get_by_role("heading", level=1)).to_have_text("No messages yet")
    body = json.dumps({**samples.message_fields(), "place": LONG}).encode()
    httpx.post(f"{site.url}inbox/messages", content=body, headers={"Content-Type": "application/json"}, timeout=40)
    expect(watched.page.locator(".message h2")).to_have_text("URGENT North cabinet: 31.2 °C, too warm", timeout=LIVE_MS)
    keep_picture(watched.page, f"inbox-{name}")
    watched.assert_sound()
    watched.page.context.close()
