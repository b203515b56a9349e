"""A phone on a round: a real browser of the size of one, signed in at the house."""

import io

from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize, expect

from daemon.access.values import Role
from tests.support.accounts import carry, make_account
from tests.support.round_site import RoundHouse

PHONE: ViewportSize = {"width": 390, "height": 844}
SMALL_PHONE: ViewportSize = {"width": 360, "height": 740}
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
"""A browser that starts as root and asks nobody outside."""
FINGER_PX = 48
COUNT = 6
VENOMOUS = 3
"""The house of these tests has so many boxes, and in this one lies a venomous clutch."""


def phone(browser: Browser, house: RoundHouse, name: str = "ben", role: Role = Role.RESPONDER, **more: object) -> Page:
    """A phone of somebody who has signed in."""
    options: dict[str, object] = {"viewport": PHONE, "has_touch": True, "is_mobile": True, **more}
    context: BrowserContext = browser.new_context(**options)  # type: ignore[arg-type]
    with house.access() as desk:
        carry(context, house.url, make_account(desk, name, role))
    page = context.new_page()
    page.set_default_timeout(40_000)
    return page


def errors_of(page: Page) -> list[str]:
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda said: errors.append(said.text) if said.type == "error" else None)
    return errors


def begin(page: Page, house: RoundHouse, *, scripts: bool = True) -> None:
    page.goto(f"{house.url}/rounds")
    page.get_by_role("button", name="Start as").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"0 of {COUNT} done")
    if scripts:
        # A tap before the boxes are in the phone sends the plain form, whose next page has no "Undo".
        expect(page.locator("#saved")).to_contain_text("All is stored.")


def fits(page: Page) -> None:
    """No sideways scrolling, nothing smaller than a finger to press, and no serious finding."""
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), page.url
    small = page.evaluate(
        "(most) => [...document.querySelectorAll('a, button, summary, select, input, textarea')]"
        ".filter((each) => each.type !== 'hidden' && each.offsetParent !== null"
        " && each.getBoundingClientRect().height < most).map((each) => each.outerHTML)",
        FINGER_PX,
    )
    assert small == []
    found = [each for each in Axe().run(page).response["violations"] if each["impact"] in ("serious", "critical")]
    assert [(each["id"], [node["html"] for node in each["nodes"]]) for each in found] == []


def photo_bytes(side: int = 2400) -> bytes:
    out = io.BytesIO()
    Image.effect_noise((side, side), 60).convert("RGB").save(out, "JPEG", quality=90)
    return out.getvalue()
