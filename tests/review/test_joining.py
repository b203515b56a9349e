"""Which facts are one incident: by what they are, and never by the order in which they came to be known."""

import itertools
import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.review.gaps import overlaps
from daemon.review.joining import AFTER_MS, LONGEST_MS, join, linked
from daemon.review.settling import Known, Settled, settle
from daemon.review.values import Cause, Fact, FactKind, Incident, Span

MINUTE_MS, HOUR_MS = 60_000, 3_600_000
NOW_MS = 100 * HOUR_MS
PLACES = ("", "room", "north", "north/upper", "south/N1")

spans = st.builds(
    lambda start, length: Span(start * MINUTE_MS, None if length is None else (start + length) * MINUTE_MS),
    st.integers(0, 3000),
    st.one_of(st.none(), st.integers(0, 600)),
)
facts = st.builds(
    Fact, st.sampled_from(FactKind), spans, st.sampled_from(PLACES), st.sampled_from(("a/t", "b/t")), st.just("it was")
)
many = st.lists(facts, max_size=25)


def fact(kind: FactKind, from_min: float, to_min: float | None, place: str = "", subject: str = "x") -> Fact:
    end_ms = None if to_min is None else round(to_min * MINUTE_MS)
    return Fact(kind, Span(round(from_min * MINUTE_MS), end_ms), place, subject, "it was")


def stored(settled: Settled, before: list[Incident] | None = None) -> list[Incident]:
    """What the journal holds after a look: new numbers follow the highest one."""
    gone = {number for number, _ in settled.joined}
    kept = {each.incident_id: each for each in before or [] if each.incident_id not in gone}
    highest = max([0, *kept, *gone])
    for number, group in settled.groups:
        if not number:
            highest += 1
        mine = number or highest
        kept[mine] = Incident(mine, Span(group[0].span.from_ms, None), group, Cause.UNKNOWN, (), ())
    return list(kept.values())


@given(many, st.randoms(use_true_random=False))
def test_the_order_of_facts_does_not_matter(found: list[Fact], chance: random.Random) -> None:
    other = list(found)
    chance.shuffle(other)
    assert join(found) == join(other)


turned = st.builds(
    # Flapping probes, and a clock that was set back, after which a span is over before it began.
    lambda kind, start, length, place, subject: fact(kind, start, start + length, place, subject),
    st.sampled_from(FactKind),
    st.integers(0, 300),
    st.integers(-90, 90),
    st.sampled_from(PLACES),
    st.sampled_from(("a/t", "b/t", "c/t")),
)


def pair_by_pair(found: list[Fact]) -> set[frozenset[Fact]]:
    """The definition: each two that are near in time are held against the rules."""
    known = [{each} for each in set(found)]
    for one, other in itertools.permutations(set(found), 2):
        is_near = one.span.to_ms is None or other.span.from_ms <= one.span.to_ms + AFTER_MS
        if (one.span.from_ms, one.kind) <= (other.span.from_ms, other.kind) and is_near and linked(one, other):
            mine, its = (next(group for group in known if each in group) for each in (one, other))
            if mine is not its:
                known.remove(its)
                mine |= its
    return set(map(frozenset, known))


@given(st.lists(st.one_of(facts, turned), max_size=14))
def test_facts_are_joined_as_if_each_two_were_held_against_each_other(found: list[Fact]) -> None:
    assert set(map(frozenset, join(found))) == pair_by_pair(found)


@given(st.lists(st.lists(st.one_of(facts, turned), max_size=4), max_size=5), st.lists(facts, max_size=4))
def test_whose_a_fact_is_is_told_as_if_it_were_held_against_all(old: list[list[Fact]], new: list[Fact]) -> None:
    """The very one, or one of the same about the same time."""
    before = [Incident(n, Span(0, None), tuple(each), Cause.UNKNOWN, (), ()) for n, each in enumerate(old, 1)]
    group = [*new, *(each[0] for each in old[:1] if each)]
    owners = {
        each.incident_id
        for each in before
        if any(one == other or same(one, other) for one in each.facts for other in group)
    }
    assert Known(before).owners(group) == owners


