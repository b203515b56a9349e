"""The files of a spool: segments that only grow at their end, each named by the number of its first line.

Every write goes to the disk (fsync) before it counts, and a new file's name with it: what was said to be written is
there after a power cut. A write that fails is taken back, so that a segment ends with a whole line.
"""

import contextlib
import logging
import os
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from sensors.agent.lines import LONGEST_BYTES, Line, decode

log = logging.getLogger("clutchwarden.probe")

_SUFFIX = ".spool"
_DIGITS = 18


class Segments:
    """The segments of one folder, oldest first. Not for two threads at once. Raises OSError where the disk says no."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._folder = folder
        self._sizes: dict[int, int] = {}
        for path in sorted(folder.glob(f"*{_SUFFIX}")):
            if path.stem.isdecimal() and len(path.stem) == _DIGITS:
                self._sizes[int(path.stem)] = path.stat().st_size
        self._open: int | None = None
        """The descriptor of the newest segment, where it is open."""

    @property
    def firsts(self) -> list[int]:
        """The number with which each segment begins, oldest first."""
        return list(self._sizes)

    @property
    def total_bytes(self) -> int:
        """Bytes of all segments."""
        return sum(self._sizes.values())

    @property
    def newest_bytes(self) -> int:
        """Bytes of the segment that grows; 0 without one."""
        return next(reversed(self._sizes.values()), 0)

    def path(self, first: int) -> Path:
        """Where a segment is."""
        return self._folder / f"{first:0{_DIGITS}}{_SUFFIX}"

    def mend(self) -> tuple[Line | None, int]:
        """Cut a torn end off the newest segment. Gives its last whole line, and how many damaged ones follow that."""
        first = next(reversed(self._sizes), None)
        if first is None:
            return None, 0
        newest: Line | None = None
        damaged = end = at = 0
        with self.path(first).open("rb") as file:
            while raw := file.readline(LONGEST_BYTES):
                at += len(raw)
                line = decode(raw)
                if line is not None:
                    newest, damaged, end = line, 0, at
                elif raw.endswith(b"\n"):
                    damaged, end = damaged + 1, at
        if end < self._sizes[first]:
            log.warning("The end of %s was torn, as by a power cut; it is cut off.", self.path(first))
            os.truncate(self.path(first), end)
            self._sizes[first] = end
        return newest, damaged

    def append(self, first: int, data: bytes) -> None:
        """Write at the end of the newest segment and wait for the disk. `first` is the number of the first line."""
        if self._open is None:
            self._begin(first)
        segment, opened = next(reversed(self._sizes)), self._open
        if opened is None:
            raise OSError("no segment is open")
        size = self._sizes[segment]
        try:
            written = 0
            while written < len(data):
                written += os.write(opened, data[written:])
            os.fsync(opened)
        except OSError:
            self._take_back(segment, opened, size)
            raise
        self._sizes[segment] = size + len(data)

    def _take_back(self, segment: int, opened: int, size: int) -> None:
        try:
            os.ftruncate(opened, size)
        except OSError:
            self.end_segment()
        if not size:
            # Or each failure would leave an empty file.
            self.end_segment()
            del self._sizes[segment]
            with contextlib.suppress(OSError):
                self.path(segment).unlink()

    def end_segment(self) -> None:
        """The next line begins a new segment."""
        if self._open is not None:
            with contextlib.suppress(OSError):
                os.close(self._open)
            self._open = None

    def remove_oldest(self) -> None:
        """Remove the oldest segment; it is no longer counted even where the disk does not let it go."""
        first = next(iter(self._sizes))
        del self._sizes[first]
        self.path(first).unlink(missing_ok=True)

    def last_line(self, first: int) -> Line | None:
        """The last whole line of a segment; None without one."""
        with self.path(first).open("rb") as file:
            file.seek(max(0, self._sizes.get(first, 0) - LONGEST_BYTES))
            lines = [line for raw in file if (line := decode(raw)) is not None]
        return lines[-1] if lines else None

    def resume(self) -> None:
        """Go on in the newest segment."""
        first = next(reversed(self._sizes), None)
        if first is not None:
            self._open = os.open(self.path(first), os.O_WRONLY | os.O_APPEND | os.O_CLOEXEC)

    def _begin(self, first: int) -> None:
        self._open = os.open(self.path(first), os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, 0o644)
        self._sizes.setdefault(first, 0)
        folder = os.open(self._folder, os.O_RDONLY | os.O_CLOEXEC)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


class Reader:
    """Reads the lines of the segments in order, over what is damaged."""

    def __init__(self, segments: Segments) -> None:
        self._segments = segments
        self._file: IO[bytes] | None = None
        self._first = 0
        self._at = -1

    def next(self, after: int) -> Line | None:
        """Give the first whole line with a greater number; None where none is written yet."""
        if after != self._at or self._file is None:
            self._seek(after)
        while self._file is not None:
            for line in self._whole_lines(self._file):
                if line.number > after:
                    self._at = line.number
                    return line
            following = next((first for first in self._segments.firsts if first > self._first), None)
            if following is None:
                self._at = after
                return None
            self._open(following)
        return None

    def close(self) -> None:
        """Let the file go."""
        if self._file is not None:
            self._file.close()
        self._file = None

    def _seek(self, after: int) -> None:
        firsts = self._segments.firsts
        self.close()
        if firsts:
            self._open(max((first for first in firsts if first <= after + 1), default=firsts[0]))

    def _open(self, first: int) -> None:
        self.close()
        self._first = first
        try:
            self._file = self._segments.path(first).open("rb")
        except OSError as error:
            log.warning("%s cannot be read (%s).", self._segments.path(first), error.strerror)

    def _whole_lines(self, file: IO[bytes]) -> Iterator[Line]:
        try:
            while raw := file.readline(LONGEST_BYTES):
                line = decode(raw)
                if line is not None:
                    yield line
        except OSError as error:
            log.warning("%s cannot be read any further (%s).", self._segments.path(self._first), error.strerror)
