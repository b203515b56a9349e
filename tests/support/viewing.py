"""A page in a browser of a size, with everything that it complains of."""

from playwright.sync_api import Browser, Page, ViewportSize


def opened(browser: Browser, url: str, size: ViewportSize, *, dark: bool = False) -> tuple[Page, list[str]]:
    """Open the page; the list grows with each error and warning of its console."""
    page = browser.new_context(viewport=size, color_scheme="dark" if dark else "light").new_page()
    errors: list[str] = []
    page.on("console", lambda said: errors.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.goto(url)
    return page, errors
