"""A bar on standard error for work on backups, once it takes longer than a moment."""

import time
from collections.abc import Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import Progress

from daemon.backup_task import BackupTask
from daemon.commands.progress import PATIENCE_S


@contextmanager
def with_bar(console: Console | None = None) -> Iterator[BackupTask]:
    """Give a task whose progress is shown after two seconds; the bar goes when it ends."""
    progress = Progress(console=console or Console(stderr=True), transient=True)
    bar = progress.add_task("Backup", total=1.0)
    began_s = time.monotonic()

    def told(what: str, share: float) -> None:
        if time.monotonic() - began_s > PATIENCE_S:
            progress.start()
            progress.update(bar, description=what, completed=share)

    try:
        yield BackupTask(told)
    finally:
        if progress.live.is_started:
            progress.stop()
