"""Open charts in a real browser: what comes in is added, and what a person has zoomed into or points at stays."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from dashboards.server import PageServer
from tests.browser.test_charts import LIVE_MS, drawn, opened
from tests.browser.test_status_page import DESK, PHONE, keep_picture
from tests.support.charted import (
    AIR,
    DAY_MS,
    GAP_MS,
    HOUR_MS,
    HUMIDITY,
    MINUTE_MS,
    NOW_MS,
    SPIKE_C,
    Charted,
    charted,
)

pytestmark = pytest.mark.services


@pytest.fixture
def made(tmp_path: Path) -> Iterator[Charted]:
    with charted(tmp_path, days=2) as made:
        yield made


@pytest.fixture
def url(made: Charted) -> Iterator[str]:
    server = PageServer(made.app, "127.0.0.1", 0)
    yield server.start()
    server.stop()


def traces(page: Page) -> list[dict[str, Any]]:
    """What the drawing library draws, by its own account."""
    found: list[dict[str, Any]] = page.evaluate(
        """() => document.getElementById("live-chart").data.map((each) => ({
            x: [...each.x], y: [...each.y], mode: each.mode, fill: each.fill, pattern: each.fillpattern?.shape,
            template: each.hovertemplate, symbol: each.marker?.symbol, texts: each.customdata,
        }))"""
    )
    return found


def lines(page: Page) -> list[dict[str, Any]]:
    return [each for each in traces(page) if each["mode"] in ("lines", "lines+markers") and each["fill"] is None]


def x_range_ms(page: Page) -> list[float]:
    """The period that is drawn, to a millisecond: the drawing library writes parts of one, the page does not."""
    found: list[float] = page.evaluate(
        """() => document.getElementById("live-chart").layout.xaxis.range.map((each) => Date.parse(each + "Z"))"""
    )
    return found


def until_newest(page: Page, at_ms: int) -> None:
    page.wait_for_function(
        "(at) => Number(document.getElementById('live-chart').dataset.newest) >= at", arg=at_ms, timeout=LIVE_MS
    )


def test_a_reading_that_comes_in_is_added_to_the_open_chart(browser: Browser, made: Charted, url: str) -> None:
    watched = opened(browser, url, DESK, f"?channel={AIR}&period=6h")
    page = watched.page
    drawn(page)
    before = lines(page)[0]
    loaded = page.evaluate("performance.getEntriesByType('navigation').length")
    made.goes_on(5, 29.9)
    until_newest(page, NOW_MS + 5 * MINUTE_MS - 1)
    after = lines(page)[0]
    assert 29.9 in after["y"]
    assert 29.9 not in before["y"]
    # What was there stays but for what has left the period at its beginning.
    assert {value for value in before["y"] if value is not None} <= set(after["y"])
    assert page.evaluate("performance.getEntriesByType('navigation').length") == loaded
    expect(page.locator("#live-chart-as-of")).to_contain_text("As of 14:05:00")
    made.goes_on(5, 30.4)
    until_newest(page, NOW_MS + 10 * MINUTE_MS - 1)
    assert {29.9, 30.4} <= set(lines(page)[0]["y"])
    watched.assert_sound()
    page.context.close()


def test_an_open_chart_of_a_short_time_moves_on_and_is_as_long_as_before(
    browser: Browser, made: Charted, url: str
) -> None:
    page = opened(browser, url, DESK, f"?channel={AIR}&period=1h").page
    drawn(page)
    made.goes_on(30, 29.9)
    until_newest(page, NOW_MS + 30 * MINUTE_MS - 1)
    from_ms, until_ms = map(int, (page.locator("#live-chart").get_attribute("data-shown") or "").split())
    assert until_ms - from_ms == HOUR_MS
    assert NOW_MS + 30 * MINUTE_MS <= until_ms <= NOW_MS + 35 * MINUTE_MS
    csv = page.get_by_role("link", name="Save as CSV").get_attribute("href") or ""
    assert f"from={from_ms}&until={until_ms}" in csv
    assert ",29.9," in page.request.get(f"{url}{csv[1:]}").text()
    page.context.close()


TAIL_MS = """async ([starts, until, from]) => {
  const { tailFrom } = await import("/static/chart-live.js");
  return until - tailFrom([{ buckets: { start_ms: starts }, width_ms: 3_600 }], until, from);
}"""


def test_no_look_for_what_came_in_asks_for_less_than_the_service_gives(
    browser: Browser, made: Charted, url: str
) -> None:
    watched = opened(browser, url, DESK, f"?channel={AIR}&period=1h")
    drawn(watched.page)
    starts = [NOW_MS - 7_300, NOW_MS - 3_700, NOW_MS - 100]

    def tail_ms(starts: list[int], from_ms: int = NOW_MS - HOUR_MS) -> int:
        return int(watched.page.evaluate(TAIL_MS, [starts, NOW_MS, from_ms]))

    # A stretch that has just begun is fetched with the one before it, from its beginning on.
    assert tail_ms(starts) == 3_700
    assert tail_ms(starts[:2]) == 3_700
    assert tail_ms([NOW_MS - 1_000]) == 1_000
    # A part that was zoomed into may begin only just before now.
    assert tail_ms(starts, NOW_MS - 200) == 1_000
    # The clock of these pages stands: looked at once more, nothing is asked for that is refused.
    made.goes_on(1, 28.3)
    until_newest(watched.page, NOW_MS + MINUTE_MS - 1)
    with watched.page.expect_response(lambda answer: "/api/series?" in answer.url, timeout=LIVE_MS) as asked:
        pass
    assert asked.value.ok
    expect(watched.page.locator("#live-chart-said")).to_have_text("")
    watched.assert_sound()
    watched.page.context.close()


def test_what_was_zoomed_into_stays_and_what_comes_in_there_is_added(browser: Browser, made: Charted, url: str) -> None:
    watched = opened(browser, url, DESK, f"?channel={AIR}&period=own&from={NOW_MS - 6 * HOUR_MS}")
    page = watched.page
    drawn(page)
    made.goes_on(1, 28.0)
    until_newest(page, NOW_MS + MINUTE_MS - 1)
    box = page.locator("#live-chart .nsewdrag").first.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * 0.6, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] - 2, box["y"] + 62, steps=5)
    with page.expect_response(lambda answer: "/api/series?" in answer.url):
        page.mouse.up()
    zoomed_ms = x_range_ms(page)
    made.goes_on(5, 29.9)
    until_newest(page, NOW_MS + 6 * MINUTE_MS - 1)
    assert 29.9 in lines(page)[0]["y"]
    assert x_range_ms(page) == pytest.approx(zoomed_ms, rel=0, abs=1)
    watched.assert_sound()
    page.context.close()


# What stands at the pointer, at every frame of a second and a half; each change once.
TOLD_ALL_THE_WHILE = """
async () => {
  const told = [];
  for (const end = performance.now() + 1500; performance.now() < end;) {
    await new Promise(requestAnimationFrame);
    const now = document.querySelector("#live-chart .hoverlayer").textContent;
    now === told.at(-1) || told.push(now);
  }
  return told;
}
"""


def test_what_is_pointed_at_is_still_told_after_a_reading_came_in(browser: Browser, made: Charted, url: str) -> None:
    page = opened(browser, url, DESK, f"?channel={AIR}&period=6h").page
    drawn(page)
    made.goes_on(1, 28.3)
    until_newest(page, NOW_MS + MINUTE_MS - 1)
    box = page.locator("#live-chart .nsewdrag").first.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + box["height"] / 2)
    hover = page.locator("#live-chart .hoverlayer")
    expect(hover).to_contain_text("°C", timeout=LIVE_MS)
    told = hover.text_content()
    made.goes_on(1, 28.4)
    until_newest(page, NOW_MS + 2 * MINUTE_MS - 1)
    # Told anew after the drawing, and still there when whatever the library does later is done.
    assert page.evaluate(TOLD_ALL_THE_WHILE) in ([told], ["", told])
    page.context.close()


# Each drawing waits until it is told to go on.
HELD = """
() => {
  const drawn = Plotly.react;
  Plotly.react = async (...asked) => {
    await new Promise((go) => { window.goOn = go; });
    return drawn(...asked);
  };
}
"""


def test_whoever_leaves_a_chart_while_it_is_drawn_leaves_nothing_told(
    browser: Browser, made: Charted, url: str
) -> None:
    page = opened(browser, url, DESK, f"?channel={AIR}&channel={HUMIDITY}&period=6h").page
    drawn(page)
    made.goes_on(1, 28.3)
    until_newest(page, NOW_MS + MINUTE_MS - 1)
    box = page.locator("#live-chart .nsewdrag").first.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + box["height"] / 2)
    hover = page.locator("#live-chart .hoverlayer")
    expect(hover).to_contain_text("°C", timeout=LIVE_MS)
    page.evaluate(HELD)
    made.goes_on(1, 28.4)
    page.wait_for_function("() => Boolean(window.goOn)", timeout=LIVE_MS)
    page.mouse.move(1, 1)
    expect(hover).to_have_text("", timeout=LIVE_MS)
    page.evaluate("window.goOn()")
    until_newest(page, NOW_MS + 2 * MINUTE_MS - 1)
    assert page.evaluate(TOLD_ALL_THE_WHILE) == [""]
    page.context.close()


@pytest.mark.parametrize(("size", "name"), [(PHONE, "phone"), (DESK, "desk")])
def test_gaps_are_hatched_and_named_where_somebody_points_at_them(
    browser: Browser, url: str, size: Any, name: str
) -> None:
    watched = opened(browser, url, size, f"?channel={AIR}&channel={HUMIDITY}&period=24h")
    page = watched.page
    drawn(page)
    hatched = [each for each in traces(page) if each["pattern"]]
    # 22:00 to 02:00 on the clock of the site, to the readings on both sides of it.
    begins, ends = "2026-06-30T22:00:00.000", "2026-07-01T02:00:00.000"
    assert [(each["fill"], each["pattern"], each["x"][0], each["x"][1]) for each in hatched] == [
        ("toself", "/", begins, ends)
    ] * 2
    assert page.locator("#live-chart pattern").count() >= 1
    box = page.locator("#live-chart .nsewdrag").first.bounding_box()
    assert box is not None
    middle = ((GAP_MS[0] + GAP_MS[1]) / 2 - (NOW_MS - DAY_MS)) / DAY_MS
    page.mouse.move(box["x"] + box["width"] * (middle + 0.03), box["y"] + box["height"] / 2)
    hover = page.locator("#live-chart .hoverlayer")
    expect(hover).to_contain_text("No good readings: 30 Jun, 22:00 to 1 Jul, 02:00", timeout=LIVE_MS)
    crosses = [each for each in traces(page) if each["symbol"] == "x-thin"]
    assert [len(each["x"]) for each in crosses] == [1]
    keep_picture(page, f"charts-gap-{name}")
    watched.assert_sound()
    page.context.close()


def test_a_spike_of_one_reading_in_a_year_is_drawn(browser: Browser, tmp_path: Path) -> None:
    with charted(tmp_path / "year") as made:
        server = PageServer(made.app, "127.0.0.1", 0)
        address = server.start()
        span = f"from={NOW_MS - 365 * DAY_MS}&until={NOW_MS}"
        page = opened(browser, address, PHONE, f"?channel={AIR}&period=own&{span}").page
        drawn(page)
        band = next(each for each in traces(page) if each["fill"] == "toself" and not each["pattern"])
        tall = [at for at, value in zip(band["x"], band["y"], strict=True) if value == SPIKE_C]
        assert tall
        # The library says where it put it, in pixels: as high as the highest of all, well above the rest.
        heights = page.evaluate(
            """() => {
                const chart = document.getElementById("live-chart");
                const axis = chart._fullLayout.yaxis;
                return [36.5, 29.0].map((value) => axis.c2p(value));
            }"""
        )
        assert 0 <= heights[0] < heights[1] - 100
        # The path of the band reaches up there, and stays below the top of the panel.
        paths = page.locator("#live-chart .fills path").evaluate_all("(all) => all.map((each) => each.getBBox().y)")
        assert min(paths) == pytest.approx(heights[0], abs=1)
        page.context.close()
        server.stop()
