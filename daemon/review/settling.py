"""Pure: what a new look at a period makes of the incidents that are known. Numbers stay; times are UTC ms.

A look finds every fact with a moment in its period, whole. What was stored of that period is replaced by it, what lies
outside is kept, and all of it is joined anew. An incident keeps its number as long as a fact of it is there, so that
looking again, at the same or at more, gives no new number. Where two become one the lower number stays and the other
says in which it ended; where one becomes two the older part keeps the number. Nothing is ever removed: an incident of
which nothing is found any more stays as it was.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from math import inf

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
    known = Known(stored)
    owners = [sorted(known.owners(group)) for group in groups]
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


def _has_gone(fact: Fact, period: Span) -> bool:
    """It still lasted, and nobody looks for it any more."""
    return fact.span.to_ms is None and overlaps(fact.span, period)


class Known:
    """The facts of the incidents that are stored, asked whose a fact is: that very one, or the same that overlaps it.

    Of the latter only more has become known.
    """

    def __init__(self, stored: Iterable[Incident]) -> None:
        self._exact: dict[Fact, set[int]] = {}
        about: dict[tuple[str, str, str], list[tuple[int, float, int]]] = {}
        for incident in stored:
            for fact in incident.facts:
                self._exact.setdefault(fact, set()).add(incident.incident_id)
                end_ms = inf if fact.span.to_ms is None else fact.span.to_ms
                about.setdefault(_about(fact), []).append((fact.span.from_ms, end_ms, incident.incident_id))
        self._about = {name: sorted(spans) for name, spans in about.items()}
        # Where nothing up to a place in the list lasts until a moment, nothing before it need be asked.
        self._latest = {
            name: list(accumulate((end for _, end, _ in spans), max)) for name, spans in self._about.items()
        }

    def owners(self, group: Iterable[Fact]) -> set[int]:
        """The numbers of the incidents that have a fact of this group."""
        return {number for fact in group for number in (*self._exact.get(fact, ()), *self._same(fact))}

    def _same(self, fact: Fact) -> Iterator[int]:
        name, until_ms = _about(fact), inf if fact.span.to_ms is None else fact.span.to_ms
        spans, latest = self._about.get(name, []), self._latest.get(name, [])
        index = bisect_right(spans, (until_ms, inf, inf)) - 1
        while index >= 0 and latest[index] >= fact.span.from_ms:
            _, end_ms, number = spans[index]
            if end_ms >= fact.span.from_ms:
                yield number
            index -= 1


def _about(fact: Fact) -> tuple[str, str, str]:
    return fact.kind, fact.subject, fact.place
