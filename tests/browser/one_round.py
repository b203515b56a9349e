"""The one round of a house, box by box: where it is, what was said of it, and what the page says of what it keeps."""

from playwright.sync_api import Page, expect

from tests.support.round_site import RoundHouse

SENT = "**/rounds/entries"
BACK_MS = 40_000


def box(house: RoundHouse, number: int) -> str:
    """The address of a box."""
    return f"{house.url}/rounds/1/box/north/upper/N{number}"


def said(house: RoundHouse, number: int) -> list[tuple[object, ...]]:
    """What the journal has of it."""
    return house.rows(
        f"SELECT who, medium, wiped, all_well, remark FROM box_finding WHERE box = 'north/upper/N{number}'"
    )


def stored(page: Page) -> None:
    """Wait until the page says that nothing waits."""
    expect(page.locator("#saved")).to_contain_text("All is stored.", timeout=BACK_MS)
