"""What the agent has measured and the broker does not have yet, on disk, within bounds.

Each line has a number, from 1 on, without gaps. A line is settled when the broker has it, or when it is given up; all
lines up to `acknowledged` are settled, and a segment of which all are is removed. When there are too many bytes or
days, the oldest segment is given up: counted, logged, told. Nothing else is ever removed.

Where the disk takes nothing (full, or read-only after an error), the newest lines stay in memory and are sent from
there, since a reading that nobody hears of warns nobody. They are written as soon as the disk takes them.
"""

import errno
import logging
import threading
from collections.abc import Callable, Sequence
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple

from sensors.agent.kept import Kept, load_kept, ranges_of, save_kept
from sensors.agent.lines import Line, encode
from sensors.agent.plan import Bounds
from sensors.agent.segments import Reader, Segments

log = logging.getLogger("clutchwarden.probe")

MOST_IN_MEMORY = 1_000
_SMALLEST_SEGMENT, _LARGEST_SEGMENT = 65_536, 1_048_576
_SEGMENTS = 16
_SAVE_EVERY = 500
_PART = 250
_LOST_PER_LINE = 1_000


class Settled(StrEnum):
    """Why a line is not waited for any more."""

    SENT = "sent"
    GIVEN_UP = "given up"
    DAMAGED = "damaged"
    UNDATED = "undated"
    """measured in a start of the board whose clock never was right"""


class Sample(NamedTuple):
    """What was measured at one moment; see `Line`."""

    steady_ms: int
    moment_ms: int | None
    values: str


