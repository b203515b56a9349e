"""The files of a report, written one after the other into a folder or a zip, in bounded memory, with a list of sums.

A piece gives its bytes when it is asked for them. The sums are those of the bytes that were written, in the form that
`sha256sum --check` reads; they come last, so a folder without them is not whole.
"""

import hashlib
import os
import shutil
import tempfile
import zipfile
from collections.abc import Callable, Generator, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from config.errors import StatedError
from daemon.reports.names import SUMS

_FIRST_OF_ZIP = datetime(1980, 1, 1)  # noqa: DTZ001 - the times of a zip are local ones
_PACKING = 4
"""The usual 6 takes nearly twice as long for readings, and saves a few per cent."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A file of a report: its name, with `/` between folders, and what gives its bytes."""

    name: str
    chunks: Callable[[], Iterable[bytes]]


@dataclass(frozen=True, slots=True)
class Bundle:
    """A report as files. `name` is that of its folder; `readings` says how many lines of readings there will be."""

    name: str
    pieces: tuple[Piece, ...]
    readings: int = 0


def text_piece(name: str, text: str) -> Piece:
    """A file that is there already."""
    return Piece(name, lambda: [text.encode()])


def _with_sums(bundle: Bundle) -> Iterator[tuple[str, Iterable[bytes]]]:
    """Give each file to be written whole before the next one, and the sums in the end."""
    sums: list[str] = []
    for piece in bundle.pieces:
        digest = hashlib.sha256()
        yield piece.name, _summed(piece.chunks(), digest.update)
        sums.append(f"{digest.hexdigest()}  {piece.name}\n")
    yield SUMS, ["".join(sums).encode()]


def _summed(chunks: Iterable[bytes], add: Callable[[bytes], None]) -> Iterator[bytes]:
    for chunk in chunks:
        add(chunk)
        yield chunk


def refuse_taken(folder: Path) -> None:
    """Raise StatedError where something is in the way of a new folder; one that is empty is not."""
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise StatedError(f"{folder} is there already, and is no folder", "give another name with --to")
    try:
        taken = folder.is_dir() and any(folder.iterdir())
    except OSError as error:
        raise StatedError(f"{folder} cannot be read: {_told(error)}", "give another folder with --to") from None
    if taken:
        raise StatedError(f"{folder} is not empty", "nothing is overwritten: give another folder with --to")


def write_folder(bundle: Bundle, folder: Path) -> None:
    """Write a report as a new folder, whole or not at all. Raises StatedError where that cannot be done."""
    refuse_taken(folder)
    try:
        folder.absolute().parent.mkdir(parents=True, exist_ok=True)
        part = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.absolute().parent))
    except OSError as error:
        raise StatedError(f"{folder} cannot be made: {_told(error)}", "give another folder with --to") from None
    try:
        for name, chunks in _with_sums(bundle):
            _write(part / name, chunks)
        part.chmod(0o755)
        # Onto an empty folder or none; one that was filled meanwhile is refused by the system itself.
        part.replace(folder.absolute())
    except OSError as error:
        raise StatedError(f"{folder} cannot be written: {_told(error)}", "nothing of it is left; make room") from None
    finally:
        with suppress(OSError):
            shutil.rmtree(part, ignore_errors=True)


def _write(path: Path, chunks: Iterable[bytes]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("xb") as file:
        for chunk in chunks:
            file.write(chunk)
        file.flush()
        os.fsync(file.fileno())


def _told(error: OSError) -> str:
    return (error.strerror or str(error)).lower()


class _Sink:
    """Takes what a zip writes until somebody fetches it. It cannot be read or gone back in."""

    def __init__(self) -> None:
        self._parts: list[bytes] = []

    def write(self, data: bytes) -> int:
        self._parts.append(bytes(data))
        return len(data)

    def flush(self) -> None:
        """Nothing waits here."""

    def fetch(self) -> bytes:
        found = b"".join(self._parts)
        self._parts.clear()
        return found


def zip_stream(bundle: Bundle, now: datetime) -> Generator[bytes, None, None]:
    """Give a report as a zip, chunk by chunk; `now` is the time that its files get, 1980 at the earliest."""
    sink, made = _Sink(), max(now.replace(tzinfo=None), _FIRST_OF_ZIP)
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED, compresslevel=_PACKING) as packed:  # type: ignore[call-overload]
        for name, chunks in _with_sums(bundle):
            entry = zipfile.ZipInfo(f"{bundle.name}/{name}", made.timetuple()[:6])
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            # How long it becomes nobody knows before it is written.
            with packed.open(entry, "w", force_zip64=True) as file:
                for chunk in chunks:
                    file.write(chunk)
                    if ready := sink.fetch():
                        yield ready
    yield sink.fetch()
