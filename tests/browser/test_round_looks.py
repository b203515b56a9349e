"""How a round through two cabinets reads on a small phone: where boxes stand, what is dangerous, what is missing."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from daemon.clutches.register import add_clutch
from daemon.storage.journal import Journal
from tests.rounds.bench import MORE, S1
from tests.support.household import DAY_MS, a_clutch, now_ms
from tests.support.pictures import take
from tests.support.round_phone import SMALL_PHONE, fits, phone
from tests.support.round_site import RoundHouse, key_of

pytestmark = pytest.mark.services

OUTPUT = Path(__file__).parents[1] / "output"
LEAST_GAP_PX = 5
APART = """(least) => {
  const buttons = [...document.querySelectorAll("[data-field=skipped] .quick button")];
  const boxes = buttons.map((each) => each.getBoundingClientRect());
  const pairs = boxes.flatMap((one, at) => boxes.slice(at + 1).map((other) => [one, other]));
  return pairs.length > 0 && pairs.every(([one, other]) =>
    other.left - one.right >= least || one.left - other.right >= least
    || other.top - one.bottom >= least || one.top - other.bottom >= least);
}"""


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RoundHouse]:
    made = RoundHouse(tmp_path / "site", 2)
    site = made.folder / "site.toml"
    site.write_text(site.read_text(encoding="utf-8") + MORE, encoding="utf-8")
    with Journal.open(made.journal_path) as journal:
        at_ms = now_ms()
        crocodile = replace(a_clutch(at_ms - 10 * DAY_MS, "Thistle", S1), species_id="crocodylus-palustris")
        journal.write(lambda conn: add_clutch(conn, crocodile, "test", at_ms))
    made.open()
    try:
        yield made
    finally:
        made.service.stop()


def shown(page: Page, name: str, kind: str) -> None:
    fits(page)
    take(page, OUTPUT / f"round-looks-{name}-{kind}.png", full_page=True)


@pytest.mark.parametrize("kind", ["light", "dark"])
def test_a_round_through_two_cabinets_reads_on_its_own(browser: Browser, house: RoundHouse, kind: str) -> None:
    page = phone(browser, house, viewport=SMALL_PHONE, color_scheme=kind)
    page.goto(f"{house.url}/rounds")
    page.get_by_role("button", name="Start as").tap()
    # Whoever forgot to say where is put there.
    expect(page.locator("#start-incubator-error")).to_be_in_viewport()
    expect(page.locator("[name=incubator]").first).to_be_focused()
    every = page.locator("label", has_text="All of them")
    expect(every).to_contain_text("silent in every incubator from the start, for 30 minutes at the most")
    shown(page, "start", kind)
    page.get_by_role("radio", name="All of them").check()
    page.get_by_role("button", name="Start as").tap()
    expect(page.locator("#saved")).to_contain_text("All is stored.")

    north, south = (page.locator(f"#rows [data-key='{key}']") for key in (key_of(1), S1))
    expect(north).to_contain_text("North cabinet, upper shelf")
    expect(south).to_contain_text("South cabinet, low shelf")
    expect(south).to_contain_text("Caution")
    expect(north).not_to_contain_text("Caution")
    expect(north.locator(".word")).to_have_text("to do")
    # Nobody has to do anything where no eggs lie.
    expect(page.locator("#rows [data-key='third/mid/T1'] .word")).to_have_text("no eggs")
    shown(page, "walk", kind)

    north.get_by_role("link").tap()
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    nothing_entered = page.get_by_role("region", name="Entered in this round")
    assert nothing_entered.evaluate("(place) => getComputedStyle(place).borderTopWidth") == "0px"
    assert page.evaluate(APART, LEAST_GAP_PX)
    shown(page, "box", kind)

    page.get_by_role("checkbox", name="3", exact=True).check()
    page.get_by_role("radio", name="put on watch").tap()
    expect(page.locator("#saved")).to_contain_text("All is stored.")
    page.goto(f"{house.url}/rounds")
    page.get_by_role("link", name="Go on with all of them").tap()
    page.get_by_role("link", name="Summary and end").tap()
    page.get_by_role("button", name="End all of these rounds").tap()
    page.get_by_role("button", name="End all of these rounds all the same").tap()
    expect(page.locator("#said")).to_contain_text("These rounds are ended.")
    expect(page.locator("main")).to_contain_text("Egg 3: on watch")
    shown(page, "ended", kind)
    page.context.close()
