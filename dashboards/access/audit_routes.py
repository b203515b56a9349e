"""Address of the record of changes: to read, and nothing to change."""

from collections.abc import Callable, Sequence
from zoneinfo import ZoneInfo

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from daemon.storage.audit import AuditEvent
from dashboards.access.audit_view import SHOWN, audit_view
from dashboards.access.policy import AUDIT_PATH
from dashboards.rendering import render
from dashboards.source import Source

Changes = Callable[[int, int | None, str], Sequence[AuditEvent]]
"""Gives so many of the newest changes, those before a number where one is given, and those of one thing alone."""
_LONGEST_NUMBER = 18


def audit_router(changes: Changes, zone: ZoneInfo) -> APIRouter:
    """Make the route."""
    router = APIRouter(include_in_schema=False)

    @router.api_route(AUDIT_PATH, methods=["GET", "HEAD"], response_class=HTMLResponse)
    def audit_page(before: str = "", about: str = "") -> HTMLResponse:
        is_number = before.isascii() and before.isdecimal() and len(before) <= _LONGEST_NUMBER
        number = int(before) if is_number else None
        if before and number is None:
            page = render("not_found.html", what="page of changes", path=AUDIT_PATH, back="The newest changes")
            return HTMLResponse(page, 404)
        found = Source(lambda: changes(SHOWN + 1, number, about))()
        return HTMLResponse(render("audit.html", view=audit_view(found, about, number, zone)))

    return router
