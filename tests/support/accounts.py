"""Accounts for tests: made as a command on the machine makes them, and signed in as a browser does."""

import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from html import unescape
from pathlib import Path

import httpx
from playwright.sync_api import BrowserContext, Page

from config.check import check_site
from daemon.access.values import Refused, Role, SignedIn
from daemon.access_desk import AccessDesk
from daemon.storage.audit import HOST
from dashboards.access.cookies import PLAIN_NAME
from tests.support.journals import new_journal

PASSWORD = "violet gravel ladder seven moth"
DEVICE = "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0"


@contextmanager
def access_of(folder: Path) -> Iterator[AccessDesk]:
    """The accounts of a site's folder."""
    checked = check_site(folder)
    assert checked.site is not None
    assert checked.settings is not None
    with new_journal(checked.settings.storage.journal) as journal:
        yield AccessDesk(journal, checked.site, lambda: time.time_ns() // 1_000_000)


def make_account(desk: AccessDesk, name: str = "ana", role: Role = Role.KEEPER) -> SignedIn:
    """An account with `PASSWORD`, and a session of it. The first one has to be a keeper's."""
    made = desk.first_code(None, HOST) if desk.needs_first() else desk.invite(None, name, role, HOST)
    assert not isinstance(made, Refused), made.reason
    signed_in = desk.accept(made[0], name, PASSWORD, "127.0.0.1", DEVICE)
    assert isinstance(signed_in, SignedIn), signed_in.reason
    assert signed_in.visitor.role is role
    return signed_in


def make_key(desk: AccessDesk, name: str = "reader", role: Role = Role.VIEWER) -> str:
    """The key of a program."""
    key = desk.add_key(None, name, role, HOST)
    assert not isinstance(key, Refused), key.reason
    return key


def carry(context: BrowserContext, url: str, session: SignedIn) -> None:
    """Give a browser the cookie of a session, as if it had signed in."""
    context.add_cookies([{"name": PLAIN_NAME, "value": session.token, "url": url, "httpOnly": True}])


def sign_in(page: Page, name: str = "ana", password: str = PASSWORD) -> None:
    """Fill in the page of sign-in, which is open, and send it."""
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password", exact=True).fill(password)
    page.get_by_role("button", name="Sign in").click()


def guard_in(page: str) -> str:
    """The guard token that the forms of a page carry."""
    found = re.search(r'name="guard" value="([^"]+)"', page)
    return unescape(found[1]) if found else ""


def client_of(url: str, session: SignedIn) -> httpx.Client:
    """A client that sends the cookie of a session."""
    return httpx.Client(base_url=url, cookies={PLAIN_NAME: session.token}, timeout=60)
