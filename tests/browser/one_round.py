"""The one round of a house, box by box: where it is, what was said of it, and what the page says of what it keeps."""

from playwright.sync_api import Page, expect

from tests.support.round_site import RoundHouse

SENT = "**/rounds/entries"
BACK_MS = 40_000

# Pictures are made small only when they are told to go on.
LATE_PICTURES = """
const made = window.createImageBitmap;
window.createImageBitmap = async (...asked) => {
  window.begun = (window.begun ?? 0) + 1;
  await new Promise((go) => { window.goOn = go; });
  return made(...asked);
};
"""
# Each write (put) or read (getAll) of the database takes so long.
SLOW = """
for (const name of ["put", "getAll"]) {
  const given = IDBObjectStore.prototype[name];
  IDBObjectStore.prototype[name] = function (...asked) {
    const until = performance.now() + (window.slow?.[name] ?? 0);
    const request = given.apply(this, asked);
    // A transaction lasts for as long as something is asked of it.
    const goOn = () => performance.now() < until && this.count().addEventListener("success", goOn);
    this.count().addEventListener("success", goOn);
    return request;
  };
}
"""


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
