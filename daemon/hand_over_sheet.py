"""What the next person must know, on one sheet: chosen from what the daemon knows. Pure values; times are UTC ms."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from daemon.alarm_board_values import AlarmList
from daemon.development.window import HatchWindow
from daemon.overview import Overview
from daemon.people_values import PeopleNow
from daemon.rounds.need import Need, NeedClass
from daemon.rounds.sheet import BoxSheet
from daemon.rounds.summary import Sooner
from daemon.rounds.values import Stop
from sensors.calibration import Record

AHEAD_MS = 14 * 86_400_000
"""Hatching and what is due are told so far ahead. Project choice."""
LONGEST_NOTE, MOST_NOTE_LINES = 600, 12
"""So much of the keeper's own words has room on the sheet. Project choice."""

_TOLD_ELSEWHERE = frozenset({NeedClass.DRYING, NeedClass.NEAR_PIPPING, NeedClass.OVERDUE})


@dataclass(frozen=True, slots=True)
class Note:
    """The keeper's own words: emergency numbers, where the keys are."""

    number: int
    at_ms: int
    who: str
    text: str


@dataclass(frozen=True, slots=True)
class Seen:
    """A box, or a clutch that lies in none, with what was measured and found, and what it needs."""

    stop: Stop
    sheet: BoxSheet
    need: Need


@dataclass(frozen=True, slots=True)
class BoxToSee:
    """One that somebody has to look after: why it needs water and by when, and what else it needs somebody for."""

    name: str
    label: str
    venomous: bool
    water: tuple[str, ...]
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Hatching:
    """A clutch that hatches within the time ahead, or should have; `pipped` eggs have a slit."""

    name: str
    label: str
    species_name: str
    venomous: bool
    window: HatchWindow | None
    pipped: int


@dataclass(frozen=True, slots=True)
class Due:
    """Something that is due at a moment. `why` may be empty; `venomous`: trained handlers alone go near it."""

    what: str
    at_ms: int
    why: str = ""
    venomous: bool = False


@dataclass(frozen=True, slots=True)
class HandOver:
    """All of it at one moment, in the order in which it matters; the page says how much of it has room.

    `venomous` are pairs of place and label. `public_url` is where the pages are, None where nobody stated it.
    """

    overview: Overview
    alarms: AlarmList
    people: PeopleNow
    venomous: tuple[tuple[str, str], ...]
    boxes: tuple[BoxToSee, ...]
    hatching: tuple[Hatching, ...]
    due: tuple[Due, ...]
    note: Note | None
    public_url: str | None


def venomous_of(seen: Iterable[Seen]) -> tuple[tuple[str, str], ...]:
    """Give the boxes that trained handlers alone may open."""
    return tuple((each.stop.whole_name, each.stop.label) for each in seen if each.stop.venomous)


def boxes_of(seen: Sequence[Seen]) -> tuple[BoxToSee, ...]:
    """Give those that need somebody, the most pressing first; near pipping and rounds are told elsewhere."""
    found = []
    for each in sorted(seen, key=lambda one: one.need.rank):
        water = tuple(one.words for one in each.need.reasons if one.kind is NeedClass.DRYING)
        others = tuple(one.words for one in each.need.reasons if one.kind not in _TOLD_ELSEWHERE)
        if water or others:
            found.append(BoxToSee(each.stop.whole_name, each.stop.label, each.stop.venomous, water, others))
    return tuple(found)


def hatching_of(seen: Iterable[Seen], now_ms: int) -> tuple[Hatching, ...]:
    """Give the clutches that hatch within the time ahead, those with pipped eggs first, then by their earliest day."""
    found = []
    for each in seen:
        clutch = each.sheet.clutch
        if clutch is None or not (clutch.counts.open or clutch.counts.pipped):
            continue
        window = clutch.window if isinstance(clutch.window, HatchWindow) else None
        if clutch.counts.pipped or (window is not None and window.earliest_ms <= now_ms + AHEAD_MS):
            stop, pipped = each.stop, clutch.counts.pipped
            found.append(Hatching(stop.whole_name, clutch.label, clutch.species_name, stop.venomous, window, pipped))
    return tuple(sorted(found, key=lambda one: (not one.pipped, one.window.earliest_ms if one.window else 0)))


def due_of(
    rounds_ms: Mapping[str, int],
    names: Mapping[str, str],
    sooner: Iterable[Sooner],
    records: Iterable[Record],
    now_ms: int,
) -> tuple[Due, ...]:
    """Give rounds, boxes to see sooner and calibrations that are due within the time ahead, or past; soonest first."""
    found = [Due(f"Round: {names[incubator]}", at_ms) for incubator, at_ms in rounds_ms.items()]
    found += [Due(f"Look at {each.stop.label}", each.at_ms, "; ".join(each.why), each.stop.venomous) for each in sooner]
    found += [Due(f"Calibration: {each.channel}", each.due_at_ms) for each in records if each.due_at_ms is not None]
    return tuple(sorted((each for each in found if each.at_ms <= now_ms + AHEAD_MS), key=lambda each: each.at_ms))


def mistake_in_note(text: str) -> str:
    """Say why a text has no room on the sheet; empty where it has."""
    if len(text) > LONGEST_NOTE:
        return f"This has {len(text)} characters, and the sheet has room for {LONGEST_NOTE}. Write it shorter."
    lines = text.count("\n") + 1
    if lines > MOST_NOTE_LINES:
        return f"This has {lines} lines, and the sheet has room for {MOST_NOTE_LINES}. Put some of them together."
    return ""
