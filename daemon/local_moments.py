"""A moment as people type it and read it, in the zone of the site. Pure."""

from datetime import UTC, datetime
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
        moment = local.astimezone(UTC)
        if moment.astimezone(zone).replace(tzinfo=None) != local.replace(tzinfo=None):
            raise StatedError(f"{text} does not exist in {zone.key}: the clocks went forward over it", "take another")
        return round(moment.timestamp() * 1000)
    raise StatedError(f"{text!r} is not a date", "write 2026-05-03 or '2026-05-03 14:30'")
