"""Hand-over, calendar and places compared, on a phone, a desk and paper, in a real browser."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, ViewportSize, expect

from config.words import Quantity
from daemon.alarm_board_values import ListedAlarm
from daemon.clutches import register
from daemon.development.window import HatchWindow
from daemon.duty_days import DutyDay, Stretch
from daemon.hand_over_sheet import LONGEST_NOTE, BoxToSee, Due, HandOver, Hatching, Note
from daemon.overview import Untold
from daemon.people_values import ContactNow, PersonNow
from daemon.rounds.last import LastRound
from daemon.rounds.last_said import BoxSaid
from dashboards.ahead import AheadPages
from dashboards.app import create_app
from dashboards.server import PageServer
from tests.dashboards.conftest import house
from tests.placement.shelves import shelves
from tests.support.called import CalledHouse
from tests.support.dated import Dated
from tests.support.doors import open_to
from tests.support.household import DAY_MS, a_clutch
from tests.support.pictures import take
from tests.support.processes import free_port

__all__ = ["house"]
pytestmark = pytest.mark.services

OUTPUT = Path(__file__).parents[1] / "output"
PHONE: ViewportSize = {"width": 360, "height": 740}
DESK: ViewportSize = {"width": 1280, "height": 800}
FINGER_PX = 48
LONG = "a name of which somebody wrote very much more than anybody would read"
PATHS = ("/hand-over", "/set-up/hand-over", "/set-up/calendar", "/clutches/1/placement", "/placement")


@dataclass(frozen=True)
class Written:
    """A sheet as it is, for which no journal has to be filled."""

    sheet: HandOver

    def look(self) -> HandOver:
        return self.sheet

    def note(self) -> Note | None:
        return self.sheet.note

    def state(self, who: str, from_where: str, text: str, seen: int) -> str:
        raise NotImplementedError


class Served:
    """The pages on a port of their own."""

    def __init__(self, dated: Dated, sheet: Written | None = None) -> None:
        self.dated = dated
        port = free_port()
        self.url = f"http://127.0.0.1:{port}"
        self.server = PageServer(dated.app(sheet=sheet), "127.0.0.1", port)
        self.server.start()


@pytest.fixture
def served(house: CalledHouse) -> Iterator[Served]:
    house.minutes(15, 31.0)
    new = replace(a_clutch(house.now_ms - DAY_MS, "Cobra <b>1</b>", "north/upper"), venomous=True)
    house.journal.write(lambda conn: register.add_clutch(conn, new, "ana", house.now_ms))
    made = Served(Dated(house))
    yield made
    made.server.stop()


def opened(browser: Browser, size: ViewportSize, scheme: str = "light") -> tuple[Page, list[str]]:
    page = browser.new_context(viewport=size, color_scheme=scheme).new_page()  # type: ignore[arg-type]
    errors: list[str] = []
    page.on("console", lambda said: errors.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: errors.append(str(error)))
    return page, errors


def fits(page: Page) -> None:
    wide = page.evaluate(
        "[...document.querySelectorAll('*')].filter((each) => each.getBoundingClientRect().right > window.innerWidth)"
        ".map((each) => each.outerHTML.slice(0, 200))"
    )
    assert wide == []
    small = page.evaluate(
        "(most) => [...document.querySelectorAll('main a, main button, main summary, main select, main input')]"
        ".filter((each) => each.type !== 'hidden' && each.offsetParent !== null"
        " && each.getBoundingClientRect().height < most).map((each) => each.outerHTML)",
        FINGER_PX,
    )
    assert small == []
    found = Axe().run(page).response["violations"]
    assert [each["id"] for each in found if each["impact"] in ("serious", "critical")] == []


@pytest.mark.parametrize("path", PATHS)
def test_pages_on_phone_and_desk_in_light_and_dark(browser: Browser, served: Served, path: str) -> None:
    for size, scheme in ((PHONE, "light"), (PHONE, "dark"), (DESK, "light")):
        page, errors = opened(browser, size, scheme)
        assert page.goto(f"{served.url}{path}").status == 200  # type: ignore[union-attr]
        fits(page)
        name = path.strip("/").replace("/", "-")
        take(page, OUTPUT / f"ahead-{name}-{size['width']}-{scheme}.png", full_page=True)
        assert errors == []
        page.context.close()


def test_the_note_by_keyboard_alone(browser: Browser, served: Served) -> None:
    page, errors = opened(browser, PHONE)
    page.goto(f"{served.url}/set-up/hand-over")
    page.get_by_label("Numbers and keys").focus()
    page.keyboard.type("Keys: hook by the door")
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Save")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Hand-over")
    expect(page.locator(".own-words")).to_have_text("Keys: hook by the door")
    assert errors == []


def test_an_address_is_made_shown_and_taken_back(browser: Browser, served: Served) -> None:
    page, errors = opened(browser, PHONE)
    page.goto(f"{served.url}/set-up/calendar")
    if page.locator("#to-confirm").count():
        pytest.fail("nobody signs in here, so nothing is to be confirmed")
    page.get_by_label("Name of the address").fill("phone-of-ana")
    page.get_by_role("button", name="Make an address").click()
    expect(page.locator("#once")).to_contain_text("/calendar/cwc_")
    fits(page)
    page.get_by_role("button", name="Take back the address phone-of-ana").click()
    expect(page.locator("main")).to_contain_text("There is none.")
    assert errors == []


def full(found: HandOver) -> HandOver:
    """Sixty clutches in twenty boxes and on shelves, and more of everything than has room, each as long as can be."""
    now_ms = found.overview.now_ms
    window = HatchWindow(now_ms, now_ms + DAY_MS, now_ms + 9 * DAY_MS, 1.0, 0.9, (), "fit", "Why.", "open")
    alarm: ListedAlarm = found.alarms.alarms[0]
    alarms = tuple(replace(alarm, place=LONG, what=LONG, quantity=Quantity.AIR_TEMPERATURE) for _ in range(20))
    incubator = replace(found.overview.incubators[0], name=LONG, channels=found.overview.incubators[0].channels * 20)
    untold = Untold("key", alarm.kind, alarm.priority, LONG, "shelved", now_ms + DAY_MS, LONG, LONG)
    contact = ContactNow("x/1", 1, "webhook", False, None, None, failing_since_ms=now_ms)
    person = PersonNow("x", LONG, True, 0, now_ms + DAY_MS, (contact, replace(contact, kind="apprise")))
    said, names = (BoxSaid(LONG, LONG, True, (LONG, LONG)),) * 40, (LONG,) * 40
    last_round = LastRound((1, 2), (LONG,) * 3, LONG, now_ms, 1, 60, 9, 9, 9, LONG * 9, 9, 9, said, names)
    stretches = tuple(
        Stretch(now_ms + n * DAY_MS, now_ms + (n + 1) * DAY_MS, f"{LONG}{n}", LONG, LONG, (LONG,)) for n in range(20)
    )
    return replace(
        found,
        overview=replace(
            found.overview,
            incubators=(incubator,),
            untold=(untold,) * 9,
            troubles=(LONG * 4,) * 5,
            last_round=last_round,
        ),
        alarms=replace(found.alarms, alarms=alarms),
        people=replace(found.people, people=(person,) * 12, days=(DutyDay(found.people.days[0].day, stretches),)),
        venomous=((LONG, LONG),) * 20,
        boxes=(BoxToSee(LONG, LONG, True, (LONG * 3,), (LONG * 3, LONG * 3)),) * 20,
        hatching=(Hatching(LONG, LONG, LONG, True, window, 3),) * 60,
        due=(Due(f"Calibration: {LONG}", now_ms - DAY_MS),) * 40,
        note=Note(1, now_ms, LONG, "\n".join([(LONG * 2)[: LONGEST_NOTE // 12 - 1]] * 12)),
    )


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_fullest_sheet_is_one_page_of_paper(browser: Browser, served: Served, paper: str) -> None:
    filled = Served(served.dated, Written(full(served.dated.sheet.look())))
    page, errors = opened(browser, DESK)
    page.goto(f"{filled.url}/hand-over")
    expect(page.locator("#hatching ~ .more")).to_contain_text("more, not on this sheet.")
    written = page.pdf(path=OUTPUT / f"hand-over-full-{paper}.pdf", format=paper)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 720, "height": 1000})
    take(page, OUTPUT / f"hand-over-full-{paper}.png", full_page=True)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", written)) == 1
    # Nothing is cut off at the side of the paper.
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert errors == []
    filled.server.stop()


def test_an_ordinary_sheet_is_one_page_too(browser: Browser, served: Served) -> None:
    page, _ = opened(browser, DESK)
    page.goto(f"{served.url}/hand-over")
    written = page.pdf(path=OUTPUT / "hand-over.pdf", format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", written)) == 1


def test_places_with_their_pictures(browser: Browser, house: CalledHouse, tmp_path: Path) -> None:
    with shelves(tmp_path / "shelves") as made:
        made.measured("top-air", lambda ago: 31.0 if ago % 24 < 12 else 29.0)
        made.measured("bottom-air", lambda _: 27.0)
        made.clutch("Old one", "south/bottom/S3", "sphenodon-punctatus")
        number = made.clutch("Juniper", "south/top/S1")
        dated = Dated(house)
        pages = AheadPages(dated.sheet, dated.desk, made.desk)
        port = free_port()
        server = PageServer(create_app(house.overview, ahead=pages, door=open_to()), "127.0.0.1", port)
        server.start()
        for size in (PHONE, DESK):
            page, errors = opened(browser, size)
            page.goto(f"http://127.0.0.1:{port}/clutches/{number}/placement")
            expect(page.locator("svg.drawing")).to_have_count(3)
            expect(page.locator("#option-1")).to_contain_text("inside the range")
            fits(page)
            take(page, OUTPUT / f"ahead-places-{size['width']}.png", full_page=True)
            page.get_by_label("Look back over").select_option("3")
            page.get_by_role("button", name="Show").click()
            expect(page.locator("main")).to_contain_text("over the last 3 days")
            assert errors == []
            page.context.close()
        server.stop()
