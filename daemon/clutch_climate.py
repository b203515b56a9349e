"""How warm and how humid it was where a clutch lay, over its whole time, from the journal.

Read from the roll-ups where its time is long (`daemon/series.py`), so what it costs does not grow with the readings.
Hours outside the limits are reckoned in stretches of ten minutes, each by the mean of its good readings.
"""

import sqlite3
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from config.places import Places
from config.site import Site
from config.words import Quantity
from daemon.clutch_record_values import Climate, ClimateCell, LimitSpan
from daemon.occupancy import Occupancy
from daemon.series import Bucket, series
from daemon.storage import clutch_history
from daemon.storage.rollups import LEVELS_MS
from sensors.calibration import Calibrations, Piece

HOUR_MS = 3_600_000
MOST_CELLS = 240
"""So many cells at the most for the whole time of a clutch; a drawing of it has no room for more."""
_DEPTH_OF_A_BOX = 2


class Lain(NamedTuple):
    """Where a clutch lay from one moment until before another."""

    place: str
    from_ms: int
    end_ms: int


class _Span(NamedTuple):
    """A part of a stay in which the same limits hold."""

    place: str
    limits: LimitSpan


class _Hours(NamedTuple):
    """Time with readings, and of that the time below and above the limits, ms."""

    read: int = 0
    below: int = 0
    above: int = 0

    def and_then(self, other: "_Hours") -> "_Hours":
        return _Hours(*(one + more for one, more in zip(self, other, strict=True)))


class _Read(NamedTuple):
    """What the channel that speaks for a span says; `limits` are those that its readings are held against."""

    channel: str
    limits: LimitSpan
    cells: list[ClimateCell]
    hours: _Hours
    is_behind: bool


