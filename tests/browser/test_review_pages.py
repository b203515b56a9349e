"""Incidents and their accounts in a real browser: by thumb, on a desk, in the dark, and on paper."""

import re
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, ViewportSize, expect

from daemon.demo import scenario
from daemon.storage.incidents import LONGEST_NOTE
from dashboards.server import PageServer
from tests.support.demo_site import demo_site
from tests.support.pictures import take
from tests.support.processes import free_port
from tests.support.viewing import opened

pytestmark = pytest.mark.services

OUTPUT = Path(__file__).parents[1] / "output"
PHONE: ViewportSize = {"width": 360, "height": 740}
DESK: ViewportSize = {"width": 1280, "height": 800}
PAPER: ViewportSize = {"width": 700, "height": 990}
FINGER_PX = 48
PAGES = {
    "incidents": "/incidents",
    "incident": "/incidents/1",
    "review-form": "/review",
    "review-wrong": "/review?since=2026-06-21T03:00&until=2026-06-20T03:00",
    "review-period": "/review?since=2026-06-21T00:00&until=2026-06-21T08:00",
}
LARGEST_PAGES = 16


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with demo_site(tmp_path_factory.mktemp("demo")) as site, ExitStack() as ending:
        server = PageServer(site.app(ending), "127.0.0.1", free_port())
        yield server.start().rstrip("/")
        server.stop()


def assert_sound(page: Page) -> None:
    width, room = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert width <= room
    small = page.evaluate(
        "(most) => [...document.querySelectorAll('main a, main button, main summary, main input, main textarea')]"
        ".filter((each) => each.type !== 'hidden' && each.offsetParent !== null"
        " && each.getBoundingClientRect().height < most).map((each) => each.outerHTML)",
        FINGER_PX,
    )
    assert small == []
    found = Axe().run(page).response["violations"]
    assert [(each["id"], each["nodes"][0]["html"]) for each in found if each["impact"] in ("serious", "critical")] == []


@pytest.mark.parametrize(
    ("kind", "size", "dark"),
    [
        *(("incident", size, dark) for size in (PHONE, DESK) for dark in (False, True)),
        *((kind, size, size is DESK) for kind in PAGES if kind != "incident" for size in (PHONE, DESK)),
    ],
)
def test_every_page_fits_and_can_be_read_by_anybody(
    browser: Browser, url: str, kind: str, size: ViewportSize, dark: bool
) -> None:
    OUTPUT.mkdir(exist_ok=True)
    page, errors = opened(browser, url + PAGES[kind], size, dark=dark)
    take(page, OUTPUT / f"{kind}-{size['width']}-{'dark' if dark else 'light'}.png", full_page=True)
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
    assert_sound(page)
    # What a refusal answers with is an error to the console of the browser, and to nobody else.
    assert [each for each in errors if "422" not in each] == []
    page.context.close()


def test_from_the_first_page_to_the_account_by_thumb(browser: Browser, url: str) -> None:
    page, errors = opened(browser, url, PHONE)
    page.get_by_role("link", name="An incident of last night waits for your review").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Incident 1: Mains lost")
    expect(
        page.get_by_role("img", name=re.compile("Warm cabinet, shelf\\. Measured .* Under the axis: no mains"))
    ).to_be_visible()
    # On a phone the timeline is folded, so that the form is near.
    expect(page.get_by_text("The mains is there again")).to_be_hidden()
    page.get_by_role("heading", name="Minute by minute").click()
    expect(page.get_by_text("The mains is there again")).to_be_visible()
    page.get_by_role("link", name="All incidents").click()
    expect(page.get_by_role("link", name="Mains lost")).to_be_visible()
    page.get_by_role("link", name="Alarms").first.click()
    page.get_by_role("link", name="Incidents and their review").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Incidents")
    assert errors == []
    page.context.close()


def test_on_a_desk_the_timeline_is_there_at_once(browser: Browser, url: str) -> None:
    page, errors = opened(browser, f"{url}/incidents/1", DESK)
    expect(page.get_by_text("The mains is there again")).to_be_visible()
    assert errors == []
    page.context.close()


def test_what_was_not_measured_can_be_told_from_what_was_without_colour(browser: Browser, url: str) -> None:
    page, _ = opened(browser, f"{url}/incidents/1", DESK)
    fills = page.evaluate("[...document.querySelectorAll('.review-gap')].map((each) => getComputedStyle(each).fill)")
    assert fills
    assert all("unmeasured" in each for each in fills)
    dashes = page.evaluate("getComputedStyle(document.querySelector('.review-best')).strokeDasharray")
    solid = page.evaluate("getComputedStyle(document.querySelector('.review-measured')).strokeDasharray")
    assert dashes != "none"
    assert solid == "none"
    page.context.close()


