"""What a backup says of itself: a small JSON file. Pure.

Whatever cannot be read as one is refused with a sentence, since it may come from a share that somebody else writes to.
"""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from typing import Any

FORMAT = 1
MOST_BYTES = 4_000_000
"""The largest text that is read as one; a site with hundreds of species needs a hundredth of it."""
_AFTER_ALL_MS = 253_402_214_400_000
"""The last day of the year 9999: no calendar of this program goes on behind it."""
_KIND = "clutchwarden backup"


class ManifestError(ValueError):
    """The manifest cannot be used; the text says why, as the rest of a sentence."""


@dataclass(frozen=True, slots=True)
class FileThere:
    """A file of a backup: its name in it with `/` between folders, size in bytes, SHA-256 in hexadecimal."""

    name: str
    byte_count: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """All of it. Times are UTC ms.

    `counts`: rows of each table at the moment of the copy. `chain_head`: the code of the newest link of the
    chain over events, empty where there is none. `photos` and `photo_bytes`: of all photos on record then.
    """

    name: str
    made_ms: int
    version: str
    schema: int
    site: str
    origin: str
    counts: Mapping[str, int]
    files: tuple[FileThere, ...]
    newest_reading_ms: int | None = None
    photos: int = 0
    photo_bytes: int = 0
    chain_head: str = ""
    warnings: tuple[str, ...] = field(default=())

    @property
    def byte_count(self) -> int:
        """The size of its files together, without photos."""
        return sum(each.byte_count for each in self.files)


def to_json(manifest: Manifest) -> str:
    """Write it, with the moment for people beside that for programs."""
    made_at = datetime.fromtimestamp(manifest.made_ms / 1000, UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    whole = {"what": _KIND, "format": FORMAT, "made_at": made_at, **asdict(manifest)}
    return json.dumps(whole, ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def from_json(text: str) -> Manifest:
    """Read it. Raises ManifestError."""
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        raise ManifestError("its manifest is not JSON") from None
    if not isinstance(found, dict) or found.get("what") != _KIND:
        raise ManifestError("its manifest is that of something else")
    if not isinstance(found.get("format"), int) or found["format"] > FORMAT:
        raise ManifestError("a newer version of clutchwarden made it, in a form that this version does not know")
    try:
        return _manifest(found)
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError):
        raise ManifestError("its manifest is incomplete, or somebody changed it") from None


def _manifest(found: Mapping[str, Any]) -> Manifest:
    newest, made_ms = found.get("newest_reading_ms"), int(found["made_ms"])
    if not 0 <= made_ms < _AFTER_ALL_MS:
        raise ValueError(made_ms)
    return Manifest(
        name=str(found["name"]),
        made_ms=made_ms,
        version=str(found["version"]),
        schema=int(found["schema"]),
        site=str(found["site"]),
        origin=str(found["origin"]),
        counts={str(table): int(count) for table, count in found["counts"].items()},
        files=tuple(_file(each) for each in found["files"]),
        newest_reading_ms=None if newest is None else int(newest),
        photos=int(found.get("photos", 0)),
        photo_bytes=int(found.get("photo_bytes", 0)),
        chain_head=str(found.get("chain_head", "")),
        warnings=tuple(str(each) for each in found.get("warnings", ())),
    )


def _file(found: Mapping[str, Any]) -> FileThere:
    name = str(found["name"])
    parts = name.split("/")
    # A name out of a file that anybody may have written must not lead out of the folder.
    if not name or "\\" in name or ":" in name or any(part in ("", ".", "..") for part in parts):
        raise ValueError(name)
    return FileThere(name, int(found["byte_count"]), str(found["sha256"]))
