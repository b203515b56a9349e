"""Pure: what is known of one quantity at one place over a period, measured and estimated, as three curves in one.

Where the readings of the place follow each other closely, the value is the straight line between them. Where they do
not, another probe around the place may have been read: then it is that value, give or take what places differ by. What
no probe covers is a gap with a course of its own.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from daemon.review.beyond import Lines, Runs, cut, joined, outside, runs_outside
from daemon.review.course import GapCourse, GapKind, bounds_of
from daemon.review.gap_values import Known
from daemon.review.values import Bounds, Span

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """Good, corrected readings of a channel in order of time (UTC ms), with the nearest ones around the period.

    `off_by`: so far the place may be from what this channel reads; 0 for the probe of the place itself.
    """

    channel: str
    times_ms: "Array"
    values: "Array"
    off_by: float = 0.0


class Open(NamedTuple):
    """A part of the period that no channel covers, between the readings of the channel that has the nearer ones."""

    from_ms: int
    to_ms: int
    before: Known | None
    after: Known | None
    series: int
    """which of the channels these readings are of"""


Estimate = Callable[[Open], GapCourse]
"""Gives the course over the whole gap, of which the part from `from_ms` to `to_ms` is taken."""


class _Piece(NamedTuple):
    """Straight lines of one channel; those of another place lie in a gap of the first channel."""

    series: Series
    lines: Lines
    inside: Open | None


@dataclass(frozen=True, slots=True, eq=False)
class PlaceRecord:
    """Measured and estimated: see the head of this module. `gaps` are in order of time, each within the period.

    `low`, `best` and `high` are the lines of all of it, with about 95 % between the first and the last. `own` are those
    that the probe of the place measured, `other_ms` is the time over which only another one was read.
    """

    span: Span
    own: Lines
    other_ms: int
    gaps: tuple[GapCourse, ...]
    low: Lines
    best: Lines
    high: Lines

    @property
    def own_ms(self) -> int:
        """The time over which the probe of the place was read."""
        return _length_ms(self.own)

    def time_beyond_ms(self, limit: float, span: Span, *, above: bool) -> Bounds:
        """Time below a limit, or above it, within a stretch of the period, ms."""
        return bounds_of(*(time_ms for time_ms, _ in self._beyond(limit, span, above=above)))

    def degree_hours_beyond(self, limit: float, span: Span, *, above: bool) -> Bounds:
        """Degree-hours below a limit, or above it (>= 0), within a stretch of the period."""
        return bounds_of(*(degree_hours for _, degree_hours in self._beyond(limit, span, above=above)))

    def beyond(self, limit: float, span: Span, *, above: bool) -> tuple[Bounds, Bounds]:
        """Give both at once."""
        least, best, most = self._beyond(limit, span, above=above)
        return bounds_of(least[0], best[0], most[0]), bounds_of(least[1], best[1], most[1])

    def runs_beyond(self, limit: float, span: Span, *, above: bool) -> tuple[Runs, Runs | None, Runs]:
        """Give when it was outside: certainly, by the best estimate (None where there is none), and possibly."""
        least, best, most = (runs_outside(lines, limit, above=above) for lines in self._sides(span, above=above))
        import numpy as np

        unknown = np.isnan(cut(self.best, span.from_ms, span.until(span.from_ms)).first).any()
        return least, None if unknown else best, most

    def _beyond(self, limit: float, span: Span, *, above: bool) -> list[tuple[float, float]]:
        return [outside(lines, limit, above=above) for lines in self._sides(span, above=above)]

    def _sides(self, span: Span, *, above: bool) -> list[Lines]:
        inner, outer = (self.low, self.high) if above else (self.high, self.low)
        return [cut(lines, span.from_ms, span.until(span.from_ms)) for lines in (inner, self.best, outer)]


def place_record(series: Sequence[Series], from_ms: int, to_ms: int, bridge_ms: int, estimate: Estimate) -> PlaceRecord:
    """Put a record together from the channels that speak for a place, the best first; each gap goes to the next one.

    Two neighbouring readings further apart than `bridge_ms` have a gap between them.
    """
    pieces, opened = _over(series, 0, Open(from_ms, to_ms, None, None, 0), bridge_ms)
    own = joined([piece.lines for piece in pieces if not piece.series.off_by])
    gaps = [estimate(gap).part(gap.from_ms, gap.to_ms) for gap in opened]
    by_others = [course for piece in pieces if piece.series.off_by for course in _courses_of(piece)]
    gaps = sorted([*gaps, *by_others], key=lambda course: course.span.from_ms)
    return PlaceRecord(
        Span(from_ms, to_ms),
        own,
        sum(course.length_ms for course in by_others),
        tuple(gaps),
        joined([own, *(course.low_lines for course in gaps)]),
        joined([own, *(course.best_lines for course in gaps)]),
        joined([own, *(course.high_lines for course in gaps)]),
    )


def _over(series: Sequence[Series], number: int, asked: Open, bridge_ms: int) -> tuple[list[_Piece], list[Open]]:
    """What these channels cover of a stretch, and what none of them does."""
    if number >= len(series):
        return [], [Open(asked.from_ms, asked.to_ms, None, None, number)]
    lines, gaps = _lines_and_gaps(series[number], number, asked, bridge_ms)
    pieces: list[_Piece] = [_Piece(series[number], lines, asked if number else None)] if lines.from_ms.size else []
    left: list[Open] = []
    for gap in gaps:
        # Whatever covers it: the readings beside the gap are those of the first channel.
        passed_on = gap._replace(before=asked.before, after=asked.after) if number else gap
        others, others_left = _over(series, number + 1, passed_on, bridge_ms)
        pieces += others
        left += [_nearer(gap, each) for each in others_left]
    return pieces, left


def _courses_of(piece: _Piece) -> list[GapCourse]:
    """What another probe around a place measured, as courses of the place: one for each stretch without a hole."""
    import numpy as np

    lines, off_by = piece.lines, piece.series.off_by
    holes = np.flatnonzero(lines.from_ms[1:] > lines.to_ms[:-1]) + 1
    inside = piece.inside
    courses = []
    for at in np.split(np.arange(lines.from_ms.size), holes):
        at_ms = np.append(lines.from_ms[at], lines.to_ms[at[-1]])
        values = np.append(lines.first[at], lines.last[at[-1]])
        courses.append(
            GapCourse(
                span=Span(int(at_ms[0]), int(at_ms[-1])),
                kind=GapKind.OTHER_PROBE,
                before=None if inside is None else inside.before,
                after=None if inside is None else inside.after,
                at_ms=at_ms,
                low_c=values - off_by,
                best_c=values,
                high_c=values + off_by,
                heat_back_ms=None,
                contradiction=False,
                reason=f"Measured by {piece.series.channel}, which speaks for a place around it.",
            )
        )
    return courses


def _lines_and_gaps(series: Series, number: int, asked: Open, bridge_ms: int) -> tuple[Lines, list[Open]]:
    """The straight lines of one channel within a stretch, and where it has none."""
    import numpy as np

    times, values = series.times_ms, series.values
    if not times.size:
        return joined([]), [Open(asked.from_ms, asked.to_ms, None, None, number)]
    is_line = np.diff(times) <= bridge_ms
    lines = Lines(times[:-1][is_line], times[1:][is_line], values[:-1][is_line], values[1:][is_line])
    breaks = np.flatnonzero(~is_line).tolist()
    known: list[tuple[Known | None, Known | None]] = [
        (None, _known(series, 0)),
        *((_known(series, at), _known(series, at + 1)) for at in breaks),
        (_known(series, -1), None),
    ]
    gaps = []
    for before, after in known:
        from_ms = asked.from_ms if before is None else max(before.at_ms, asked.from_ms)
        to_ms = asked.to_ms if after is None else min(after.at_ms, asked.to_ms)
        if from_ms < to_ms:
            gaps.append(Open(from_ms, to_ms, before, after, number))
    return cut(lines, asked.from_ms, asked.to_ms), gaps


def _known(series: Series, at: int) -> Known:
    return Known(int(series.times_ms[at]), float(series.values[at]))


def _nearer(mine: Open, other: Open) -> Open:
    """The same stretch as `other`, between the readings of whichever channel has the nearer ones."""
    if _width_ms(other) < _width_ms(mine):
        return other
    return mine._replace(from_ms=other.from_ms, to_ms=other.to_ms)


def _width_ms(gap: Open) -> float:
    """From the reading before to the reading after; with one of them longer than all, without both longest."""
    if gap.before is None or gap.after is None:
        return float("inf") if gap.before is None and gap.after is None else 1e18
    return gap.after.at_ms - gap.before.at_ms


def _length_ms(lines: Lines) -> int:
    return round(float((lines.to_ms - lines.from_ms).sum()))
