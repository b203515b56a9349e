"""Pure: what a new look at a period makes of the incidents that are known. Numbers stay; times are UTC ms.

A look finds every fact with a moment in its period, whole. What was stored of that period is replaced by it, what lies
outside is kept, and all of it is joined anew. An incident keeps its number as long as a fact of it is there, so that
looking again, at the same or at more, gives no new number. Where two become one the lower number stays and the other
says in which it ended; where one becomes two the older part keeps the number. Nothing is ever removed: an incident of
which nothing is found any more stays as it was.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from daemon.review.gaps import overlaps
from daemon.review.joining import join, order
from daemon.review.values import Fact, Incident, Span


@dataclass(frozen=True, slots=True)
class Settled:
    """`groups`: the facts of each incident with its number, 0 where it gets a new one; `joined`: (number, into)."""

    groups: tuple[tuple[int, tuple[Fact, ...]], ...]
    joined: tuple[tuple[int, int], ...]


def settle(
    stored: Sequence[Incident],
    found: Iterable[Fact],
    period: Span,
    now_ms: int,
    looks_at: Callable[[Fact], bool] = lambda _: True,
) -> Settled:
    """Join what was found with what is known; `looks_at` says whether a stored fact would have been found again."""
    fresh = list(found)
    old = [fact for incident in stored for fact in incident.facts]
    kept = [fact for fact in old if not (looks_at(fact) and overlaps(fact.span, period))]
    ended = [replace(fact, span=Span(fact.span.from_ms, now_ms)) if _has_gone(fact, period) else fact for fact in kept]
    groups = join((*fresh, *ended))
    owners = [sorted(each.incident_id for each in stored if _shares(each, group)) for group in groups]
    numbers: list[int] = []
    taken: set[int] = set()
    for mine in owners:
        free = [number for number in mine if number not in taken]
        numbers.append(free[0] if free else 0)
        taken.update(free)
    joined = [
        (number, kept_number)
        for mine, kept_number in zip(owners, numbers, strict=True)
        for number in mine
        if kept_number and number != kept_number and number not in numbers
    ]
    return Settled(tuple(zip(numbers, groups, strict=True)), tuple(dict.fromkeys(joined)))


def places_of(facts: Iterable[Fact]) -> tuple[str, ...]:
    """Give the places that facts are about, each once, in order."""
    return tuple(sorted({fact.place for fact in facts if fact.place}))


def ordered(facts: Iterable[Fact]) -> tuple[Fact, ...]:
    """Give facts in order of time."""
    return tuple(sorted(facts, key=order))


def is_same(one: Fact, other: Fact) -> bool:
    """Tell whether two facts are one, of which more has become known."""
    same = (one.kind, one.subject, one.place) == (other.kind, other.subject, other.place)
    return same and overlaps(one.span, other.span)


def _has_gone(fact: Fact, period: Span) -> bool:
    """It still lasted, and nobody looks for it any more."""
    return fact.span.to_ms is None and overlaps(fact.span, period)


def _shares(incident: Incident, group: Iterable[Fact]) -> bool:
    facts = set(incident.facts)
    return any(fact in facts or any(is_same(fact, each) for each in facts) for fact in group)
