"""Backups as JSON: what was tried, and what came of it."""

from collections.abc import Sequence

from pydantic import BaseModel, ConfigDict

from daemon.backups.told import BackupStanding
from daemon.storage.backups import BackupRun
from dashboards.paging import PageJson


class _Json(BaseModel):
    model_config = ConfigDict(frozen=True, from_attributes=True)


class BackupRunJson(_Json):
    """One attempt. `name` is empty where no backup was made; `told` says why not, or what deserves a warning."""

    began_ms: int
    ended_ms: int
    folder: str
    name: str
    good: bool
    byte_count: int
    told: str


class RestoreTestJson(_Json):
    """A backup that was restored to try it."""

    began_ms: int
    ended_ms: int
    name: str
    good: bool
    told: str


class BackupsJson(_Json):
    """The backups of the site. `folder` is empty where none is stated.

    `trouble`: why nothing can be written there, empty where all is well, null where that is not known. `good`: the
    newest good backup in that folder; `runs`: the newest attempts, newest first.
    """

    now_ms: int
    folder: str
    at: str
    trouble: str | None
    good: BackupRunJson | None
    runs: list[BackupRunJson]
    test: RestoreTestJson | None


class BackupRunsJson(PageJson):
    """A page of all attempts, the newest first, also those of backups that were removed since."""

    runs: list[BackupRunJson]


def backup_runs_json(shown: Sequence[BackupRun], next_page: str | None) -> BackupRunsJson:
    """Give a page of attempts as JSON."""
    return BackupRunsJson(runs=[BackupRunJson.model_validate(each) for each in shown], next=next_page)


def backups_json(standing: BackupStanding) -> BackupsJson:
    """Give what is known as JSON."""
    return BackupsJson.model_validate(standing)