def same(one: Fact, other: Fact) -> bool:
    about = (one.kind, one.subject, one.place) == (other.kind, other.subject, other.place)
    return about and overlaps(one.span, other.span)


@given(many)
def test_every_fact_is_in_exactly_one_incident(found: list[Fact]) -> None:
    groups = join(found)
    assert sorted(map(repr, (each for group in groups for each in group))) == sorted(map(repr, set(found)))


@given(many)
def test_linked_facts_are_together_and_an_incident_hangs_together(found: list[Fact]) -> None:
    groups = join(found)
    home = {each: number for number, group in enumerate(groups) for each in group}
    for one, other in itertools.product(home, home):
        assert linked(one, other) == linked(other, one)
        assert home[one] == home[other] or not linked(one, other)
    for group in groups:
        reached, edge = {group[0]}, [group[0]]
        while edge:
            here = edge.pop()
            new = [each for each in group if each not in reached and linked(here, each)]
            reached.update(new)
            edge += new
        assert reached == set(group)


@given(many)
def test_looking_again_gives_no_new_number(found: list[Fact]) -> None:
    first = stored(settle([], found, Span(0, NOW_MS), NOW_MS))
    again = settle(first, found, Span(0, NOW_MS), NOW_MS)
    assert again.joined == ()
    assert dict(again.groups) == {each.incident_id: each.facts for each in first}


@given(many, st.lists(st.integers(0, 4000), max_size=4))
def test_many_short_looks_come_to_what_one_long_look_does(found: list[Fact], cuts: list[int]) -> None:
    """A look at a period finds each fact with a moment in it, whole."""
    known: list[Incident] = []
    edges = [0, *sorted(cut * MINUTE_MS for cut in cuts), NOW_MS]
    for start_ms, end_ms in itertools.pairwise(edges):
        seen = [each for each in found if each.span.from_ms <= end_ms and each.span.until(NOW_MS) >= start_ms]
        known = stored(settle(known, seen, Span(start_ms, end_ms), NOW_MS), known)
    assert sorted(map(repr, (each.facts for each in known))) == sorted(map(repr, join(found)))


def test_two_incidents_that_turn_out_to_be_one_keep_the_lower_number() -> None:
    early = fact(FactKind.EXCURSION, 0, 60, "north", "a/t")
    late = fact(FactKind.EXCURSION, 150, 200, "north", "a/t")
    known = stored(settle([], [early, late], Span(0, NOW_MS), NOW_MS))
    assert [each.incident_id for each in known] == [1, 2]
    between = fact(FactKind.EXCURSION, 70, 130, "north", "a/t")
    settled = settle(known, [early, between, late], Span(0, NOW_MS), NOW_MS)
    assert settled == Settled(((1, (early, between, late)),), ((2, 1),))


def test_what_grows_keeps_its_number_and_what_falls_apart_leaves_it_to_the_older_part() -> None:
    first, second = fact(FactKind.EXCURSION, 0, 60, "north", "a/t"), fact(FactKind.EXCURSION, 80, 90, "north", "a/t")
    known = stored(settle([], [first, second], Span(0, NOW_MS), NOW_MS))
    assert [each.incident_id for each in known] == [1]
    longer = replace(first, span=Span(0, 65 * MINUTE_MS))
    assert settle(known, [longer, second], Span(0, NOW_MS), NOW_MS).groups == ((1, (longer, second)),)
    shorter = replace(first, span=Span(0, 20 * MINUTE_MS))
    assert settle(known, [shorter, second], Span(0, NOW_MS), NOW_MS).groups == ((1, (shorter,)), (0, (second,)))


