"""One daemon for one journal."""

import contextlib
import fcntl
from collections.abc import Iterator
from pathlib import Path
from typing import IO


class ServiceError(Exception):
    """The daemon cannot start; the text says why and what to do."""


@contextlib.contextmanager
def only_one(journal: Path) -> Iterator[None]:
    """Hold the journal for this daemon alone; two of them would send every alert twice."""
    lock: IO[str]
    try:
        journal.parent.mkdir(parents=True, exist_ok=True)
        lock = journal.with_suffix(".lock").open("w")
    except OSError as error:
        raise ServiceError(
            f"The folder of the journal cannot be written: {journal.parent} ({(error.strerror or '').lower()}). "
            "Let the account that runs clutchwarden write there, or name another journal in settings.toml."
        ) from error
    with lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            raise ServiceError(
                f"Another clutchwarden already runs with the journal {journal}. "
                "End that one first, or give this site a journal of its own."
            ) from error
        yield
