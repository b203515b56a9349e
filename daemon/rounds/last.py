"""Pure: the round that was ended last, as whoever comes next needs it, and rounds that are due. Times are UTC ms."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from daemon.clutches.eggs import EggState
from daemon.rounds.last_said import BoxFound, BoxSaid, boxes_said, eggs_that_are
from daemon.rounds.summary import eggs_lost, eggs_put_on_watch
from daemon.storage.rounds import RoundOnRecord

ENDED_TOGETHER_MS = 60_000
"""Rounds of several incubators that one person ends by one press are told as one. Project choice."""


@dataclass(frozen=True, slots=True)
class LastRound:
    """One round, or several that were ended together: `numbers` are theirs, `incubators` the names of where they were.

    `boxes` counts the places with a clutch, `seen` those of them into which somebody looked; eggs are those of which it
    was said in the round. `note` is what was written for whoever comes next. `said` are boxes of which hand or eye
    said something, the most pressing first; `not_seen` the names of those that nobody looked at, without a reason.
    """

    numbers: tuple[int, ...]
    incubators: tuple[str, ...]
    who: str
    ended_ms: int
    seen: int
    boxes: int
    removed: int
    watched: int
    photos: int
    note: str
    pipped: int = 0
    hatched: int = 0
    said: tuple[BoxSaid, ...] = ()
    not_seen: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RoundDue:
    """An incubator in which a round is due since a moment, and none goes on."""

    incubator: str
    name: str
    since_ms: int


@dataclass(frozen=True, slots=True)
class RoundCount:
    """What one round came to: the places with a clutch with what stands of them, and how many photos."""

    round: RoundOnRecord
    boxes: Sequence[BoxFound]
    photos: int


def ended_together(ended: Sequence[RoundOnRecord]) -> tuple[RoundOnRecord, ...]:
    """Give the round that was ended last, with those that the same person ended with it; in the order of numbers."""
    at_ms = {each.number: each.round.ended_ms for each in ended if each.round.ended_ms is not None}
    if not at_ms:
        return ()
    last = max((each for each in ended if each.number in at_ms), key=lambda each: (at_ms[each.number], each.number))
    mine = [
        each
        for each in ended
        if each.number in at_ms
        and (each.ended_by, each.note) == (last.ended_by, last.note)
        and at_ms[last.number] - at_ms[each.number] <= ENDED_TOGETHER_MS
    ]
    # Of one incubator only the last one: another round there was a round of its own.
    newest = {each.round.incubator: each for each in sorted(mine, key=lambda each: each.number)}
    return tuple(sorted(newest.values(), key=lambda each: each.number))


def last_round(
    counted: Sequence[RoundCount], incubators: Mapping[str, str], people: Mapping[str, str]
) -> LastRound | None:
    """Sum up what was ended together; names by ids, and an id that has none stands for itself."""
    if not counted:
        return None
    ended_ms = max(each.round.round.ended_ms or 0 for each in counted)
    first = counted[0].round
    boxes = [box for each in counted for box in each.boxes]
    states = [box.state for box in boxes if box.state is not None]
    return LastRound(
        numbers=tuple(each.round.number for each in counted),
        incubators=tuple(incubators.get(each.round.round.incubator, each.round.round.incubator) for each in counted),
        who=people.get(first.ended_by, first.ended_by),
        ended_ms=ended_ms,
        seen=sum(state.is_seen for state in states),
        boxes=len(boxes),
        removed=eggs_lost(states),
        watched=eggs_put_on_watch(states),
        photos=sum(each.photos for each in counted),
        note=first.note,
        pipped=eggs_that_are(boxes, EggState.PIPPED),
        hatched=eggs_that_are(boxes, EggState.HATCHED),
        said=boxes_said(boxes),
        not_seen=tuple(f"{box.name} ({box.label})" for box in boxes if box.is_untouched),
    )


def rounds_due(
    due_ms: Mapping[str, int], incubators: Mapping[str, str], going_on: Collection[str], now_ms: int
) -> tuple[RoundDue, ...]:
    """Give where a round is due by now and nobody has begun one, the longest due first."""
    found = [
        RoundDue(each, incubators.get(each, each), since_ms)
        for each, since_ms in due_ms.items()
        if since_ms <= now_ms and each not in going_on
    ]
    return tuple(sorted(found, key=lambda each: each.since_ms))
