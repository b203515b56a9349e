"""The text of the digest: short enough for a phone, the most important first, the rest counted. Pure.

What is left out is never left out in silence: each part ends with how many more there are, and whether one of these
needs a look.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from config.unprintable import on_one_line
from config.words import Quantity
from daemon.alarms.figures import clock_text, duration_text, shown, unit_of, value_text
from daemon.alarms.shortened import shortened
from daemon.development.window import MOST_TOLD_SHARE, HatchWindow
from daemon.digest_values import ChannelDay, ClutchDay, Digest, NotTold, OpenAlarm, PlaceDay

LONGEST_DIGEST = 1_500
"""Characters of headline, line break and body: some three screens of a phone. Project choice."""
NAMED_GAP_MS = 30 * 60_000
"""A shorter time without readings is not told: a restart, a few lost messages. Project choice."""
_HOUR_MS = 3_600_000
_LONGEST_LINE = 150
_LONGEST_LABEL = 40
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_NAMES = {
    Quantity.AIR_TEMPERATURE: "air",
    Quantity.SURFACE_TEMPERATURE: "lid",
    Quantity.RELATIVE_HUMIDITY: "humidity",
}
_SOONEST = {"overdue": 0, "open": 1, "ahead": 2}


@dataclass(frozen=True, slots=True)
class DigestText:
    """Headline and body."""

    headline: str
    body: str


@dataclass(frozen=True, slots=True)
class _Part:
    """A heading with its lines, the most important first; `rest` writes what stands for those that do not fit."""

    heading: str
    lines: Sequence[str]
    rest: Callable[[int], str]
    """of the number of lines that are shown"""

    def text(self, count: int) -> list[str]:
        """Write it with so many of its lines."""
        more = [self.rest(count)] if count < len(self.lines) else []
        return [self.heading, *self.lines[:count], *more]


def digest_text(digest: Digest) -> DigestText:
    """Write it; at most `LONGEST_DIGEST` characters."""
    headline = _headline(digest)
    parts = [part for part in _parts(digest) if part is not None]
    room = LONGEST_DIGEST - len(headline) - 1
    lines: list[str] = []
    for index, part in enumerate(parts):
        kept = sum(_size(each.text(0)) for each in parts[index + 1 :])
        used = _size(lines)
        fits = (count for count in range(len(part.lines), 0, -1) if used + _size(part.text(count)) + kept <= room)
        lines += part.text(next(fits, 0))
    return DigestText(headline, "\n".join(lines))


def _size(lines: Sequence[str]) -> int:
    return sum(len(line) + 1 for line in lines)


def _headline(digest: Digest) -> str:
    count = len(digest.open)
    told = f"{count} alarm{'s' * (count > 1)} open" if count else "no alarm open"
    silent = f", {len(digest.not_told)} not told" if digest.not_told else ""
    ill = ", clutchwarden not well" if digest.troubles else ""
    return f"Digest of {day_text(digest.now_ms, digest.zone)}: {told}{silent}{ill}"


def _parts(digest: Digest) -> list[_Part | None]:
    return [
        _open(digest),
        _not_told(digest),
        _plain_part("Clutchwarden itself:", digest.troubles),
        _plain_part("Rounds:", digest.rounds),
        _plain_part("Reviews:", digest.reviews),
        _places(digest),
        _clutches(digest),
        _plain_part("Backup:", digest.backups),
        _Part(f"Code of the journal: {digest.journal_code}", (), lambda _: "") if digest.journal_code else None,
    ]


def _plain_part(heading: str, sentences: Sequence[str]) -> _Part | None:
    lines = [cut(each, _LONGEST_LINE) for each in sentences]
    return _Part(heading, lines, lambda count: f"and {len(lines) - count} more") if lines else None


def _open(digest: Digest) -> _Part:
    alarms = sorted(digest.open, key=lambda each: (each.priority, each.since_ms))
    if not alarms:
        return _Part("No alarm is open.", (), lambda _: "")
    lines = [cut(_open_line(each, digest), _LONGEST_LINE) for each in alarms]
    return _Part(
        "Open:", lines, lambda count: f"and {len(lines) - count} more, the worst {alarms[count].priority.word}"
    )


def _open_line(alarm: OpenAlarm, digest: Digest) -> str:
    since = clock_text(alarm.since_ms, digest.now_ms, digest.zone)
    return f"{alarm.priority.word} {_at(alarm.place, alarm.what)}, since {since}, {alarm.state}"


def _not_told(digest: Digest) -> _Part | None:
    """Those that are told again soonest come last: what is silent for longest is forgotten most easily."""
    alarms = sorted(digest.not_told, key=lambda each: -each.until_ms)
    if not alarms:
        return None
    lines = [cut(_not_told_line(each, digest), _LONGEST_LINE) for each in alarms]
    return _Part("Not told to anybody:", lines, lambda count: f"and {len(lines) - count} more")


def _not_told_line(alarm: NotTold, digest: Digest) -> str:
    left_ms = alarm.until_ms - digest.now_ms
    left = f"{duration_text(left_ms)} left" if left_ms > 0 else "overdue"
    why = f": {cut(alarm.why, _LONGEST_LABEL)}" if alarm.why else ""
    until = clock_text(alarm.until_ms, digest.now_ms, digest.zone)
    return f"{_at(alarm.place, alarm.what)}, {alarm.how} {until} ({left}){why}"


def _places(digest: Digest) -> _Part | None:
    """What was beyond a limit or has a gap comes first, then the order of the site file."""
    places = sorted(digest.places, key=lambda each: not _needs_a_look(each))
    if not places:
        return None
    lines = [cut(_place_line(each, digest.fahrenheit), _LONGEST_LINE) for each in places]

    def rest(count: int) -> str:
        bad = sum(map(_needs_a_look, places[count:]))
        left = len(places) - count
        told = f"{bad} of them beyond a limit or with a gap" if bad else "none beyond a limit, none with a gap"
        return f"and {left} more place{'s' * (left > 1)}, {told}"

    return _Part("Last 24 h, lowest / mean / highest:", lines, rest)


def _needs_a_look(place: PlaceDay) -> bool:
    return any(each.is_below or each.is_above or each.missing_ms >= NAMED_GAP_MS for each in place.channels)


def _place_line(place: PlaceDay, fahrenheit: bool) -> str:
    return f"{cut(place.name, 2 * _LONGEST_LABEL)}: {'; '.join(_channel(each, fahrenheit) for each in place.channels)}"


def _channel(day: ChannelDay, fahrenheit: bool) -> str:
    if day.least is None or day.most is None:
        return f"{_NAMES[day.quantity]} without readings for 24 h"
    unit = unit_of(day.quantity, fahrenheit)
    figures = " / ".join(_figure(each, day.quantity, fahrenheit) for each in (day.least, day.mean, day.most))
    # The unit tells air and humidity apart.
    lid = "lid " if day.quantity is Quantity.SURFACE_TEMPERATURE else ""
    told = f"{lid}{figures} {unit}"
    if day.is_below and day.low is not None:
        told += f" (below {value_text(day.low, day.quantity, fahrenheit, day.least)})"
    if day.is_above and day.high is not None:
        told += f" (above {value_text(day.high, day.quantity, fahrenheit, day.most)})"
    if day.missing_ms >= NAMED_GAP_MS:
        told += f", {day.missing_ms / _HOUR_MS:.1f} h without readings"
    return told


def _figure(value: float | None, quantity: Quantity, fahrenheit: bool) -> str:
    if value is None:
        return "unknown"
    return f"{shown(value, quantity, fahrenheit):z.{1 if quantity.is_temperature else 0}f}"


def _clutches(digest: Digest) -> _Part:
    """Those that hatch soonest come first, before them whatever lies where an alarm is open."""
    clutches = sorted(digest.clutches, key=_urgency)
    if not clutches:
        return _Part("No clutch is in an incubator.", (), lambda _: "")
    lines = [cut(_clutch_line(each, digest.zone), _LONGEST_LINE) for each in clutches]

    def rest(count: int) -> str:
        left, bad = len(clutches) - count, sum(each.alarm for each in clutches[count:])
        told = f"an alarm is open where {bad} of them lie" if bad else "no alarm is open where they lie"
        return f"and {left} more clutch{'es' * (left > 1)}, {told}"

    return _Part("Clutches, development and hatching (nine in ten):", lines, rest)


def _urgency(clutch: ClutchDay) -> tuple[bool, int, int]:
    window = clutch.window
    if not isinstance(window, HatchWindow):
        return not clutch.alarm, len(_SOONEST), 0
    return not clutch.alarm, _SOONEST[window.standing], window.earliest_ms


def _clutch_line(clutch: ClutchDay, zone: tzinfo) -> str:
    share = "share unknown" if clutch.share is None else f"{int(clutch.share * 100 + 1e-9)} %"
    if clutch.share is not None and clutch.share > MOST_TOLD_SHARE:
        share = f"more than {100 * MOST_TOLD_SHARE:.0f} %"
    return f"{cut(clutch.label, _LONGEST_LABEL)}: {share}, {_hatching(clutch, zone)}"


def _hatching(clutch: ClutchDay, zone: tzinfo) -> str:
    window = clutch.window
    if not isinstance(window, HatchWindow):
        return "no date"
    if window.standing == "overdue":
        return f"overdue since {day_text(window.latest_ms, zone)}"
    first, last = day_text(window.earliest_ms, zone), day_text(window.latest_ms, zone)
    days = first if first == last else f"{first} to {last}"
    return f"due now, {days}" if window.standing == "open" else f"hatching {days}"


def day_text(moment_ms: int, zone: tzinfo) -> str:
    """Write a local date: `29 Nov`."""
    moment = datetime.fromtimestamp(moment_ms / 1000, UTC).astimezone(zone)
    return f"{moment.day} {_MONTHS[moment.month - 1]}"


def cut(text: str, longest: int) -> str:
    """Put a text on one line, and shorten it where it is longer."""
    return shortened(on_one_line(text), longest)


def _at(place: str, what: str) -> str:
    return f"{cut(place, 2 * _LONGEST_LABEL)}: {what}" if place else what
