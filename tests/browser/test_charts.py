"""Charts in a real browser: with scripts they zoom and fetch, without they are drawn and can be read."""

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, ViewportSize, expect

from dashboards.server import PageServer
from tests.browser.test_status_page import DESK, PHONE, Watched, keep_picture
from tests.support.charted import AIR, DAY_MS, HUMIDITY, NOW_MS, charted

pytestmark = pytest.mark.services

LIVE_MS = 40_000
SERIOUS = ("serious", "critical")


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with charted(tmp_path_factory.mktemp("charted")) as made:
        server = PageServer(made.app, "127.0.0.1", 0)
        yield server.start()
        server.stop()


def opened(
    browser: Browser, url: str, size: ViewportSize, query: str = "", dark: bool = False, scripts: bool = True
) -> Watched:
    page = browser.new_context(
        viewport=size, color_scheme="dark" if dark else "light", java_script_enabled=scripts, accept_downloads=True
    ).new_page()
    watched = Watched(page, url)
    page.goto(f"{url}charts{query}")
    return watched


def drawn(page: Page) -> None:
    expect(page.locator("#live-chart[data-shown]")).to_be_visible(timeout=LIVE_MS)


def assert_accessible(page: Page) -> None:
    found = [each for each in Axe().run(page).response["violations"] if each["impact"] in SERIOUS]
    assert [(each["id"], [node["html"] for node in each["nodes"]]) for each in found] == []


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize(("size", "name"), [(PHONE, "phone"), (DESK, "desk")])
def test_the_chart_is_drawn_without_errors_and_nothing_comes_from_outside(
    browser: Browser, url: str, size: ViewportSize, name: str, dark: bool
) -> None:
    watched = opened(browser, url, size, dark=dark)
    drawn(watched.page)
    expect(watched.page.locator("#drawings")).to_be_hidden()
    keep_picture(watched.page, f"charts-{name}-{'dark' if dark else 'light'}")
    watched.assert_sound()
    assert_accessible(watched.page)
    watched.page.context.close()


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize(("size", "name"), [(PHONE, "phone"), (DESK, "desk")])
def test_without_scripts_the_drawings_can_be_read(
    browser: Browser, url: str, size: ViewportSize, name: str, dark: bool
) -> None:
    watched = opened(browser, url, size, "?period=24h&channel=north-air/t&channel=north-door/open", dark, scripts=False)
    page = watched.page
    expect(page.get_by_role("img", name="Air temperature")).to_be_visible()
    expect(page.locator(".drawn-gap")).to_have_count(2)
    keep_picture(page, f"charts-plain-{name}-{'dark' if dark else 'light'}")
    watched.assert_sound()
    page.context.close()


def test_a_choice_is_made_without_scripts(browser: Browser, url: str) -> None:
    page = opened(browser, url, PHONE, scripts=False).page
    page.get_by_text("Channels and own period").click()
    page.get_by_role("checkbox", name="Relative humidity, upper shelf (probe north-air)").uncheck()
    page.get_by_label("7 days").check()
    page.get_by_role("button", name="Show").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Wed 24 Jun 2026, 14:00 to Wed 1 Jul 2026, 14:00")
    expect(page.get_by_role("img")).to_have_count(1)
    page.context.close()


def test_zooming_fetches_what_is_in_view_anew_and_a_double_click_goes_back(browser: Browser, url: str) -> None:
    until_ms, from_ms = NOW_MS, NOW_MS - 365 * DAY_MS
    watched = opened(
        browser, url, DESK, f"?channel={AIR}&channel={HUMIDITY}&period=own&from={from_ms}&until={until_ms}"
    )
    page = watched.page
    drawn(page)
    assert page.locator("#live-chart").get_attribute("data-shown") == f"{from_ms} {until_ms}"
    points = int(page.locator("#live-chart").get_attribute("data-points") or 0)
    assert 0 < points <= DESK["width"]
    box = page.locator("#live-chart .nsewdrag").first.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * 0.4, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + 62, steps=5)
    with page.expect_response(lambda answer: "/api/series?" in answer.url) as zoomed:
        page.mouse.up()
    found = zoomed.value.json()
    assert found["until_ms"] - found["from_ms"] == pytest.approx(36.5 * DAY_MS, rel=0.05)
    assert found["from_ms"] == pytest.approx(from_ms + 0.4 * 365 * DAY_MS, abs=3 * DAY_MS)
    # Two clicks that a busy browser hears far apart are no double click.
    for patience_ms in (3_000, 6_000, LIVE_MS):
        page.mouse.dblclick(box["x"] + box["width"] * 0.5, box["y"] + 60)
        with suppress(AssertionError):
            shown = expect(page.locator("#live-chart"))
            shown.to_have_attribute("data-shown", f"{from_ms} {until_ms}", timeout=patience_ms)
            break
    else:
        pytest.fail("A double click does not go back to the whole period")
    watched.assert_sound()
    page.context.close()


def test_hovering_says_the_values(browser: Browser, url: str) -> None:
    watched = opened(browser, url, DESK, f"?channel={AIR}&period=24h")
    page = watched.page
    drawn(page)
    box = page.locator("#live-chart .nsewdrag").first.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * 0.85, box["y"] + box["height"] / 2)
    expect(page.locator("#live-chart .hoverlayer")).to_contain_text("°C", timeout=LIVE_MS)
    watched.assert_sound()
    page.context.close()


def test_what_is_shown_is_saved_as_picture_and_as_text(browser: Browser, url: str, tmp_path: Path) -> None:
    watched = opened(browser, url, DESK, f"?channel={AIR}&period=24h")
    page = watched.page
    drawn(page)
    with page.expect_download(timeout=LIVE_MS) as picture:
        page.locator("#save-picture").click()
    picture.value.save_as(tmp_path / "chart.png")
    assert (tmp_path / "chart.png").read_bytes().startswith(b"\x89PNG")
    with page.expect_download() as text:
        page.get_by_role("link", name="Save as CSV").click()
    text.value.save_as(tmp_path / "readings.csv")
    assert (tmp_path / "readings.csv").read_text().startswith("channel,place,quantity,unit,time_utc,time_local")
    # The picture is made out of a blob of the page's own.
    assert [asked for asked in watched.outside if not asked.startswith(f"blob:{url}")] == []
    assert watched.errors == []
    page.context.close()
