"""Pure: what a round came to, and which boxes are to be seen before the next one. Times are UTC ms."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import tzinfo

from daemon.clutches.eggs import EggState
from daemon.development.window import HatchWindow
from daemon.rounds.need import eggs_text, is_dry_now
from daemon.rounds.sheet import BoxSheet
from daemon.rounds.values import BoxState, Lid, Medium, Photo, Stop
from daemon.standing.care import day_text
from daemon.storage.rounds import RoundOnRecord

AGAIN_SOON_DAYS, AGAIN_LATER_DAYS = 1, 3
"""When to look again at what cannot wait and at what is watched. Project choices."""
_DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True)
class EggsOf:
    """Eggs of one box: what was said of them, which (marks or numbers), by whom. `refused`: why it was not taken."""

    stop: Stop
    words: str
    names: tuple[str, ...]
    who: str
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Sooner:
    """A box to see before its own next day: when, and why."""

    stop: Stop
    at_ms: int
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Skipped:
    """A box that was left out, and why."""

    stop: Stop
    why: str
    who: str


@dataclass(frozen=True, slots=True)
class BoxOfRound:
    """One box of a round as the summary needs it; `shown` are its photos."""

    stop: Stop
    state: BoxState | None
    sheet: BoxSheet | None
    shown: tuple[Photo, ...] = ()


@dataclass(frozen=True, slots=True)
class Summary:
    """A round: `eggs` are those of which something was said in it, `on_watch` all that are on watch now.

    `boxes` counts those with a clutch, `seen` those of them into which somebody looked. `duration_ms` is None, and
    `next_due_ms` the present plan, while it goes on; `next_due_ms` is None where no eggs are left.
    """

    round: RoundOnRecord
    boxes: int
    seen: int
    eggs: tuple[EggsOf, ...]
    on_watch: tuple[EggsOf, ...]
    not_taken: tuple[EggsOf, ...]
    sooner: tuple[Sooner, ...]
    skipped: tuple[Skipped, ...]
    not_seen: tuple[Stop, ...]
    treated: tuple[tuple[Stop, str], ...]
    water_ml: float
    photos: int
    late: int
    people: tuple[str, ...]
    duration_ms: int | None
    next_due_ms: int | None
    half_said: tuple[Stop, ...] = ()
    """boxes that somebody opened, and of which nobody said how the medium feels or how the lid is"""

    @property
    def removed(self) -> tuple[EggsOf, ...]:
        """The eggs that were lost in this round."""
        return tuple(each for each in self.eggs if each.words.startswith(("removed", "lost")))


def summary(
    found: RoundOnRecord,
    boxes: Sequence[BoxOfRound],
    next_due_ms: int | None,
    own_due_ms: Mapping[int, int],
    zone: tzinfo,
) -> Summary:
    """Sum a round up. `own_due_ms`: when each clutch is to be seen again, by its number."""
    with_clutch = [each for each in boxes if not each.stop.is_empty]
    states = [each.state for each in boxes if each.state is not None]
    eggs = [each for box in boxes for each in _eggs(box)]
    ended_ms = found.round.ended_ms
    return Summary(
        round=found,
        boxes=len(with_clutch),
        seen=sum(each.state is not None and each.state.is_seen for each in with_clutch),
        eggs=tuple(each for each in eggs if not each.refused),
        on_watch=tuple(each for box in with_clutch for each in _on_watch(box)),
        not_taken=tuple(each for each in eggs if each.refused),
        sooner=tuple(sorted(_all_sooner(with_clutch, found, own_due_ms, zone), key=lambda each: each.at_ms)),
        skipped=tuple(
            Skipped(each.stop, each.state.skipped, each.state.who[-1])
            for each in boxes
            if each.state is not None and each.state.skipped
        ),
        not_seen=tuple(each.stop for each in with_clutch if each.state is None or not each.state.at_ms),
        treated=tuple((each.stop, what) for each in boxes if each.state is not None for what in each.state.treated),
        water_ml=sum(each.water_ml for each in states),
        photos=sum(len(each.shown) for each in boxes),
        late=sum(one.late for each in states for one in each.findings),
        people=tuple(dict.fromkeys([found.round.who, *(who for each in states for who in each.who)])),
        duration_ms=None if ended_ms is None else ended_ms - found.round.started_ms,
        next_due_ms=next_due_ms,
        half_said=tuple(each.stop for each in with_clutch if each.state is not None and _is_half_said(each.state)),
    )


def _is_half_said(state: BoxState) -> bool:
    return state.is_seen and not state.through_lid_only and (state.medium is None or state.lid is None)


def digest_line(who: str, incubator: str, seen: int, eggs_removed: int, eggs_on_watch: int) -> str:
    """Say in one line for the daily message what a round came to; counted are eggs of which it was said in it."""
    boxes = "1 box" if seen == 1 else f"{seen} boxes"
    watch = f", {eggs_text(eggs_on_watch)} put on watch" if eggs_on_watch else ""
    removed = f"{eggs_text(eggs_removed)} removed" if eggs_removed else "no egg removed"
    return f"Round by {who} in {incubator}: {boxes}, {removed}{watch}."


def eggs_lost(states: Iterable[BoxState]) -> int:
    """Count the eggs that were said to be lost."""
    return _count(states, EggState.REMOVED)


def eggs_put_on_watch(states: Iterable[BoxState]) -> int:
    """Count the eggs that were put on watch."""
    return _count(states, EggState.WATCH)


def _count(states: Iterable[BoxState], what: EggState) -> int:
    return sum(len(done.names) for each in states for done in each.taken if done.seen.stated.state is what)


def _eggs(box: BoxOfRound) -> Iterator[EggsOf]:
    for finding in () if box.state is None else box.state.findings:
        if box.state is not None and finding.entry.entry_id in box.state.corrected:
            continue
        for done in finding.eggs:
            which = done.seen.which
            names = done.names or ((f"{which} of them",) if isinstance(which, int) else which)
            yield EggsOf(box.stop, done.seen.stated.words, names, finding.entry.who, done.refused)


def _on_watch(box: BoxOfRound) -> Iterator[EggsOf]:
    clutch = None if box.sheet is None else box.sheet.clutch
    if clutch is not None and clutch.counts.watch:
        yield EggsOf(box.stop, "on watch", clutch.watched, "")


def _all_sooner(
    boxes: Iterable[BoxOfRound], found: RoundOnRecord, own_due_ms: Mapping[int, int], zone: tzinfo
) -> Iterator[Sooner]:
    for box in boxes:
        sooner = sooner_of(box, found, own_due_ms.get(box.stop.clutch_id or 0), zone)
        if sooner is not None:
            yield sooner


def sooner_of(box: BoxOfRound, found: RoundOnRecord, due_ms: int | None, zone: tzinfo) -> Sooner | None:
    """Give when a box is to be seen before it is due, by what a round found there, and why; None where it can wait."""
    from_ms = found.round.started_ms if found.round.ended_ms is None else found.round.ended_ms
    whens = [each for each in _reasons(box, from_ms, zone) if due_ms is None or each[0] < due_ms]
    if not whens:
        return None
    return Sooner(box.stop, min(at_ms for at_ms, _ in whens), tuple(why for _, why in sorted(whens)))


def _reasons(box: BoxOfRound, from_ms: int, zone: tzinfo) -> Iterator[tuple[int, str]]:
    """Give when to look again, each with the reason."""
    soon_ms, later_ms = (from_ms + days * _DAY_MS for days in (AGAIN_SOON_DAYS, AGAIN_LATER_DAYS))
    state, sheet = box.state, box.sheet
    if state is not None:
        yield from _found(state, soon_ms, later_ms)
    if sheet is None or sheet.clutch is None:
        return
    counts, window = sheet.clutch.counts, sheet.clutch.window
    # Of eggs it may have been said since.
    if counts.pipped:
        yield _after(AGAIN_SOON_DAYS, from_ms, sheet.clutch.pipped_since_ms), f"{eggs_text(counts.pipped)} pipped"
    if counts.watch:
        yield _after(AGAIN_LATER_DAYS, from_ms, sheet.clutch.watched_since_ms), f"{eggs_text(counts.watch)} on watch"
    if is_dry_now(sheet) and not (state is not None and state.water_ml):
        yield soon_ms, "too dry when the round began, and no water was added"
    if sheet.dry_days is not None and not (state is not None and state.water_ml):
        yield max(sheet.until_ms + round(sheet.dry_days * _DAY_MS), from_ms), sheet.dry_out
    if isinstance(window, HatchWindow) and counts.open:
        yield max(window.earliest_ms, soon_ms), f"may pip from {day_text(window.earliest_ms, zone)} on"


def _after(days: int, round_ms: int, said_ms: int | None) -> int:
    return max(round_ms, said_ms or 0) + days * _DAY_MS


def _found(state: BoxState, soon_ms: int, later_ms: int) -> Iterator[tuple[int, str]]:
    if state.medium is Medium.DRY and not state.water_ml:
        yield soon_ms, "felt dry, and no water was added"
    if state.medium is Medium.WET:
        yield later_ms, "felt wet"
    if state.lid is Lid.DRIPPING:
        yield (later_ms, "the lid was dripping") if state.wiped else (soon_ms, "the lid drips and was not wiped")
    if state.lid is Lid.BEADS:
        yield later_ms, f"beads of water on the lid{', wiped' if state.wiped else ''}"
    if state.not_taken:
        yield soon_ms, "what was said of eggs was not taken"
