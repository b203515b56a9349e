"""Pure: moments, stretches and figures as the account of a period writes them: with day, zone and unit."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from config.words import Quantity
from daemon.alarms.figures import clock_text, duration_text, value_text
from daemon.review.values import Bounds, Span

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_OTHER_DAY_MS = 3 * 86_400_000
_MOST = 5
ABOUT_95 = "in about 95 of 100 such cases"
"""How an interval of about 95 % is said."""


@dataclass(frozen=True, slots=True)
class Telling:
    """Writes in the zone and the unit of the site."""

    zone: tzinfo
    fahrenheit: bool = False

    def moment(self, at_ms: int) -> str:
        """`Thu 14 May 02:11`, whatever day it is when somebody reads it."""
        return f"{_DAYS[self._local(at_ms).weekday()]} {clock_text(at_ms, at_ms + _OTHER_DAY_MS, self.zone)}"

    def dated(self, at_ms: int) -> str:
        """`Thu 14 May 2026 02:11`."""
        day, month, *time = clock_text(at_ms, at_ms + _OTHER_DAY_MS, self.zone).split(" ")
        local = self._local(at_ms)
        return f"{_DAYS[local.weekday()]} {day} {month} {local.year} {' '.join(time)}"

    def until(self, at_ms: int, from_ms: int) -> str:
        """The end of a stretch: the time of day alone where it is the day of its begin."""
        same = self._local(at_ms).date() == self._local(from_ms).date()
        return clock_text(at_ms, from_ms, self.zone) if same else self.moment(at_ms)

    def span(self, span: Span, *, dated: bool = False) -> str:
        """`from Thu 14 May 02:11 to 06:00 (3 h 49 min)`, or `from Thu 14 May 02:11 on`."""
        begin = self.dated(span.from_ms) if dated else self.moment(span.from_ms)
        if span.to_ms is None:
            return f"from {begin} on"
        length = duration_text(span.to_ms - span.from_ms)
        return f"from {begin} to {self.until(span.to_ms, span.from_ms)} ({length})"

    def temperature(self, celsius: float) -> str:
        """`24.1 °C` or `75.4 °F`."""
        return value_text(celsius, Quantity.AIR_TEMPERATURE, self.fahrenheit)

    def value(self, value: float, *, humidity: bool) -> str:
        """A temperature, or a relative humidity."""
        return value_text(value, Quantity.RELATIVE_HUMIDITY, fahrenheit=False) if humidity else self.temperature(value)

    def _local(self, at_ms: int) -> datetime:
        return datetime.fromtimestamp(at_ms / 1000, UTC).astimezone(self.zone)


def listed(names: Sequence[str], most: int = _MOST) -> str:
    """Write names as a sentence has them; of many the first ones, and how many more.

    Names with commas of their own, as those of places in places, are set apart by semicolons.
    """
    shown = [*names[: most - 1], f"{len(names) - most + 1} more"] if len(names) > most else list(names)
    if any("," in each for each in shown):
        return "; ".join(shown)
    return " and ".join([", ".join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)


def counted(count: int, one: str, many: str = "") -> str:
    """`1 place`, `3 places`."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def time_of(outside_ms: Bounds) -> str:
    """A time with its bounds: `3 h 10 min`, `about 3 h (at least 2 h 40 min, at most 3 h 49 min)`."""
    least, most = duration_text(round(outside_ms.low)), duration_text(math.ceil(outside_ms.high))
    if least == most:
        return least
    best = "" if outside_ms.best is None else duration_text(round(outside_ms.best))
    return f"about {best} (at least {least}, at most {most})" if best else f"at least {least} and at most {most}"


def degree_hours_of(degree_hours: Bounds) -> str:
    """Degree-hours with their bounds, in °C·h whatever unit the site shows, as papers and profiles state them."""
    least, most = f"{degree_hours.low:.1f}", f"{degree_hours.high:.1f}"
    if math.isinf(degree_hours.high):
        return f"at least {least} °C·h, and nobody can tell how much at most"
    if least == most:
        return f"{least} °C·h"
    if degree_hours.best is None:
        return f"{least} to {most} °C·h"
    return f"about {degree_hours.best:.1f} °C·h ({least} to {most})"
