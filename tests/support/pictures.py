"""Pictures of pages, kept for people to look at."""

from pathlib import Path

from playwright.sync_api import Error, Page

_TRIES = 4


def take(page: Page, path: Path, *, full_page: bool = False) -> None:
    """Keep a picture of a page; a browser under load now and then has none to give, and is asked again."""
    for tried in range(1, _TRIES + 1):
        try:
            page.screenshot(path=path, full_page=full_page)
        except Error as error:
            if "Unable to capture" not in error.message or tried == _TRIES:
                raise
        else:
            return
