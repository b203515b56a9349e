"""The pages of alarms in a real browser, on a real journal: by thumb, by keyboard, and while something changes."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, ViewportSize, expect

from daemon.alarm_desk_values import Seen
from daemon.alarms.classes import HOUR_MS
from daemon.alarms.events import Shelve
from daemon.storage import rounds
from dashboards.server import PageServer
from tests.support.called import HIGH, LETHAL, CalledHouse, called_house
from tests.support.household import MINUTE_MS
from tests.support.pictures import take
from tests.support.processes import wait_until
from tests.support.viewing import opened

pytestmark = pytest.mark.services

OUTPUT = Path(__file__).parents[1] / "output"
PHONE: ViewportSize = {"width": 360, "height": 740}
DESK: ViewportSize = {"width": 1280, "height": 800}
LIVE_MS = 40_000
FINGER_PX = 48
PAGES = {
    "alarms": "/alarms",
    "alarm": f"/alarms/of/{LETHAL}",
    "alarm-shelved": f"/alarms/of/{HIGH}",
    "alarm-journal": "/alarms/journal",
    "alarm-metrics": "/alarms/metrics",
    "status-untold": "/",
}


class Served:
    """A house with its pages on a port."""

    def __init__(self, house: CalledHouse) -> None:
        self.house = house
        self.server = PageServer(house.app, "127.0.0.1", 0)
        self.url = self.server.start().rstrip("/")


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """A night with a bit of everything: lethal, a shelf, a round."""
    with called_house(tmp_path) as house:
        house.minutes(5, 28.0)
        house.minutes(15, 31.0)
        house.journal.write(
            lambda conn: house.work.do(
                conn,
                {HIGH: Shelve("ben", "a new thermostat settles <b>slowly</b>", house.now_ms + 2 * HOUR_MS)},
                house.now_ms,
            )
        )
        house.minutes(12, 41.0)
        house.journal.write(lambda conn: rounds.start(conn, "north", "ana", house.now_ms, 20 * MINUTE_MS))
        house.minutes(1, 41.0)
        site = Served(house)
        yield site
        site.server.stop()


def assert_fits(page: Page) -> None:
    width, room = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert width <= room


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize(("size", "name"), [(PHONE, "phone"), (DESK, "desk")])
def test_every_page_fits_and_can_be_read_by_anybody(
    browser: Browser, served: Served, size: ViewportSize, name: str, dark: bool
) -> None:
    OUTPUT.mkdir(exist_ok=True)
    page, errors = opened(browser, "about:blank", size, dark=dark)
    for kind, path in PAGES.items():
        page.goto(served.url + path)
        page.evaluate("document.querySelectorAll('details.act').forEach(part => { part.open = true; })")
        take(page, OUTPUT / f"{kind}-{name}-{'dark' if dark else 'light'}.png", full_page=True)
        assert_fits(page)
        found = [each for each in Axe().run(page).response["violations"] if each["impact"] in ("serious", "critical")]
        assert [(each["id"], [node["html"] for node in each["nodes"]]) for each in found] == []
        assert errors == []
    page.context.close()


# Counts what the stream of the page says.
HEARD = """
window.heard = 0;
window.EventSource = class extends EventSource {
  constructor(...asked) {
    super(...asked);
    for (const name of ["changed", "same"]) {
      this.addEventListener(name, () => { window.heard += 1; window.hasChanged ||= name === "changed"; });
    }
  }
};
"""


@pytest.mark.parametrize("by", ["mouse", "space"])
def test_a_press_during_which_the_page_changes_is_heard(browser: Browser, served: Served, by: str) -> None:
    page = browser.new_context(viewport=DESK).new_page()
    page.set_default_timeout(LIVE_MS)
    page.add_init_script(HEARD)
    page.goto(f"{served.url}/")
    told = page.locator("#now").get_by_text("Acknowledged by")
    before = told.count()
    button = page.get_by_role("button", name="Acknowledge").first
    button.scroll_into_view_if_needed()
    box = button.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    button.focus()
    page.evaluate("window.hasChanged = false")
    (page.mouse.down if by == "mouse" else lambda: page.keyboard.down(" "))()
    served.house.minutes(1, 41.0)
    page.wait_for_function("() => window.hasChanged")
    # As long as the page would take to be exchanged.
    page.evaluate("() => new Promise((done) => setTimeout(done, 1_500))")
    (page.mouse.up if by == "mouse" else lambda: page.keyboard.up(" "))()
    expect(told).to_have_count(before + 1, timeout=LIVE_MS)
    page.context.close()


def test_a_press_that_lasts_is_not_taken_for_a_cut(browser: Browser, served: Served) -> None:
    page = browser.new_context(viewport=DESK).new_page()
    page.clock.install()
    page.add_init_script(HEARD)
    page.goto(f"{served.url}/")
    page.mouse.move(5, 5)
    page.mouse.down()
    page.evaluate("window.hasChanged = false")
    served.house.minutes(1, 41.0)
    wait_until(lambda: page.evaluate("window.hasChanged === true"), "the page to be old", 60)
    for _ in range(4):
        heard = page.evaluate("window.heard")
        wait_until(lambda heard=heard: page.evaluate("window.heard") > heard, "a word of the service", 60)  # type: ignore[misc]
        page.clock.run_for(3_500)
        # Not at any moment.
        assert not page.locator("#cut-off").is_visible()
    page.mouse.up()
    page.context.close()


def test_what_lies_on_the_space_bar_keeps_no_page_old(browser: Browser, served: Served) -> None:
    page = browser.new_context(viewport=DESK).new_page()
    page.clock.install()
    page.goto(f"{served.url}/")
    page.get_by_role("button", name="Acknowledge").first.focus()
    page.keyboard.down(" ")
    page.evaluate("document.body.dataset.version = 'older'")

    def is_new_while_it_is_held() -> bool:
        # A key that stays down is told again and again.
        page.keyboard.down(" ")
        page.clock.run_for(1_000)
        return page.locator("body").get_attribute("data-version") != "older"

    wait_until(is_new_while_it_is_held, "the page to be new", 60)
    page.context.close()


def test_all_that_is_pressed_is_large_enough_for_a_thumb(browser: Browser, served: Served) -> None:
    page = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True).new_page()
    for path in PAGES.values():
        page.goto(served.url + path)
        page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
        for each in page.locator("a, summary, button, input:not([type=hidden], [type=checkbox]), select, .check").all():
            box = each.bounding_box()
            assert box is not None, each.inner_html()
            assert box["height"] >= FINGER_PX, (path, each.evaluate("each => each.outerHTML"))
    page.context.close()


def test_the_links_between_the_pages_stand_in_one_line_on_a_phone(browser: Browser, served: Served) -> None:
    page, _ = opened(browser, f"{served.url}/alarms", PHONE)
    # All five, whichever this app has.
    page.evaluate(
        """() => { const nav = document.querySelector("nav.pages"); nav.replaceChildren(...["Now", "Clutches", "Charts",
        "Alarms", "Messages"].map(name => Object.assign(document.createElement("a"), {href: "/", textContent: name})));
        nav.lastChild.setAttribute("aria-current", "page"); }"""
    )
    boxes = [each.bounding_box() for each in page.locator("nav.pages a").all()]
    assert {box["y"] for box in boxes if box} == {boxes[0]["y"] if boxes[0] else None}
    assert all(box["height"] < 2 * FINGER_PX for box in boxes if box)
    assert_fits(page)
    page.context.close()


def test_a_keeper_acknowledges_with_a_note_and_ends_a_shelf_by_keyboard_alone(browser: Browser, served: Served) -> None:
    page, errors = opened(browser, f"{served.url}/alarms", PHONE)
    page.get_by_role("link", name="dangerously hot").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("dangerously hot")
    page.get_by_label("What you found or did there").focus()
    page.keyboard.type("heater unplugged")
    page.keyboard.press("Enter")
    expect(page.locator("#now")).to_contain_text("Acknowledged by somebody at the page")
    expect(page.locator("#past")).to_contain_text("heater unplugged")
    assert served.house.shown(LETHAL) == "acknowledged"
    page.goto(f"{served.url}/alarms/of/{HIGH}")
    page.get_by_role("button", name="Unshelve").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#now")).not_to_contain_text("Shelved by")
    assert errors == []
    page.context.close()


def test_the_open_list_follows_and_a_half_typed_form_stays(browser: Browser, served: Served) -> None:
    listed, _ = opened(browser, f"{served.url}/alarms", PHONE)
    single, _ = opened(browser, f"{served.url}/alarms/of/{LETHAL}", PHONE)
    note = single.get_by_label("What you found or did there")
    note.fill("on my way to the")
    single.locator("#answer").click()
    alarm = served.house.board.look().find(LETHAL)
    assert alarm is not None
    served.house.desk.press_here(Seen(LETHAL, alarm.occurrence, alarm.version), "from another phone")
    expect(listed.locator("#acknowledged")).to_have_text("Acknowledged (1)", timeout=LIVE_MS)
    expect(single.locator("#now")).to_contain_text("Acknowledged by somebody at the page", timeout=LIVE_MS)
    expect(note).to_have_value("on my way to the")
    single.get_by_role("button", name="Acknowledge").click()
    expect(single.locator("#past")).to_contain_text("on my way to the")
    listed.context.close()
    single.context.close()


def test_a_refusal_stands_beside_its_field_and_survives_a_change_elsewhere(browser: Browser, served: Served) -> None:
    page, errors = opened(browser, f"{served.url}/alarms/of/{HIGH}", PHONE)
    page.get_by_text("Shelve anew").click()
    page.get_by_label("Who agrees").fill("Ana, beside the eggs")
    page.get_by_role("button", name="Shelve", exact=True).click()
    expect(page.get_by_label("Why?").first).to_have_attribute("aria-invalid", "true")
    expect(page.locator("#shelve-why-error")).to_contain_text("Say why")
    served.house.minutes(1, 41.0)
    before = page.locator("body").get_attribute("data-version")
    served.house.minutes(1, 41.0)
    expect(page.locator("body")).not_to_have_attribute("data-version", before or "", timeout=LIVE_MS)
    expect(page.get_by_label("Who agrees")).to_have_value("Ana, beside the eggs")
    expect(page.locator("#shelve-why-error")).to_contain_text("Say why")
    take(page, OUTPUT / "alarm-refused-phone.png", full_page=True)
    # What a refusal answers with is an error to the console of the browser, and to nobody else.
    assert [each for each in errors if "422" not in each] == []
    page.context.close()


def test_without_scripts_every_form_works_and_no_form_page_loads_itself_anew(browser: Browser, served: Served) -> None:
    context = browser.new_context(viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{served.url}/alarms/of/{LETHAL}")
    assert 'http-equiv="refresh"' not in page.content()
    page.get_by_role("button", name="Acknowledge").click()
    expect(page.locator("#now")).to_contain_text("Acknowledged by somebody at the page")
    page.goto(f"{served.url}/alarms")
    assert '<meta http-equiv="refresh" content="15">' in page.content()
    context.close()