class ClutchClimates:
    """Reads the climate of any clutch of a site. Safe to use from several threads."""

    def __init__(self, site: Site, longest_bridge_ms: int) -> None:
        self._places = Places(site)
        self._bridge_ms = longest_bridge_ms
        self._at: dict[Quantity, dict[str, list[str]]] = {}
        self._place_of: dict[str, str] = {}
        for probe in site.probes:
            for channel in probe.channels:
                name = f"{probe.id}/{channel.name}"
                self._at.setdefault(channel.quantity, {}).setdefault(probe.place, []).append(name)
                self._place_of[name] = probe.place
        humid = self._at.get(Quantity.RELATIVE_HUMIDITY, {})
        self._humid = frozenset(channel for channels in humid.values() for channel in channels)

    def channels_for(self, place: str, quantity: Quantity) -> list[str]:
        """Give the channels that speak for a place, the best one first; none for a place that the site has no more."""
        if not self._places.exists(place):
            return []
        at = self._at.get(quantity, {})
        return [channel for part in self._places.chain(place) for channel in at.get(part, [])]

    def read(
        self,
        conn: sqlite3.Connection,
        lain: Sequence[Lain],
        quantity: Quantity,
        occupancy: Occupancy,
        calibrations: Calibrations,
    ) -> Climate:
        """Give air temperature or humidity over the stays of a clutch, with the limits of their times.

        The humidity of a shelf is not that of a box on it, so only one that is measured in the box has limits.
        """
        whole_ms = sum(each.end_ms - each.from_ms for each in lain)
        found = [
            one
            for span in self._spans(lain, quantity, occupancy)
            if (one := self._best(conn, span, quantity, calibrations, whole_ms)) is not None
        ]
        hours = _Hours()
        for each in found:
            hours = hours.and_then(each.hours)
        cells = tuple(cell for each in found for cell in each.cells)
        return Climate(
            quantity,
            cells,
            tuple(each.limits for each in found),
            tuple(dict.fromkeys(each.channel.split("/", 1)[0] for each in found if each.cells)),
            hours.read / HOUR_MS,
            max(0, whole_ms - hours.read) / HOUR_MS,
            hours.below / HOUR_MS,
            hours.above / HOUR_MS,
            is_behind=any(each.is_behind for each in found),
            why_empty="" if cells else self._why_empty(lain, quantity),
        )

    def _spans(self, lain: Sequence[Lain], quantity: Quantity, occupancy: Occupancy) -> Iterator[_Span]:
        """Cut stays where limits change; a change that leaves this quantity's limits as they were cuts nothing."""
        for stay in lain:
            if not self._places.exists(stay.place):
                continue
            at_ms, open_span = stay.from_ms, None
            while at_ms < stay.end_ms:
                until_ms = min(occupancy.unchanged(at_ms)[1], stay.end_ms)
                limits = occupancy.limits(stay.place, at_ms)
                if quantity is Quantity.RELATIVE_HUMIDITY:
                    here = LimitSpan(at_ms, until_ms, limits.humidity_low_pct, limits.humidity_high_pct)
                else:
                    lethal = (limits.lethal_low_c, limits.lethal_high_c)
                    here = LimitSpan(at_ms, until_ms, limits.low_c, limits.high_c, *lethal)
                if open_span is not None and _values(open_span) == _values(here):
                    open_span = LimitSpan(open_span.start_ms, until_ms, *_values(here))
                else:
                    if open_span is not None:
                        yield _Span(stay.place, open_span)
                    open_span = here
                at_ms = until_ms
            if open_span is not None:
                yield _Span(stay.place, open_span)

    def _best(
        self, conn: sqlite3.Connection, span: _Span, quantity: Quantity, calibrations: Calibrations, whole_ms: int
    ) -> _Read | None:
        """Give what the best channel says that has a reading in a span; the very best one where none has."""
        found = None
        for channel in self.channels_for(span.place, quantity):
            read = self._read(conn, channel, span.limits, calibrations, whole_ms)
            if read.cells:
                return read
            found = found or read
        return found

    def _read(
        self, conn: sqlite3.Connection, channel: str, limits: LimitSpan, calibrations: Calibrations, whole_ms: int
    ) -> _Read:
        start_ms, end_ms = limits.start_ms, limits.end_ms
        in_box = self._place_of[channel].count("/") == _DEPTH_OF_A_BOX
        if not in_box and channel in self._humid:
            limits = LimitSpan(start_ms, end_ms, None, None)
        pieces = calibrations.straight(channel, start_ms, end_ms - 1)
        share = max(1, round(MOST_CELLS * (end_ms - start_ms) / whole_ms))
        told = series(conn, channel, start_ms, end_ms, share, pieces, self._bridge_ms)
        hours = _Hours()
        for piece, until_ms in zip(pieces, [*(each.from_ms for each in pieces[1:]), end_ms], strict=True):
            outside = (_raw(limits.low, piece), _raw(limits.high, piece))
            part = clutch_history.outside(conn, channel, max(piece.from_ms, start_ms), until_ms, outside)
            hours = hours.and_then(_Hours(*(count * LEVELS_MS[0] for count in part)))
        cells = [cell for each in told.buckets if (cell := _cell(each, start_ms, end_ms)) is not None]
        return _Read(channel, limits, cells, hours, told.is_behind)

    def _why_empty(self, lain: Sequence[Lain], quantity: Quantity) -> str:
        what = "humidity" if quantity is Quantity.RELATIVE_HUMIDITY else "air temperature"
        if not any(self._places.exists(stay.place) for stay in lain):
            return f"No {what}: the site file has none of the places where it lay any more."
        if not any(self.channels_for(stay.place, quantity) for stay in lain):
            return f"No {what}: no probe measures it where this clutch lay."
        return f"No {what}: the probe there has no good reading from that time."


def _cell(bucket: Bucket, start_ms: int, end_ms: int) -> ClimateCell | None:
    """Give a bucket cut to the span that was asked for; None without a good reading."""
    if bucket.least is None or bucket.mean is None or bucket.most is None:
        return None
    from_ms, until_ms = max(bucket.start_ms, start_ms), min(bucket.end_ms, end_ms)
    return ClimateCell(from_ms, until_ms, bucket.least, bucket.mean, bucket.most, bucket.gap_before)


def _values(span: LimitSpan) -> tuple[float | None, float | None, float | None, float | None]:
    return span.low, span.high, span.lethal_low, span.lethal_high


def _raw(limit: float | None, piece: Piece) -> float | None:
    """Give what a probe says at a limit."""
    return None if limit is None else (limit - piece.shift) / piece.gain
