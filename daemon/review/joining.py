"""Pure: which facts belong to one incident. Facts are linked by the rules below; an incident is all that hang together.

So the order of the facts does not matter, and each is in exactly one incident. A link needs more than the same time: a
probe that has been dead for weeks must not tie together all that happens meanwhile. What follows from a cause begins
while the cause lasts, or is seen for the first time shortly after it. All times below are project choices.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from types import MappingProxyType

from daemon.review.values import Fact, FactKind

MINUTE_MS = 60_000
SLACK_MS = 10 * MINUTE_MS
"""The last reading before an event lies up to an interval before it, and a broker is told lost only after minutes."""
AFTER_MS = 30 * MINUTE_MS
"""What was there while nobody could see it is seen so soon afterwards. The same fact again within it is the same."""
TOGETHER_MS = 5 * MINUTE_MS
"""Probes that stop within it stop together."""
LONGEST_MS = 48 * 60 * MINUTE_MS
"""What begins later than this after a cause began is an incident of its own, even if the cause still lasts."""
FAR_MS = 2**62
ROOM = "room"

SERVICE_DOWN = frozenset(
    {FactKind.SERVICE_STOPPED, FactKind.SERVICE_CUT_OFF, FactKind.MACHINE_RESTARTED, FactKind.MACHINE_SLEPT}
)
GAPS = frozenset({FactKind.PROBE_GAP, FactKind.SITE_GAP})
_SEEN_LATER = frozenset({FactKind.EXCURSION, FactKind.DELIVERY_FAILED, FactKind.BROKER_LOST, FactKind.CLOCK_STEP})
_AFTER_DOWN = GAPS | {FactKind.BROKER_LOST, FactKind.EXCURSION, FactKind.DELIVERY_FAILED, FactKind.CLOCK_STEP}

FOLLOWS: Mapping[FactKind, frozenset[FactKind]] = MappingProxyType(
    {
        FactKind.MAINS_ABSENT: _AFTER_DOWN | SERVICE_DOWN,
        FactKind.SERVICE_STOPPED: _AFTER_DOWN,
        FactKind.SERVICE_CUT_OFF: _AFTER_DOWN,
        FactKind.MACHINE_RESTARTED: _AFTER_DOWN,
        FactKind.MACHINE_SLEPT: _AFTER_DOWN,
        FactKind.BROKER_LOST: GAPS | {FactKind.EXCURSION, FactKind.DELIVERY_FAILED},
        # A machine with a battery of its own goes off after the probes did.
        FactKind.SITE_GAP: SERVICE_DOWN
        | {FactKind.PROBE_GAP, FactKind.BROKER_LOST, FactKind.EXCURSION, FactKind.DELIVERY_FAILED},
        FactKind.CLOCK_STEP: GAPS | {FactKind.EXCURSION},
        FactKind.EXCURSION: frozenset({FactKind.DELIVERY_FAILED}),
        FactKind.PROBE_FAULT: frozenset({FactKind.DELIVERY_FAILED}),
        FactKind.PROBE_GAP: frozenset({FactKind.DELIVERY_FAILED}),
    }
)
"""What may follow from what, in the same place or from the whole site to any place."""
_OF_ONE_CHANNEL = frozenset({FactKind.PROBE_GAP, FactKind.PROBE_FAULT, FactKind.EXCURSION})
"""Facts of one channel that overlap are one matter: a wire that breaks says nonsense, then nothing."""


def join(facts: Iterable[Fact]) -> list[tuple[Fact, ...]]:
    """Give the facts of each incident, in order of time; the incidents by their first fact.

    It is as if each two that are near in time were held against `linked`. Probes that flap all day make thousands of
    facts of one channel each; these are linked among themselves in one sweep.
    """
    ordered = sorted(set(facts), key=order)
    root = list(range(len(ordered)))

    def find(index: int) -> int:
        while root[index] != index:
            root[index] = root[root[index]]
            index = root[index]
        return index

    def unite(one: int, other: int) -> None:
        root[find(other)] = find(one)

    _sweep(ordered, unite)
    others = [index for index, fact in enumerate(ordered) if not _is_swept(fact)]
    for index, fact in enumerate(ordered):
        far_ms = _end_ms(fact) + AFTER_MS
        rest = others[bisect_right(others, index) :] if _is_swept(fact) else range(index + 1, len(ordered))
        for later in rest:
            if ordered[later].span.from_ms > far_ms:
                break
            if find(index) != find(later) and linked(fact, ordered[later]):
                unite(index, later)
    groups: dict[int, list[Fact]] = {}
    for index, fact in enumerate(ordered):
        groups.setdefault(find(index), []).append(fact)
    return sorted((tuple(group) for group in groups.values()), key=lambda group: order(group[0]))


def _is_swept(fact: Fact) -> bool:
    """Of one channel, and over no earlier than it began: a clock that was set back turns a span round."""
    return fact.kind in _OF_ONE_CHANNEL and _end_ms(fact) >= fact.span.from_ms


def _sweep(ordered: Sequence[Fact], unite: Callable[[int, int], None]) -> None:
    """Unite the facts of one channel, in order of time, with those before them that they are linked to.

    Of what is linked by being near, the one that lasts longest stands for all that go on beside it. So each fact is
    held against a few, and not against all of the half hour before.
    """
    lasting: dict[tuple[str, ...], int] = {}
    beside: dict[str, set[tuple[str, ...]]] = {}
    gap: int | None = None
    for index, fact in enumerate(ordered):
        if not _is_swept(fact):
            continue
        own = (fact.subject, fact.kind, fact.place)
        near = {own} if fact.kind is not FactKind.EXCURSION else {own, (fact.kind, incubator(fact.place))}
        of_channel = beside.setdefault(fact.subject, set())
        candidates = [lasting[name] for name in (near | of_channel) if name in lasting]
        if fact.kind is FactKind.PROBE_GAP:
            candidates += [] if gap is None else [gap]
            gap = index
        for before in candidates:
            if linked(ordered[before], fact):
                unite(before, index)
        of_channel.add(own)
        for name in near:
            if name not in lasting or _end_ms(ordered[lasting[name]]) < _end_ms(fact):
                lasting[name] = index


def order(fact: Fact) -> tuple[int, str, str, str, int, str, bool]:
    """By when they began; facts of the same moment by what they are."""
    return (
        fact.span.from_ms, fact.kind, fact.place, fact.subject, _end_ms(fact), fact.words, fact.critical
    )  # fmt: skip


def linked(one: Fact, other: Fact) -> bool:
    """Tell whether two facts share a cause, as far as their kinds, places and times say it."""
    return _again(one, other) or _together(one, other) or _follows(one, other) or _follows(other, one)


def _again(one: Fact, other: Fact) -> bool:
    """The same once more, before it could be called over; or two sides of what one channel did."""
    if not _near(one, other, AFTER_MS):
        return False
    if one.kind in SERVICE_DOWN and other.kind in SERVICE_DOWN:
        return True
    if one.kind is other.kind and one.kind in (FactKind.EXCURSION, FactKind.DELIVERY_FAILED):
        return incubator(one.place) == incubator(other.place)
    if one.kind is other.kind:
        return (one.place, one.subject) == (other.place, other.subject)
    return one.kind in _OF_ONE_CHANNEL and other.kind in _OF_ONE_CHANNEL and one.subject == other.subject


def _together(one: Fact, other: Fact) -> bool:
    if one.kind is not other.kind or one.kind not in (FactKind.PROBE_GAP, FactKind.MAINS_ABSENT):
        return False
    return abs(one.span.from_ms - other.span.from_ms) <= TOGETHER_MS


def _follows(cause: Fact, effect: Fact) -> bool:
    if effect.kind not in FOLLOWS.get(cause.kind, ()) or not _reaches(cause, effect):
        return False
    begun_ms, ended_ms, from_ms = effect.span.from_ms, _end_ms(cause), cause.span.from_ms
    if from_ms - SLACK_MS <= begun_ms <= min(ended_ms, from_ms + LONGEST_MS) + SLACK_MS:
        return True
    return effect.kind in _SEEN_LATER and ended_ms - SLACK_MS <= begun_ms <= ended_ms + AFTER_MS


def _reaches(cause: Fact, effect: Fact) -> bool:
    """What concerns the whole site reaches every place; a call that reached nobody may be about any place."""
    where = incubator(cause.place)
    if not where:
        return True
    return incubator(effect.place) == where or (effect.kind is FactKind.DELIVERY_FAILED and not effect.place)


def incubator(place: str) -> str:
    """Give the incubator that a place lies in; empty for the room and the whole site."""
    first = place.split("/", 1)[0]
    return "" if first == ROOM else first


def _near(one: Fact, other: Fact, ms: int) -> bool:
    return one.span.from_ms <= _end_ms(other) + ms and other.span.from_ms <= _end_ms(one) + ms


def _end_ms(fact: Fact) -> int:
    return FAR_MS if fact.span.to_ms is None else fact.span.to_ms
