"""Signing in with a real browser at a real daemon: from the code of the first start to an acknowledged alarm."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize, expect

from daemon.access.values import Role
from tests.support.accounts import PASSWORD, access_of, carry, make_account, sign_in
from tests.support.called import HIGH
from tests.support.household import DAY_MS, MINUTE_MS, House, Probe, a_clutch, now_ms, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.pictures import take
from tests.support.processes import free_port, wait_until

pytestmark = pytest.mark.services

OUTPUT = Path(__file__).parents[1] / "output"
PHONE: ViewportSize = {"width": 360, "height": 740}
DESK: ViewportSize = {"width": 1280, "height": 800}
CODE = re.compile(r"[0-9A-Z]{4}(?:-[0-9A-Z]{4}){5}")
ENDED_MS = 40_000
FINGER_PX = 48
PAGES = ("/account", "/account/second-factor", "/set-up/accounts", "/set-up/audit", "/sign-in/confirm?to=/account")
FOR_STRANGERS = ("/sign-in", "/welcome")


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """A daemon without a broker, whose keeper is ana."""
    folder = write_site(tmp_path_factory.mktemp("signed") / "site", free_port())
    with access_of(folder) as desk:
        make_account(desk)
    home = House(folder)
    home.enter(a_clutch(now_ms() - 10 * DAY_MS))
    home.service.start()
    wait_until(lambda: "Pages:" in home.service.output() or not home.service.running, "the pages", 60)
    yield home
    home.service.stop()


def context_of(
    browser: Browser, size: ViewportSize = PHONE, *, scripts: bool = True, dark: bool = False
) -> BrowserContext:
    is_phone = size == PHONE
    return browser.new_context(
        viewport=size,
        has_touch=is_phone,
        is_mobile=is_phone,
        java_script_enabled=scripts,
        color_scheme="dark" if dark else "light",
    )


def errors_of(page: Page) -> list[str]:
    """Whatever the browser complains of, from now on; a refusal is an error to its console and to nobody else."""
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda said: errors.append(said.text) if said.type == "error" else None)
    return errors


def signed_in(browser: Browser, house: House, name: str, role: Role, size: ViewportSize = PHONE) -> BrowserContext:
    """A browser with a session of somebody new."""
    with house.access() as desk:
        session = make_account(desk, name, role)
    context = context_of(browser, size)
    carry(context, house.url, session)
    return context


def test_from_the_code_of_the_first_start_to_an_acknowledged_alarm_and_a_clutch(
    browser: Browser, tmp_path: Path, mosquitto: Mosquitto
) -> None:
    home = House(write_site(tmp_path / "site", mosquitto.port))
    home.enter(a_clutch(now_ms() - 10 * DAY_MS))
    home.start()
    try:
        wait_until(lambda: CODE.search(home.service.output()) is not None, "the code on the terminal", 60)
        [code] = CODE.findall(home.service.output())
        probe = Probe(mosquitto.port)
        start_ms = now_ms() - 120 * MINUTE_MS
        warm = [28.5] * 90 + [31.2] * 29
        probe.temperatures((start_ms + number * MINUTE_MS, value) for number, value in enumerate(warm))
        home.settle(len(warm))
        probe.close()

        page = context_of(browser).new_page()
        errors = errors_of(page)
        page.goto(home.url)
        expect(page.get_by_role("heading", level=1)).to_have_text("Welcome")
        take(page, OUTPUT / "welcome-phone.png", full_page=True)
        page.get_by_label("Code").fill(code.lower())
        page.get_by_label("Name").fill("ana")
        page.get_by_label("New password", exact=True).fill(PASSWORD)
        page.get_by_label("The new password once more").fill(PASSWORD)
        page.get_by_role("button", name="Set the password and sign in").click()
        expect(page.locator("#answer")).to_contain_text("too warm")
        page.get_by_role("button", name="Acknowledge").first.click()
        expect(page.locator("#now")).to_contain_text("Acknowledged by ana")
        page.get_by_role("link", name="Clutches").click()
        page.get_by_role("link", name="Juniper").click()
        expect(page.get_by_role("heading", level=1)).to_contain_text("Juniper")
        page.get_by_role("button", name="Sign out").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")
        sign_in(page)
        expect(page.locator("#now")).to_contain_text("Acknowledged by ana")
        assert errors == []
        with home.access() as desk:
            assert [(each.name, each.role) for each in desk.accounts()] == [("ana", Role.KEEPER)]
        page.context.close()
    finally:
        home.service.stop()
    assert PASSWORD not in home.service.output()
    assert HIGH in {each.alarm_key for each in home.events()}


def test_a_wrong_password_keeps_the_name_and_says_how_long_to_wait(browser: Browser, house: House) -> None:
    with house.access() as desk:
        make_account(desk, "wanda", Role.VIEWER)
    page = context_of(browser).new_page()
    page.goto(f"{house.url}/clutches")
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")
    for _ in range(5):
        sign_in(page, "wanda", "not the password at all")
        expect(page.get_by_label("Name")).to_have_value("wanda")
        expect(page.get_by_label("Password", exact=True)).to_have_value("")
        expect(page.locator("#sign-in-password-error")).to_contain_text("Name or password is wrong.")
    expect(page.locator("#sign-in-password-error")).to_contain_text("Try again in 30 seconds.")
    sign_in(page, "wanda")
    expect(page.locator("form.entry .error")).to_contain_text("Too many wrong passwords for this name.")
    take(page, OUTPUT / "sign-in-refused-phone.png", full_page=True)
    page.context.close()


def test_sign_in_leads_back_and_works_by_keyboard_alone(browser: Browser, house: House) -> None:
    with house.access() as desk:
        make_account(desk, "kim", Role.RESPONDER)
    page = context_of(browser, DESK).new_page()
    errors = errors_of(page)
    page.goto(f"{house.url}/clutches?sort=species")
    page.keyboard.press("Tab")
    page.keyboard.type("kim")
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    expect(page).to_have_url(f"{house.url}/clutches?sort=species")
    page.locator("#to-account").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("kim")
    page.locator("#sign-out").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")
    assert errors == []
    page.context.close()


def test_every_part_of_a_page_is_reached_by_the_tabulator(browser: Browser, house: House) -> None:
    context = signed_in(browser, house, "tab", Role.KEEPER, DESK)
    page = context.new_page()
    for path in PAGES:
        page.goto(f"{house.url}{path}")
        wanted = page.locator("a:visible, button:visible, input:visible, select:visible, summary:visible").count()
        reached = set()
        for _ in range(wanted + 2):
            page.keyboard.press("Tab")
            reached.add(page.evaluate("[...document.querySelectorAll('*')].indexOf(document.activeElement)"))
        assert len(reached) >= wanted, path
    context.close()


def test_an_open_page_whose_session_is_ended_goes_to_sign_in(browser: Browser, house: House) -> None:
    context = signed_in(browser, house, "phil", Role.VIEWER)
    page = context.new_page()
    page.goto(f"{house.url}/messages")
    end_sessions_of(house, "phil")
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in", timeout=ENDED_MS)
    sign_in(page, "phil")
    expect(page).to_have_url(f"{house.url}/messages")
    context.close()


def test_a_half_typed_form_stays_when_the_session_is_ended_and_a_line_says_so(browser: Browser, house: House) -> None:
    """No alarm is on, so a field is put into the page as other pages have them."""
    context = signed_in(browser, house, "olga", Role.RESPONDER)
    page = context.new_page()
    page.goto(f"{house.url}/messages")
    page.evaluate("document.querySelector('main').insertAdjacentHTML('beforeend', '<form><input id=note></form>')")
    page.locator("#note").fill("on my way")
    end_sessions_of(house, "olga")
    line = page.get_by_role("alert").filter(has_text="You are not signed in any more")
    expect(line).to_be_visible(timeout=ENDED_MS)
    expect(page.locator("#note")).to_have_value("on my way")
    expect(page.locator("#cut-off")).to_be_hidden()
    take(page, OUTPUT / "signed-out-phone.png", full_page=True)
    page.locator("#to-sign-in").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")
    context.close()


def test_a_page_that_slept_while_its_session_ended_goes_to_sign_in(browser: Browser, house: House) -> None:
    """Its stream is refused when it wakes up, and tells nothing by itself."""
    context = signed_in(browser, house, "sven", Role.VIEWER)
    page = context.new_page()
    page.goto(f"{house.url}/messages")
    context.set_offline(True)
    end_sessions_of(house, "sven")
    context.set_offline(False)
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in", timeout=ENDED_MS)
    context.close()


def end_sessions_of(house: House, name: str) -> None:
    with house.access() as desk:
        for each in desk.all_sessions():
            if each.account == name:
                assert desk.end_any_session(None, each.number, "host") is None


def test_a_viewer_reads_and_is_told_who_may_do_more(browser: Browser, house: House) -> None:
    context = signed_in(browser, house, "vera", Role.VIEWER)
    page = context.new_page()
    page.goto(f"{house.url}/alarms")
    expect(page.locator("main")).to_contain_text("Alarms are answered by those who are responders or keepers here.")
    page.goto(f"{house.url}/set-up/accounts")
    expect(page.locator("main")).to_contain_text("This needs the role keeper; vera is viewer")
    context.close()


def test_a_keeper_invites_somebody_who_signs_in_without_scripts(browser: Browser, house: House) -> None:
    context = signed_in(browser, house, "kate", Role.KEEPER)
    page = context.new_page()
    errors = errors_of(page)
    page.goto(f"{house.url}/set-up/accounts")
    page.locator("#invite-name").fill("newt")
    page.locator("#invite-role").select_option("responder")
    page.get_by_role("button", name="Make an invitation").click()
    code = page.locator("#once").inner_text()
    take(page, OUTPUT / "invitation-phone.png", full_page=True)
    assert CODE.fullmatch(code)
    guest = context_of(browser, scripts=False).new_page()
    guest.goto(house.url)
    guest.get_by_role("link", name="I have an invitation").click()
    guest.get_by_label("Code").fill(code)
    guest.get_by_label("Name").fill("newt")
    guest.get_by_label("New password", exact=True).fill(PASSWORD)
    guest.get_by_label("The new password once more").fill(PASSWORD)
    guest.get_by_role("button", name="Set the password and sign in").click()
    expect(guest.locator(".visitor")).to_contain_text("newt, responder")
    guest.context.close()
    page.goto(f"{house.url}/set-up/audit")
    expect(page.locator("main")).to_contain_text("newt")
    assert errors == []
    context.close()


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_pages_fit_and_have_no_serious_finding(
    browser: Browser, house: House, size: ViewportSize, dark: bool
) -> None:
    with house.access() as desk:
        session = make_account(desk, f"look-{size['width']}-{dark}".lower(), Role.KEEPER)
        desk.add_key(None, f"screen-{size['width']}-{dark}".lower(), Role.VIEWER, "host")
    stranger, keeper = context_of(browser, size, dark=dark), context_of(browser, size, dark=dark)
    carry(keeper, house.url, session)
    for context, paths in ((stranger, FOR_STRANGERS), (keeper, PAGES)):
        page = context.new_page()
        errors = errors_of(page)
        for path in paths:
            page.goto(f"{house.url}{path}")
            page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
            name = path.partition("?")[0].strip("/").replace("/", "-")
            take(
                page,
                OUTPUT / f"{name}-{'phone' if size == PHONE else 'desk'}-{'dark' if dark else 'light'}.png",
                full_page=True,
            )
            assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), path
            found = [
                each for each in Axe().run(page).response["violations"] if each["impact"] in ("serious", "critical")
            ]
            assert [(each["id"], [node["html"] for node in each["nodes"]]) for each in found] == [], path
            for each in page.locator("a:visible, summary:visible, button:visible, input:visible, select:visible").all():
                box = each.bounding_box()
                assert box is not None
                assert box["height"] >= FINGER_PX, (path, each.evaluate("each => each.outerHTML"))
        assert errors == []
        context.close()
