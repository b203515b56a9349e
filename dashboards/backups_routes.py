"""The address of the page of backups. It reads the journal alone: a share that hangs holds up no page."""

from datetime import tzinfo
from typing import Protocol

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from daemon.backups.told import BackupStanding
from dashboards.backups_json import BackupsJson, backups_json
from dashboards.backups_view import BACKUPS_PATH, backups_view
from dashboards.rendering import render
from dashboards.source import KEPT_S, Source


class BackupPages(Protocol):
    """What this page and `/health` need."""

    @property
    def zone(self) -> tzinfo:
        """The time zone of the site."""

    def look(self) -> BackupStanding:
        """Everything that is known now."""

    def line(self) -> str:
        """The same in one line."""


def backups_router(backups: BackupPages) -> APIRouter:
    """Make the route."""
    router = APIRouter()
    look = Source(backups.look, KEPT_S)

    @router.api_route(BACKUPS_PATH, methods=["GET", "HEAD"], response_class=HTMLResponse, include_in_schema=False)
    def page() -> str:
        return render("backups.html", view=backups_view(look(), backups.zone))

    @router.get("/api/backups", summary="Backups", tags=["Service"])
    def api_backups() -> BackupsJson:
        """Where backups go, the newest good one, what was tried lately, and the newest restore test."""
        return backups_json(look())

    return router