class Spool:
    """The spool of one probe; may be used by the thread that measures and the one that sends.

    `age_ms` tells how old a line is, None where that cannot be said. Raises OSError where the folder cannot be used.
    """

    def __init__(self, folder: Path, bounds: Bounds, boot: str, age_ms: Callable[[Line], int | None]) -> None:
        self._folder, self._bounds, self._boot, self._age_ms = folder, bounds, boot, age_ms
        self._lock = threading.RLock()
        self._segment_bytes = min(max(bounds.largest_bytes // _SEGMENTS, _SMALLEST_SEGMENT), _LARGEST_SEGMENT)
        self._segments = Segments(folder)
        self._reader, self._looker = Reader(self._segments), Reader(self._segments)
        self._oldest: Line | None = None
        kept = load_kept(folder)
        self.counts = {Settled.GIVEN_UP: kept.given_up, Settled.DAMAGED: kept.damaged, Settled.UNDATED: kept.undated}
        newest, damaged = self._segments.mend()
        firsts = self._segments.firsts
        last = newest.number if newest is not None else firsts[-1] - 1 if firsts else 0
        self.acknowledged = max(kept.acknowledged, firsts[0] - 1 if firsts else 0)
        self._written = last + damaged
        self._newest = max(self._written, self.acknowledged)
        self._settled = {
            number
            for first, last in kept.ranges
            for number in range(max(first, self.acknowledged + 1), min(last, self._newest) + 1)
        }
        self._held: list[Line] = []
        self._unsaved = 0
        self._is_full = False
        self._began_ms: int | None = None
        self._last_lines: dict[int, Line | None] = {}
        self.trouble = ""
        """Why the disk takes nothing, as a part of a sentence; empty while it does."""
        # Numbers of a segment have to be one after the other: what they leave out counts as damaged.
        if self._written == self._newest:
            self._segments.resume()
        self._remove_settled()

    @property
    def waiting(self) -> int:
        """Lines that are not settled."""
        with self._lock:
            return self._newest - self.acknowledged - len(self._settled)

    @property
    def full(self) -> float:
        """How much of its bounds is taken, 0 to 1, by bytes or by days, whichever is more."""
        with self._lock:
            oldest_ms = self.oldest_ms() or 0
            share = max(self._segments.total_bytes / self._bounds.largest_bytes, oldest_ms / self._bounds.longest_ms)
            return min(max(share, 0.0), 1.0)

    def oldest_ms(self) -> int | None:
        """The age of the line that has waited longest; None where none waits, or where it cannot be said."""
        with self._lock:
            number = self.acknowledged + 1
            if number > self._newest:
                return None
            if self._oldest is None or self._oldest.number < number:
                line = self._looker.next(self.acknowledged) if number <= self._written else None
                self._oldest = line or next((one for one in self._held if one.number >= number), None)
            return None if self._oldest is None else self._age_ms(self._oldest)

    def append(self, samples: Sequence[Sample]) -> None:
        """Keep what was measured: one write and one wait for the disk for all together. Never raises OSError."""
        with self._lock:
            for sample in samples:
                self._end_old_segment(sample.steady_ms)
                self._newest += 1
                self._held.append(Line(self._newest, self._boot, *sample))
            self._write_held()
            self._keep_bounds()

    def next(self, after: int) -> Line | None:
        """Give the next line with a greater number; what cannot be read between is settled as damaged."""
        with self._lock:
            line = self._reader.next(after) if after < self._written else None
            line = line or next((one for one in self._held if one.number > after), None)
            if line is not None:
                self._settle(range(max(after, self.acknowledged) + 1, line.number), Settled.DAMAGED)
            return line

    def settle(self, number: int, why: Settled) -> None:
        """A line need not be kept any more."""
        with self._lock:
            self._settle(range(number, number + 1), why)
            if self._remove_settled() or self._unsaved >= _SAVE_EVERY:
                self.save()

    def save_if_due(self) -> None:
        """Keep how far the broker is where that has changed; to be called every minute or so."""
        with self._lock:
            if self._unsaved:
                self.save()

    def save(self) -> None:
        """Keep how far the broker is. What was not kept is sent again, with the same times."""
        with self._lock:
            try:
                save_kept(self._folder, self._kept())
            except OSError as error:
                self._say(error)
            else:
                self._unsaved = 0

    def close(self) -> None:
        """Keep what is to be kept, and let the files go. Lines that the disk does not take are lost, and told."""
        with self._lock:
            self._write_held()
            self.save()
            self._segments.end_segment()
            self._reader.close()
            self._looker.close()
            if self._held:
                log.error("%d readings could not be written to %s and are lost.", len(self._held), self._folder)

    def _settle(self, numbers: range, why: Settled) -> None:
        new = [number for number in numbers if number > self.acknowledged and number not in self._settled]
        self._settled.update(new)
        while self.acknowledged + 1 in self._settled:
            self.acknowledged += 1
            self._settled.discard(self.acknowledged)
        self._unsaved += len(new)
        if why is not Settled.SENT and new:
            before = self.counts[why]
            self.counts[why] = lost = before + len(new)
            if len(new) > 1 or not before or lost % _LOST_PER_LINE == 0:
                log.warning("%s: %d readings are lost by now (%s).", self._folder, lost, why.value)

    def _end_old_segment(self, steady_ms: int) -> None:
        """Begin a segment every so often, also where little is measured: days are given up by segments."""
        if self._began_ms is None:
            self._began_ms = steady_ms
        elif steady_ms - self._began_ms > self._bounds.longest_ms // _SEGMENTS:
            self._write_held()
            self._segments.end_segment()
            self._began_ms = steady_ms

    def _write_held(self) -> None:
        """Write what is in memory, a part at a time: a disk that takes nothing is tried anew at every beat."""
        self._held = [line for line in self._held if line.number > self.acknowledged]
        while self._held and self._write(self._held[:_PART]):
            self._written = self._held[min(_PART, len(self._held)) - 1].number
            del self._held[:_PART]

    def _write(self, lines: Sequence[Line]) -> bool:
        data = b"".join(map(encode, lines))
        if self._segments.newest_bytes and self._segments.newest_bytes + len(data) > self._segment_bytes:
            self._segments.end_segment()
        for last_try in (False, True):
            try:
                self._segments.append(lines[0].number, data)
            except OSError as error:
                # A file may have grown to what the system lets one have; another one may still be begun.
                self._segments.end_segment()
                if last_try:
                    self._say(error)
            else:
                if self.trouble:
                    log.warning("%s takes readings again.", self._folder)
                    self.trouble = ""
                    self.save()
                return True
        return False

    def _keep_bounds(self) -> None:
        while len(self._segments.firsts) > 1 and self._is_beyond():
            self._give_up_oldest()
        if len(self._held) > MOST_IN_MEMORY and self._is_full and len(self._segments.firsts) > 1:
            # Once, until the disk has taken something: whoever else fills it would take every segment in turn.
            self._is_full = False
            self._give_up_oldest()
            self._write_held()
        while len(self._held) > MOST_IN_MEMORY:
            gone = self._held.pop(0).number
            self._settle(range(gone, gone + 1), Settled.GIVEN_UP)

    def _is_beyond(self) -> bool:
        if self._segments.total_bytes > self._bounds.largest_bytes:
            return True
        oldest = self._segments.firsts[0]
        if oldest not in self._last_lines:
            try:
                self._last_lines = {oldest: self._segments.last_line(oldest)}
            except OSError:
                self._last_lines = {oldest: None}
        line = self._last_lines[oldest]
        age_ms = None if line is None else self._age_ms(line)
        return age_ms is not None and age_ms > self._bounds.longest_ms

    def _give_up_oldest(self) -> None:
        self._settle(range(self.acknowledged + 1, self._segments.firsts[1]), Settled.GIVEN_UP)
        self.save()
        self._drop()

    def _remove_settled(self) -> bool:
        """Remove segments of which every line is settled; the newest stays, for the numbers to go on from."""
        removed = False
        while len(self._segments.firsts) > 1 and self._segments.firsts[1] <= self.acknowledged + 1:
            self._drop()
            removed = True
        return removed

    def _drop(self) -> None:
        try:
            self._segments.remove_oldest()
        except OSError as error:
            self._say(error)

    def _say(self, error: OSError) -> None:
        trouble = (error.strerror or type(error).__name__).lower()
        if trouble != self.trouble:
            self.trouble = trouble
            self._is_full = error.errno in (errno.ENOSPC, errno.EDQUOT)
            log.error("%s takes nothing (%s); readings are kept in memory and sent from there.", self._folder, trouble)

    def _kept(self) -> Kept:
        return Kept(
            acknowledged=self.acknowledged,
            given_up=self.counts[Settled.GIVEN_UP],
            damaged=self.counts[Settled.DAMAGED],
            undated=self.counts[Settled.UNDATED],
            ranges=ranges_of(self._settled),
        )
