"""One channel as a drawing: a band from least to most, a line of means, what is missing and what is suspect. Pure.

Everything is in the units of the drawing, 480 by 216, so that a template has nothing to work out.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.words import CONTACT_WORDS, Quantity
from daemon.series import Bucket, Series
from dashboards import figures
from dashboards.chart_axes import time_ticks, value_ticks

LEFT, RIGHT, TOP, BOTTOM = 56.0, 474.0, 20.0, 184.0
_LEAST_SPAN = {True: 2.0, False: 5.0}
"""No axis shows less than this, °C or °F and % RH: the noise of a probe must not look like a storm. Project choice."""
_MARK = 4.0
_AIR = 0.08


@dataclass(frozen=True, slots=True)
class Scale:
    """What the bottom and the top of a drawing stand for, in the unit that is shown."""

    least: float
    most: float

    def y(self, value: float) -> float:
        """Give the height of a value; one outside lies at the edge."""
        share = (value - self.least) / (self.most - self.least)
        return round(BOTTOM - min(max(share, 0.0), 1.0) * (BOTTOM - TOP), 1)


@dataclass(frozen=True, slots=True)
class DrawnGap:
    """Where no good reading is: its place and width in the drawing, and its words."""

    x: float
    width: float
    text: str


@dataclass(frozen=True, slots=True)
class Panel:
    """A drawing. Paths are those of SVG; a tick is a place on its axis with its text."""

    band: str
    line: str
    suspects: str
    gaps: tuple[DrawnGap, ...]
    value_ticks: tuple[tuple[float, str], ...]
    time_ticks: tuple[tuple[float, str], ...]


def shown_value(quantity: Quantity, value: float, fahrenheit: bool) -> float:
    """Give a canonical value in the unit that the site shows."""
    return value * 9 / 5 + 32 if fahrenheit and quantity.is_temperature else value


def scale_of(quantity: Quantity, many: Sequence[Series], fahrenheit: bool) -> Scale:
    """Give one scale for channels of one sort, so that they can be compared. Suspect values do not stretch it."""
    if quantity.is_contact:
        return Scale(-0.15, 1.15)
    ends = [
        shown_value(quantity, end, fahrenheit)
        for each in many
        for bucket in each.buckets
        for end in (bucket.least, bucket.most)
        if end is not None
    ]
    least, most = min(ends, default=0.0), max(ends, default=1.0)
    span = max((most - least) * (1 + 2 * _AIR), _LEAST_SPAN[quantity.is_temperature])
    middle = (least + most) / 2
    return Scale(middle - span / 2, middle + span / 2)


def panel(
    quantity: Quantity, read: Series, scale: Scale, fahrenheit: bool, zone: ZoneInfo, now_ms: int, bridge_ms: int
) -> Panel:
    """Draw a channel over its period."""
    drawing = _Drawing(quantity, read, scale, fahrenheit)
    runs = list(runs_of(read.buckets))
    return Panel(
        band="".join(drawing.band(run) for run in runs),
        line="".join(drawing.line(run) for run in runs),
        suspects="".join(drawing.suspect(bucket) for bucket in read.buckets if bucket.suspect),
        gaps=tuple(drawing.gaps(now_ms, bridge_ms, zone)),
        value_ticks=_value_ticks(quantity, scale),
        time_ticks=tuple((drawing.x(at), text) for at, text in time_ticks(read.from_ms, read.until_ms, zone)),
    )


def runs_of(buckets: Sequence[Bucket]) -> Iterator[list[Bucket]]:
    """Give the stretches with good readings that one line may join."""
    run: list[Bucket] = []
    for bucket in buckets:
        if not bucket.good:
            continue
        if bucket.gap_before and run:
            yield run
            run = []
        run.append(bucket)
    if run:
        yield run


class _Drawing:
    """Where the values of one channel lie."""

    def __init__(self, quantity: Quantity, read: Series, scale: Scale, fahrenheit: bool) -> None:
        self._quantity, self._read, self._scale, self._fahrenheit = quantity, read, scale, fahrenheit

    def x(self, at_ms: int) -> float:
        share = (at_ms - self._read.from_ms) / (self._read.until_ms - self._read.from_ms)
        return round(LEFT + min(max(share, 0.0), 1.0) * (RIGHT - LEFT), 1)

    def line(self, run: Sequence[Bucket]) -> str:
        points = [f"{self._middle(each)} {self._y(each.mean)}" for each in run]
        # A line of no length is drawn as a dot, since its ends are round.
        return f"M{points[0]}h0" if len(points) == 1 else f"M{'L'.join(points)}"

    def band(self, run: Sequence[Bucket]) -> str:
        if len(run) == 1:
            x = self._middle(run[0])
            return f"M{x - 1:.1f} {self._y(run[0].least)}H{x + 1:.1f}V{self._y(run[0].most)}H{x - 1:.1f}z"
        over = [f"{self._middle(each)} {self._y(each.most)}" for each in run]
        under = [f"{self._middle(each)} {self._y(each.least)}" for each in reversed(run)]
        return f"M{'L'.join([*over, *under])}z"

    def suspect(self, bucket: Bucket) -> str:
        """A cross at the value, or at the edge that it lies beyond."""
        x, y = self.x((bucket.start_ms + bucket.end_ms) // 2), self._y(bucket.suspect_most)
        return f"M{x - _MARK:.1f} {y - _MARK:.1f}l8 8m0-8l-8 8"

    def gaps(self, now_ms: int, bridge_ms: int, zone: ZoneInfo) -> Iterator[DrawnGap]:
        """Where no good reading is for longer than a line may be drawn; what is to come is no gap."""
        end_ms = min(self._read.until_ms, now_ms)
        before_ms = self._read.from_ms
        for bucket in self._read.buckets:
            if bucket.first_ms is not None and bucket.last_ms is not None:
                if bucket.first_ms - before_ms > bridge_ms:
                    yield self._wide(before_ms, bucket.first_ms, zone)
                before_ms = bucket.last_ms
        if end_ms - before_ms > bridge_ms:
            yield self._wide(before_ms, end_ms, zone)

    def _wide(self, start_ms: int, end_ms: int, zone: ZoneInfo) -> DrawnGap:
        left, right = self.x(start_ms), self.x(end_ms)
        first, last = (figures.local(at_ms, zone) for at_ms in (start_ms, end_ms))
        began = f"{figures.date_text(first)}, {first:%H:%M}"
        text = f"No good readings from {began} to {figures.clock_text(last, first)}"
        return DrawnGap(left, round(max(right - left, 1.5), 1), text)

    def _middle(self, bucket: Bucket) -> float:
        return self.x(((bucket.first_ms or 0) + (bucket.last_ms or 0)) // 2)

    def _y(self, value: float | None) -> float:
        return self._scale.y(shown_value(self._quantity, value or 0.0, self._fahrenheit))


def _value_ticks(quantity: Quantity, scale: Scale) -> tuple[tuple[float, str], ...]:
    if quantity.is_contact:
        return tuple((scale.y(value), word) for value, word in enumerate(CONTACT_WORDS[quantity]))
    values, decimals = value_ticks(scale.least, scale.most)
    return tuple((scale.y(value), figures.number(value, decimals)) for value in values)
