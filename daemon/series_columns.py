"""Stretches of a channel as columns, from the parts that were read of it. Pure.

A chart of a year of all channels has some ten thousand stretches, and goes out as columns: one object for each of them
would cost more than reading them.
"""

from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple, cast

from daemon.storage.rollups import Part
from sensors.calibration import Piece

PARTS = len(Part._fields)
Row = tuple[Any, ...]
"""A part as a plain tuple. What stands behind its last field is not looked at."""


class Columns(NamedTuple):
    """Stretches of time in columns of equal length; see `daemon.series.Bucket` for what each says."""

    start_ms: Sequence[int]
    good: Sequence[int]
    least: Sequence[float | None]
    mean: Sequence[float | None]
    most: Sequence[float | None]
    first_ms: Sequence[int | None]
    last_ms: Sequence[int | None]
    suspect: Sequence[int]
    suspect_least: Sequence[float | None]
    suspect_most: Sequence[float | None]
    gap_before: Sequence[bool]
    gap_inside: Sequence[bool]


EMPTY = Columns(*([()] * len(Columns._fields)))


def columns_of(rows: Sequence[Row], origin_ms: int, width_ms: int, bridge_ms: int) -> Columns:
    """Give the columns of parts that come in order of time, each place once."""
    if not rows:
        return EMPTY
    places, good, totals, least, most, first, last, longest, suspect, suspect_least, suspect_most = list(
        zip(*rows, strict=False)
    )[:PARTS]
    return Columns(
        [origin_ms + place * width_ms for place in places],
        good,
        least,
        list(map(_mean, totals, good, least, most)),
        most,
        first,
        last,
        suspect,
        suspect_least,
        suspect_most,
        _gaps_before(first, last, bridge_ms),
        [step_ms > bridge_ms for step_ms in longest],
    )


def joined(spans: Iterable[Sequence[Row]]) -> list[Row]:
    """Put the parts of spans that follow each other together; the place where two of them meet becomes one part."""
    whole: list[Row] = []
    for rows in spans:
        if whole and rows and rows[0][0] == whole[-1][0]:
            whole[-1] = merged(Part(*whole[-1][:PARTS]), Part(*rows[0][:PARTS]))
            whole.extend(rows[1:])
        else:
            whole.extend(rows)
    return whole


def merged(one: Part, other: Part) -> Part:
    """Put two parts of a stretch together; the first has the earlier readings. Their place is that of the first."""
    between_ms = 0 if one.last_ms is None or other.first_ms is None else other.first_ms - one.last_ms
    return Part(
        one.place,
        one.good + other.good,
        one.total + other.total,
        _of(min, one.least, other.least),
        _of(max, one.most, other.most),
        other.first_ms if one.first_ms is None else one.first_ms,
        one.last_ms if other.last_ms is None else other.last_ms,
        max(one.longest_step_ms, other.longest_step_ms, between_ms),
        one.suspect + other.suspect,
        _of(min, one.suspect_least, other.suspect_least),
        _of(max, one.suspect_most, other.suspect_most),
    )


def corrected(rows: Sequence[Row], piece: Piece) -> Sequence[Row]:
    """Give parts with their values as a calibration makes them."""
    if piece.gain == 1.0 and piece.shift == 0.0:
        return rows
    return [_corrected(Part(*row[:PARTS]), piece) for row in rows]


def _corrected(part: Part, piece: Piece) -> Part:
    least, most = _turned(piece, part.least, part.most)
    suspect_least, suspect_most = _turned(piece, part.suspect_least, part.suspect_most)
    return part._replace(
        total=piece.gain * part.total + piece.shift * part.good,
        least=least,
        most=most,
        suspect_least=suspect_least,
        suspect_most=suspect_most,
    )


def _mean(total: float, good: int, least: float | None, most: float | None) -> float | None:
    if least is None or most is None:
        return None
    mean = total / good
    # The mean of equal values must not stand outside them for a rounding of the last digit.
    return least if mean < least else min(mean, most)


def _gaps_before(first: Sequence[int | None], last: Sequence[int | None], bridge_ms: int) -> list[bool]:
    """Tell of each stretch whether the step to its first good reading, from the one before that, is too long."""
    if None not in first:
        starts, ends = cast("Sequence[int]", first), cast("Sequence[int]", last)
        return [False, *(start - end > bridge_ms for start, end in zip(starts[1:], ends, strict=False))]
    found, before_ms = [], None
    for start_ms, end_ms in zip(first, last, strict=True):
        found.append(before_ms is not None and start_ms is not None and start_ms - before_ms > bridge_ms)
        before_ms = before_ms if end_ms is None else end_ms
    return found


def _turned(piece: Piece, least: float | None, most: float | None) -> tuple[float | None, float | None]:
    if least is None or most is None:
        return None, None
    ends = (piece.gain * least + piece.shift, piece.gain * most + piece.shift)
    return min(ends), max(ends)


def _of(choose: Callable[[float, float], float], one: float | None, other: float | None) -> float | None:
    if one is None or other is None:
        return other if one is None else one
    return choose(one, other)
