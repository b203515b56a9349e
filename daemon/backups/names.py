"""How backups are named, and the files in them. Pure.

A backup is a folder of its own, named by its moment (UTC) and by the journal that it is of. No sign in a name is one
that a share of another system refuses.
"""

import re
from datetime import UTC, datetime

MARKER = "clutchwarden-backups.json"
"""Written into a folder once, by somebody who looked. A share that is not mounted is an empty folder without it."""
MANIFEST = "manifest.json"
JOURNAL = "journal.sqlite3"
PHOTOS = "photos"
"""One folder of photos for all backups: a photo is never changed, so it is copied once."""
UNFINISHED = ".unfinished-"
"""Begins the name of what is not a backup yet."""
_NAME = re.compile(r"(\d{4}-\d{2}-\d{2}T\d{6})Z-([0-9a-f]{8})")


def name_of(made_ms: int, origin: str) -> str:
    """Give the name of a backup: `2026-10-03T013000Z-1f0c77aa`."""
    return f"{datetime.fromtimestamp(made_ms / 1000, UTC):%Y-%m-%dT%H%M%S}Z-{origin}"


def moment_of(name: str) -> int | None:
    """Give the moment (UTC ms) in the name of a backup; None where it is not the name of one."""
    found = _NAME.fullmatch(name)
    if found is None:
        return None
    try:
        moment = datetime.strptime(found[1], "%Y-%m-%dT%H%M%S").replace(tzinfo=UTC)
    except ValueError:
        return None
    return round(moment.timestamp() * 1000)


def is_of(name: str, origin: str) -> bool:
    """True for the name of a backup of this journal."""
    return moment_of(name) is not None and name.endswith(f"-{origin}")


def is_left_over(name: str, origin: str) -> bool:
    """True for what a backup of this journal left that was cut off."""
    return name.startswith(UNFINISHED) and is_of(name.removeprefix(UNFINISHED), origin)
