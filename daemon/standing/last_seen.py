"""When each clutch was last seen, and when a round is due by that. Pure; times are UTC ms.

A clutch is seen in a round in which something was said of its box: an entry that stands, also why it was left out,
since somebody decided that. A round in which nobody said anything of it leaves it due as it was.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import tzinfo

from config.words import AlarmKind
from daemon.alarms.classes import DAY_MS
from daemon.alarms.figures import duration_text
from daemon.clutches.values import Clutch
from daemon.standing.care import ROUND_GRACE_MS, day_text, in_incubator_since_ms, is_daytime
from daemon.standing.found import Found

_MOST_NAMED = 2


@dataclass(frozen=True, slots=True)
class LastSeen:
    """When a clutch was seen last: at the end of a round (`in_round`), or when it came into its incubator."""

    clutch_id: int
    label: str
    at_ms: int
    in_round: bool

    def due_ms(self, every_days: float) -> int:
        """When it is to be seen again."""
        return self.at_ms + round(every_days * DAY_MS)


def last_seen(
    clutches: Iterable[Clutch], incubator: str, ended_ms: Mapping[int, int], now_ms: int
) -> tuple[LastSeen, ...]:
    """Give it for those of the clutches that are in an incubator, whoever was not seen for longest first.

    `ended_ms`: when the last round was ended in which something was said of a clutch, by its number.
    """
    found = []
    for each in clutches:
        came_ms = in_incubator_since_ms(each.placements, incubator, now_ms)
        if came_ms is None:
            continue
        round_ms = ended_ms.get(each.clutch_id)
        in_round = round_ms is not None and round_ms >= came_ms
        at_ms = came_ms if round_ms is None else max(came_ms, round_ms)
        found.append(LastSeen(each.clutch_id, each.label, at_ms, in_round))
    return tuple(sorted(found, key=lambda one: one.at_ms))


def round_due_ms(seen: Iterable[LastSeen], every_days: float) -> int | None:
    """When the next round through an incubator is due: when the first of its clutches is; None without any."""
    return min((each.due_ms(every_days) for each in seen), default=None)


def round_overdue(
    incubator: str,
    seen: Sequence[LastSeen],
    every_days: float,
    now_ms: int,
    zone: tzinfo,
    *,
    is_on: bool,
    goes_on: bool,
) -> Found | None:
    """Whether a round through an incubator is overdue, by when its clutches were `seen`, and which they are.

    While a round goes on (`goes_on`) an alarm stays as it is.
    """
    due_ms = round_due_ms(seen, every_days)
    if due_ms is None or now_ms <= due_ms + ROUND_GRACE_MS:
        return None
    if not is_on and (goes_on or not is_daytime(now_ms, zone)):
        return None
    late = [each for each in seen if each.due_ms(every_days) <= now_ms]
    reason = f"{not_seen_text(seen, late, now_ms, zone)}; a round is due every {every_days:g} days"
    return Found(AlarmKind.ROUND_OVERDUE, incubator, reason, incubator, since_ms=due_ms)


def not_seen_text(seen: Sequence[LastSeen], late: Sequence[LastSeen], now_ms: int, zone: tzinfo) -> str:
    """Say since when the `late` of all clutches in an incubator were not seen; names them where others were.

    Of entries alone, which it knows: a round may have been ended since in which nobody said anything of them.
    """
    first = min(late, key=lambda each: each.at_ms)
    since = f"{day_text(first.at_ms, zone)}, {duration_text(now_ms - first.at_ms)} ago"
    same_day = [each for each in late if day_text(each.at_ms, zone) == day_text(first.at_ms, zone)]
    if len(same_day) == len(seen):
        return f"no entry in a round since {'' if first.in_round else 'the eggs came in '}{since}"
    have = "has" if len(same_day) == 1 else "have"
    told = f"{some_of([each.label for each in same_day])} {have} no entry in a round since {since}"
    others = len(late) - len(same_day)
    return f"{told}, and {others} more {'is' if others == 1 else 'are'} due" if others else told


def some_of(labels: Sequence[str]) -> str:
    """Name clutches: `Juniper`, `Juniper and Clover`, `Juniper and 2 more`."""
    if len(labels) > _MOST_NAMED:
        return f"{labels[0]} and {len(labels) - 1} more"
    return " and ".join(labels)
