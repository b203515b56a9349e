"""Puts the door before an app, with all pages of sign-in and accounts."""

from zoneinfo import ZoneInfo

from fastapi import FastAPI, Request
from fastapi.responses import Response

from dashboards.access.account_routes import account_router
from dashboards.access.accounts_json_routes import accounts_json_router, changes_json_router
from dashboards.access.accounts_routes import accounts_router
from dashboards.access.audit_routes import Changes, audit_router
from dashboards.access.door import Door
from dashboards.access.entry_routes import entry_router
from dashboards.access.middleware import Doorkeeper, wants_json
from dashboards.access.refusals import not_our_form
from dashboards.forms import GuardError


def put_up(app: FastAPI, door: Door, changes: Changes | None) -> None:
    """Let nobody by who may not come in. Middleware that is added afterwards stands before the door."""
    app.add_middleware(Doorkeeper, door=door)
    app.add_exception_handler(GuardError, _refused)
    if door.desk is not None:
        for router in (entry_router, account_router, accounts_router, accounts_json_router):
            app.include_router(router(door, door.desk))
    if changes is not None:
        app.include_router(audit_router(changes, ZoneInfo(door.time_zone)))
        app.include_router(changes_json_router(changes))


def _refused(request: Request, _error: Exception) -> Response:
    return not_our_form(as_json=wants_json(request.url.path, request.headers))
