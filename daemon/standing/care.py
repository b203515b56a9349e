"""What people have to do for eggs on certain days: rounds, clutches that do not suit each other, hatching. Pure.

Times are UTC ms. What is due by the day begins in the daytime of the site only, so that nobody is called at night for
it; what is on stays on through the night. Grace, daytime and deadband are this project's choice.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, tzinfo

from config.words import AlarmKind
from daemon.alarms.classes import DAY_MS, HOUR_MS
from daemon.alarms.figures import clock_text, duration_text
from daemon.alarms.round_suppression import Round, is_overdue
from daemon.clutches.placements import Placement
from daemon.development.window import HatchWindow, NoWindow
from daemon.standing.found import Found

ROUND_GRACE_MS = 12 * HOUR_MS
DAY_BEGINS_H, DAY_ENDS_H = 8, 20
HATCH_GRACE_MS = 3 * DAY_MS
"""A window holds the day in 90 of 100 cases; so long after it, looking at the dates is worth a message."""
DATE_DEADBAND_MS = DAY_MS
"""A window moves with every degree; an alarm that is on is over only this far on the other side."""

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def is_daytime(now_ms: int, zone: tzinfo) -> bool:
    """Tell whether a call about something that is due by the day may begin now."""
    return DAY_BEGINS_H <= datetime.fromtimestamp(now_ms / 1000, UTC).astimezone(zone).hour < DAY_ENDS_H


def no_common_range(conflicts: Mapping[str, Sequence[str]]) -> Iterator[Found]:
    """One for each place with clutches that no climate suits. `conflicts`: sentences by place.

    What a place shares with one in it is told there alone: one move mends both.
    """
    for place, sentences in conflicts.items():
        inside = {each for other, found in conflicts.items() if other.startswith(f"{place}/") for each in found}
        own = [each.removesuffix(".") for each in dict.fromkeys(sentences) if each not in inside]
        if own:
            yield Found(AlarmKind.NO_COMMON_RANGE, place, "; ".join(own), place)


def rounds_not_ended(rounds: Iterable[Round], now_ms: int, zone: tzinfo) -> Iterator[Found]:
    """One for each round whose time is over and that nobody has ended."""
    for each in rounds:
        if is_overdue(each, now_ms):
            begun = clock_text(each.started_ms, now_ms, zone)
            reason = f"started {begun} by {each.who} for {duration_text(each.stated_ms)}"
            yield Found(AlarmKind.ROUND_NOT_ENDED, each.incubator, reason, each.incubator, since_ms=each.hard_end_ms)


def in_incubator_since_ms(placements: Sequence[Placement], incubator: str, now_ms: int) -> int | None:
    """Since when a clutch has been in an incubator without a break; None where it is not there."""
    since_ms = None
    for placement in placements:
        if placement.from_ms <= now_ms:
            inside = placement.place.split("/", 1)[0] == incubator
            since_ms = (placement.from_ms if since_ms is None else since_ms) if inside else None
    return since_ms


def near_pipping(
    subject: str,
    label: str,
    place: str,
    window: HatchWindow | NoWindow,
    near_days: float,
    now_ms: int,
    zone: tzinfo,
    *,
    is_on: bool,
) -> Found | None:
    """Whether the earliest day of a clutch is at most `near_days` away, or past."""
    if isinstance(window, NoWindow):
        return _unknown(AlarmKind.NEAR_PIPPING, subject, label, place, window)
    from_ms = window.earliest_ms - round(near_days * DAY_MS)
    if not _holds(from_ms, now_ms, zone, is_on=is_on):
        return None
    reason = (
        f"earliest {day_text(window.earliest_ms, zone)}, likely {day_text(window.likely_ms, zone)},"
        f" latest {day_text(window.latest_ms, zone)}"
    )
    return Found(AlarmKind.NEAR_PIPPING, subject, reason, place, label)


def hatch_overdue(
    subject: str,
    label: str,
    place: str,
    window: HatchWindow | NoWindow,
    now_ms: int,
    zone: tzinfo,
    *,
    is_on: bool,
) -> Found | None:
    """Whether the latest day of a clutch that has not hatched has passed by more than the grace."""
    if isinstance(window, NoWindow):
        return _unknown(AlarmKind.HATCH_OVERDUE, subject, label, place, window)
    if not _holds(window.latest_ms + HATCH_GRACE_MS, now_ms, zone, is_on=is_on):
        return None
    ago = duration_text(now_ms - window.latest_ms)
    latest, likely = day_text(window.latest_ms, zone), day_text(window.likely_ms, zone)
    return Found(AlarmKind.HATCH_OVERDUE, subject, f"latest day was {latest}, {ago} ago; likely {likely}", place, label)


def day_text(moment_ms: int, zone: tzinfo) -> str:
    """Write the day of a moment: `14 May`."""
    moment = datetime.fromtimestamp(moment_ms / 1000, UTC).astimezone(zone)
    return f"{moment.day} {_MONTHS[moment.month - 1]}"


def _holds(from_ms: int, now_ms: int, zone: tzinfo, *, is_on: bool) -> bool:
    if is_on:
        return now_ms > from_ms - DATE_DEADBAND_MS
    return now_ms > from_ms and is_daytime(now_ms, zone)


def _unknown(kind: AlarmKind, subject: str, label: str, place: str, window: NoWindow) -> Found:
    """A date that is not known just now ends no alarm."""
    return Found(kind, subject, window.reason, place, label, known=False)
