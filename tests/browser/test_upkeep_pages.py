"""People, calibrations and species in a real browser: by thumb, by keyboard, and while something changes."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, ViewportSize, expect

from daemon.alarms.courier import Courier
from daemon.contacts import channels
from daemon.duty_work import DutyWork
from daemon.people_desk import PeopleDesk
from daemon.rota import Rotas
from daemon.storage import calibrations
from dashboards.server import PageServer
from sensors.calibration import Record
from sensors.calibration_line import UNCORRECTED
from tests.support.household import DAY_MS, MINUTE_MS
from tests.support.pictures import take
from tests.support.processes import free_port
from tests.support.receiver import Answer, Receiver
from tests.support.upkept import AIR, RH, START_MS, UpkeptHouse, kept, upkept_house
from tests.support.viewing import opened

pytestmark = pytest.mark.services

OUTPUT = Path(__file__).parents[1] / "output"
PHONE: ViewportSize = {"width": 360, "height": 740}
DESK: ViewportSize = {"width": 1280, "height": 800}
LIVE_MS = 40_000
FINGER_PX = 48
PRESSED = ", ".join(
    f"{each}:visible"
    for each in ("a", "summary", "button", "input:not([type=hidden], [type=checkbox])", "select", ".check")
)
PAGES = {
    "people": "/people",
    "people-setup": "/set-up/people",
    "calibrations": "/set-up/calibration",
    "calibration": f"/set-up/calibration/{AIR}",
    "calibration-salt": f"/set-up/calibration/{RH}",
    "species": "/set-up/species",
    "species-venomous": "/set-up/species/naja-atra",
    "species-stages": "/set-up/species/python-regius",
    "species-durations": "/set-up/species/trachemys-scripta",
}


class Served:
    """A house with its pages on a port of their own, and a courier that delivers what is sent."""

    def __init__(self, house: UpkeptHouse, receiver: Receiver) -> None:
        self.house, self.receiver = house, receiver
        port = free_port()
        self.url = f"http://127.0.0.1:{port}"
        self.courier = Courier(house.journal, channels(house.site, house.folder, 5.0), lambda: house.now_ms)
        work = DutyWork(house.site, Rotas(house.site))
        house.people = PeopleDesk(house.journal, house.site, work, lambda: house.now_ms, self.courier.wake, self.url)
        house.app = house.pages()
        self.server = PageServer(house.app, "127.0.0.1", port)
        self.server.start()
        self.courier.start()

    def stop(self) -> None:
        self.courier.stop()
        self.server.stop()


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as running:
        yield running


@pytest.fixture
def served(tmp_path: Path, receiver: Receiver) -> Iterator[Served]:
    """A duty that nobody accepted, an absence, a calibration that is overdue, and one that was withdrawn."""
    with upkept_house(tmp_path, base=receiver.url("").rstrip("/")) as house:
        house.put(AIR, [30.15, 30.25] * 10)
        kept(house, 100, 80, note="<b>note</b>")
        kept(house, 50, 365, RH)
        at_ms = START_MS - 10 * DAY_MS
        gone = Record(RH, at_ms, UNCORRECTED, "withdrawn", at_ms, None, at_ms, "mara", "")
        house.journal.write(lambda conn: calibrations.append(conn, gone))
        assert house.command("duty", "plan", "ben", "--from", "2026-05-04 13:00", "--second", "ana").exit_code == 0
        assert house.command("duty", "absent", "ana", "--from", "2026-05-06", "--until", "2026-05-08").exit_code == 0
        site = Served(house, receiver)
        yield site
        site.stop()


def assert_sound(page: Page) -> None:
    """Nothing to scroll sideways for, and no serious finding of axe-core."""
    width, room = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert width <= room
    found = [each for each in Axe().run(page).response["violations"] if each["impact"] in ("serious", "critical")]
    assert [(each["id"], [node["html"] for node in each["nodes"]]) for each in found] == []


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize(("size", "name"), [(PHONE, "phone"), (DESK, "desk")])
def test_every_page_fits_and_can_be_read_by_anybody(
    browser: Browser, served: Served, size: ViewportSize, name: str, dark: bool
) -> None:
    OUTPUT.mkdir(exist_ok=True)
    page, errors = opened(browser, "about:blank", size, dark=dark)
    for kind, path in PAGES.items():
        page.goto(served.url + path)
        page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
        take(page, OUTPUT / f"{kind}-{name}-{'dark' if dark else 'light'}.png", full_page=True)
        assert_sound(page)
        assert errors == []
    page.context.close()


def test_all_that_is_pressed_is_large_enough_for_a_thumb(browser: Browser, served: Served) -> None:
    page = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True).new_page()
    for path in PAGES.values():
        page.goto(served.url + path)
        page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
        for each in page.locator(PRESSED).all():
            box = each.bounding_box()
            assert box is not None, each.inner_html()
            assert box["height"] >= FINGER_PX, (path, each.evaluate("each => each.outerHTML"))
    page.context.close()


def test_a_test_is_sent_received_confirmed_and_seen_without_loading_anew(browser: Browser, served: Served) -> None:
    page, errors = opened(browser, f"{served.url}/people", PHONE)
    page.evaluate("window.sameDocument = true")
    page.get_by_label("To whom?").select_option("ana")
    page.get_by_role("button", name="Send a test").click()
    [request] = served.receiver.wait_for(1)
    assert request.path == "/ana-secret-token"
    message = request.json()
    assert message["headline"].startswith("TEST")
    ana = page.locator("#person-ana")
    expect(ana).to_contain_text("its receiver accepted it", timeout=LIVE_MS)
    page.evaluate("window.sameDocument = true")
    phone = browser.new_context(viewport=PHONE).new_page()
    phone.goto(message["acknowledge_url"])
    phone.get_by_role("button", name="It arrived").click()
    expect(phone.get_by_role("heading")).to_contain_text("Noted, Ana")
    expect(ana).to_contain_text("it arrived, as somebody said", timeout=LIVE_MS)
    assert page.evaluate("window.sameDocument")
    assert errors == []
    phone.context.close()
    page.context.close()


def test_what_a_receiver_refuses_shows_on_the_open_page(browser: Browser, served: Served) -> None:
    served.receiver.answer_with(Answer(status=500))
    page, errors = opened(browser, f"{served.url}/people", PHONE)
    page.get_by_label("To whom?").select_option("ben/0")
    page.get_by_role("button", name="Send a test").click()
    ben = page.locator("#person-ben")
    expect(ben).to_contain_text("not accepted", timeout=LIVE_MS)
    expect(ben).to_contain_text("Tried again")
    assert "ben-secret-token" not in page.content()
    assert errors == []
    page.context.close()


def test_by_keyboard_alone_somebody_says_that_they_are_away_and_a_refusal_keeps_what_was_typed(
    browser: Browser, served: Served
) -> None:
    page, errors = opened(browser, f"{served.url}/people", DESK)
    page.locator("#act-away-head").focus()
    page.keyboard.press("Enter")
    page.get_by_label("Who?", exact=True).select_option("ben")
    page.locator("#away-until").fill("2026-05-07T12:00")
    page.locator("#away-why").focus()
    page.keyboard.type("beyond the mountains")
    page.keyboard.press("Enter")
    expect(page.locator("#away-until-error")).to_contain_text("Nobody can be reached from 6 May 2026 00:00")
    expect(page.locator("#away-why")).to_have_value("beyond the mountains")
    assert_sound(page)
    # A live page exchanges its parts, and what was refused stays.
    served.house.now_ms += 2 * MINUTE_MS
    expect(page.locator("#top")).to_contain_text("14:02", timeout=LIVE_MS)
    expect(page.locator("#away-why")).to_have_value("beyond the mountains")
    page.locator("#away-until").fill("2026-05-05T12:00")
    page.locator("#press-away").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#planned")).to_contain_text("Ben away from 4 May 2026 14:00 to 5 May 2026 12:00")
    expect(page.locator("#answer")).to_have_text("Called first now: Ana")
    # What a refusal answers with is an error to the console of the browser, and to nobody else.
    assert [each for each in errors if "422" not in each] == []
    page.context.close()


def test_a_keeper_takes_over_for_somebody_with_one_press(browser: Browser, served: Served) -> None:
    page, errors = opened(browser, f"{served.url}/people", PHONE)
    expect(page.locator("#answer")).to_have_text("Called first now: Ana")
    page.get_by_role("button", name="Ben takes over").click()
    expect(page.locator("#answer")).to_have_text("Called first now: Ben")
    assert errors == []
    page.context.close()


def test_a_calibration_is_shown_then_stored_on_a_phone_and_without_scripts(browser: Browser, served: Served) -> None:
    context = browser.new_context(viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{served.url}/set-up/calibration")
    page.get_by_role("link", name="North cabinet, upper shelf: air temperature", exact=True).click()
    page.get_by_label("What the good thermometer shows, °C").first.fill("30,0")
    page.get_by_label("How good that thermometer is, ± °C").first.fill("0.1")
    page.get_by_role("button", name="Show what changes").first.click()
    offer = page.locator("#offer")
    expect(offer).to_contain_text("true 30.00 °C, the probe says 30.20")
    expect(offer).to_contain_text("corrected = reading - 0.20 °C")
    assert len(served.house.on_record()) == 3
    page.get_by_role("button", name="Store it").click()
    expect(page.locator("#past li").first).to_contain_text("counts now")
    assert len(served.house.on_record()) == 4
    assert served.house.on_record()[-1].line.points[0].reading == pytest.approx(30.2)
    context.close()


def test_what_is_shown_before_storing_fits_and_can_be_read_by_anybody(browser: Browser, served: Served) -> None:
    page, errors = opened(browser, f"{served.url}/set-up/calibration/{AIR}", PHONE)
    page.get_by_label("What the good thermometer shows, °C").first.fill("20")
    page.get_by_label("How good that thermometer is, ± °C").first.fill("0.1")
    page.get_by_role("button", name="Show what changes").first.click()
    expect(page.locator("#act-one-point")).to_contain_text("so far off it is broken")
    assert_sound(page)
    page.get_by_label("What the good thermometer shows, °C").first.fill("30")
    page.get_by_role("button", name="Show what changes").first.click()
    expect(page.locator("#offer")).to_be_visible()
    take(page, OUTPUT / "calibration-offer-phone.png", full_page=True)
    assert_sound(page)
    assert [each for each in errors if "422" not in each] == []
    page.context.close()


def test_what_the_probe_says_changes_on_the_open_page(browser: Browser, served: Served) -> None:
    page, errors = opened(browser, f"{served.url}/set-up/calibration/{AIR}", PHONE)
    expect(page.locator(".heard")).to_contain_text("The probe itself says 30.20 °C")
    page.get_by_label("What the good thermometer shows, °C").first.fill("29.5")
    served.house.now_ms += 30 * MINUTE_MS
    served.house.put(AIR, [29.0] * 20)
    expect(page.locator(".heard")).to_contain_text("The probe itself says 29.00 °C", timeout=LIVE_MS)
    expect(page.get_by_label("What the good thermometer shows, °C").first).to_have_value("29.5")
    assert errors == []
    page.context.close()


def test_a_species_is_found_by_keyboard_and_its_file_is_saved(browser: Browser, served: Served) -> None:
    page, errors = opened(browser, f"{served.url}/set-up/species", PHONE)
    page.get_by_label("Search by any name").focus()
    page.keyboard.type("cobra")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile("Species 1 of"))
    page.get_by_role("link", name="Naja atra").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".caution.strong")).to_contain_text("Venomous")
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save as a file").click()
    assert saved.value.suggested_filename == "naja-atra.toml"
    assert 'id = "naja-atra"' in Path(saved.value.path()).read_text(encoding="utf-8")
    assert errors == []
    page.context.close()