def test_what_nobody_looks_for_any_more_ends_now_and_what_is_not_there_any_more_changes_nothing() -> None:
    dead = fact(FactKind.PROBE_GAP, 0, None, "north", "gone/t")
    known = stored(settle([], [dead], Span(0, NOW_MS), NOW_MS))
    ended = replace(dead, span=Span(0, NOW_MS))
    assert settle(known, [], Span(0, NOW_MS), NOW_MS, lambda _: False).groups == ((1, (ended,)),)
    assert settle(known, [], Span(0, NOW_MS), NOW_MS) == Settled((), ())


GAP, SITE, DOWN, BROKER = FactKind.PROBE_GAP, FactKind.SITE_GAP, FactKind.SERVICE_CUT_OFF, FactKind.BROKER_LOST
MAINS, OUT, CALL, FAULT = FactKind.MAINS_ABSENT, FactKind.EXCURSION, FactKind.DELIVERY_FAILED, FactKind.PROBE_FAULT
AFTER_MIN, LONGEST_MIN = AFTER_MS / MINUTE_MS, LONGEST_MS / MINUTE_MS


@pytest.mark.parametrize(
    ("one", "other", "together"),
    [
        (fact(DOWN, 0, 60), fact(GAP, -1, 61, "north", "a/t"), True),
        # The gap began long before the service ended: by itself.
        (fact(DOWN, 0, 60), fact(GAP, -90, 70, "north", "a/t"), False),
        (fact(DOWN, 0, 60), fact(OUT, 61, 90, "north", "a/t"), True),
        (fact(DOWN, 0, 60), fact(OUT, 60 + AFTER_MIN + 1, 120, "north", "a/t"), False),
        (fact(DOWN, 0, 60), fact(DOWN, 80, 90, subject="2"), True),
        (fact(DOWN, 0, 60), fact(DOWN, 60 + AFTER_MIN + 1, 200, subject="2"), False),
        (fact(SITE, 0, 60), fact(GAP, 1, 70, "south", "b/t"), True),
        (fact(SITE, 0, 60), fact(GAP, -5000, None, "south", "b/t"), False),
        (fact(BROKER, 0, 60), fact(FAULT, 10, 20, "north", "a/t"), False),
        # Probes that stop at the same moment share a reason, wherever they are.
        (fact(GAP, 0, 60, "north", "a/t"), fact(GAP, 2, 10, "south", "b/t"), True),
        (fact(GAP, 0, 60, "north", "a/t"), fact(GAP, 20, 30, "south", "b/t"), False),
        (fact(GAP, 0, 9, "north", "a/t"), fact(GAP, 20, 30, "north", "a/t"), True),
        # The mains of one incubator is none of the other's business.
        (fact(MAINS, 0, 60, "north", "m"), fact(OUT, 30, 90, "north/upper", "a/t"), True),
        (fact(MAINS, 0, 60, "north", "m"), fact(OUT, 30, 90, "south", "b/t"), False),
        (fact(MAINS, 0, 60, "", "m"), fact(OUT, 30, 90, "south", "b/t"), True),
        (fact(MAINS, 0, None, "", "m"), fact(OUT, LONGEST_MIN + 30, None, "south", "b/t"), False),
        (fact(OUT, 0, 60, "north/upper", "a/t"), fact(OUT, 30, 90, "north/lower", "c/t"), True),
        (fact(OUT, 0, 60, "north", "a/t"), fact(OUT, 30, 90, "south", "b/t"), False),
        (fact(FAULT, 0, 60, "north", "a/t"), fact(GAP, 60, 90, "north", "a/t"), True),
        (fact(OUT, 0, 60, "north", "a/t"), fact(CALL, 5, 20, "north", "ana/0"), True),
        (fact(OUT, 0, 60, "north", "a/t"), fact(CALL, 5, 20, "south", "ana/0"), False),
    ],
)
def test_what_shares_a_cause_is_linked(one: Fact, other: Fact, together: bool) -> None:
    assert linked(one, other) is together
