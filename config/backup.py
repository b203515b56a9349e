"""`[backup]` of settings.toml: where copies of the record go, when, and how many are kept."""

from collections.abc import Iterator
from datetime import time
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, Field

from config.errors import Mistake
from config.model import Table
from config.time_of_day import read_time_of_day

_Count = Annotated[int, Field(ge=0, le=1000)]


class BackupSettings(Table):
    """Without a `folder` none is made. `at`: time of day at the site.

    The newest of each of the last `keep_days` days that have one is kept, and so of each week and month.
    """

    folder: Path | None = None
    at: Annotated[time, BeforeValidator(read_time_of_day)] = time(3, 30)
    keep_days: Annotated[int, Field(ge=1, le=1000)] = 14
    keep_weeks: _Count = 8
    keep_months: _Count = 24


def backup_mistakes(backup: BackupSettings, journal: Path, file: str) -> Iterator[Mistake]:
    """Warn of a folder that would be lost together with the journal; asks no disk."""
    if backup.folder is not None and backup.folder == journal.parent:
        reason = "the folder of the journal itself is no place for its backups"
        yield Mistake(file, "backup.folder", reason, "Name a folder of its own, on another disk or a mounted share.")