def test_without_scripts_and_by_keyboard_a_refusal_keeps_what_was_typed(browser: Browser, url: str) -> None:
    context = browser.new_context(viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{url}/incidents/2")
    page.get_by_label("Cause, as you found it").fill("x" * (LONGEST_NOTE + 1))
    page.get_by_label("What was done").fill("boxes stayed shut")
    page.get_by_role("button", name="Save").press("Enter")
    expect(page.locator("#note-cause-error")).to_contain_text(f"at most {LONGEST_NOTE}")
    expect(page.get_by_label("What was done")).to_have_value("boxes stayed shut")
    page.get_by_label("Cause, as you found it").fill("the <b>fuse</b>")
    page.get_by_role("button", name="Save").press("Enter")
    expect(page.get_by_role("status")).to_contain_text("Saved, and on record.")
    expect(page.get_by_text("Now: the <b>fuse</b>")).to_be_visible()
    context.close()


def test_a_wrong_period_keeps_what_was_typed_and_a_right_one_is_shown(browser: Browser, url: str) -> None:
    page, _ = opened(browser, f"{url}/incidents", PHONE)
    page.get_by_label("From").fill("2026-06-21T03:00")
    page.get_by_label("Until").fill("2026-06-21T02:00")
    page.get_by_role("button", name="Show what happened").click()
    expect(page.locator("#period-wrong")).to_contain_text("The period ends before it begins")
    expect(page.get_by_label("From")).to_have_value("2026-06-21T03:00")
    page.get_by_label("Until").fill("2026-06-21T07:00")
    page.get_by_role("button", name="Show what happened").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Review of a period")
    page.context.close()


def assert_reads_as_an_account(text: str) -> None:
    """What somebody who was not there has to find, on whichever paper."""
    for said in (
        "Three Oaks egg room (invented)",
        "Incident 1: Mains lost",
        "Made Sun 21 Jun 2026 10:41",
        "Cause, as far as the journal shows it: Mains lost.",
        "no temperature can tell",
        "Place, date, signature",
        "not a safety device",
        "Nobody measured",
        "The mains is there again",
    ):
        assert said in text, said
    for clutch in scenario.CLUTCHES:
        assert f"{clutch.label}, " in text, clutch.label
    for not_on_paper in ("Load again", "Save as one file", "Sign out", "All incidents"):
        assert not_on_paper not in text, not_on_paper


def test_the_page_prints_as_a_sheet_with_everything_unfolded(browser: Browser, url: str) -> None:
    page, _ = opened(browser, f"{url}/incidents/1", PAPER)
    page.emulate_media(media="print")
    assert_reads_as_an_account(" ".join(page.locator("body").inner_text().split()))
    hidden = page.evaluate(
        "[...document.querySelectorAll('details > p')].filter("
        "(each) => !each.checkVisibility({contentVisibilityAuto: true})).length"
    )
    assert hidden == 0
    take(page, OUTPUT / "incident-print.png", full_page=True)
    written = page.pdf(path=OUTPUT / "incident-print.pdf", format="A4")
    assert 2 <= len(re.findall(rb"/Type\s*/Page\b", written)) <= LARGEST_PAGES
    page.context.close()


def test_the_file_that_is_saved_opens_without_the_service_and_prints_the_same(
    browser: Browser, url: str, tmp_path: Path
) -> None:
    page, errors = opened(browser, f"{url}/incidents/1", DESK)
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save as one file").click()
    assert saved.value.suggested_filename == "incident-1.html"
    file = tmp_path / "incident-1.html"
    saved.value.save_as(file)
    assert errors == []
    page.context.close()
    alone, errors = opened(browser, file.as_uri(), PHONE)
    assert_reads_as_an_account(" ".join(alone.locator("body").inner_text().split()))
    take(alone, OUTPUT / "incident-sheet-phone.png", full_page=True)
    width, room = alone.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert width <= room
    written = alone.pdf(path=OUTPUT / "incident-sheet.pdf", format="A4")
    assert 2 <= len(re.findall(rb"/Type\s*/Page\b", written)) <= LARGEST_PAGES
    assert errors == []
    alone.context.close()
