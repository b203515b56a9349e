"""How the eggs of a clutch are, and when they are looked at next, in words. Pure."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from daemon.clutch_record_values import EggsAndCheck
from daemon.clutches.eggs import EggCounts
from dashboards import figures
from dashboards.standing import Mark, Shape, Tone

NEVER_MS = 2**62


def eggs_text(counts: EggCounts) -> str:
    """Write what the eggs are, such as `6 sound, 1 on watch, 1 lost`; what there is none of is left out."""
    return ", ".join(_parts(counts)) or "no egg"


def _parts(counts: EggCounts) -> Iterator[str]:
    named = (
        (counts.sound, "sound"),
        (counts.watch, "on watch"),
        (counts.pipped, "pipped"),
        (counts.hatched, "hatched"),
        (counts.given_away, "given away"),
        (counts.lost, f"lost ({counts.left_in_place} still inside)" if counts.left_in_place else "lost"),
    )
    yield from (f"{count} {name}" for count, name in named if count)


def check_mark(told: EggsAndCheck, now_ms: int, zone: ZoneInfo) -> Mark | None:
    """Mark when somebody has to look, and why where it is before its time; what is late is told as that.

    None where nothing is due.
    """
    if told.next_check_ms is None:
        return None
    due, now = figures.local(told.next_check_ms, zone), figures.local(now_ms, zone)
    day = _day(due.date() == now.date(), figures.date_text(due))
    why = f": {'; '.join(told.why)}" if told.why else ""
    if told.next_check_ms <= now_ms:
        return Mark(Shape.CAUTION, f"check was due {day}{why}", Tone.LOW)
    return Mark(Shape.RING, f"next check {day}{why}", Tone.PLAIN)


def _day(is_today: bool, date: str) -> str:
    return "today" if is_today else date
