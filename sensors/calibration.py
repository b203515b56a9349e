"""Dated corrections of probes, and how sure a reading is with and without one. Pure.

A record holds from its date until the next one of the channel; of two with the same date the one recorded later counts.
So a correction may be entered for a time in the past. Readings are stored as the probe said them, and corrected when
they are read.

How sure: before the first record, and after one that takes a correction back, the plus or minus of the data sheet, as
the half-width of a rectangle (JCGM 100:2008, 4.3.7). With a record, what its line leaves. Past its due date the
correction stays, but the maker's plus or minus counts again where it is the larger: common practice, no source.
"""

import math
from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from config.site import Site
from config.words import Quantity
from sensors.calibration_line import YEAR_MS, Line, usual

FROM_EVER_MS = 0


class Stated(NamedTuple):
    """What the site file says of a channel; `accuracy` is a plus or minus, K or % RH."""

    quantity: Quantity
    accuracy: float

    @property
    def standard_uncertainty(self) -> float:
        """Of a reading without calibration, k = 1."""
        return self.accuracy / math.sqrt(3)


@dataclass(frozen=True, slots=True)
class Record:
    """A calibration as it is kept. Times are UTC milliseconds; the points were measured at `taken_at_ms`."""

    channel: str
    valid_from_ms: int
    line: Line
    method: str
    taken_at_ms: int
    due_at_ms: int | None
    recorded_at_ms: int
    who: str
    note: str

    @property
    def takes_back(self) -> bool:
        """True where it says that from its date on the probe counts as never calibrated."""
        return not self.line.points


class Piece(NamedTuple):
    """From this moment on a reading means gain * reading + shift, with a standard uncertainty (k = 1) in use."""

    from_ms: int
    gain: float
    shift: float
    standard_uncertainty: float


class Calibrations:
    """The corrections of all channels of a site. `records` come in the order in which they were recorded."""

    def __init__(self, records: Iterable[Record], stated: Mapping[str, Stated]) -> None:
        self._stated = stated
        dated: dict[str, dict[int, Record]] = {}
        for record in records:
            dated.setdefault(record.channel, {})[record.valid_from_ms] = record
        self._records = {channel: [by_date[each] for each in sorted(by_date)] for channel, by_date in dated.items()}
        self._starts = {channel: [each.valid_from_ms for each in records] for channel, records in self._records.items()}
        self._pieces = {channel: self._pieces_of(channel) for channel in stated}

    @property
    def any(self) -> bool:
        """True where any channel has a record."""
        return bool(self._records)

    def in_force(self, channel: str, at_ms: int) -> Record | None:
        """Give the calibration that counts at a moment; None before the first, and where it was taken back."""
        starts = self._starts.get(channel)
        place = bisect_right(starts, at_ms) if starts else 0
        record = self._records[channel][place - 1] if place else None
        return None if record is None or record.takes_back else record

    def next_from(self, channel: str, at_ms: int) -> Record | None:
        """Give the record that begins next after a moment; None where there is none."""
        starts = self._starts.get(channel, [])
        place = bisect_right(starts, at_ms)
        return self._records[channel][place] if place < len(starts) else None

    def corrected(self, channel: str, value: float, at_ms: int) -> float:
        """Give what a stored value means; the value itself where no calibration counts."""
        if channel not in self._starts:
            return value
        record = self.in_force(channel, at_ms)
        return value if record is None else record.line.corrected(value)

    def standard_uncertainty(self, channel: str, value: float, at_ms: int) -> float:
        """Give the standard uncertainty (k = 1), K or % RH, of a value as the probe said it at a moment.

        Raises KeyError for a channel that the site does not have.
        """
        record, by_maker = self.in_force(channel, at_ms), self._stated[channel].standard_uncertainty
        if record is None:
            return by_maker
        found = record.line.standard_uncertainty(value, at_ms - record.taken_at_ms)
        overdue = record.due_at_ms is not None and at_ms >= record.due_at_ms
        return max(found, by_maker) if overdue else found

    def straight(self, channel: str, start_ms: int, end_ms: int) -> tuple[Piece, ...]:
        """Give the corrections that count between two moments, both included; the first begins at the start or before.

        The uncertainty of a piece is that of a typical reading, with all the drift that is allowed until its due date.
        Raises KeyError for a channel that the site does not have.
        """
        pieces = self._pieces[channel]
        first = max(0, bisect_right(pieces, start_ms, key=lambda piece: piece.from_ms) - 1)
        return (pieces[first], *(piece for piece in pieces[first + 1 :] if piece.from_ms <= end_ms))

    def basis(self, channel: str) -> list[list[float]]:
        """Give the dated corrections of a channel, for JSON: [from_ms, gain, shift, u] each; empty without a record.

        They stay the same until a record is added. Raises KeyError for a channel that the site does not have.
        """
        return [list(piece) for piece in self._pieces[channel][1:]]

    def _pieces_of(self, channel: str) -> list[Piece]:
        quantity, by_maker = self._stated[channel].quantity, self._stated[channel].standard_uncertainty
        pieces = [Piece(FROM_EVER_MS, 1.0, 0.0, by_maker)]
        records = self._records.get(channel, [])
        for record, following in zip(records, [*records[1:], None], strict=False):
            if record.takes_back:
                pieces.append(Piece(record.valid_from_ms, 1.0, 0.0, by_maker))
                continue
            due_ms = record.due_at_ms if record.due_at_ms is not None else record.taken_at_ms + YEAR_MS
            line, from_ms = record.line, record.valid_from_ms
            in_use = line.standard_uncertainty(usual(quantity).typical, due_ms - record.taken_at_ms)
            expired = Piece(max(from_ms, due_ms), line.gain, line.shift, max(in_use, by_maker))
            if record.due_at_ms is None or from_ms < due_ms:
                pieces.append(Piece(from_ms, line.gain, line.shift, in_use))
            if record.due_at_ms is not None and (following is None or expired.from_ms < following.valid_from_ms):
                pieces.append(expired)
        return pieces


def stated_of(site: Site) -> dict[str, Stated]:
    """Give for each channel of a site its quantity and its plus or minus, stated or usual.

    Contacts have neither, and are not among them.
    """
    return {
        f"{probe.id}/{channel.name}": Stated(
            channel.quantity, usual(channel.quantity).accuracy if channel.accuracy is None else channel.accuracy
        )
        for probe in site.probes
        for channel in probe.channels
        if not channel.quantity.is_contact
    }
