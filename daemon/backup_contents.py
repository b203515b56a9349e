"""What is in a journal that was restored, read from it, in a few words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from pathlib import Path

from daemon.clutches import register
from daemon.storage import backup
from daemon.storage.journal import Journal


@dataclass(frozen=True, slots=True)
class Contents:
    """The newest reading (UTC ms), how many there are, and the clutches: those that are open by name."""

    newest_reading_ms: int | None
    readings: int
    photos: int
    open_clutches: Sequence[str]
    closed_clutches: int


def read_contents(path: Path) -> Contents:
    """Open a journal as the service does, which brings it up to date, and look into it. Raises JournalError."""
    with Journal.open(path) as journal, journal.read() as conn:
        clutches = register.clutches(conn, include_closed=True)
        lying = [each.label for each in clutches if each.is_open]
        found = backup.snapshot(conn)
        return Contents(
            newest_reading_ms=found.newest_reading_ms,
            readings=found.counts["sample"],
            photos=len(found.photos),
            open_clutches=lying,
            closed_clutches=len(clutches) - len(lying),
        )


def contents_text(contents: Contents, zone: tzinfo) -> str:
    """Write it in one line."""
    newest = "no reading"
    if contents.newest_reading_ms is not None:
        moment = datetime.fromtimestamp(contents.newest_reading_ms / 1000, UTC).astimezone(zone)
        newest = f"{contents.readings:,} readings, the newest of {moment:%Y-%m-%d %H:%M}"
    lying = len(contents.open_clutches)
    return (
        f"{newest}; {lying} open clutch{'es' * (lying != 1)}, {contents.closed_clutches} closed; "
        f"{contents.photos} photo{'s' * (contents.photos != 1)}"
    )
