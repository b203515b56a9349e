"""What a drawing over time is made of: scales, ticks, paths, all in the units of its view box. Pure."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple
from zoneinfo import ZoneInfo

from dashboards import figures
from dashboards.chart_axes import time_ticks, value_ticks

WIDTH, LEFT, RIGHT, TOP, BOTTOM = 480, 62, 10, 18, 30
"""Of every drawing: its width, and the room around what is drawn for ticks and their texts."""


class Box(NamedTuple):
    """A rectangle of a style."""

    style: str
    x: float
    y: float
    width: float
    height: float


class Stroke(NamedTuple):
    """A path of a style."""

    style: str
    d: str


class Words(NamedTuple):
    """A text at a point; `anchor` is start, middle or end."""

    x: float
    y: float
    anchor: str
    text: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """One picture. `label` says in words what it shows, for whoever does not see it."""

    height: int
    label: str
    boxes: tuple[Box, ...]
    strokes: tuple[Stroke, ...]
    words: tuple[Words, ...]

    @property
    def width(self) -> int:
        """The same for all."""
        return WIDTH


class Scale(NamedTuple):
    """From a value to a position: `low` lies at `begin`, `high` at `end`; what lies outside is put on the edge."""

    low: float
    high: float
    begin: float
    end: float

    def at(self, value: float) -> float:
        """Give the position of a value."""
        share = (value - self.low) / ((self.high - self.low) or 1.0)
        return round(self.begin + min(max(share, 0.0), 1.0) * (self.end - self.begin), 1)


def across(from_ms: int, until_ms: int) -> Scale:
    """Lay time over the width of a drawing."""
    return Scale(from_ms, max(until_ms, from_ms + 1), LEFT, WIDTH - RIGHT)


def upwards(low: float, high: float, height: int) -> Scale:
    """Lay values over the height of a drawing, the larger ones above."""
    return Scale(low, high, height - BOTTOM, TOP)


def line(points: Iterable[tuple[float, float]]) -> str:
    """Give a path through points."""
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in points)


def area(there: Sequence[tuple[float, float]], back: Sequence[tuple[float, float]]) -> str:
    """Give the path of the area between two lines."""
    return line([*there, *reversed(back)]) + "Z"


def frame(time: Scale, height: int, zone: ZoneInfo) -> tuple[list[Stroke], list[Words]]:
    """The time axis at the foot of a drawing."""
    foot = height - BOTTOM
    strokes, words = [Stroke("axis", f"M{LEFT} {foot}H{WIDTH - RIGHT}")], []
    for at_ms, text in time_ticks(int(time.low), int(time.high), zone):
        x = time.at(at_ms)
        strokes.append(Stroke("axis", f"M{x:g} {foot}v5"))
        words.append(Words(min(x, WIDTH - RIGHT - 16), height - 8, "middle", text))
    return strokes, words


def grid(values: Scale, shown: tuple[float, float]) -> tuple[list[Stroke], list[Words]]:
    """Lines across a drawing at round values, with their texts at the left.

    `shown`: what is written at the least and the most of the scale; the two may be in another unit, such as °F.
    """
    as_shown = Scale(*shown, values.begin, values.end)
    ticks, decimals = value_ticks(*shown)
    strokes, words = [], []
    for value in ticks:
        y = as_shown.at(value)
        strokes.append(Stroke("grid", f"M{LEFT} {y:g}H{WIDTH - RIGHT}"))
        words.append(Words(LEFT - 6, y + 4, "end", figures.number(value, decimals)))
    return strokes, words
