"""The edge: a file on disk as lines of text."""

import codecs
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import TextIOWrapper
from pathlib import Path
from typing import BinaryIO

from daemon.tabular.cells import LONGEST_LINE
from daemon.tabular.errors import TableError

_LOOKED_AT_BYTES = 65_536
_SAVE_AS = "Save it as CSV text, and give that file."


@dataclass(frozen=True, slots=True)
class OpenTable:
    """A file that is being read. `lines` can be gone through once."""

    lines: Iterator[str]
    text_is: str
    """The encoding, for people."""
    size_bytes: int
    raw: BinaryIO

    def read_bytes(self) -> int:
        """How much of the file has been read."""
        return self.raw.tell()


@contextmanager
def open_table(path: Path) -> Iterator[OpenTable]:
    """Open a file for reading from its beginning. Raises TableError where it is not text, or cannot be read."""
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            what = "a folder" if stat.S_ISDIR(status.st_mode) else "not an ordinary file"
            raise TableError(None, f"this is {what}", "Give the path of the record itself.")
        with path.open("rb") as raw:
            encoding, text_is = _encoding(raw.read(_LOOKED_AT_BYTES))
            raw.seek(0)
            handle = TextIOWrapper(raw, encoding=encoding, newline=None)
            yield OpenTable(_lines(handle, raw), text_is, status.st_size, raw)
    except FileNotFoundError as error:
        raise TableError(None, "there is no such file", "Check its path.") from error
    except OSError as error:
        raise TableError(
            None, f"it cannot be read ({error.strerror})", "Check who may read it, and the disk."
        ) from error


def _encoding(beginning: bytes) -> tuple[str, str]:
    """Find the encoding from a byte order mark, or from what the first bytes can be."""
    if beginning.startswith(codecs.BOM_UTF8):
        return "utf-8-sig", "UTF-8 with a byte order mark"
    if beginning.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16", "UTF-16 with a byte order mark"
    if b"\0" in beginning or beginning.startswith(b"PK\x03\x04"):
        raise TableError(None, "this is not text (a spreadsheet, an archive?)", _SAVE_AS)
    try:
        codecs.getincrementaldecoder("utf-8")().decode(beginning)
    except UnicodeDecodeError:
        return "cp1252", "Windows-1252, as it is not UTF-8"
    return "utf-8", "UTF-8"


def _lines(handle: TextIOWrapper, raw: BinaryIO) -> Iterator[str]:
    number = 0
    began_as = _version(raw)
    try:
        while line := handle.readline(LONGEST_LINE):
            number += 1
            if len(line) == LONGEST_LINE:
                raise TableError(number, f"the line is longer than {LONGEST_LINE} characters", _SAVE_AS)
            if "\0" in line:
                raise TableError(number, "there is a zero byte in the line, as after a crash", "Take the line out.")
            yield line
    except UnicodeDecodeError as error:
        raise TableError(
            number + 1, "from about here on the text is not in the encoding that it began with", _SAVE_AS
        ) from error
    if _version(raw) != began_as:
        raise TableError(
            None,
            "the file changed while it was being read",
            "Let the logger's program finish with it, or give a copy of it.",
        )


def _version(raw: BinaryIO) -> tuple[int, int]:
    status = os.fstat(raw.fileno())
    return status.st_size, status.st_mtime_ns
