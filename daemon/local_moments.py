"""A moment as people type it and read it, in the zone of the site. Pure."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from config.errors import StatedError

_FORMATS = ("%Y-%m-%d", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M:%S")


def stated_ms(text: str, zone: ZoneInfo) -> int:
    """Read `2026-05-03`, `2026-05-03 14:30` or `2026-05-03T14:30`, local to the site, as UTC ms.

    A date alone is the start of that day. Raises StatedError that says how to write it; a local time that the change to
    summer time leaves out is refused, one that comes twice is the first of the two.
    """
    for pattern in _FORMATS:
        try:
            local = datetime.strptime(text.strip(), pattern).replace(tzinfo=zone)
        except ValueError:
            continue
        try:
            moment = local.astimezone(UTC)
            there = moment.astimezone(zone)
        except OverflowError:
            raise StatedError(f"{text} is at the very end of the calendar", "check the year") from None
        if there.replace(tzinfo=None) != local.replace(tzinfo=None):
            raise StatedError(f"{text} does not exist in {zone.key}: the clocks went forward over it", "take another")
        return round(moment.timestamp() * 1000)
    raise StatedError(f"{text!r} is not a date", "write 2026-05-03 or '2026-05-03 14:30'")


def stated_end_ms(text: str, zone: ZoneInfo) -> int:
    """Read the end of a stretch: as `stated_ms`, but a date alone is the end of that day.

    That is the begin of the next one, whatever the clocks do in between. Raises StatedError.
    """
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        return stated_ms(text, zone)
    return stated_ms((day + timedelta(days=1)).isoformat(), zone)


def local_text(moment_ms: int, zone: ZoneInfo) -> str:
    """Write a moment as `2026-05-03 14:30` in the zone of the site."""
    return datetime.fromtimestamp(moment_ms / 1000, UTC).astimezone(zone).strftime("%Y-%m-%d %H:%M")
