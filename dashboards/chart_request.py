"""What somebody asks a chart for: which channels, which period, how fine. Pure; now is an argument."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from config.errors import StatedError
from daemon.chart_reader import ChartSite
from daemon.local_moments import stated_ms

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
MOST_CHANNELS = 20
LEAST_WIDTH, MOST_WIDTH = 1, 2000
LEAST_PERIOD_MS = 1000
MOST_PERIOD_MS = 20 * 366 * DAY_MS
EARLIEST_MS = 946_684_800_000
"""The start of the year 2000 UTC: an earlier moment is a mistake in typing or in its unit. Project choice."""
LATEST_MS = 4_102_444_800_000
"""The start of the year 2100 UTC."""

PERIODS: dict[str, tuple[str, int]] = {
    "1h": ("1 hour", HOUR_MS),
    "6h": ("6 hours", 6 * HOUR_MS),
    "24h": ("24 hours", DAY_MS),
    "7d": ("7 days", 7 * DAY_MS),
    "30d": ("30 days", 30 * DAY_MS),
}
SEASON, OWN = "season", "own"
USUAL_PERIOD = "24h"


class AskedError(Exception):
    """What was asked for cannot be given. `field` is the one to mend; the text says what is wrong and what to do."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field


class UnknownChannelError(AskedError):
    """A channel that the site does not have."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A request that can be answered: from a moment until before another, in at most `width` stretches."""

    channels: tuple[str, ...]
    from_ms: int
    until_ms: int
    width: int


def asked(site: ChartSite, channels: Sequence[str], start: str, end: str, width: str, now_ms: int) -> Asked:
    """Check a request. Without an end it ends now, without a start it begins a day before. Raises AskedError."""
    span = stretch(start, end, ZoneInfo(site.time_zone), now_ms)
    return Asked(known(site, channels), *span, _width(width))


def stretch(start: str, end: str, zone: ZoneInfo, now_ms: int) -> tuple[int, int]:
    """Give the two ends of a period: until now and since a day before its end unless typed. Raises AskedError."""
    until_ms = moment(end, zone, "until") if end.strip() else now_ms
    from_ms = moment(start, zone, "from") if start.strip() else until_ms - DAY_MS
    refuse_period(from_ms, until_ms)
    return from_ms, until_ms


def known(site: ChartSite, channels: Sequence[str]) -> tuple[str, ...]:
    """Give the channels, each once. Raises AskedError where there is none, too many, or one that nobody has."""
    wanted = tuple(dict.fromkeys(channels))
    if not wanted:
        raise AskedError("channel", "Choose at least one channel.")
    if len(wanted) > MOST_CHANNELS:
        raise AskedError("channel", f"{len(wanted)} channels are too many for one chart; choose at most 20.")
    there = {each.channel for each in site.channels}
    for channel in wanted:
        if channel not in there:
            shown = channel if len(channel) <= 80 else f"{channel[:80]}…"  # noqa: PLR2004 - as much as a line holds
            raise UnknownChannelError("channel", f"There is no channel {shown} at this site; choose one of the list.")
    return wanted


def period(name: str, start: str, end: str, zone: ZoneInfo, season_from_ms: int, now_ms: int) -> tuple[int, int]:
    """Give the two ends of a period by its name; of `own` those that were typed. Raises AskedError."""
    if name in PERIODS:
        return now_ms - PERIODS[name][1], now_ms
    if name == SEASON:
        return min(season_from_ms, now_ms - HOUR_MS), now_ms
    if name != OWN:
        raise AskedError("period", f"There is no period {name[:40]!r}; choose one of the list.")
    if not start.strip():
        raise AskedError("from", "Say when the period begins, such as 2026-05-03 14:30.")
    from_ms = moment(start, zone, "from")
    until_ms = moment(end, zone, "until") if end.strip() else now_ms
    refuse_period(from_ms, until_ms)
    return from_ms, until_ms


def moment(text: str, zone: ZoneInfo, field: str) -> int:
    """Read UTC milliseconds, an RFC 3339 time, or a time on the clock of the site. Raises AskedError."""
    stated = text.strip()
    is_number = stated.isascii() and stated.isdigit()
    found = int(stated[:20]) if is_number else _written(stated, zone, field)
    if not EARLIEST_MS <= found < LATEST_MS:
        raise AskedError(field, f"`{field}` is not between the years 2000 and 2100; a number counts milliseconds.")
    return found


def refuse_period(from_ms: int, until_ms: int) -> None:
    """Refuse a period that is none, or longer than anything kept. Raises AskedError."""
    if until_ms <= from_ms:
        raise AskedError("until", "The period ends before it begins; `until` has to be later than `from`.")
    if until_ms - from_ms < LEAST_PERIOD_MS:
        raise AskedError("until", "The period is shorter than a second; take a longer one.")
    if until_ms - from_ms > MOST_PERIOD_MS:
        raise AskedError("from", "The period is longer than 20 years; take a shorter one.")


def _written(stated: str, zone: ZoneInfo, field: str) -> int:
    try:
        read = datetime.fromisoformat(stated)
        if read.tzinfo is not None:
            return round(read.timestamp() * 1000)
    except (ValueError, OverflowError):
        pass
    try:
        return stated_ms(stated, zone)
    except (StatedError, OverflowError) as error:
        hint = error.hint if isinstance(error, StatedError) else "write 2026-05-03"
        reason = error.reason if isinstance(error, StatedError) else f"{stated[:40]!r} is too far away"
        raise AskedError(field, f"`{field}`: {reason[:120]}; {hint}, or UTC milliseconds.") from None


def _width(text: str) -> int:
    stated = text.strip()
    if not (stated.isascii() and stated.isdigit()) or not LEAST_WIDTH <= int(stated[:9]) <= MOST_WIDTH:
        raise AskedError("width", f"`width` has to be a whole number from {LEAST_WIDTH} to {MOST_WIDTH}.")
    return int(stated[:9])
