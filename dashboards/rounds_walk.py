"""The list of boxes of a round: what is done, what is still open, which need it most. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from zoneinfo import ZoneInfo

from daemon.rounds.need import NeedClass, Reason
from daemon.rounds.values import Stop
from daemon.rounds.walk import Done, Walk, WalkBox
from daemon.rounds.words import BEGUN_WORDS, not_seen_words
from daemon.storage.rounds import RoundOnRecord
from dashboards import figures
from dashboards.rounds_paths import box_path, summary_path, walk_path
from dashboards.standing import Mark, Shape, Tone


class Order(StrEnum):
    """How the list goes."""

    STAND = "stand"
    NEED = "need"
    SHORT = "short"


ORDER_NAMES = {Order.STAND: "As they stand", Order.NEED: "By need", Order.SHORT: "The few that matter"}
DONE_MARKS = {
    Done.OPEN: Mark(Shape.RING, "to do", Tone.PLAIN),
    Done.BEGUN: Mark(Shape.GAP, BEGUN_WORDS, Tone.PLAIN),
    Done.SEEN: Mark(Shape.EGG, "done", Tone.WELL),
    Done.SKIPPED: Mark(Shape.UNTOLD, "left out", Tone.PLAIN),
}
_NOTHING_TO_DO = Mark(Shape.UNTOLD, "no eggs", Tone.PLAIN)


@dataclass(frozen=True, slots=True)
class RowView:
    """One box of the list. `stand` and `rank` are its places in the two orders; `short`: it is one of the few."""

    key: str
    path: str
    stop: Stop
    done: Done
    is_open: bool
    mark: Mark
    needs: tuple[Reason, ...]
    stand: int
    rank: int
    short: bool


@dataclass(frozen=True, slots=True)
class RoundLine:
    """One round of the walk: where, since when, by whom, and until when alarms are held back."""

    number: int
    words: str
    is_over: bool


@dataclass(frozen=True, slots=True)
class WalkPage:
    """The list. `counted` boxes have a clutch, `done` of them are seen or left out."""

    numbers: tuple[int, ...]
    path: str
    summary_path: str
    rounds: tuple[RoundLine, ...]
    rows: tuple[RowView, ...]
    order: Order
    orders: tuple[tuple[Order, str], ...]
    done: int
    counted: int
    next_path: str
    is_ended: bool
    venomous: bool


def walk_page(walk: Walk, names: dict[str, str], order: Order, now_ms: int, zone: ZoneInfo) -> WalkPage:
    """Put a walk into rows. `names`: those of the incubators."""
    numbers = tuple(each.number for each in walk.rounds)
    ranks = {each.stop.key: number for number, each in enumerate(walk.by_need)}
    few = {each.stop.key for each in walk.short}
    rows = [
        _row(each, numbers, stand, ranks[each.stop.key], is_short=each.stop.key in few)
        for stand, each in enumerate(walk.boxes)
    ]
    shown = sorted(rows, key=lambda row: row.rank) if order is Order.NEED else rows
    if order is Order.SHORT:
        shown = [row for row in rows if row.short]
    with_clutch = [row for row in rows if not row.stop.is_empty]
    following = next((row for row in shown if row.is_open and not row.stop.is_empty), None)
    return WalkPage(
        numbers=numbers,
        path=walk_path(numbers),
        summary_path=summary_path(numbers),
        rounds=tuple(_line(each, names, now_ms, zone) for each in walk.rounds),
        rows=tuple(shown),
        order=order,
        orders=tuple(ORDER_NAMES.items()),
        done=sum(not row.is_open for row in with_clutch),
        counted=len(with_clutch),
        next_path="" if following is None else following.path,
        is_ended=all(each.round.ended_ms is not None for each in walk.rounds),
        venomous=any(row.stop.venomous for row in rows),
    )


@dataclass(frozen=True, slots=True)
class TimeOver:
    """What is to be said of a round once its time is over: from when on (UTC ms), and whether that is so by now."""

    until_ms: int
    is_over: bool
    words: str


def times_over(walk: Walk, names: dict[str, str], now_ms: int, zone: ZoneInfo) -> tuple[TimeOver, ...]:
    """Give it for the rounds of a walk that nobody has ended."""
    found = []
    for one in (each.round for each in walk.rounds if each.round.ended_ms is None):
        until = figures.clock_text(figures.local(one.hard_end_ms, zone), figures.local(now_ms, zone))
        words = (
            f"{names.get(one.incubator, one.incubator)}: the time of this round was over at {until}, and everything is "
            "told again. End the round, or end it and start a new one."
        )
        found.append(TimeOver(one.hard_end_ms, now_ms >= one.hard_end_ms, words))
    return tuple(found)


def next_path(walk: Walk, key: str, order: Order) -> str:
    """Give where to go after a box: the next one that is open in this order, else the list."""
    numbers = tuple(each.number for each in walk.rounds)
    if order is Order.STAND:
        following = walk.after(key)
    else:
        some = walk.by_need if order is Order.NEED else walk.short
        following = next(
            (each for each in some if each.is_open and each.stop.key != key and not each.stop.is_empty), None
        )
    wanted = "" if order is Order.STAND else f"?order={order}"
    return (walk_path(numbers) if following is None else box_path(numbers, following.stop.key)) + wanted


@dataclass(frozen=True, slots=True)
class EndQuestion:
    """What is asked before a round is ended with boxes that nobody has seen, and the way back to the first of them."""

    words: str
    back_path: str
    back_name: str


def end_question(walk: Walk) -> EndQuestion | None:
    """Give it; None where everything was seen or left out: then nothing is asked."""
    left = [each.stop for each in walk.not_seen]
    if not left:
        return None
    path = box_path([each.number for each in walk.rounds], left[0].key)
    return EndQuestion(not_seen_words(left), path, left[0].label or left[0].name)


def _row(each: WalkBox, numbers: Sequence[int], stand: int, rank: int, *, is_short: bool) -> RowView:
    is_met = each.done is Done.SEEN or each.need.kind is NeedClass.NOTHING
    return RowView(
        key=each.stop.key,
        path=box_path(numbers, each.stop.key),
        stop=each.stop,
        done=each.done,
        is_open=each.is_open,
        mark=_NOTHING_TO_DO if each.stop.is_empty and each.done is Done.OPEN else DONE_MARKS[each.done],
        needs=() if is_met else each.need.reasons,
        stand=stand,
        rank=rank,
        short=is_short,
    )


def _line(found: RoundOnRecord, names: dict[str, str], now_ms: int, zone: ZoneInfo) -> RoundLine:
    one = found.round
    name = names.get(one.incubator, one.incubator)
    today = figures.local(now_ms, zone)
    began = figures.clock_text(figures.local(one.started_ms, zone), today)
    if one.ended_ms is not None:
        ended = figures.clock_text(figures.local(one.ended_ms, zone), today)
        return RoundLine(found.number, f"{name}: by {one.who}, {began} to {ended}. It is ended.", is_over=True)
    until = figures.clock_text(figures.local(one.hard_end_ms, zone), today)
    if now_ms >= one.hard_end_ms:
        words = f"{name}: begun {began} by {one.who}. Its time was over at {until}: cold and damp are told again."
        return RoundLine(found.number, words, is_over=True)
    words = f"{name}: begun {began} by {one.who}. Cold, damp and the open door are not told until {until}."
    return RoundLine(found.number, words, is_over=False)
