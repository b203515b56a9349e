"""A board beside an incubator that says that readings are lost, or soon will be. Pure. Times are UTC ms.

Only what it says while it is on the network counts as how it is now: the broker knows, by its Last Will, that it left.
The figures below are project choices.
"""

from dataclasses import dataclass
from datetime import tzinfo

from config.words import AlarmKind
from daemon.alarms.figures import clock_text, duration_text
from daemon.alarms.shortened import shortened_words
from daemon.boards import BoardHeard
from daemon.standing.found import Found

CLOCK_WRONG_MS = 60 * 60_000
"""A time service that is there sets a clock within minutes."""
FULL, NO_LONGER_FULL = 0.8, 0.7
LOSS_TOLD_MS = 24 * 3_600_000
"""So long a loss is on after it was heard of: what is lost does not come back, but somebody has to hear of it."""
_LONGEST_DISK = 60
UNKNOWN_MS = 24 * 3_600_000
"""An alarm that is on waits so long for a board that says nothing any more."""


@dataclass(frozen=True, slots=True)
class BoardFacts:
    """What is known of one probe's board. `online` as it last said, `listened_ms`: since when somebody listens.

    `lost` readings in all, by its own word, which grew at `lost_ms` for the last time; None where it never did.
    """

    probe: str
    place: str
    heard: BoardHeard | None
    online: bool | None
    listened_ms: int
    lost: int = 0
    lost_ms: int | None = None


def board_trouble(facts: BoardFacts, now_ms: int, zone: tzinfo, *, is_on: bool) -> Found | None:
    """Whether a keeper has to know something of a board."""
    why = [*_lost(facts, now_ms, zone), *_now(facts, now_ms, zone, is_on=is_on)]
    if why:
        return _found(facts, "; ".join(why))
    if is_on and not _is_there(facts):
        silent_ms = facts.listened_ms if facts.heard is None else max(facts.heard.received_ms, facts.listened_ms)
        if now_ms - silent_ms < UNKNOWN_MS:
            return _found(facts, "the board is not on the network, so how it is cannot be said", known=False)
    return None


def _lost(facts: BoardFacts, now_ms: int, zone: tzinfo) -> list[str]:
    if facts.lost_ms is None or not 0 <= now_ms - facts.lost_ms < LOSS_TOLD_MS:
        return []
    readings = f"{facts.lost:,} reading{' has' if facts.lost == 1 else 's have'} been lost on the board in all"
    return [f"{readings}, which it last told {clock_text(facts.lost_ms, now_ms, zone)}"]


def _now(facts: BoardFacts, now_ms: int, zone: tzinfo, *, is_on: bool) -> list[str]:
    heard = facts.heard
    if heard is None or not _is_there(facts):
        return []
    state, why = heard.state, []
    if state.disk:
        said = shortened_words(state.disk, _LONGEST_DISK)
        why.append(f'its disk takes no readings ("{said}"), so what is not sent is kept in memory alone')
    if state.full is not None and state.full >= (NO_LONGER_FULL if is_on else FULL):
        oldest = "" if state.oldest_s is None else f", the oldest for {duration_text(round(state.oldest_s * 1000))}"
        waiting = "" if state.waiting is None else f": {state.waiting:,} readings wait{oldest}"
        why.append(f"its room for unsent readings is {round(100 * state.full)} % full{waiting}")
    wrong_ms = heard.clock_wrong_ms
    if wrong_ms is not None and (is_on or now_ms - wrong_ms >= CLOCK_WRONG_MS):
        since = clock_text(wrong_ms, now_ms, zone)
        why.append(f"its clock has not been right since {since} or before, so its readings wait there")
    return why


def _is_there(facts: BoardFacts) -> bool:
    return facts.heard is not None and facts.online is True


def _found(facts: BoardFacts, reason: str, *, known: bool = True) -> Found:
    return Found(AlarmKind.BOARD_TROUBLE, facts.probe, reason, facts.place, f"board of {facts.probe}", known=known)
