"""Pure: one timeline out of all that happened. Each source gives what it has; here it is put in order. UTC ms."""

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from daemon.review.account import Line, LineKind
from daemon.review.course import GapKind
from daemon.review.gap_values import Known
from daemon.review.joining import SLACK_MS
from daemon.review.place import PlaceReview
from daemon.review.telling import Telling, counted, listed
from daemon.review.values import Fact, FactKind, Span

MOST_GAP_LINES = 6
"""So many gaps of a place have the readings beside them in the timeline, the longest. Project choice."""
_ORDER = {kind: number for number, kind in enumerate(LineKind)}
_BEGINS = {
    FactKind.MAINS_ABSENT: (LineKind.POWER, "The mains is there again"),
    FactKind.BROKER_LOST: (LineKind.LINK, "The broker is connected again"),
    FactKind.SERVICE_STOPPED: (LineKind.SERVICE, "The service runs again"),
    FactKind.SERVICE_CUT_OFF: (LineKind.SERVICE, "The service runs again"),
    FactKind.MACHINE_RESTARTED: (LineKind.SERVICE, "The service runs again, after the machine was started anew"),
    FactKind.MACHINE_SLEPT: (LineKind.SERVICE, "The machine is awake again, and the service with it"),
    FactKind.CLOCK_STEP: (LineKind.CLOCK, ""),
    FactKind.SITE_GAP: (LineKind.GAP, "The first probe is heard again"),
}


class Happened(NamedTuple):
    """One thing at one moment; `place` is an id, empty for the whole site."""

    at_ms: int
    kind: LineKind
    place: str
    words: str


def timeline(
    happened: Iterable[Happened], names: dict[str, str], period: Span, now_ms: int, telling: Telling
) -> tuple[Line, ...]:
    """Put what happened within the period in order; the same said twice of one moment is told once."""
    within = {each for each in happened if period.from_ms <= each.at_ms <= period.until(now_ms)}
    ordered = sorted(within, key=lambda each: (each.at_ms, _ORDER[each.kind], each.place, each.words))
    return tuple(
        Line(each.at_ms, telling.moment(each.at_ms), each.kind, each.place, names.get(each.place, ""), each.words)
        for each in ordered
    )


def of_facts(facts: Sequence[Fact], telling: Telling) -> Iterator[Happened]:
    """Give power, link, service, clock and gaps: each when it begins, and in a few words when it ends."""
    for fact in facts:
        known = _BEGINS.get(fact.kind)
        if known is None:
            continue
        kind, over = known
        yield Happened(fact.span.from_ms, kind, fact.place, fact.words)
        if over and fact.span.to_ms is not None:
            yield Happened(fact.span.to_ms, kind, fact.place, f"{over}.")
    yield from _silences(facts, telling)


def _silences(facts: Sequence[Fact], telling: Telling) -> Iterator[Happened]:
    """Gaps of probes: those that are part of a silence of the whole site in one line, like those of one moment."""
    sites = [fact.span for fact in facts if fact.kind is FactKind.SITE_GAP]
    by_span: dict[tuple[int, int | None], list[Fact]] = {}
    for fact in facts:
        if fact.kind is FactKind.PROBE_GAP and not any(_is_part(fact.span, site) for site in sites):
            minute = 60_000
            end = None if fact.span.to_ms is None else fact.span.to_ms // minute
            by_span.setdefault((fact.span.from_ms // minute, end), []).append(fact)
    for gaps in by_span.values():
        first = min(gaps, key=lambda fact: fact.span.from_ms)
        if len(gaps) == 1:
            yield Happened(first.span.from_ms, LineKind.GAP, first.place, first.words)
            continue
        channels = sorted(fact.subject for fact in gaps)
        places = {fact.place for fact in gaps}
        words = (
            f"Nothing was heard of {counted(len(channels), 'channel')} ({listed(channels)}) {telling.span(first.span)}."
        )
        yield Happened(first.span.from_ms, LineKind.GAP, first.place if len(places) == 1 else "", words)


def _is_part(span: Span, site: Span) -> bool:
    """Tell whether a silence is that of the whole site, give or take what probes differ by."""
    begins = abs(span.from_ms - site.from_ms) <= SLACK_MS
    if span.to_ms is None or site.to_ms is None:
        return begins and span.to_ms == site.to_ms
    return begins and abs(span.to_ms - site.to_ms) <= SLACK_MS


def of_places(places: Sequence[PlaceReview], telling: Telling) -> Iterator[Happened]:
    """Give the lowest and the highest that was measured, and the readings beside the longest gaps."""
    for place in places:
        if not place.own_probe or place.lowest is None or place.highest is None:
            continue
        # Of what never changed no reading is worth a line.
        if place.lowest.temperature_c < place.highest.temperature_c:
            yield _sample(place, place.lowest, "Lowest in this time", telling)
            yield _sample(place, place.highest, "Highest in this time", telling)
        own = [gap for gap in place.gaps if gap.kind is not GapKind.OTHER_PROBE]
        for gap in sorted(own, key=lambda each: -each.length_ms)[:MOST_GAP_LINES]:
            if gap.before is not None:
                yield _sample(place, gap.before, "Last reading before the gap", telling)
            if gap.after is not None:
                yield _sample(place, gap.after, "First reading after the gap", telling)


def _sample(place: PlaceReview, known: Known, what: str, telling: Telling) -> Happened:
    words = f"{what}: {telling.temperature(known.temperature_c)} ({place.channel})."
    return Happened(known.at_ms, LineKind.SAMPLE, place.place, words)
