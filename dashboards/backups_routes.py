"""The address of the page of backups. It reads the journal alone: a share that hangs holds up no page."""

from collections.abc import Sequence
from datetime import tzinfo
from typing import Annotated, Protocol

from fastapi import APIRouter, Depends
from fastapi.responses import HTMLResponse, Response

from daemon.backups.told import BackupStanding
from daemon.storage.backups import BackupRun
from dashboards.backups_json import BackupRunsJson, BackupsJson, backup_runs_json, backups_json
from dashboards.backups_view import BACKUPS_PATH, backups_view
from dashboards.paging import PageWish, page_wish, paged
from dashboards.rendering import render
from dashboards.source import KEPT_S, Source

_SHOWN, _MOST = 50, 500
_Page = Annotated[PageWish, Depends(page_wish(_SHOWN, _MOST))]


class BackupPages(Protocol):
    """What this page and `/health` need."""

    @property
    def zone(self) -> tzinfo:
        """The time zone of the site."""

    def look(self) -> BackupStanding:
        """Everything that is known now."""

    def runs(self, before: int | None, limit: int) -> Sequence[tuple[int, BackupRun]]:
        """The newest attempts before one, each with its number."""

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

    @router.get("/api/backups/runs", summary="Every backup that was tried", tags=["Service"], **paged(BackupRunsJson))
    def api_backup_runs(page: _Page) -> Response:
        """Every attempt since the journal began, the newest first, by pages."""
        found = Source(lambda: backups.runs(page.number, page.limit + 1))()
        shown, older = page.cut(found, lambda each: each[0])
        return page.answer(backup_runs_json([run for _, run in shown], older))

    return router
