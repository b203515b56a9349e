"""Where things stand on the small bar under a reading. Pure.

The band between the limits always lies in the same place of the drawing, whatever the limits are, so that a person
sees down a whole page at one glance which mark is outside. Each of the three parts has a straight scale of its own:
from the lethal end to the limit, between the limits, from the limit to the lethal end. Where no lethal end is known,
the outer part is half as long as the band.
"""

from dataclasses import dataclass

from daemon.overview import ChannelNow
from dashboards.figures import quantity_value
from dashboards.standing import Standing, Tone, standing_mark

OFF_LEFT, LEFT, LOW, HIGH, RIGHT, OFF_RIGHT = 8.0, 22.0, 80.0, 220.0, 278.0, 292.0
"""Positions in the drawing, which is 300 units wide."""

_OPEN_SPAN_K, _OPEN_SPAN_PCT = 4.0, 20.0


@dataclass(frozen=True, slots=True)
class Band:
    """Positions (0 to 300) and texts of one bar. Empty text: not drawn. `mark_x` is None where no mark is due."""

    safe_x: float
    safe_width: float
    mark_x: float | None
    tone: Tone
    low: str
    high: str
    lethal_low: str
    lethal_high: str
    label: str


def band(channel: ChannelNow, judged: Standing, fahrenheit: bool) -> Band | None:
    """Draw the bar of a channel; None where it has no limits, or limits that leave no room between them."""
    ends = _ends(channel)
    if ends is None:
        return None
    trusted = judged not in (Standing.NO_READING, Standing.SUSPECT, Standing.OLD)
    left = LEFT if channel.low is None else LOW
    right = RIGHT if channel.high is None else HIGH
    return Band(
        safe_x=left,
        safe_width=right - left,
        mark_x=None if channel.value is None or not trusted else round(_position(channel.value, ends), 1),
        tone=standing_mark(judged, channel.quantity).tone,
        low=_text(channel, channel.low, fahrenheit),
        high=_text(channel, channel.high, fahrenheit),
        lethal_low=_text(channel, channel.lethal_low, fahrenheit),
        lethal_high=_text(channel, channel.lethal_high, fahrenheit),
        label=_label(channel, judged, fahrenheit),
    )


def _ends(channel: ChannelNow) -> tuple[float, float, float, float] | None:
    """Values at the four positions LEFT, LOW, HIGH and RIGHT."""
    low, high = channel.low, channel.high
    span = _OPEN_SPAN_K if channel.quantity.is_temperature else _OPEN_SPAN_PCT
    if low is None and high is None:
        return None
    low = low if low is not None else (high or 0.0) - span
    high = high if high is not None else low + span
    if low >= high:
        return None
    half = (high - low) / 2
    outer_low, outer_high = channel.lethal_low, channel.lethal_high
    outer_low = outer_low if outer_low is not None and outer_low < low else low - half
    outer_high = outer_high if outer_high is not None and outer_high > high else high + half
    return outer_low, low, high, outer_high


def _position(value: float, ends: tuple[float, float, float, float]) -> float:
    """Where a value lies in the drawing; beyond the ends it stands just outside them."""
    if value < ends[0]:
        return OFF_LEFT
    for start, end, start_x, end_x in zip(ends, ends[1:], (LEFT, LOW, HIGH), (LOW, HIGH, RIGHT), strict=False):
        if value <= end:
            return start_x + (value - start) / (end - start) * (end_x - start_x)
    return OFF_RIGHT


def _text(channel: ChannelNow, limit: float | None, fahrenheit: bool) -> str:
    return "" if limit is None else quantity_value(channel.quantity, limit, fahrenheit).number


def _label(channel: ChannelNow, judged: Standing, fahrenheit: bool) -> str:
    def say(value: float) -> str:
        return str(quantity_value(channel.quantity, value, fahrenheit))

    word = standing_mark(judged, channel.quantity).word
    parts = [f"{say(channel.value)}, " if channel.value is not None else "", f"{word}."]
    if channel.low is not None and channel.high is not None:
        parts.append(f" Limits {say(channel.low)} to {say(channel.high)}.")
    elif channel.low is not None:
        parts.append(f" Low limit {say(channel.low)}.")
    elif channel.high is not None:
        parts.append(f" High limit {say(channel.high)}.")
    if channel.lethal_low is not None:
        parts.append(f" Lethal below {say(channel.lethal_low)}.")
    if channel.lethal_high is not None:
        parts.append(f" Lethal above {say(channel.lethal_high)}.")
    return "".join(parts)
