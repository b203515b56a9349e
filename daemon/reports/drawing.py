"""Pure: charts of a report as SVG documents that need nothing around them. Black, grey and dashes: they are printed."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from html import escape
from typing import NamedTuple

WIDTH, HEIGHT = 720, 300
LEFT, RIGHT, TOP, BOTTOM = 62, 14, 26, 34
_FOOT = HEIGHT - BOTTOM
_MOST_TICKS = 6
_DAYS = (1, 2, 3, 7, 14, 28, 61, 122, 365)
_ROOM = 0.05
_DAY_MS = 86_400_000


class Point(NamedTuple):
    """A moment (UTC ms) with a value and the band around it. `joined`: a line leads here from the one before."""

    at_ms: int
    low: float
    best: float
    high: float
    joined: bool = True


class Level(NamedTuple):
    """A dashed line across, from one moment to another, with its name."""

    from_ms: int
    to_ms: int
    value: float
    name: str


class Mark(NamedTuple):
    """A dashed line from top to foot at a moment, with its name."""

    at_ms: int
    name: str


@dataclass(frozen=True, slots=True)
class Chart:
    """What is drawn: values in `unit`, as they are to be read; `title` says what they are.

    `as_dates`: values are moments too (UTC ms), and are written as days.
    """

    title: str
    unit: str
    points: Sequence[Point]
    levels: Sequence[Level] = ()
    marks: Sequence[Mark] = ()
    as_dates: bool = False


def svg_of(chart: Chart, zone: tzinfo) -> str:
    """Draw a chart with at least one point. Raises ValueError without."""
    if not chart.points:
        raise ValueError("a chart needs a point")
    moments = [each.at_ms for each in chart.points] + [each.at_ms for each in chart.marks]
    first, last = min(moments), max(*moments, min(moments) + 1)
    low, high = _ends(chart)
    sheet = _Sheet(first, last, low, high, zone)
    body = "".join(
        [
            *sheet.values(chart),
            *sheet.times(),
            *sheet.band(chart.points),
            *(sheet.level(each, number) for number, each in enumerate(chart.levels)),
            *(sheet.mark(each) for each in chart.marks),
        ]
    )
    title = escape(f"{chart.title}, {chart.unit}" if chart.unit else chart.title)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" font-size="12"'
        f' font-family="sans-serif" fill="#111"><title>{title}</title>'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/><text x="4" y="14" font-weight="600">{title}</text>'
        f"{body}</svg>\n"
    )


def _ends(chart: Chart) -> tuple[float, float]:
    shown = [value for each in chart.points for value in (each.low, each.best, each.high)]
    shown += [each.value for each in chart.levels]
    low, high = min(shown), max(shown)
    room = (high - low) * _ROOM or (_DAY_MS if chart.as_dates else 0.5)
    return low - room, high + room


class _Sheet:
    """Time across, values upwards."""

    def __init__(self, first_ms: int, last_ms: int, low: float, high: float, zone: tzinfo) -> None:
        self._first_ms, self._last_ms, self._low, self._high, self._zone = first_ms, last_ms, low, high, zone

    def x(self, at_ms: float) -> float:
        share = (at_ms - self._first_ms) / (self._last_ms - self._first_ms)
        return round(LEFT + min(max(share, 0.0), 1.0) * (WIDTH - LEFT - RIGHT), 1)

    def y(self, value: float) -> float:
        share = (value - self._low) / (self._high - self._low)
        return round(_FOOT - share * (_FOOT - TOP), 1)

    def values(self, chart: Chart) -> Iterator[str]:
        ticks = (
            day_ticks(round(self._low), round(self._high), self._zone)
            if chart.as_dates
            else value_ticks(self._low, self._high)
        )
        for value, text in ticks:
            y = self.y(value)
            yield f'<path d="M{LEFT} {y}H{WIDTH - RIGHT}" stroke="#ccc"/>'
            yield f'<text x="{LEFT - 6}" y="{y + 4}" text-anchor="end">{escape(text)}</text>'

    def times(self) -> Iterator[str]:
        yield f'<path d="M{LEFT} {_FOOT}H{WIDTH - RIGHT}" stroke="#111"/>'
        for at_ms, text in day_ticks(self._first_ms, self._last_ms, self._zone):
            x = self.x(at_ms)
            yield f'<path d="M{x} {_FOOT}v5" stroke="#111"/>'
            yield f'<text x="{min(x, WIDTH - RIGHT - 18)}" y="{HEIGHT - 12}" text-anchor="middle">{escape(text)}</text>'

    def band(self, points: Sequence[Point]) -> Iterator[str]:
        """A band and a line for each stretch without a break."""
        for run in runs(points):
            there = [f"{self.x(each.at_ms)} {self.y(each.high)}" for each in run]
            back = [f"{self.x(each.at_ms)} {self.y(each.low)}" for each in reversed(run)]
            best = [f"{self.x(each.at_ms)} {self.y(each.best)}" for each in run]
            if len(run) == 1:
                x = self.x(run[0].at_ms)
                span = f"M{x} {self.y(run[0].low)}V{self.y(run[0].high)}"
                yield f'<path d="{span}" stroke="#bbb" stroke-width="4"/>'
                yield f'<circle cx="{x}" cy="{self.y(run[0].best)}" r="2"/>'
                continue
            yield f'<path d="M{"L".join([*there, *back])}Z" fill="#ccc"/>'
            yield f'<path d="M{"L".join(best)}" fill="none" stroke="#111" stroke-width="1.6"/>'

    def level(self, level: Level, number: int) -> str:
        y = self.y(level.value)
        line = f'<path d="M{self.x(level.from_ms)} {y}H{self.x(level.to_ms)}" stroke="#111" stroke-dasharray="6 3"/>'
        name = f'<text x="{LEFT + 6 + 8 * (number % 2)}" y="{y - 4}">{escape(level.name)}</text>' if level.name else ""
        return line + name

    def mark(self, mark: Mark) -> str:
        x = self.x(mark.at_ms)
        anchor = "end" if x > WIDTH / 2 else "start"
        text = f'<text x="{x + (-4 if anchor == "end" else 4)}" y="{TOP + 10}" text-anchor="{anchor}">'
        return f'<path d="M{x} {TOP}V{_FOOT}" stroke="#111" stroke-dasharray="2 3"/>{text}{escape(mark.name)}</text>'


def runs(points: Sequence[Point]) -> list[list[Point]]:
    """Cut points where no line leads from one to the next."""
    found: list[list[Point]] = []
    for each in points:
        if found and each.joined:
            found[-1].append(each)
        else:
            found.append([each])
    return found


def value_ticks(low: float, high: float) -> list[tuple[float, str]]:
    """Give round values between two, at most six, with their texts."""
    rough = (high - low) / (_MOST_TICKS - 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= rough * (1 - 1e-9))
    digits = max(0, -math.floor(math.log10(step) + 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [(number * step, f"{number * step:z.{digits}f}") for number in range(first, last + 1)]


def day_ticks(from_ms: int, until_ms: int, zone: tzinfo) -> list[tuple[int, str]]:
    """Give local midnights between two moments, at most about six, each with its text: `14 May`."""
    span_days = (until_ms - from_ms) / _DAY_MS
    days = next((each for each in _DAYS if span_days / each <= _MOST_TICKS), _DAYS[-1])
    day = datetime.fromtimestamp(from_ms / 1000, UTC).astimezone(zone).date()
    found: list[tuple[int, str]] = []
    while True:
        day += timedelta(days=1)
        at_ms = round(datetime(day.year, day.month, day.day, tzinfo=zone).timestamp() * 1000)
        if at_ms > until_ms:
            return found
        if day.toordinal() % days == 0:
            found.append((at_ms, f"{day.day} {day:%b}"))
