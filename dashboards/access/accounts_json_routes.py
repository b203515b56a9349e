"""Addresses of accounts and of the record of changes, for the programs of keepers. They read, and change nothing."""

from typing import Annotated

from fastapi import APIRouter, Depends, Query
from fastapi.responses import Response

from daemon.access_desk import AccessDesk
from dashboards.access.accounts_json import AccountsJson, ChangesJson, accounts_json, changes_json
from dashboards.access.audit_routes import Changes
from dashboards.access.audit_view import SHOWN
from dashboards.access.door import Door
from dashboards.access.policy import ACCOUNTS_PATH, AUDIT_PATH
from dashboards.paging import PageWish, page_wish, paged
from dashboards.source import Source

_MOST = 500
_LONGEST_NAME = 300
_About = Annotated[str, Query(max_length=_LONGEST_NAME, description="Changes of this thing alone, as in `about`.")]
_Page = Annotated[PageWish, Depends(page_wish(SHOWN, _MOST, ["about"]))]


def accounts_json_router(door: Door, desk: AccessDesk) -> APIRouter:
    """Make the route of the accounts."""
    router = APIRouter(tags=["Accounts"])

    @router.get(f"/api{ACCOUNTS_PATH}", summary="Accounts and keys of programs")
    def api_accounts() -> AccountsJson:
        """Who may sign in, with which role, and which programs have a key. Keepers alone may read it."""
        accounts, keys = Source(lambda: (desk.accounts(), desk.keys()))()
        return accounts_json(accounts, keys, door.now_ms())

    return router


def changes_json_router(changes: Changes) -> APIRouter:
    """Make the route of the changes."""
    router = APIRouter(tags=["Accounts"])

    @router.get(f"/api{AUDIT_PATH}", summary="Who changed what", **paged(ChangesJson))
    def api_changes(page: _Page, about: _About = "") -> Response:
        """Every change that no other journal has, the newest first, by pages. Keepers alone may read it."""
        found = Source(lambda: changes(page.limit + 1, page.number, about))()
        shown, older = page.cut(found, lambda each: each.event_id)
        return page.answer(changes_json(shown, older))

    return router
