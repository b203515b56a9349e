"""Pure: names of folders and files of reports, and the month or season that somebody types."""

import re
import unicodedata
from datetime import UTC, datetime, tzinfo
from typing import NamedTuple

from config.errors import StatedError

SUMS, PAGE = "SHA256SUMS", "report.html"
SUMS_TOLD = f"{SUMS}: check with sha256sum --check {SUMS} whether a file was changed since"
FIRST_YEAR, LAST_YEAR = 1970, 2200
_LONGEST = 60
_MONTH = re.compile(r"([0-9]{4})-([0-9]{2})")
_LAST_MONTH = 12


class Stretch(NamedTuple):
    """A month or a year on the calendar of the site: its name, and from when until before when, UTC ms."""

    name: str
    from_ms: int
    until_ms: int


def file_name(text: str, otherwise: str = "unnamed") -> str:
    """Give a name that every system takes, out of any text: letters a to z, digits, dots, lines."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    found = re.sub(r"[^A-Za-z0-9.]+", "-", plain).strip("-.")[:_LONGEST].strip("-.")
    return found.lower() or otherwise


def month_of(text: str, zone: tzinfo) -> Stretch:
    """Read `2026-05`. Raises StatedError."""
    found = _MONTH.fullmatch(text.strip())
    if found is None or not 1 <= int(found[2]) <= _LAST_MONTH or not FIRST_YEAR <= int(found[1]) <= LAST_YEAR:
        raise StatedError(f"{text!r} is no month", "write a year and a month: 2026-05")
    year, month = int(found[1]), int(found[2])
    after = (year + month // _LAST_MONTH, month % _LAST_MONTH + 1)
    return Stretch(f"{year}-{month:02d}", _ms(year, month, zone), _ms(*after, zone))


def season_of(text: str, zone: tzinfo) -> Stretch:
    """Read `2026`, the year in which eggs are laid. Raises StatedError."""
    wanted = text.strip()
    is_year = re.fullmatch(r"[0-9]{4}", wanted) is not None
    if not is_year or not FIRST_YEAR <= int(wanted) <= LAST_YEAR:
        raise StatedError(f"{text!r} is no year", "write the year in which the eggs were laid: 2026")
    return Stretch(wanted, _ms(int(wanted), 1, zone), _ms(int(wanted) + 1, 1, zone))


def months_between(from_ms: int, until_ms: int, zone: tzinfo) -> list[str]:
    """Give the months that a span touches, the newest first."""
    first, last = (datetime.fromtimestamp(each / 1000, UTC).astimezone(zone) for each in (from_ms, until_ms))
    numbers = range(first.year * 12 + first.month - 1, last.year * 12 + last.month)
    return [f"{each // 12}-{each % 12 + 1:02d}" for each in reversed(numbers)]


def _ms(year: int, month: int, zone: tzinfo) -> int:
    return round(datetime(year, month, 1, tzinfo=zone).timestamp() * 1000)
