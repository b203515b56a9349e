"""A mirror that is behind. Pure; times are UTC ms."""

from dataclasses import dataclass
from datetime import tzinfo

from config.words import AlarmKind
from daemon.alarms.figures import clock_text, duration_text
from daemon.standing.found import Found

BEHIND_MS = 60 * 60_000
"""A target that is off for less than an hour gets everything by itself. Project choice."""
MOVES_MS = 15 * 60_000
"""So long after it took something last it is still getting on: years that are copied at first are no fault. Project
choice."""
SUBJECT = "mirror"


@dataclass(frozen=True, slots=True)
class MirrorFacts:
    """What is known of the mirror of a site that has one.

    `oldest_ms`: when the oldest reading came that it has not, 0 where it has all. `progress_ms`: when it took something
    last, None where it never did. `begun_ms`: when the service began with it. `trouble` is empty where all is well.
    """

    waiting: int
    oldest_ms: int
    progress_ms: int | None
    begun_ms: int
    trouble: str = ""


def mirror_behind(facts: MirrorFacts, now_ms: int, zone: tzinfo) -> Found | None:
    """Readings that wait for long, while the target takes nothing."""
    if not facts.oldest_ms or now_ms - facts.oldest_ms < BEHIND_MS:
        return None
    last_ms = facts.begun_ms if facts.progress_ms is None else facts.progress_ms
    if now_ms - last_ms < MOVES_MS:
        return None
    took = "it has taken nothing yet"
    if facts.progress_ms is not None:
        took = f"it took something last {clock_text(last_ms, now_ms, zone)}"
    why = f": {facts.trouble}" if facts.trouble else ""
    readings = f"{facts.waiting:,} reading{'' if facts.waiting == 1 else 's'} wait"
    reason = f"{readings}, the oldest for {duration_text(now_ms - facts.oldest_ms)}; {took}{why}"
    return Found(AlarmKind.MIRROR_BEHIND, SUBJECT, reason, since_ms=facts.oldest_ms + BEHIND_MS)
