"""Addresses of accounts and of the record of changes, for the programs of keepers. They read, and change nothing."""

from typing import Annotated

from fastapi import APIRouter, Query

from daemon.access_desk import AccessDesk
from dashboards.access.accounts_json import AccountsJson, ChangesJson, accounts_json, changes_json
from dashboards.access.audit_routes import Changes
from dashboards.access.audit_view import SHOWN
from dashboards.access.door import Door
from dashboards.access.policy import ACCOUNTS_PATH, AUDIT_PATH
from dashboards.source import Source

_LARGEST_NUMBER = 2**63 - 1
_MOST = 500
_LONGEST_NAME = 300
_Before = Annotated[
    int | None,
    Query(ge=1, le=_LARGEST_NUMBER, description="Changes with a smaller number than this; else the newest."),
]
_About = Annotated[str, Query(max_length=_LONGEST_NAME, description="Changes of this thing alone, as in `about`.")]
_Limit = Annotated[int, Query(ge=1, le=_MOST, description="So many changes at the most.")]


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

    @router.get(f"/api{AUDIT_PATH}", summary="Who changed what")
    def api_changes(before: _Before = None, about: _About = "", limit: _Limit = SHOWN) -> ChangesJson:
        """Every change that no other journal has, the newest first, by pages. Keepers alone may read it."""
        return changes_json(Source(lambda: changes(limit + 1, before, about))(), limit)

    return router
