"""The pages of clutches in a real browser, on a real journal: a phone, a desk, paper, and without scripts."""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, ViewportSize, expect

from daemon.clutch_record import ClutchRecords
from daemon.clutches import register
from daemon.rollups import RollUps
from daemon.storage import alarm_log, rounds
from daemon.storage.alarm_log import AlarmEvent
from dashboards.app import create_app
from dashboards.clutch_routes import ClutchPages
from dashboards.server import PageServer
from tests.daemon.kept import AIR, BOX, HOUR_MS, SOUTH, START_MS, Kept, steady
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch, write_site
from tests.support.journals import new_journal
from tests.support.pictures import take

pytestmark = pytest.mark.services

OUTPUT = Path(__file__).parents[1] / "output"
PHONE: ViewportSize = {"width": 360, "height": 740}
DESK: ViewportSize = {"width": 1280, "height": 800}
FINGER_PX = 48
NOW_MS = START_MS + 30 * DAY_MS
LONG = "Grandmother's" * 4 + "<b>"


def fill(kept: Kept) -> None:
    """Thirty days with a warm one, a silent one, a move, a round, an alarm; a clutch that is closed, one that hides."""
    first = kept.enter(a_clutch(START_MS))
    kept.enter(replace(a_clutch(START_MS, LONG), place="south/low/S2", note="<i>pale</i> shells"))
    hatched = kept.enter(replace(a_clutch(START_MS, "Tansy"), place=BOX))
    for value, from_day, to_day in ((28.2, 0, 12), (31.0, 12, 13), (28.4, 14, 30)):
        kept.put(steady(AIR, value, START_MS + from_day * DAY_MS, START_MS + to_day * DAY_MS - 1))
    for channel, value in (("box-s1/air", 27.5), ("box-s1/rh", 88.0)):
        kept.put(steady(channel, value, START_MS, NOW_MS))
    kept.evaluate(NOW_MS)
    for day, event in ((12, "raised"), (13, "cleared")):
        at_ms = START_MS + day * DAY_MS
        one = AlarmEvent(at_ms, at_ms, f"temperature-high:{AIR}", "a", event, 31.0, 30.0, "31.0 is above 30")
        kept.journal.write(lambda conn, one=one: alarm_log.append_event(conn, one))  # type: ignore[misc]
    started_ms = START_MS + 20 * DAY_MS
    kept.journal.write(lambda conn: rounds.start(conn, "north", "Ana", started_ms, 30 * MINUTE_MS))
    kept.journal.write(lambda conn: rounds.end(conn, "north", "Ana", "all sound", started_ms + HOUR_MS))
    closed_ms = START_MS + 8 * DAY_MS
    kept.journal.write(lambda conn: register.close_clutch(conn, hatched, closed_ms, "Ben", "hatched", NOW_MS))
    moved_ms = START_MS + 9 * DAY_MS
    kept.journal.write(lambda conn: register.move_clutch(conn, first, BOX, moved_ms, "Ben", "more room", NOW_MS))
    back_ms = START_MS + 11 * DAY_MS
    kept.journal.write(
        lambda conn: register.move_clutch(conn, first, "north/upper/N1", back_ms, "Ben", "too dry", NOW_MS)
    )
    RollUps(kept.journal).run()


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("clutches")
    site = write_site(folder / "site", 1883, "http://127.0.0.1:9/phone", SOUTH)
    with new_journal(folder / "journal.sqlite3") as journal:
        kept = Kept(journal, site)
        fill(kept)
        records = ClutchRecords(journal, kept.site, kept.profiles, 1800)
        pages = ClutchPages.of(records, lambda: NOW_MS)
        server = PageServer(create_app(lambda: kept.overview(NOW_MS), clutches=pages), "127.0.0.1", 0)
        yield server.start().rstrip("/")
        server.stop()


def assert_sound(page: Page, errors: list[str]) -> None:
    """No error, nothing to scroll sideways for, no serious finding of axe-core."""
    assert errors == []
    width, room = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert width <= room
    found = Axe().run(page).response["violations"]
    assert [each["id"] for each in found if each["impact"] in ("serious", "critical")] == []


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize(("size", "name"), [(PHONE, "phone"), (DESK, "desk")])
def test_the_pages_fit_and_are_sound(browser: Browser, url: str, size: ViewportSize, name: str, dark: bool) -> None:
    scheme = "dark" if dark else "light"
    context = browser.new_context(viewport=size, color_scheme="dark" if dark else "light")
    page = context.new_page()
    errors: list[str] = []
    page.on("console", lambda said: errors.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: errors.append(str(error)))
    for path, kind in (("/clutches?closed=yes", "list"), ("/clutches/1", "one"), ("/clutches/2", "long")):
        page.goto(url + path)
        OUTPUT.mkdir(exist_ok=True)
        take(page, OUTPUT / f"clutches-{kind}-{name}-{scheme}.png", full_page=True)
        assert_sound(page, errors)
    context.close()


def test_a_keeper_finds_a_clutch_with_a_thumb_and_without_scripts(browser: Browser, url: str) -> None:
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True, java_script_enabled=False)
    page = context.new_page()
    page.goto(url)
    page.get_by_role("link", name="Juniper").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Juniper")
    for heading in ("Heat", "Air temperature", "Humidity", "What happened", "Where it lay", "Changes on record"):
        expect(page.get_by_role("heading", name=heading, exact=True)).to_be_visible()
    page.get_by_role("link", name="Clutches").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Clutches 2")
    for each in page.locator("a, select, button, label.tick, summary").all():
        box = each.bounding_box()
        assert box is not None
        assert box["height"] >= FINGER_PX
    page.get_by_label("Closed ones too").check()
    page.get_by_label("Order").select_option("label")
    page.get_by_role("button", name="Show").tap()
    expect(page.locator(".on-record h2")).to_have_text([LONG, "Juniper", "Tansy"])
    expect(page.get_by_label("Closed ones too")).to_be_checked()
    expect(page.get_by_label("Order")).to_have_value("label")
    context.close()


def test_a_clutch_goes_on_one_sheet_of_paper(browser: Browser, url: str) -> None:
    page = browser.new_page()
    page.goto(f"{url}/clutches/1")
    assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format="A4"))) == 1
    page.close()


def test_an_unknown_clutch_leads_back_to_all(browser: Browser, url: str) -> None:
    page = browser.new_page()
    answer = page.goto(f"{url}/clutches/99")
    assert answer is not None
    assert answer.status == 404
    page.get_by_role("link", name="All clutches").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Clutches")
    page.close()
